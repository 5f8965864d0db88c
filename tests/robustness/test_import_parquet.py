# ruff: noqa: E501 (one bad file a line reads best)
"""Parquet files that are damaged, or whose columns have types that cannot be ours."""

import datetime
import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from audit.intake.importer import import_paths
from audit.settings import load_settings
from tests.robustness.import_support import Hostile, check

DAY = datetime.datetime(2025, 3, 14, 10, 31)


def parquet(**columns: Any) -> bytes:
    return written(pa.table(columns))


def written(table: pa.Table) -> bytes:
    sink = io.BytesIO()
    pq.write_table(table, sink)
    return sink.getvalue()


def tracing(**changed: Any) -> bytes:
    columns: Mapping[str, Any] = {
        "case_id": ["C1"] * 3,
        "t_s": [0.0, 0.25, 0.5],
        "fhr_bpm": [140.0, 141.0, 142.0],
        "toco": [1.0, 2.0, 3.0],
    }
    return parquet(**{**columns, **changed})


def cases(**changed: Any) -> bytes:
    return parquet(**{"case_id": ["C1"], "period": ["2025-03"], **changed})


GOOD = tracing()
DAMAGED = "not a whole Parquet file"
CALENDAR = "found the type of a calendar"
NESTED = "found the type of a list or record"


def file(name: str, data: bytes, says: str, row: int | None = None, column: str | None = None, **more: Any) -> Hostile:
    return Hostile(f"{name}.parquet", data, says, row, column, **more)


FILES = [
    file("magic_only", b"PAR1", DAMAGED),
    file("cut_off", GOOD[: len(GOOD) // 2], DAMAGED),
    file("cut_end", GOOD[:-4], DAMAGED),
    file("footer_length", GOOD[:-8] + b"\xff\xff\xff\x7f" + b"PAR1", DAMAGED),
    file("footer_noise", GOOD[:-200] + bytes(192) + GOOD[-8:], DAMAGED),
    file("encrypted_magic", GOOD[:-4] + b"PARE", DAMAGED),
    file("no_rows", tracing(case_id=pa.array([], pa.string()), t_s=pa.array([], pa.float64()), fhr_bpm=pa.array([], pa.float64()), toco=pa.array([], pa.float64())), "found no rows"),
    file("time_timestamp", tracing(t_s=[DAY] * 3), CALENDAR, 1, "t_s"),
    file("time_date", tracing(t_s=[DAY.date()] * 3), CALENDAR, 1, "t_s"),
    file("time_clock", tracing(t_s=[DAY.time()] * 3), CALENDAR, 1, "t_s"),
    file("time_duration", tracing(t_s=[datetime.timedelta(seconds=1)] * 3), CALENDAR, 1, "t_s"),
    file("period_date", cases(period=[DAY.date()]), CALENDAR, 1, "period"),
    file("fhr_list", tracing(fhr_bpm=[[140.0], [141.0], [142.0]]), NESTED, 1, "fhr_bpm"),
    file("fhr_struct", tracing(fhr_bpm=[{"a": 1.0}] * 3), NESTED, 1, "fhr_bpm"),
    file("fhr_binary", tracing(fhr_bpm=[b"140"] * 3), "found bytes, expected text or numbers", 1, "fhr_bpm"),
    file("fhr_boolean", tracing(fhr_bpm=[True, False, True]), "found yes and no, expected numbers", 1, "fhr_bpm"),
    file("case_list", tracing(case_id=[["C1"]] * 3), NESTED, 1, "case_id"),
    file("case_null", tracing(case_id=pa.array([None] * 3, pa.string())), "found no case_id", 2, "case_id", rejected=3),
    file("case_one_null", tracing(case_id=["C1", None, "C1"]), "found no case_id", 3, "case_id", accepted=2, rejected=1),
    file("fhr_text_word", tracing(fhr_bpm=["140", "loss", "141"]), "characters (letters), expected a number", 3, "fhr_bpm", accepted=3),
    file("time_text_word", tracing(t_s=["0", "soon", "0.5"]), "characters (letters), expected a number", 3, "t_s", accepted=2, rejected=1),
    file("time_text_date", tracing(t_s=["0", "2025-03-14", "0.5"]), "expected a number", 3, "t_s", accepted=2, rejected=1, hidden=("2025-03-14",)),
    file("time_epoch", tracing(t_s=pa.array([1741948282, 1741948283, 1741948284])), "a calendar date", 2, "t_s", hidden=("1741948282",)),
    file("time_null", tracing(t_s=[0.0, None, 0.5]), "found no time", 3, "t_s", accepted=2, rejected=1),
    file("fhr_infinite", tracing(fhr_bpm=[140.0, float("inf"), 141.0]), "expected 0 to 300", 3, "fhr_bpm", accepted=3),
    file("doubled_by_case", tracing(FHR_BPM=[1.0] * 3), "stands twice", 1, "fhr_bpm"),
    file("missing_toco", parquet(case_id=["C1"], t_s=[0.0], fhr_bpm=[140.0]), "the column toco is missing", 1, "toco"),
    file("apgar_number", cases(apgar_5=[11]), "an Apgar score is at most 10", 2, "apgar_5", accepted=1),
    file("apgar_boolean", cases(apgar_5=[True]), "expected a number", 2, "apgar_5", accepted=1),
    file("birth_infinite", cases(birth_s=[float("inf")]), "expected a finite number", 2, "birth_s", accepted=1),
    file("huge_text", cases(shift=["x" * 10_000]), "a value of 10,000 characters", 2, "shift"),
    file("other_columns", parquet(bed=[1], colour=["red"]), "none of the known kinds", 1),
]  # fmt: skip


@pytest.mark.parametrize("hostile", FILES, ids=lambda hostile: hostile.name)
def test_a_broken_parquet_file_is_refused_or_its_bad_values_are(hostile: Hostile, tmp_path: Path):
    check(hostile, tmp_path)


def test_a_file_that_unpacks_to_more_than_the_settings_allow_is_refused(tmp_path: Path):
    zeros = pa.array([0.0] * 100_000)
    table = pa.table({"case_id": ["C1"] * 100_000, "t_s": zeros, "fhr_bpm": zeros, "toco": zeros})
    packed = tmp_path / "zeros.parquet"
    pq.write_table(table, packed, use_dictionary=False, compression="zstd")
    assert packed.stat().st_size < 100_000
    unit = tmp_path / "unit_settings.toml"
    unit.write_text("[import]\nmax_file_mib = 1\n")
    report = import_paths(tmp_path / "unit.duckdb", [packed], settings=load_settings(unit))
    assert report.exit_code == 3
    assert "unpacks to more than 1 MiB" in report.lines()[0]

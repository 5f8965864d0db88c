"""Large files under a mapping are read in blocks: what is stored, said and kept out is what one reading gives.

Each situation is a file written by hand. It is read at once and in blocks, of less than a case and of more than the
file, and both must be the same; what is expected besides stands beside it.
"""

from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from audit.intake.contents import Content, read_content
from audit.intake.door.names import UnitNames
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.formats import mapped_blocks, streamed
from audit.intake.importer import import_paths
from audit.intake.mapped import chosen
from audit.intake.writing.ledger import Ledger
from audit.settings import load_settings
from audit.store.pseudonyms import Pseudonyms
from tests.asking import ask

ROWS = 300  # of a case
LONG = """
kind = "tracing"
no_signal = ["999"]
columns = {case_id = "Fall", t_s = "Zeit", fhr_bpm = "FHF", toco = "Toko"}
"""
CLOCK = f'{LONG}time_zone = "Europe/Berlin"\nunits = {{t_s = "clock"}}\n'
WIDE = """
kind = "tracing"
columns = {case_id = "Fall", t_s = "Zeit", toco = "Toko"}
fetus.A = {fhr_bpm = "FHF1"}
fetus.B = {fhr_bpm = "FHF2"}
"""
CELLS = """
kind = "tracing"
row_s = 1.0
samples_between = " "
columns = {case_id = "Fall", t_s = "Zeit", fhr_bpm = "FHF", toco = "Toko"}
"""
BESIDE = """
kind = "tracing"
row_s = 1.0
columns = {case_id = "Fall", t_s = "Zeit", toco = "Toko"}
samples = {fhr_bpm = ["H1", "H2"]}
"""
ONE = LONG.replace('case_id = "Fall", ', "") + "case_id_from_file = '^([A-Z][0-9]+)_'\nlines_before_header = 2\n"


def rows_of(case: str, mark: str = ".", between: str = ";") -> list[str]:
    k = int(case[1:])
    return [
        between.join((case, str(i / 4).replace(".", mark), str(120 + (i * (k + 3)) % 40), str(i % 30)))
        for i in range(ROWS)
    ]


def clock_rows(case: str, start_s: int) -> list[str]:
    shown = [divmod((start_s + i) % 86_400, 60) for i in range(ROWS)]
    rates = [120 + (i * (int(case[1:]) + 3)) % 40 for i in range(ROWS)]
    return [f"{case};{m // 60:02d}:{m % 60:02d}:{s:02d};{rates[i]};{i % 30}" for i, (m, s) in enumerate(shown)]


def two_fetuses() -> list[str]:
    # of C2 nothing was recorded of the second fetus; of C3 it is lost for a while
    lines = []
    for k in (1, 2, 3):
        for i in range(ROWS):
            second = "" if k == 2 or (k == 3 and 40 < i < 200) else str(140 + (i * k) % 9)
            lines.append(f"C{k};{i / 4};{120 + (i * (k + 3)) % 40};{second};{i % 30}")
    return lines


def in_cells(count: int, k: int) -> list[str]:
    cells = [" ".join(str(120 + (count * i + j) * (k + 1) % 37) for j in range(count)) for i in range(ROWS)]
    return [f"C{k};{i};{cell};{i % 30}" for i, cell in enumerate(cells)]


HEAD = "Fall;Zeit;FHF;Toko"
PLAIN = [row for k in range(4) for row in rows_of(f"C{k}")]
LATE_COMMAS = [row for k in range(3) for row in (f"C{k};{i};{120 + i % 9 * (k + 1)};{i % 30}" for i in range(ROWS))]
UMLAUT = [row.replace("C9", "F\u00e49") for row in rows_of("C9")]
APART = sorted(PLAIN, key=lambda row: float(row.split(";")[1]))
TABS = [row for k in (1, 2) for row in rows_of(f"C{k}", between="\t")]
SIDE_BY_SIDE = [f"C{k};{i};{120 + i % 7};{130 + i % 9 * k};{i % 30}" for k in (1, 2) for i in range(ROWS)]
KEPT_OUT = [*PLAIN[:500], "", "C1;bald;140;1", *PLAIN[500:900], "C3;74.75;140;1;9", *PLAIN[900:-1], "C3;74.75;x;1"]
NO_SIGNAL = [f"C2;{i};;{i % 30}" for i in range(ROWS)]
NAMELESS = [*PLAIN[:450], ";;;", ";;;", *PLAIN[450:], ";;;"]
CLOCKS = [*clock_rows("C1", 86_300), *clock_rows("C2", 10), *clock_rows("C3", 86_399)]

# the mapping, the file's lines and its encoding
CASES: dict[str, tuple[str, list[str], str]] = {
    "plain": (LONG, [HEAD, *PLAIN], "utf-8"),
    "a value, a row and a blank line that are kept out": (LONG, [HEAD, *KEPT_OUT], "utf-8"),
    "rows without a case between those of one": (LONG, [HEAD, *NAMELESS], "utf-8"),
    "decimal commas": (LONG, [HEAD, *(row for k in range(3) for row in rows_of(f"C{k}", ","))], "utf-8"),
    "the first decimal comma far down": (LONG, [HEAD, *LATE_COMMAS[:-1], "C2;299,5;131;1"], "utf-8"),
    "tabs, and nothing in the last cell": (LONG, [HEAD.replace(";", "\t"), *TABS, "C2\t75.0\t131\t"], "utf-8"),
    "a letter of Windows-1252 in the last case": (LONG, [HEAD, *PLAIN, *UMLAUT], "cp1252"),
    "letters of UTF-8": (LONG, [HEAD, *UMLAUT, *PLAIN], "utf-8"),
    "letters with two bytes each": (LONG, [HEAD, *PLAIN], "utf-16"),
    "cases that lie apart": (LONG, [HEAD, *APART], "utf-8"),
    "midnight in a case": (CLOCK, [HEAD, *CLOCKS], "utf-8"),
    "wide, with a fetus less": (WIDE, ["Fall;Zeit;FHF1;FHF2;Toko", *two_fetuses()], "utf-8"),
    "four samples a cell, first two": (CELLS, [HEAD, *in_cells(2, 1)[:60], *in_cells(4, 2), *in_cells(4, 3)], "utf-8"),
    "no signal in a case's cells": (CELLS, [HEAD, *in_cells(4, 1), *NO_SIGNAL, *in_cells(4, 3)], "utf-8"),
    "two samples side by side": (BESIDE, ["Fall;Zeit;H1;H2;Toko", *SIDE_BY_SIDE], "utf-8"),
    "one case, its code in the name": (ONE, ["x", "", "Zeit;FHF;Toko", *(row[3:] for row in rows_of("C1"))], "utf-8"),
    "a time in two marks": (LONG, [HEAD, *PLAIN, "C3;75,5;131;1"], "utf-8"),
    "damaged letters": (LONG, [HEAD, *UMLAUT, *PLAIN, "F\udce4;0;131;1"], "utf-8"),
    "an open quote": (LONG, [HEAD, *PLAIN, 'C3;"75;131;1'], "utf-8"),
}


def read(file: Path, toml: str) -> tuple:
    """What a file holds and what is said of it, in figures that compare; or why it is refused, and at which row."""
    (file.parent / "unit_settings.toml").write_text(f"[import.mapping.m]{toml}", encoding="utf-8")
    settings = load_settings(file.parent / "unit_settings.toml")
    names = UnitNames(settings.import_.case_id_pattern, settings.import_.reader_pattern, lambda: Pseudonyms(bytes(32)))
    remarks = Remarks(1000, names)
    try:
        content = read_content(file, Ledger(), remarks, settings, chosen(settings, ["m"])[0])
        assert isinstance(content, Content)
        found = [
            (each.case_id, each.fetus, each.rows, each.first_row, [
                (s.start_s, s.sample_rate_hz, s.fhr_cbpm.tolist(), s.toco_hundredths.tolist()) for s in each.stretches
            ])
            for each in content.tracings or ()
        ]  # fmt: skip
    except FileRefused as error:
        return str(error), error.remark.row_number, error.sha256 != ""
    counts = remarks.rows_rejected, remarks.values_rejected, remarks.flagged
    return sorted(found), remarks.all(), counts, sorted(remarks.messages), content.clocks, content.sha256


def both_ways(monkeypatch: pytest.MonkeyPatch, file: Path, toml: str) -> list[tuple]:
    """Read at once, in blocks of less than a case, and in one of more than the file."""
    found = [read(file, toml)]
    monkeypatch.setattr(streamed, "LARGE_BYTES", 100)
    for block in (2000, 10**6):
        monkeypatch.setattr(mapped_blocks, "_BLOCK_BYTES", block)
        monkeypatch.setattr(mapped_blocks, "_BLOCK_VALUES", block // 20)
        found.append(read(file, toml))
    return found


@pytest.mark.parametrize("situation", CASES)
def test_blocks_give_what_one_reading_gives(situation, tmp_path, monkeypatch):
    toml, lines, encoding = CASES[situation]
    file = tmp_path / "C7_export.csv"
    file.write_bytes("\n".join([*lines, ""]).encode(encoding, "surrogateescape" if encoding == "utf-8" else "strict"))
    at_once, small, one = both_ways(monkeypatch, file, toml)
    assert small == at_once
    assert one == at_once
    refused = situation in ("a time in two marks", "damaged letters")
    assert isinstance(at_once[0], str) == refused
    if situation.startswith("tabs"):
        assert at_once[2] == (0, 0, 0)
    if situation.startswith("four samples"):
        assert at_once[2][1] == 60


@pytest.mark.parametrize("lists", [False, True])
def test_parquet_in_blocks_gives_what_one_reading_gives(lists, tmp_path, monkeypatch):
    rng = np.random.default_rng(3)
    count = 4 if lists else 1
    rates = rng.integers(110, 160, (3 * ROWS, count)).astype(float)
    rates[50:60] = np.nan
    table = pa.table(
        {
            "Fall": pa.array([f"C{k}" for k in (1, 2, 3) for _ in range(ROWS)]).dictionary_encode(),
            "Zeit": pa.array([float(i) if lists else i / 4 for _ in range(3) for i in range(ROWS)]),
            "FHF": pa.array(rates.tolist() if lists else rates[:, 0]),
            "Toko": pa.array(rng.integers(0, 60, 3 * ROWS)),
        }
    )
    file = tmp_path / "export.parquet"
    pq.write_table(table, file, row_group_size=250)
    at_once, small, one = both_ways(monkeypatch, file, CELLS if lists else LONG)
    assert sum(rows for _, _, rows, _, _ in at_once[0]) == 3 * ROWS * count
    assert small == at_once
    assert one == at_once


def test_a_zero_byte_far_down_refuses_the_file_with_its_row(tmp_path, monkeypatch):
    monkeypatch.setattr(streamed, "LARGE_BYTES", 100)
    monkeypatch.setattr(mapped_blocks, "_BLOCK_BYTES", 2000)
    (tmp_path / "export.csv").write_text("\n".join([HEAD, *PLAIN, "C3;75;\0;1", ""]))
    said, row, hashed = read(tmp_path / "export.csv", LONG)
    assert ("zero byte" in said, row, hashed) == (True, 4 * ROWS + 2, True)


def test_a_file_too_large_for_one_reading_wants_its_cases_together(tmp_path, monkeypatch):
    monkeypatch.setattr(streamed, "LARGE_BYTES", 100)
    toml = f"{LONG}[import]\nmax_file_mib = 1\n"  # more than that is never in memory at once
    together = [HEAD, *(row for k in range(220) for row in rows_of(f"C{k}"))]
    file = tmp_path / "export.csv"
    file.write_text("\n".join(together) + "\n")
    assert sum(rows for _, _, rows, _, _ in read(file, toml)[0]) == 220 * ROWS
    file.write_text("\n".join([*together, "C4;99;140;1"]) + "\n")
    said, row, _ = read(file, toml)
    assert "sort the file by case" in said
    assert row == 220 * ROWS + 2


def test_a_large_file_is_stored_with_its_clocks_and_known_again(db, tmp_path, monkeypatch):
    monkeypatch.setattr(streamed, "LARGE_BYTES", 100)
    monkeypatch.setattr(mapped_blocks, "_BLOCK_BYTES", 5000)
    (tmp_path / "unit_settings.toml").write_text(f"[import.mapping.m]{CLOCK}", encoding="utf-8")
    file, settings = tmp_path / "export.csv", load_settings(tmp_path / "unit_settings.toml")
    file.write_text("\n".join([HEAD, *clock_rows("C1", 86_300), *clock_rows("C2", 10), ""]))
    outcomes = [import_paths(db, [file], settings=settings, mapping="m").files[0] for _ in range(2)]
    assert [(each.outcome, each.rows_accepted) for each in outcomes] == [("stored", 2 * ROWS), ("unchanged", 2 * ROWS)]
    assert ask(db, "select case_id, local_s from case_clocks order by 1") == [
        ("C1", 86_300.0), ("C2", 10.0),
    ]  # fmt: skip

"""A large tracing file is read in blocks: the same content, the same line numbers, and all or nothing."""

from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from audit.intake.door.report import FileOutcome
from audit.intake.formats import streamed
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database

pytestmark = pytest.mark.slow

CASES, ROWS = 5, 400


def table() -> pd.DataFrame:
    return pd.concat(
        [
            pd.DataFrame(
                {
                    "case_id": f"C{k}",
                    "t_s": [i / 4 for i in range(ROWS)],
                    "fhr_bpm": [110 + (i * (k + 3)) % 50 for i in range(ROWS)],
                    "toco": [i % 40 for i in range(ROWS)],
                }
            )
            for k in range(CASES)
        ],
        ignore_index=True,
    )


def as_csv(frame: pd.DataFrame, path: Path) -> Path:
    frame.to_csv(path, index=False)
    return path


def as_parquet(frame: pd.DataFrame, path: Path) -> Path:
    frame.to_parquet(path.with_suffix(".parquet"), row_group_size=700)
    return path.with_suffix(".parquet")


BLOCKS = [1000, 60_000]  # bytes: less than a case has, and more than the file


def shrink(monkeypatch: pytest.MonkeyPatch, block: int) -> None:
    """Read even small files in blocks of this many bytes."""
    monkeypatch.setattr(streamed, "LARGE_BYTES", 1000)
    monkeypatch.setattr(streamed, "LARGE_ROWS", 100)
    monkeypatch.setattr(streamed, "_BLOCK_BYTES", block)
    monkeypatch.setattr(streamed, "BLOCK_ROWS", block // 20)


@pytest.fixture(params=BLOCKS)
def small_blocks(request, monkeypatch) -> None:
    shrink(monkeypatch, request.param)


def take(db: Path, file: Path) -> FileOutcome:
    (outcome,) = import_paths(db, [file], settings=load_settings()).files
    return outcome


def content(db: Path) -> list[tuple]:
    with database.open_for_reading(db) as con:
        heads = con.execute("select * exclude (import_id) from tracings order by all").fetchall()
        return [*heads, *con.execute("select * from tracing_minutes order by all").fetchall()]


@pytest.mark.parametrize("write", [as_csv, as_parquet])
def test_blocks_give_the_same_content_as_one_reading(
    write: Callable[[pd.DataFrame, Path], Path], tmp_path, monkeypatch
):
    file = write(table(), tmp_path / "t.csv")
    at_once, stored_at_once = take(tmp_path / "once.duckdb", file), content(tmp_path / "once.duckdb")
    for block in BLOCKS:
        db = tmp_path / f"{block}.duckdb"
        shrink(monkeypatch, block)
        in_blocks = take(db, file)
        assert in_blocks == at_once
        assert in_blocks.rows_accepted == CASES * ROWS
        assert content(db) == stored_at_once
        assert take(db, file).outcome == "unchanged"


@pytest.mark.parametrize("block", BLOCKS)
def test_rejects_carry_the_files_own_line_numbers(block, tmp_path, monkeypatch):
    file = as_csv(table(), tmp_path / "t.csv")
    lines = file.read_text().splitlines()
    lines[700] = "C1,soon,140,1"
    lines[1500] += ",9"
    lines[1800] = lines[1800].rsplit(",", 1)[0] + ",off"
    lines.insert(900, "")
    file.write_text("\n".join(lines) + "\n")
    at_once = take(tmp_path / "once.duckdb", file)
    shrink(monkeypatch, block)
    in_blocks = take(tmp_path / "blocks.duckdb", file)
    assert [(r.row_number, r.column_name) for r in in_blocks.remarks] == [(701, "t_s"), (1502, None), (1802, "toco")]
    assert in_blocks == at_once


def test_a_case_that_comes_back_later_is_refused_and_nothing_is_stored(tmp_path, small_blocks):
    frame = table()
    file = as_csv(pd.concat([frame, frame[:50].assign(t_s=lambda f: f["t_s"] + 500)]), tmp_path / "t.csv")
    outcome = take(tmp_path / "unit.duckdb", file)
    assert outcome.outcome == "refused"
    assert (outcome.remarks[0].row_number, outcome.remarks[0].column_name) == (CASES * ROWS + 2, "case_id")
    assert "sort the file by case" in outcome.remarks[0].reason
    assert content(tmp_path / "unit.duckdb") == []


def test_what_is_wrong_near_the_end_refuses_the_whole_file(tmp_path, small_blocks):
    files = []
    for k, line in enumerate(["C4,0.3,\udc81,1", 'C4,0.3,"140,1', "C4,1741948282,140,1"]):
        files.append(as_csv(table(), tmp_path / f"t{k}.csv"))
        with files[-1].open("ab") as stream:
            stream.write(line.encode("utf-8", "surrogateescape") + b"\n")
    db = tmp_path / "unit.duckdb"
    for outcome in import_paths(db, files, settings=load_settings()).files:
        assert outcome.outcome == "refused"
        assert outcome.remarks[0].row_number == CASES * ROWS + 2
    assert content(db) == []
    # the next file is taken as if nothing had been
    assert take(db, as_csv(table()[:ROWS], tmp_path / "other.csv")).rows_accepted == ROWS


def test_a_damaged_row_group_refuses_the_whole_file(tmp_path, small_blocks):
    file = as_parquet(table(), tmp_path / "t.csv")
    data = bytearray(file.read_bytes())
    middle = len(data) * 2 // 3
    data[middle : middle + 400] = bytes(400)
    file.write_bytes(data)
    outcome = take(tmp_path / "unit.duckdb", file)
    assert outcome.outcome == "refused"
    assert "not a whole Parquet file" in (outcome.message or "")
    assert content(tmp_path / "unit.duckdb") == []


def test_a_last_row_without_a_line_end_is_a_row_wherever_a_block_ends(tmp_path):
    file = tmp_path / "t.csv"
    file.write_bytes(b"head\nab,1\ncd,22\nef,333")
    for size in range(1, 20):
        blocks = list(streamed.line_blocks(file, 5, 1, size, 100))
        assert b"".join(block for block, _ in blocks) == b"ab,1\ncd,22\nef,333"
        lines = [before + k for block, before in blocks for k in range(block.count(b"\n") or 1)]
        assert sorted(set(lines)) == [1, 2, 3]

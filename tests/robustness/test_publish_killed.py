"""Publishing killed at every step it takes: pages read the former copy or the new one, whole, and the next succeeds."""

import shutil
from pathlib import Path

import pytest

from audit.store import database, published
from tests.asking import ask
from tests.robustness import kill_marks
from tests.robustness.kill_marks import Mark

PUBLISH = """
import sys
from pathlib import Path
from tests.robustness import kill_marks
from audit.store import published
kill_marks.arm(sys.argv[1])
published.required(Path(sys.argv[2]))
"""
STEPS = ["shutil:copyfileobj", "os:fsync", "os:replace"]


@pytest.fixture
def unit(tmp_path: Path) -> Path:
    """A database with one case, published, and a second case that is not."""
    db = tmp_path / "unit.duckdb"
    for case_id in ("C-1", "C-2"):
        if db.exists():
            published.required(db)
        with database.open_for_writing(db) as con:
            con.execute("insert into cases (case_id) values (?)", [case_id])
    return db


def seen(db: Path) -> list[str]:
    """The cases that a page sees."""
    copy = published.current(db)
    assert copy is not None
    return [row[0] for row in ask(copy, "select case_id from cases order by case_id")]


def fresh(unit: Path, number: int) -> Path:
    folder = unit.parent / f"kill{number}"
    folder.mkdir()
    shutil.copytree(published.folder_of(unit), published.folder_of(folder / unit.name))
    return Path(shutil.copy(unit, folder))


def killed_there(db: Path, mark: Mark) -> None:
    kill_marks.killed(PUBLISH, db, calls=STEPS, mark=mark)
    assert seen(db) in (["C-1"], ["C-1", "C-2"])
    published.required(db)
    assert seen(db) == ["C-1", "C-2"]
    assert list(published.folder_of(db).glob("*.partial")) == []


def test_killed_at_every_step_the_copy_in_force_is_whole(unit: Path) -> None:
    assert seen(unit) == ["C-1"]
    counts, _ = kill_marks.counted(PUBLISH, fresh(unit, 0), calls=STEPS)
    marks = kill_marks.every_mark(counts, calls=STEPS)
    assert len(marks) >= 6
    for number, mark in enumerate(marks, start=1):
        killed_there(fresh(unit, number), mark)


def test_killed_in_the_middle_of_the_copy_the_former_one_stays_in_force(unit: Path) -> None:
    # written to the disk by a command that ended long ago: publishing writes nothing but the copy
    with database.open_for_writing(unit) as con:
        con.execute("checkpoint")
    killed_there(unit, Mark(longest_file=unit.stat().st_size // 2))

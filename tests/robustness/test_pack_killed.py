"""A pack killed at a mark, or asked to stop: every file is the former one or the new one, whole, and no worker is left.

Common practice, no source: a file has its name only when all of it is written.
"""

import os
import signal
from pathlib import Path

import pytest

from audit.pack.put_in_place import put_in_place
from audit.people import agenda
from tests.page_databases import small_database
from tests.robustness import kill_marks
from tests.robustness.kill_marks import Mark

NAMES = ("pack.pdf", "pack.html", "tables/waits.csv")
LONG = 40_000
PUT = f"""
import sys
from pathlib import Path
from tests.robustness import kill_marks
from audit.pack.put_in_place import put_in_place
kill_marks.arm(sys.argv[1])
put_in_place(Path(sys.argv[2]), {{name: b"new" * {LONG} for name in {NAMES}}})
"""
REPLACE = "os:replace"
NEW, FORMER = b"new" * LONG, b"former" * LONG


def found(out: Path) -> dict[str, bytes]:
    """Every file that has a name of a pack's, with what it holds."""
    files = [file for file in out.rglob("*") if file.is_file()]
    return {str(file.relative_to(out)): file.read_bytes() for file in files if ".partial" not in str(file)}


def test_killed_at_every_step_each_file_is_whole_and_the_next_pack_completes(tmp_path):
    def fresh(number: int) -> Path:
        out = tmp_path / str(number)
        out.mkdir()
        put_in_place(out, dict.fromkeys(NAMES[:2], FORMER))
        return out

    counts, _ = kill_marks.counted(PUT, fresh(0), calls=[REPLACE])
    assert found(tmp_path / "0") == dict.fromkeys(NAMES, NEW)
    marks = [*kill_marks.every_mark(counts, calls=[REPLACE]), Mark(longest_file=LONG), Mark(longest_file=len(NEW) - 1)]
    assert len(marks) == 2 * len(NAMES) + 2
    for number, mark in enumerate(marks, start=1):
        out = fresh(number)
        kill_marks.killed(PUT, out, calls=[] if mark.longest_file else [REPLACE], mark=mark)
        now = found(out)
        assert set(now.values()) <= {NEW, FORMER}
        assert {*NAMES[:2]} <= {*now} <= {*NAMES}
        if mark.longest_file or (mark.call, mark.moment) == (1, "before"):
            assert now == dict.fromkeys(NAMES[:2], FORMER), "a pack that was not written to its end replaced another"
        [left] = out.glob(".*.partial")
        assert left.stat().st_mode & 0o077 == 0
        os.utime(left, (0, 0))  # as if killed long ago: a pack that is being written now is not taken away
        put_in_place(out, dict.fromkeys(NAMES, NEW))
        assert found(out) == dict.fromkeys(NAMES, NEW)
        assert list(out.glob(".*")) == []


# when the first case is drawn, the processes that draw are told, and then the mark is reached
WITH_WORKERS = """
import multiprocessing, sys
from tests.robustness import kill_marks
from audit.cli import main
from audit.pack import build, case_jobs

if __name__ == "__main__":
    kill_marks.arm(sys.argv[1])
    draw = case_jobs.draw_cases

    def told(done, total):
        print(*(child.pid for child in multiprocessing.active_children()), flush=True)
        multiprocessing.cpu_count()

    case_jobs._WORTH_WORKERS = 2
    build.draw_cases = lambda jobs, workers, progress: draw(jobs, workers=2, progress=told)
    main(["--db", sys.argv[2], "pack", "--period", "2031-04", "--out", sys.argv[3]])
"""
DRAWN = "multiprocessing:cpu_count"


# the signals that may be caught all go one way, which each of them is tried on in test_analysis_killed.py
@pytest.mark.parametrize("stop", [signal.SIGKILL, signal.SIGHUP])
def test_a_pack_that_is_ended_leaves_no_file_and_no_worker_behind(tmp_path, stop):
    db, out = small_database(tmp_path), tmp_path / "packs"
    for case_id in ("C-001", "C-002", "C-003"):
        agenda.add(db, "2031-04", case_id, who="lead")
    mark = Mark(DRAWN, 1, "before", signal=stop)
    with kill_marks.start(WITH_WORKERS, db, out, calls=[DRAWN], mark=mark) as process:
        kill_marks.ended_with_workers(process, stop)
    assert list(out.iterdir()) == []

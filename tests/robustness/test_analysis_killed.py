"""An analysis killed at a mark: what was committed stays, nothing half-written is seen, and a rerun completes."""

import random
import shutil
import signal
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from audit.analysis import job
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database
from tests.robustness import kill_marks
from tests.robustness.kill_marks import BLOCK_MOMENTS, CALL_MOMENTS, Mark

CASES, BATCH, MINUTES = 24, 3, 45
BATCHES = CASES // BATCH
ANALYSE = """
import sys
from pathlib import Path
from tests.robustness import kill_marks
from audit.analysis import job
from audit.settings import load_settings
job.BATCH = int(sys.argv[3])
kill_marks.arm(sys.argv[1])
job.analyse(Path(sys.argv[2]), settings=load_settings(), workers=1)
"""
TRANSACTION, INSERT = "audit.store.database:transaction", "audit.analysis.storing:insert"
OF_OPENING = 1  # every command that may change something marks the state as a new one
INSERTS_A_BATCH = 6  # at least: states, contractions, decelerations, epochs, minute categories, burden


@pytest.fixture(scope="module")
def imported(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("killed")
    rng = np.random.default_rng(3)
    t = np.arange(MINUTES * 240) / 4.0
    frames = []
    for k in range(CASES):
        fhr = 138 + 5 * np.sin(2 * np.pi * t / 17 + k) + rng.normal(0, 1.5, t.size)
        toco = 10 + 45 * np.exp(-((((t % 200) - 100) / 22) ** 2))
        fhr = fhr - 30 * np.exp(-((((t % 200) - 130) / 20) ** 2))
        frames.append(pd.DataFrame({"case_id": f"C{k:03d}", "t_s": t, "fhr_bpm": fhr.round(2), "toco": toco.round(2)}))
    pd.concat(frames).to_parquet(folder / "tracings.parquet", index=False)
    import_paths(folder / "unit.duckdb", [folder / "tracings.parquet"], settings=load_settings())
    return folder / "unit.duckdb"


@pytest.fixture
def unit(imported, tmp_path) -> Path:
    """A database of this test alone, nothing read yet."""
    return Path(shutil.copy(imported, tmp_path / "unit.duckdb"))


@pytest.fixture(scope="module")
def read(imported) -> Path:
    """The same, all of it read."""
    db = Path(shutil.copy(imported, imported.with_name("read.duckdb")))
    job.analyse(db, settings=load_settings(), workers=1)
    return db


def _whole(db: Path) -> dict[str, str]:
    """The run that read each case, after checking that every derived table has that case's rows, and no others'."""
    with database.open_for_reading(db) as con:
        states = con.execute("select case_id, run_id from tracing_states where state = 'read'").fetchall()
        minutes = con.execute("select case_id, run_id, count(*) from minute_categories group by all").fetchall()
        spans = con.execute("select case_id, run_id, count(*) from burden group by all").fetchall()
        epochs = con.execute("select distinct case_id, run_id from epochs").fetchall()
        runs = {row[0] for row in con.execute("select run_id from analysis_runs").fetchall()}
    assert {tuple(row[:2]) for row in minutes} == set(states)
    assert {tuple(row[:2]) for row in spans} == set(states)
    assert set(epochs) == set(states)
    assert all(count == MINUTES * 3 for _, _, count in minutes)
    assert all(count == 4 for _, _, count in spans)
    assert {run_id for _, run_id in states} <= runs
    return dict(states)


def _killed(db: Path, mark: Mark) -> None:
    kill_marks.killed(ANALYSE, db, BATCH, calls=[INSERT], blocks=[TRANSACTION], mark=mark)


@pytest.mark.parametrize("moment", BLOCK_MOMENTS)
def test_a_kill_around_the_commit_keeps_exactly_the_batches_before_it(unit, moment):
    number = random.Random(moment).randint(2, BATCHES)
    _killed(unit, Mark(TRANSACTION, OF_OPENING + number, moment))
    assert len(_whole(unit)) == BATCH * (number if moment == "after" else number - 1)
    job.analyse(unit, settings=load_settings(), workers=1)
    assert len(_whole(unit)) == CASES


def test_kills_between_the_tables_of_a_batch_keep_what_was_committed_and_a_rerun_completes(unit):
    rng = random.Random(11)
    done = 0
    while done < CASES - BATCH:
        batches_left = (CASES - done) // BATCH
        _killed(unit, Mark(INSERT, rng.randint(1, INSERTS_A_BATCH * batches_left), rng.choice(CALL_MOMENTS)))
        now = len(_whole(unit))
        assert now >= done, "what was committed is lost"
        assert now % BATCH == 0, "half a batch was committed"
        done = now
        if rng.random() < 0.5:  # then go on by one batch, so that the loop ends
            _killed(unit, Mark(TRANSACTION, OF_OPENING + 1, "after"))
            done += BATCH
            assert len(_whole(unit)) == done
    assert job.analyse(unit, settings=load_settings(), workers=1).failed == []
    assert len(_whole(unit)) == CASES


@pytest.mark.parametrize("seed", range(4))
def test_killed_while_reading_again_the_former_findings_stay_until_the_new_ones_are_whole(read, tmp_path, seed):
    rng = random.Random(seed)
    unit = Path(shutil.copy(read, tmp_path))
    former = _whole(unit)
    with database.open_for_writing(unit) as con:
        con.execute("update tracing_states set inputs_sha256 = 'former'")
        con.execute("delete from stages")  # all of it is read again
    number, moment = rng.randint(1, BATCHES), rng.choice(BLOCK_MOMENTS)
    _killed(unit, Mark(TRANSACTION, OF_OPENING + number, moment))
    now = _whole(unit)
    assert set(now) == set(former)
    changed = [case_id for case_id in now if now[case_id] != former[case_id]]
    assert len(changed) == BATCH * (number if moment == "after" else number - 1)


def test_killed_in_the_middle_of_writing_to_the_disk_nothing_half_written_is_seen(unit, read):
    """The process ends when a file would pass a length drawn from all that a whole analysis writes."""
    rng = random.Random(5)
    before, after = unit.stat().st_size, read.stat().st_size
    assert after > before
    for length in sorted(rng.sample(range(before // 4, after - 1), 3)):
        db = Path(shutil.copy(unit, unit.with_name(f"{length}.duckdb")))
        kill_marks.killed(ANALYSE, db, BATCH, mark=Mark(longest_file=length))
        assert len(_whole(db)) % BATCH == 0
        job.analyse(db, settings=load_settings(), workers=1)
        assert len(_whole(db)) == CASES


WITH_WORKERS = """
import multiprocessing, sys
from tests.robustness import kill_marks
from audit.analysis import job, storing
from audit.cli import main

if __name__ == "__main__":
    kill_marks.arm(sys.argv[1])
    insert = storing.insert

    def told(*arguments):
        print(*(child.pid for child in multiprocessing.active_children()), flush=True)
        insert(*arguments)

    storing.insert, job.BATCH = told, 3
    main(["--db", sys.argv[2], "analyse", "--workers", "2"])
"""


@pytest.mark.parametrize("stop", [signal.SIGKILL, signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_an_analysis_that_is_ended_leaves_no_worker_behind(unit, stop):
    mark = Mark(INSERT, 1, "before", signal=stop)
    with kill_marks.start(WITH_WORKERS, unit, calls=[INSERT], mark=mark) as process:
        kill_marks.ended_with_workers(process, stop)
    assert _whole(unit) == {}

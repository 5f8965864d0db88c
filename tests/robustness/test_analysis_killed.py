"""An analysis killed at any moment: what was committed stays, nothing half-written is seen, and a rerun completes."""

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from audit.analysis import job
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database, published

pytestmark = [pytest.mark.robustness, pytest.mark.timeout(1200)]

ROOT = Path(__file__).resolve().parents[2]
CASES = 60
# Twenty kills in every run of the tests; set AUDIT_KILLS=100 to run the full count by hand.
KILLS = int(os.environ.get("AUDIT_KILLS", "20"))


@pytest.fixture(scope="module")
def unit(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("killed")
    rng = np.random.default_rng(3)
    t = np.arange(45 * 240) / 4.0
    frames = []
    for k in range(CASES):
        fhr = 138 + 5 * np.sin(2 * np.pi * t / 17 + k) + rng.normal(0, 1.5, t.size)
        toco = 10 + 45 * np.exp(-((((t % 200) - 100) / 22) ** 2))
        fhr = fhr - 30 * np.exp(-((((t % 200) - 130) / 20) ** 2))
        frames.append(pd.DataFrame({"case_id": f"C-{k:03d}", "t_s": t, "fhr_bpm": fhr.round(2), "toco": toco.round(2)}))
    pd.concat(frames).to_parquet(folder / "tracings.parquet", index=False)
    db = folder / "unit.duckdb"
    import_paths(db, [folder / "tracings.parquet"], settings=load_settings())
    published.publish(db)
    return db


def _whole(db: Path) -> dict[str, int]:
    """Per case that counts as read: every derived table has its rows, and no other case has any."""
    with database.open_for_reading(db) as con:
        states = con.execute("select case_id, run_id from tracing_states where state = 'read'").fetchall()
        minutes = dict(con.execute("select case_id, count(*) from minute_categories group by case_id").fetchall())
        spans = dict(con.execute("select case_id, count(*) from burden group by case_id").fetchall())
        runs = {row[0] for row in con.execute("select run_id from analysis_runs").fetchall()}
    read = {case_id for case_id, _ in states}
    assert set(minutes) == read
    assert set(spans) == read
    assert all(count == 45 * 3 for count in minutes.values())
    assert all(count == 4 for count in spans.values())
    assert {run_id for _, run_id in states} <= runs
    return minutes


def test_killed_at_any_moment_keeps_what_was_committed_and_a_rerun_completes(unit):
    rng = random.Random(11)
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "audit", "--db", str(unit), "analyse", "--workers", "1"]
    before: set[str] = set()
    stopped_midway = 0
    for _ in range(KILLS):
        process = subprocess.Popen(
            command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
        )
        time.sleep(rng.uniform(0.8, 3.5))
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        now = set(_whole(unit))
        assert before <= now, "what was committed is lost"
        stopped_midway += len(now) < CASES
        # pages see the last published state, which is complete: nothing read yet, or everything
        with database.open_for_reading(published.current(unit)) as con:
            assert con.execute("select count(*) from tracing_states").fetchall()[0][0] in (0, CASES)
        if len(now) == CASES:
            with database.open_for_writing(unit) as con:  # begin again
                con.execute("update tracing_states set inputs_sha256 = 'former'")
            before = set()
        else:
            before = now
    summary = job.analyse(unit, settings=load_settings(), workers=1)
    assert summary.failed == []
    assert len(_whole(unit)) == CASES
    assert stopped_midway > 0, "no kill came while there was work to do; widen the delays"

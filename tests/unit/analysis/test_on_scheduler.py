"""Readings on a scheduler's workers: the same rows as on one machine, whatever becomes of the workers."""

import os
import signal
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from audit.analysis import job, made_by, partitions, stages
from audit.analysis.guarded import Failed, guarded_read
from audit.analysis.one_tracing import CaseInput
from audit.errors import UsageError
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database
from audit.store.tracings import Stored, Stretch, to_hundredths
from tests.benchmarks import bench_sizing

pytestmark = pytest.mark.slow

SETTINGS = load_settings()
LABOURS = 9


def drawn(seed: int, *, minutes: int = 15) -> tuple[np.ndarray, np.ndarray]:
    """A rate with a fall with each contraction, and stretches without signal, in hundredths."""
    rng, t_s = np.random.default_rng(seed), np.arange(minutes * 240) / 4.0
    near = np.exp(-(((t_s % 180 - 90) / 20.0) ** 2))
    fhr, toco = 140 + 5 * np.sin(t_s / 3) + rng.normal(0, 1, t_s.size) - 30 * near, 10 + 50 * near
    fhr[500:560] = np.nan
    return np.round(fhr, 2), np.round(toco, 2)


def an_input(case_id: str, seed: int, **changes) -> CaseInput:
    fhr, toco = drawn(seed)
    rate, activity, mother = (to_hundredths(channel) for channel in (fhr, toco, fhr - 50.0))
    # in two pieces, with a minute of nothing between them
    parts = [(30.0, slice(0, 1200), 2.0), (690.0, slice(1200, None), None)]
    tracing = Stored(
        [Stretch(case_id, "A", at_s, rate[k], activity[k], mother[k], of_file, 2.0) for at_s, k, of_file in parts],
        "ultrasound",
        None,
    )
    facts = {"gestation_weeks": 39, "birth_s": 1900.25, "second_stage_s": None, "period": "2031-02", "fetuses": ["A"]}
    events = [{"at_s": 120.1, "event": "senior_called", "urgency": None}]
    return replace(CaseInput(case_id, "A", True, tracing, facts, events, []), **changes)


def test_a_partition_brings_back_what_reading_here_finds_and_is_written_once(tmp_path):
    cases = [an_input("C1", 1), an_input("C2", 2, tracing=None), an_input("C3", 3)]  # the second cannot be read
    shared, told = partitions.SharedFolder(str(tmp_path)), (made_by.version(), SETTINGS.analysis, None)
    partitions.put_given(shared, "run", "0", cases)
    partitions.read_partition(str(tmp_path), "run", "0", *told)
    here, there = [guarded_read(case, SETTINGS.analysis) for case in cases], partitions.get_results(shared, "run", "0")
    assert isinstance(there[1], Failed)
    assert there[1].reason == here[1].reason
    for one, other in ((here[0], there[0]), (here[2], there[2])):
        assert (one.state, one.kept) == (other.state, other.kept)
        assert one.tables.keys() == other.tables.keys()
        assert all(one.tables[name].equals(other.tables[name]) for name in one.tables)
    before = {file: (file.read_bytes(), file.stat().st_mtime_ns) for file in tmp_path.rglob("*.parquet")}
    partitions.read_partition(str(tmp_path), "run", "0", *told)  # as a task that is done twice
    assert before == {file: (file.read_bytes(), file.stat().st_mtime_ns) for file in tmp_path.rglob("*.parquet")}
    # a worker that is lost before its last file leaves nothing that counts: all is written again, with the same bytes
    (tmp_path / "run" / "results" / "0.parquet").unlink()
    partitions.read_partition(str(tmp_path), "run", "0", *told)
    assert {file: content for file, (content, _) in before.items()} == {f: f.read_bytes() for f in before}
    assert not list(tmp_path.rglob("*.half"))
    with pytest.raises(RuntimeError, match=r"found version .* expected 0\.0\.0"):
        partitions.read_partition(str(tmp_path), "run", "0", "0.0.0", *told[1:])


def test_where_nobody_listens_that_is_said_and_nothing_is_begun(tmp_path, monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr("audit.analysis.on_scheduler._WAIT_S", 1)
    db = a_unit(tmp_path, 1)
    cluster = job.Cluster("tcp://127.0.0.1:1", str(tmp_path / "shared"))
    before = db.read_bytes()
    with pytest.raises(UsageError, match="found no scheduler with a worker"):
        job.analyse(db, settings=SETTINGS, cluster=cluster)
    assert db.read_bytes() == before  # a run that never began stood in the list of runs, as the newest


def test_a_folder_that_cannot_be_reached_is_named(tmp_path):
    (tmp_path / "file").write_text("no folder")
    shared = partitions.SharedFolder(str(tmp_path / "file"))
    with pytest.raises(UsageError, match=r"file: cannot be written to .* expected a folder that this machine and all"):
        partitions.put_given(shared, "run", "0", [an_input("C1", 1)])
    with pytest.raises(UsageError, match="elsewhere: does not hold here what was put into it"):
        partitions.read_partition(str(tmp_path / "elsewhere"), "run", "0", made_by.version(), SETTINGS.analysis, None)


def a_unit(folder: Path, labours: int) -> Path:
    frames = []
    for k in range(labours):
        fhr, toco = drawn(k)
        frames.append(
            pd.DataFrame({"case_id": f"C{k:02d}", "t_s": np.arange(fhr.size) / 4, "fhr_bpm": fhr, "toco": toco})
        )
    pd.concat(frames).to_parquet(folder / "tracings.parquet", index=False)
    import_paths(folder / "unit.duckdb", [folder / "tracings.parquet"], settings=SETTINGS)
    return folder / "unit.duckdb"


def all_derived(db: Path) -> dict[str, list[tuple]]:
    with database.open_for_reading(db) as con:
        return {
            name: sorted(con.execute(f"select * exclude (run_id) from {name}").fetchall(), key=repr)
            for name in (*stages.DERIVED, "stages", "tracing_states")
        }


def test_the_costs_behind_the_sizing_are_those_of_all_hours(tmp_path, monkeypatch):
    for name in ("in_order", "required"):
        monkeypatch.setattr(job.on_scheduler, name, getattr(job.on_scheduler, name))  # put back afterwards
    costs = bench_sizing.measured(a_unit(tmp_path, 3), tmp_path / "shared")
    assert sum(costs.hours) == pytest.approx(3 * 15 / 60)
    assert min(costs.out_s, costs.stored_s, *costs.read_s) > 0
    # by hand: one after the other; two at once
    assert bench_sizing.simulated(1, [1.0], [2.0], [3.0]) == 6.0
    assert bench_sizing.simulated(2, [0.0, 0.0], [2.0, 2.0], [0.0, 0.0]) == 2.0


# Three worker processes; one is killed and one closed while the work is under way. Nothing of it may show.
def test_a_killed_and_a_closed_worker_change_nothing(tmp_path, monkeypatch):
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr(job, "BATCH", 1)
    db = a_unit(tmp_path, LABOURS)
    job.analyse(db, settings=SETTINGS, workers=1)
    alone = all_derived(db)
    assert alone["decelerations"]
    assert len(alone["tracing_states"]) == LABOURS
    shared, told = tmp_path / "shared", []
    options = {"threads_per_worker": 1, "dashboard_address": ":0", "silence_logs": 50}
    with distributed.LocalCluster(n_workers=3, **options) as local, distributed.Client(local) as client:
        by_address = client.run(os.getpid)

        def meanwhile(done: float, total: int) -> None:
            told.append((done, total))
            if len(told) == 1:
                closed, killed = list(by_address)[:2]
                os.kill(by_address[killed], signal.SIGKILL)
                client.retire_workers([closed], close_workers=True)
                time.sleep(0.2)

        cluster = job.Cluster(local.scheduler_address, str(shared))
        summary = job.analyse(db, settings=SETTINGS, force=True, cluster=cluster, progress=meanwhile)
    assert (summary.read, summary.failed) == (LABOURS, [])
    assert told[-1] == (LABOURS, LABOURS)
    assert all_derived(db) == alone
    assert not list(shared.iterdir())

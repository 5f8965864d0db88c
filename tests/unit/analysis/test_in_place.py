"""A database that reads a run's samples and findings in place tells what the unit's own would, and is only read."""

import os
import signal
from pathlib import Path

import duckdb
import pytest

from audit.analysis import job, stages
from audit.analysis.in_place import analyse_in_place
from audit.errors import AuditError, ReadInPlaceError, UsageError
from audit.people.absorb import absorb_reads
from audit.questions import trends
from audit.questions.check import check
from audit.store import backup, database, in_place, published
from audit.store.tracings import load_tracing
from tests.unit.analysis.test_on_scheduler import LABOURS, SETTINGS, a_unit

pytestmark = pytest.mark.slow  # workers are started


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A unit that is analysed here, and a database in place that three workers made of it; one of them was killed."""
    distributed = pytest.importorskip("distributed")
    folder = tmp_path_factory.mktemp("in_place")
    db, file, shared, told = a_unit(folder, LABOURS), folder / "region.duckdb", folder / "shared", []
    before = db.read_bytes()
    options = {"threads_per_worker": 1, "dashboard_address": ":0", "silence_logs": 50}
    with (
        pytest.MonkeyPatch.context() as patch,
        distributed.LocalCluster(n_workers=3, **options) as local,
        distributed.Client(local) as client,
    ):
        patch.setattr(job, "LOADED", 2)
        pids = client.run(os.getpid)

        def meanwhile(done: float, total: int) -> None:
            if not told:
                os.kill(next(iter(pids.values())), signal.SIGKILL)
            told.append((done, total))

        cluster = job.Cluster(local.scheduler_address, str(shared))
        summary = analyse_in_place(db, file, settings=SETTINGS, cluster=cluster, progress=meanwhile)
    assert (summary.read, summary.failed) == (LABOURS, [])
    assert told[-1] == (LABOURS, LABOURS)
    assert db.read_bytes() == before
    job.analyse(db, settings=SETTINGS, workers=1)
    return db, file


def rows(db: Path, table: str) -> list[tuple]:
    with database.open_for_reading(db) as con:
        kept = "* exclude (run_id)" if table in stages.DERIVED else "*"
        return sorted(con.execute(f"select {kept} from {table}").fetchall(), key=repr)


def answers(db: Path) -> list[object]:
    """What a page is told, of the copy that it asks."""
    with published.open_for_question(published.required(db)) as con:
        columns = "select column_name, data_type, comment from duckdb_columns() where table_name = 'decelerations'"
        told = trends.document(con, SETTINGS, standard="figo-2015")
        return [con.execute(columns).fetchall(), told, load_tracing(con, "C00").fhr_bpm.tobytes()]


def test_it_tells_what_the_units_own_database_tells(made):
    db, file = made
    assert set(in_place.FOLDERS) == {in_place.SAMPLES, *stages.DERIVED}
    for table in (*in_place.FOLDERS, "tracings", "cases", "imports"):
        assert rows(file, table) == rows(db, table), table
    assert rows(file, "decelerations")
    assert answers(file) == answers(db)
    assert (check(file, SETTINGS).problems, check(file, SETTINGS).stale) == ([], [])
    # nothing of it is copied: neither samples nor findings are in the file, nor in what pages answer from
    for one in (file, published.required(file).file):
        with database.open_for_reading(one) as con:
            own = {name for (name,) in con.execute("select table_name from duckdb_tables()").fetchall()}
        assert not own & set(in_place.FOLDERS)
    assert sorted(path.name for path in file.parent.glob("shared/*/*")) == ["findings", "tracings"]


def test_it_reaches_the_runs_files_and_no_other_and_is_not_written_to(made, tmp_path):
    _, file = made
    with database.open_for_reading(file) as con:
        for asked in (f"from '{tmp_path}/other.parquet'", "from read_text('/etc/hosts')", "set allowed_paths = ['/']"):
            with pytest.raises(duckdb.Error, match="disabled"):
                con.execute(asked)
    with pytest.raises(ReadInPlaceError, match="reads samples and findings in place and is not written to"):
        job.analyse(file, settings=SETTINGS, workers=1)
    assert absorb_reads(file).reads == 0
    with pytest.raises(ReadInPlaceError, match="a backup of it would not hold them"):
        backup.back_up(file, tmp_path / "region.backup")
    with pytest.raises(UsageError, match="there is a file of this name"):
        analyse_in_place(made[0], file, settings=SETTINGS, cluster=job.Cluster("tcp://127.0.0.1:1", str(tmp_path)))
    with pytest.raises(UsageError, match="expected a path"):
        analyse_in_place(
            made[0], tmp_path / "x", settings=SETTINGS, cluster=job.Cluster("tcp://127.0.0.1:1", "s3://audit/shared")
        )


def test_a_file_that_is_changed_foreign_or_gone_is_told(made):
    _, file = made
    with database.open_for_reading(file) as con:
        folder = Path(str(in_place.folder_of(con)))
    first, *_ = sorted(folder.glob("findings/contractions/*"))
    content = first.read_bytes()
    other = first.with_name("more.parquet")
    try:
        first.rename(other)
        said = check(file, SETTINGS).problems
        assert any(
            f"findings/contractions/{first.name}: a Parquet file that is read in place is missing" in x for x in said
        )
        assert any("more.parquet: a Parquet file that no run wrote" in x for x in said)
        first.write_bytes(content[:-1] + b"x")
        other.unlink()
        assert any("was changed" in x for x in check(file, SETTINGS).problems)
        folder.rename(folder.with_name("elsewhere"))
        with pytest.raises(AuditError, match="not where the run left them"), database.open_for_reading(file) as con:
            con.execute("from contractions").fetchall()
    finally:
        if not folder.exists():
            folder.with_name("elsewhere").rename(folder)
        other.unlink(missing_ok=True)
        first.write_bytes(content)

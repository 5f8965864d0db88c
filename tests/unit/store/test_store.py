"""The store: schema steps, refusals, locks."""

import subprocess
import sys
from pathlib import Path

import duckdb
import pytest

from audit.errors import AuditError, StoreBusyError, StoreVersionError
from audit.store import database

HOLD = """
import signal, sys, duckdb
con = duckdb.connect(sys.argv[1])
print("held", flush=True)
signal.pause()
"""


@pytest.fixture
def every_step_is_taken(monkeypatch):
    """A new database is made as a user's is, not copied from one that other tests made."""
    monkeypatch.setattr(database, "_connect", database.really_connect)


def _hold(db: Path) -> subprocess.Popen:
    """Another process that holds the database until it is ended."""
    process = subprocess.Popen([sys.executable, "-c", HOLD, str(db)], stdout=subprocess.PIPE, text=True)
    assert process.stdout.readline().strip() == "held"
    return process


def _end(process: subprocess.Popen) -> None:
    process.kill()
    process.wait()
    process.stdout.close()


def test_a_new_database_has_the_latest_schema(tmp_path, every_step_is_taken):
    db = tmp_path / "unit.duckdb"
    with database.open_for_writing(db) as con:
        assert database.schema_version(con) == database.SCHEMA.latest()
    with database.open_for_reading(db) as con:
        assert con.execute("select count(*) from cases").fetchone() == (0,)


def test_an_older_database_is_brought_forward_and_keeps_its_rows(tmp_path, every_step_is_taken):
    db = tmp_path / "unit.duckdb"
    first = database.SCHEMA.steps()[0][1].read_text(encoding="utf-8")
    with duckdb.connect(str(db)) as con:
        con.execute("create table schema_version (version integer, step varchar, applied_at timestamp)")
        con.execute(first)
        con.execute("insert into schema_version values (1, '001_imported', now()::timestamp)")
        con.execute("insert into cases (case_id, period) values ('C-1', '2025-03')")
    with pytest.raises(StoreVersionError, match="found schema version 1"), database.open_for_reading(db):
        pass
    with database.open_for_writing(db) as con:
        assert database.schema_version(con) == database.SCHEMA.latest()
        assert con.execute("select case_id from cases").fetchall() == [("C-1",)]


def test_a_newer_database_is_refused(tmp_path):
    db = tmp_path / "unit.duckdb"
    with database.open_for_writing(db) as con:
        con.execute("insert into schema_version values (999, 'from the future', now()::timestamp)")
    with pytest.raises(StoreVersionError, match="found schema version 999"), database.open_for_writing(db):
        pass


def test_somebody_elses_database_is_refused_untouched(tmp_path):
    db = tmp_path / "other.duckdb"
    with duckdb.connect(str(db)) as con:
        con.execute("create table shopping (item varchar)")
    with pytest.raises(StoreVersionError, match="did not make"), database.open_for_writing(db):
        pass
    with duckdb.connect(str(db)) as con:
        assert con.execute("select count(*) from duckdb_tables()").fetchone() == (1,)


@pytest.mark.slow
def test_a_copied_file_holds_what_a_killed_writer_left_in_its_log(tmp_path):
    db, target = tmp_path / "unit.duckdb", tmp_path / "elsewhere.duckdb"
    with database.open_for_writing(db):
        pass
    killed = (
        "import os, sys, duckdb; con = duckdb.connect(sys.argv[1]);"
        " con.execute(\"insert into cases (case_id, period) values ('C-1', '2025-03')\"); os._exit(9)"
    )
    subprocess.run([sys.executable, "-c", killed, str(db)], check=False)
    assert db.with_name("unit.duckdb.wal").is_file()
    before = db.read_bytes()
    database.copy_file(db, target)
    assert db.read_bytes() == before
    with database.open_for_writing(target) as con:
        assert con.execute("select case_id from cases").fetchall() == [("C-1",)]


@pytest.mark.parametrize("content", [b"case_id,period\nC-1,2025-03\n", b"\x00" * 5000])
def test_a_file_that_is_no_database_is_refused(tmp_path, content):
    db = tmp_path / "unit.duckdb"
    db.write_bytes(content)
    with pytest.raises(StoreVersionError, match="not a database") as told, database.open_for_writing(db):
        pass
    assert str(told.value).count("unit.duckdb") == 1  # DuckDB's own words name the whole path
    assert str(tmp_path) not in str(told.value)
    assert db.read_bytes() == content


@pytest.mark.parametrize(
    ("system", "told"),
    [("Read-only file system", "may not be written"), ("No space left on device", "the disk is full")],
)
def test_what_the_disk_refuses_is_not_called_damage(tmp_path, monkeypatch, system, told):
    def refused(*_, **__):
        raise duckdb.IOException(f"IO Error: Cannot open file: {system}")

    monkeypatch.setattr(database, "_connect", database.really_connect)
    monkeypatch.setattr(duckdb, "connect", refused)
    refusal = pytest.raises(StoreVersionError, match=f"unit.duckdb: {told}")
    with refusal, database.open_for_writing(tmp_path / "unit.duckdb"):
        pass


def test_reading_without_a_database_says_what_to_do(tmp_path):
    with pytest.raises(AuditError, match="import files first"), database.open_for_reading(tmp_path / "none.duckdb"):
        pass
    assert not (tmp_path / "none.duckdb").exists()


def test_a_writer_waits_for_another_and_then_says_so(tmp_path):
    db = tmp_path / "unit.duckdb"
    with database.open_for_writing(db):
        pass
    process = _hold(db)
    try:
        with pytest.raises(StoreBusyError, match="another process"), database.open_for_writing(db, wait_s=0.3):
            pass
    finally:
        _end(process)


def test_a_writer_that_waits_gets_its_turn(tmp_path, monkeypatch):
    db = tmp_path / "unit.duckdb"
    with database.open_for_writing(db):
        pass
    process = _hold(db)
    tries = []

    def waited(seconds: float) -> None:
        """The other process ends while the writer waits for the second time."""
        tries.append(seconds)
        if len(tries) == 2:
            _end(process)

    monkeypatch.setattr(database.time, "sleep", waited)
    with database.open_for_writing(db, wait_s=3600) as con:
        assert database.schema_version(con) == database.SCHEMA.latest()
    assert len(tries) == 2


def test_a_transaction_that_fails_leaves_nothing(tmp_path):
    with database.open_for_writing(tmp_path / "unit.duckdb") as con:
        with pytest.raises(duckdb.ConstraintException), database.transaction(con):
            con.execute(
                "insert into cases (case_id) values ('C-1'), ('C-2'); insert into cases (case_id) values ('C-1')"
            )
        assert con.execute("select count(*) from cases").fetchone() == (0,)


def test_a_query_cannot_reach_out_of_the_file(tmp_path):
    (tmp_path / "secret.csv").write_text("a\n1\n", encoding="utf-8")
    with database.open_for_writing(tmp_path / "unit.duckdb") as con, pytest.raises(duckdb.PermissionException):
        con.execute(f"select * from read_csv('{tmp_path / 'secret.csv'}')")


@pytest.mark.slow
def test_the_seal_covers_every_table_but_the_samples_and_what_it_is_itself(tmp_path, every_step_is_taken):
    with database.open_for_writing(tmp_path / "unit.duckdb") as con:
        stored = {row[0] for row in con.execute("select table_name from duckdb_tables()").fetchall()}
    text = (Path(__file__).resolve().parents[3] / "queries" / "store" / "digests.sql").read_text(encoding="utf-8")
    sealed = {line.split("'")[1] for line in text.splitlines() if line.startswith("select '")}
    assert stored - sealed == {
        "tracing_minutes", "database_state", "database_marks", "database_seal", "schema_version",
    }  # fmt: skip
    assert sealed - {"views"} <= stored

"""Changes made to the people's store behind the program's back: each is found, and an untouched store is clean.

Common practice, no source: a row is vouched for by the chained entry that made it, the chain by a hash kept elsewhere.
"""

import shutil
import sqlite3
from pathlib import Path

import pytest

from audit.people import access, accounts, actions, agenda, batches, disclosures, findings, log, phases, reads, verify
from audit.people.batches import Plan, Window
from audit.people.reads import Read
from audit.store import people_database as database

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Something of every kind that people write."""
    db = tmp_path_factory.mktemp("made") / "unit.duckdb"
    accounts.make(db, "lead", pin="once")
    accounts.make(db, "reader", "R1", pin="twice")
    access.choose(db, single_user=False)
    for case_id in ("C-1", "C-2", "C-3"):
        agenda.add(db, "2031-03", case_id, who="lead", question="Why?")
    agenda.reorder(db, "2031-03", ["C-3", "C-1", "C-2"], who="lead")
    agenda.remove(db, "2031-03", "C-1", who="lead")
    findings.save(db, "2031-03", "C-2", findings.Finding(factors=("handover",)), who="chair")
    findings.save(db, "2031-03", "C-2", findings.Finding(learning_point="Say the time"), who="chair")
    findings.save(db, "2031-03", "C-3", findings.Finding(went_well="Early call"), who="chair")
    number = actions.add(db, "2031-03", "Mark the clock", owner_role="lead", due_period="2031-04", who="chair")
    actions.change(db, number, who="chair", period="2031-04", state="started")
    phases.add(db, "2031-02", "Second senior", who="lead")
    phases.add(db, "2031-05", "Other paper", who="lead")
    phases.remove(db, "2031-05", who="lead")
    windows = tuple(Window(f"C-{n}", "A", 600.0, 2400.0) for n in range(1, 5))
    plan = Plan(name="March", standard="figo-2015", windows=windows, readers=("R1",), repeat_fraction=0.5, seed=1)
    batch_id = batches.make(db, plan, who="lead")
    reads.save(db, batch_id, 1, "R1", Read("normal", baseline_bpm=140))
    reads.save(db, batch_id, 1, "R1", Read("suspicious", decelerations=("late",), would_act=True))
    reads.save(db, batch_id, 2, "R1", Read("pathological"), seconds_spent=41.5)
    batches.close(db, batch_id, who="lead", incomplete=True)
    disclosures.record(db, "C-1", who="chair", place="meeting", period="2031-03")
    disclosures.record(db, "C-2", who="chair", place="case")
    return db.parent


@pytest.fixture
def db(made_once: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made_once, tmp_path, dirs_exist_ok=True)) / "unit.duckdb"


def behind_its_back(db: Path, *statements: str) -> None:
    with sqlite3.connect(database.file_of(db)) as con:
        for (name,) in con.execute("select name from sqlite_schema where type = 'trigger'").fetchall():
            con.execute(f"drop trigger {name}")
        for statement in statements:
            assert con.execute(statement).rowcount, statement
    con.close()


def test_an_untouched_store_is_clean(db):
    assert verify.problems(db) == []
    assert verify.against(db, database.anchor(db), "here") == []


@pytest.mark.parametrize(
    "statement",
    [
        "update strip_reads set category = 'normal' where read_id = 3",
        "update strip_reads set would_act = 0 where read_id = 2",
        "update strip_reads set saved_at = '2001-01-01T00:00:00.000+00:00' where read_id = 2",
        "update strip_reads set reader = 'R1', baseline_bpm = 141 where read_id = 1",
        "delete from strip_reads where read_id = 2",
        "insert into strip_reads (batch_id, strip_number, reader, saved_at, category)"
        " values (1, 3, 'R1', '2031-04-01T00:00:00.000+00:00', 'normal')",
        "delete from disclosures where case_id = 'C-2'",
        "update disclosures set opened_at = '2001-01-01T00:00:00.000+00:00' where case_id = 'C-1'",
        "update disclosures set opened_by = 'lead' where case_id = 'C-2'",
        "update findings set care_grade = '0' where case_id = 'C-2'",
        "update findings set learning_point = null where case_id = 'C-2'",
        "delete from findings where case_id = 'C-3'",
        "insert into findings select '2031-04', case_id, care_scale, care_grade, factors, learning_point, went_well,"
        " changed_by, changed_at from findings where case_id = 'C-3'",
        "update actions set state = 'done'",
        "update actions set action = 'Mark nothing'",
        "delete from actions",
        "delete from agenda where case_id = 'C-2'",
        "update agenda set question = 'Who?' where case_id = 'C-3'",
        "update agenda set position = 9 where case_id = 'C-3'",
        "update phases set label = 'Third senior'",
        "delete from phases",
        "update batches set closed_at = null",
        "update batches set outcome_shown = 1",
        "update batch_windows set start_s = 900 where strip_number = 2",
        "update batches set absorbed_at = '2031-04-01T00:00:00.000+00:00'",
        "update batches set closed_by = 'chair'",
        "insert into batch_readers (batch_id, reader) values (1, 'R2')",
        "update reading_orders set position = -position",
        "update findings set changed_by = 'lead' where case_id = 'C-2'",
        "update actions set changed_at = '2001-01-01T00:00:00.000+00:00'",
        "update agenda set added_by = 'chair' where case_id = 'C-2'",
        "update strip_reads set saved_at = 'x' where read_id = 1",
        "update log set new = new || 'x' where entry = (select max(entry) from log where deed = 'made')",
        "update accounts set pin_hash = salt where code = 'R1'",
        "update accounts set role = 'lead' where code = 'R1'",
        "update access set single_user = 1",
        "delete from accounts where code = 'R1'",
        "update log set who = 'reader:R9' where entry = 5",
        "delete from log where entry = 7",
        "delete from log where entry = (select max(entry) from log)",
    ],
)
def test_a_change_behind_its_back_is_found(db, statement):
    behind_its_back(db, statement)
    assert verify.problems(db) != []


def test_a_log_written_anew_is_found_by_what_was_kept_elsewhere(db):
    kept = database.anchor(db)
    file = database.file_of(db)
    file.unlink()
    for ending in ("-wal", "-shm"):
        file.with_name(file.name + ending).unlink(missing_ok=True)
    for _ in range(kept["log_entries"] + 1):
        findings.save(db, "2031-03", "C-2", findings.Finding(went_well=str(_ % 3)), who="chair")
    assert verify.problems(db) == []
    assert "is another one" in verify.against(db, kept, "a pack")[0]


def test_a_log_cut_short_with_its_rows_is_found_by_what_was_kept_elsewhere(db):
    kept = database.anchor(db)
    behind_its_back(
        db,
        "delete from disclosures where case_id = 'C-2'",
        "delete from log where entry = (select max(entry) from log)",
    )
    assert verify.problems(db) == []
    assert "was cut short" in verify.against(db, kept, "a pack")[0]


def test_a_file_with_other_bytes_in_it_is_found(db):
    with sqlite3.connect(database.file_of(db)) as con:
        con.execute("pragma wal_checkpoint(truncate)")
        con.execute("pragma journal_mode = delete")
    con.close()
    file = database.file_of(db)
    content = bytearray(file.read_bytes())
    for page in range(2, len(content) // 4096):
        content[page * 4096 : page * 4096 + 16] = b"\xff" * 16
    file.write_bytes(content)
    assert verify.problems(db) != []


def test_what_was_written_before_stays_verifiable(db):
    """Entries of older programs tell less: what they do not tell is not compared."""
    entries = log.entries(db)
    assert any("secret" in (entry["new"] or "") for entry in entries)
    tables, _ = verify._replayed(
        [{**entry, "new": None} if entry["subject"] == "account" else entry for entry in entries]
    )
    assert tables["account"][("R1",)] == {"code": "R1"}

"""The second store: agenda, findings, actions, phases, disclosures, and the log that keeps every change."""

import sqlite3
import stat
from pathlib import Path

import pytest

from audit import months as months_
from audit.errors import AuditError, StoreVersionError, UsageError
from audit.people import accounts, actions, agenda, disclosures, findings, log, phases
from audit.store import people_database as database


@pytest.fixture
def db(tmp_path: Path) -> Path:
    return tmp_path / "unit.duckdb"


def edit_behind_its_back(db: Path, *statements: str) -> None:
    con = sqlite3.connect(database.file_of(db))
    try:
        for statement in statements:
            con.execute(statement)
        con.commit()
    finally:
        con.close()


def test_nothing_written_yet_reads_as_nothing_and_makes_no_file(db: Path) -> None:
    assert agenda.items(db, "2031-03") == []
    assert log.head(db) is None
    assert log.verify(db) == []
    assert not database.file_of(db).exists()


def test_the_file_is_readable_by_its_owner_alone(db: Path) -> None:
    agenda.add(db, "2031-03", "C-1", who="lead")
    assert stat.S_IMODE(database.file_of(db).stat().st_mode) == 0o600


def test_agenda_keeps_order_question_and_every_change(db: Path) -> None:
    for case_id in ("C-1", "C-2", "C-3"):
        agenda.add(db, "2031-03", case_id, who="lead", question=f"Why {case_id}?")
    agenda.move(db, "2031-03", "C-3", -2, who="lead")
    agenda.add(db, "2031-03", "C-2", who="chair", question="Earlier call?")
    agenda.remove(db, "2031-03", "C-1", who="lead")
    found = agenda.items(db, "2031-03")
    assert [(row["case_id"], row["question"]) for row in found] == [("C-3", "Why C-3?"), ("C-2", "Earlier call?")]
    deeds = [(row["deed"], row["who"]) for row in log.entries(db)]
    assert deeds == [("added", "lead")] * 3 + [("reordered", "lead"), ("changed", "chair"), ("removed", "lead")]
    assert '"question":"Why C-2?"' in log.entries(db)[4]["old"]
    assert agenda.items(db, "2031-04") == []


def test_agenda_order_from_an_old_look_is_refused(db: Path) -> None:
    agenda.add(db, "2031-03", "C-1", who="lead")
    with pytest.raises(UsageError, match="changed meanwhile"):
        agenda.reorder(db, "2031-03", ["C-1", "C-2"], who="lead")


def test_saving_the_same_twice_writes_no_second_entry(db: Path) -> None:
    for _ in range(2):
        agenda.add(db, "2031-03", "C-1", who="lead", question="Why?")
        findings.save(db, "2031-03", "C-1", findings.Finding(went_well="All of it"), who="chair")
    assert len(log.entries(db)) == 2


def test_finding_round_trip_and_former_one_in_the_log(db: Path) -> None:
    first = findings.Finding(factors=("handover", "staffing"), learning_point="Say the time aloud")
    second = findings.Finding(factors=("handover",), went_well="Early call")
    findings.save(db, "2031-03", "C-1", first, who="chair")
    findings.save(db, "2031-03", "C-1", second, who="chair")
    assert findings.of_case(db, "2031-03", "C-1") == second
    assert findings.in_period(db, "2031-03") == {"C-1": second}
    assert findings.of_case(db, "2031-04", "C-1") is None
    assert "Say the time aloud" in log.entries(db)[1]["old"]


@pytest.mark.parametrize(
    "text", ["seen on 12/03/2031", "mail to a.b@unit.example", "record 12345678", "Dr Smith decided", "x" * 401]
)
def test_text_that_may_identify_somebody_is_refused_and_not_stored(db: Path, text: str) -> None:
    with pytest.raises(UsageError):
        findings.save(db, "2031-03", "C-1", findings.Finding(learning_point=text), who="chair")
    assert findings.in_period(db, "2031-03") == {}
    assert log.entries(db) == []


def test_open_actions_come_back_until_they_are_closed(db: Path) -> None:
    number = actions.add(db, "2031-03", "Mark the clock", owner_role="ward lead", due_period="2031-04", who="chair")
    assert actions.for_meeting(db, "2031-03") == []
    assert [(row["action_id"], row["overdue"]) for row in actions.for_meeting(db, "2031-04")] == [(number, 0)]
    assert [row["overdue"] for row in actions.for_meeting(db, "2031-05")] == [1]
    actions.change(db, number, who="chair", period="2031-05", state="done")
    assert [row["state"] for row in actions.for_meeting(db, "2031-05")] == ["done"]
    assert actions.for_meeting(db, "2031-06") == []
    actions.change(db, number, who="chair", period="2031-06", state="started")
    assert [row["closed_period"] for row in actions.for_meeting(db, "2031-06")] == [None]


def test_action_needs_words_a_due_month_and_a_known_state(db: Path) -> None:
    with pytest.raises(UsageError, match="found nothing"):
        actions.add(db, "2031-03", "  ", owner_role="lead", due_period="2031-04", who="chair")
    with pytest.raises(UsageError, match="or later"):
        actions.add(db, "2031-03", "Do it", owner_role="lead", due_period="2031-02", who="chair")
    number = actions.add(db, "2031-03", "Do it", owner_role="lead", due_period="2031-03", who="chair")
    with pytest.raises(UsageError, match="expected one of"):
        actions.change(db, number, who="chair", period="2031-04", state="finished")
    with pytest.raises(UsageError, match="there is none"):
        actions.change(db, number + 1, who="chair", period="2031-04", state="done")


def test_phases_and_disclosures(db: Path) -> None:
    phases.add(db, "2031-05", "Second senior at night", who="lead")
    phases.add(db, "2031-05", "Second senior on nights", who="lead")
    assert [(row["measure"], row["label"]) for row in phases.everything(db)] == [("all", "Second senior on nights")]
    phases.remove(db, "2031-05", who="lead")
    assert phases.everything(db) == []
    disclosures.record(db, "C-1", who="chair", place="meeting", period="2031-03")
    disclosures.record(db, "C-1", who="lead", place="case")
    assert [row["opened_by"] for row in disclosures.of_case(db, "C-1")] == ["chair", "lead"]
    assert disclosures.opened_in(db, "2031-03") == {"C-1"}


def test_who_is_a_role_or_a_code_never_a_name(db: Path) -> None:
    for who in ("Anna Berg", "reader:Anna Berg", "reader:", "admin"):
        with pytest.raises(UsageError, match="who"):
            agenda.add(db, "2031-03", "C-1", who=who)
    assert agenda.items(db, "2031-03") == []


def test_the_log_refuses_changes_and_shows_those_made_behind_its_back(db: Path) -> None:
    for case_id in ("C-1", "C-2", "C-3"):
        agenda.add(db, "2031-03", case_id, who="lead")
    assert log.verify(db) == []
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        edit_behind_its_back(db, "update log set who = 'chair' where entry = 2")
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        edit_behind_its_back(db, "delete from log where entry = 2")
    edit_behind_its_back(db, "drop trigger log_stays", "update log set who = 'chair' where entry = 2")
    assert log.verify(db) == ["log entry 2 was changed after it was written"]
    edit_behind_its_back(db, "drop trigger log_never_goes", "delete from log where entry = 2")
    assert log.verify(db) == [
        "log entry 2 is missing: found entry 3 in its place",
        "log entry 3 does not follow from the one before it",
    ]


def test_a_newer_or_foreign_file_is_refused(db: Path) -> None:
    agenda.add(db, "2031-03", "C-1", who="lead")
    edit_behind_its_back(db, "pragma user_version = 99")
    with pytest.raises(StoreVersionError, match="newer program"):
        agenda.items(db, "2031-03")
    edit_behind_its_back(db, "pragma user_version = 0")
    with pytest.raises(StoreVersionError, match="did not make"):
        agenda.items(db, "2031-03")
    database.file_of(db).write_bytes(b"not a database at all, just text" * 40)
    with pytest.raises(StoreVersionError, match="not a store"):
        agenda.items(db, "2031-03")


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(AuditError, match="folder does not exist"):
        agenda.add(tmp_path / "nowhere" / "unit.duckdb", "2031-03", "C-1", who="lead")


def test_sign_in_by_code_with_a_pin(db: Path) -> None:
    accounts.make(db, "reader", "R1", pin="4711")
    assert accounts.sign_in(db, "reader", "R1", "4711").who == "reader:R1"
    assert accounts.sign_in(db, "reader", "R1", "4711") == accounts.Account("reader", "R1")
    with pytest.raises(AuditError, match="does not belong"):
        accounts.sign_in(db, "reader", "R1", "")
    assert accounts.sign_in(db, "lead", pin=accounts.make(db, "lead")).role == "lead"
    assert accounts.known_readers(db) == ["R1"]
    for role, code in (("reader", "Anna Berg"), ("reader", "lead"), ("owner", "x"), ("reader", "")):
        with pytest.raises(UsageError):
            accounts.sign_in(db, role, code)
    assert b"4711" not in database.file_of(db).read_bytes()


@pytest.mark.parametrize(
    ("period", "months", "expected"),
    [("2031-01", -1, "2030-12"), ("2031-12", 1, "2032-01"), ("2031-05", 8, "2032-01"), ("2031-05", 0, "2031-05")],
)
def test_months_step_over_the_year(period: str, months: int, expected: str) -> None:
    assert months_.next_period(period, months) == expected


@pytest.mark.parametrize("period", ["2031-13", "2031-00", "31-01", "2031-1", "2031-01-02", ""])
def test_a_month_is_written_as_year_and_month(period: str) -> None:
    with pytest.raises(UsageError, match="expected YYYY-MM"):
        months_.checked_period(period)

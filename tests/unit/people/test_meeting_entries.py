"""What a meeting writes down: date and attendance, issues, grades after the outcome, actions, and taking each back.

The rules are our own choice (no source); expected words and rows are written out by hand.
"""

import sqlite3
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from audit.errors import UsageError
from audit.people import (
    actions,
    agenda,
    disclosures,
    family_questions,
    findings,
    issues,
    log,
    meetings,
    phases,
    undo,
    verify,
)
from audit.people.findings import Finding
from audit.people.issues import Issue
from audit.people.meetings import Meeting
from audit.store import people_database as database

MONTH = "2031-03"


@pytest.fixture
def db(tmp_path: Path) -> Path:
    return tmp_path / "unit.duckdb"


def opened(db: Path, case_id: str, period: str = MONTH) -> None:
    disclosures.record(db, case_id, who="chair", place="meeting", period=period)


@pytest.mark.parametrize(
    ("attendance", "words"),
    [
        ({}, "Nobody is noted as present; a quorum is 4 persons, among them obstetrician and midwife."),
        ({"obstetrician": 1, "midwife": 3}, "A quorum: 4 present."),
        (
            {"obstetrician": 1, "midwife": 2},
            "No quorum: 3 present; it takes 4 persons, among them obstetrician and midwife.",
        ),
        ({"midwife": 9}, "No quorum: 9 present; it takes 4 persons, among them obstetrician and midwife."),
    ],
)  # fmt: skip
def test_a_quorum_takes_persons_and_roles(attendance: dict[str, int], words: str) -> None:
    assert meetings.quorum(Meeting(attendance=attendance), persons=4, roles=("obstetrician", "midwife")) == words


def test_date_and_attendance_come_back_and_the_former_ones_stay_in_the_log(db: Path) -> None:
    assert meetings.of(db, MONTH) == Meeting()
    meetings.save(db, MONTH, Meeting("2031-04-02", {"midwife": 3, "trainee": 0}), who="chair")
    meetings.save(db, MONTH, Meeting("2031-04-02", {"midwife": 3}), who="chair")
    meetings.save(db, MONTH, Meeting("2031-04-09", {"midwife": 4}), who="chair")
    assert meetings.of(db, MONTH) == Meeting("2031-04-09", {"midwife": 4})
    assert meetings.words(meetings.of(db, MONTH)) == "Held on 2031-04-09; present: midwife 4"
    assert [row["deed"] for row in log.entries(db)] == ["added", "changed"]
    assert "2031-04-02" in log.entries(db)[1]["old"]


@pytest.mark.parametrize(
    "meeting",
    [
        Meeting("2 April"),
        Meeting("2031-02-30"),
        Meeting(attendance={"midwife": -1}),
        Meeting(attendance={"midwife": 100}),
    ],
)
def test_an_impossible_meeting_is_refused(db: Path, meeting: Meeting) -> None:
    with pytest.raises(UsageError):
        meetings.save(db, MONTH, meeting, who="chair")
    assert meetings.of(db, MONTH) == Meeting()


def test_a_case_has_several_issues_that_change_and_go(db: Path) -> None:
    late = Issue("recognised late", "second stage", "handover", "probably avoidable", "seen at 03:26, said at 03:51")
    first = issues.add(db, MONTH, "C-1", late, who="chair")
    second = issues.add(db, MONTH, "C-1", Issue("record incomplete"), who="chair")
    issues.add(db, MONTH, "C-2", Issue("other"), who="chair")
    assert [row["case_id"] for row in issues.in_period(db, MONTH)] == ["C-1", "C-1", "C-2"]
    issues.change(db, second, Issue("record incomplete", factor="documentation"), who="chair")
    issues.remove(db, first, who="lead")
    found = [issues.as_issue(row) for row in issues.in_period(db, MONTH) if row["case_id"] == "C-1"]
    assert found == [Issue("record incomplete", factor="documentation")]
    with pytest.raises(UsageError, match="there is none"):
        issues.change(db, first, late, who="chair")
    with pytest.raises(UsageError, match="found nothing"):
        issues.add(db, MONTH, "C-1", Issue(" "), who="chair")
    with pytest.raises(UsageError, match="calendar date"):
        issues.add(db, MONTH, "C-1", Issue("other", note="on 12/03/2031"), who="chair")
    assert verify.problems(db) == []


def test_care_is_graded_only_after_the_outcome_was_opened_in_this_meeting(db: Path) -> None:
    findings.save(db, MONTH, "C-1", Finding(learning_point="Say the time aloud"), who="chair")
    disclosures.record(db, "C-1", who="lead", place="case")
    opened(db, "C-1", "2031-02")
    with pytest.raises(UsageError, match="open the outcome first"):
        findings.save(db, MONTH, "C-1", Finding("2"), who="chair")
    assert findings.of_case(db, MONTH, "C-1") == Finding(learning_point="Say the time aloud")
    opened(db, "C-1")
    findings.save(db, MONTH, "C-1", Finding("2"), who="chair")
    assert findings.of_case(db, MONTH, "C-1") == Finding("2")


def test_an_action_is_edited_and_the_log_has_what_it_said(db: Path) -> None:
    number = actions.add(db, MONTH, "Mark the clock", owner_role="ward lead", due_period="2031-04", who="chair")
    actions.change(db, number, who="chair", period=MONTH, action="Mark every clock", owner_role="audit lead")
    (row,) = actions.agreed_in(db, MONTH)
    assert (row["action"], row["owner_role"], row["due_period"]) == ("Mark every clock", "audit lead", "2031-04")
    assert '"Mark the clock"' in log.entries(db)[-1]["old"]
    with pytest.raises(UsageError, match="a name"):
        actions.change(db, number, who="chair", period=MONTH, action="Ask Tessa Quill")
    con = sqlite3.connect(database.file_of(db))
    try:
        for statement in (
            "delete from actions",
            "update actions set case_id = 'X'",
            "update actions set period = '2031-01'",
        ):
            with pytest.raises(sqlite3.IntegrityError):
                con.execute(statement)
    finally:
        con.close()


def held(db: Path) -> dict[str, Any]:
    """Everything a meeting wrote, as it stands."""
    return {
        "agenda": [
            tuple(row[name] for name in ("case_id", "question", "probability", "seed", "drawn_from"))
            for row in agenda.items(db, MONTH)
        ],
        "findings": findings.in_period(db, MONTH).get("C-1", Finding()),
        "issues": [issues.as_issue(row) for row in issues.in_period(db, MONTH)],
        "meeting": meetings.of(db, MONTH),
        "actions": [
            (*tuple(row.values())[3:7], actions.as_aim(row), row["issue_id"]) for row in actions.agreed_in(db, MONTH)
        ],
        "family": [(row["case_id"], row["question"], row["answer"]) for row in family_questions.in_period(db, MONTH)],
        "phases": [(row["from_period"], row["label"]) for row in phases.everything(db)],
    }


DEEDS: dict[str, Callable[[Path], object]] = {
    "a question": lambda db: agenda.add(db, MONTH, "C-1", who="lead", question="Earlier?"),
    "another case": lambda db: agenda.add(db, MONTH, "C-9", who="lead"),
    "the order": lambda db: agenda.reorder(db, MONTH, ["C-2", "C-1"], who="lead"),
    "a case taken off": lambda db: agenda.remove(db, MONTH, "C-2", who="lead"),
    "the first case taken off": lambda db: agenda.remove(db, MONTH, "C-1", who="lead"),
    "a draw": lambda db: agenda.draw(db, MONTH, ["C-1", "C-7", "C-8", "C-9"], 2, 1, who="lead"),
    "a finding": lambda db: findings.save(db, MONTH, "C-1", Finding("1", went_well="Early call"), who="chair"),
    "an action": lambda db: actions.add(db, MONTH, "More paper", owner_role="x", due_period=MONTH, who="chair"),
    "an action's state": lambda db: actions.change(db, 1, who="chair", period=MONTH, state="done"),
    "an action's words": lambda db: actions.change(db, 1, who="chair", period=MONTH, action="Mark it", owner_role="y"),
    "what an action should move": lambda db: actions.change(
        db, 1, who="chair", period=MONTH, aim=actions.Aim("hours_assessed", "rise", "2031-05")
    ),
    "an action with an aim": lambda db: actions.add(
        db, MONTH, "More rounds", owner_role="x", due_period=MONTH, who="chair",
        aim=actions.Aim("hours_assessed", "rise", "2031-04"),
    ),
    "an action of an issue": lambda db: actions.add(
        db, MONTH, "Call at once", owner_role="x", due_period=MONTH, who="chair", issue_id=1
    ),
    "the issue that an action follows from": lambda db: actions.change(db, 1, who="chair", period=MONTH, issue_id=1),
    "an issue": lambda db: issues.add(db, MONTH, "C-1", Issue("other"), who="chair"),
    "an issue's words": lambda db: issues.change(db, 1, Issue("escalated late"), who="chair"),
    "an issue taken back": lambda db: issues.remove(db, 1, who="chair"),
    "a family's question": lambda db: family_questions.add(db, MONTH, "C-2", "Was it seen?", who="lead"),
    "a family's question in other words": lambda db: family_questions.change(db, 1, question="When?", who="chair"),
    "an answer": lambda db: family_questions.change(db, 1, answer="After 40 minutes", who="chair"),
    "an answer taken away": lambda db: family_questions.change(db, 2, answer="", who="chair"),
    "a family's question taken back": lambda db: family_questions.remove(db, 2, who="lead"),
    "who was there": lambda db: meetings.save(db, MONTH, Meeting("2031-04-02", {"midwife": 2}), who="chair"),
    "a change of practice": lambda db: phases.add(db, MONTH, "Night round", who="lead"),
    "another label": lambda db: phases.add(db, "2031-01", "Night rounds", who="lead"),
    "a change taken back": lambda db: phases.remove(db, "2031-01", who="lead"),
}  # fmt: skip


@pytest.fixture
def month(db: Path) -> Path:
    for case_id in ("C-1", "C-2"):
        agenda.add(db, MONTH, case_id, who="lead")
        opened(db, case_id)
    findings.save(db, MONTH, "C-1", Finding("2", factors=("handover",)), who="chair")
    actions.add(db, MONTH, "Mark the clock", owner_role="ward lead", due_period="2031-04", who="chair", case_id="C-1")
    issues.add(db, MONTH, "C-1", Issue("recognised late", "first stage"), who="chair")
    family_questions.add(db, MONTH, "C-1", "Why did nobody come?", who="lead")
    family_questions.add(db, MONTH, "C-1", "Who decided?", answer="The senior", who="lead")
    phases.add(db, "2031-01", "Day rounds", who="lead")
    return db


@pytest.mark.parametrize("deed", DEEDS)
def test_every_entry_can_be_taken_back(month: Path, deed: str) -> None:
    before, newest = held(month), undo.newest(month)
    DEEDS[deed](month)
    assert held(month) != before
    undo.undo(month, undo.newest(month), who="lead")
    assert held(month) == before
    assert undo.newest(month) == newest  # what took it back is no entry to be taken back itself
    assert verify.problems(month) == []


def test_how_a_case_came_to_the_agenda_is_kept_until_the_draw_is_taken_back(month: Path) -> None:
    every = ["C-1", *(f"D-{k}" for k in range(1, 9))]  # C-2 has no tracing
    found = agenda.draw(month, MONTH, every, 2, 1, who="lead")
    drawn = found["cases"]
    agenda.add(month, MONTH, "E-1", who="lead")
    came = {row["case_id"]: (row["probability"], row["drawn_from"]) for row in agenda.items(month, MONTH)}
    none, one = (None, None), (0.25, 8)
    assert came == {"C-1": (1.0, None), "C-2": none, "E-1": none, **dict.fromkeys(drawn, one)}
    for other in ((every, 3, 2), (every, 2, 1), ([*every, "D-9"], 3, 1)):  # seed, as many, and other cases
        with pytest.raises(UsageError, match="found 2 cases of 8 drawn at random already"):
            agenda.draw(month, MONTH, *other, who="lead")
    before = held(month)
    agenda.add(month, MONTH, "D-4", who="lead", question="Why?")
    with_d4 = held(month)
    whole = agenda.draw(month, MONTH, every, 8, 1, who="lead")
    assert whole["cases"][:2] == drawn
    assert whole["certain"] == ["C-1"]
    came = {
        row["case_id"]: (row["probability"], row["drawn_from"], row["question"]) for row in agenda.items(month, MONTH)
    }
    assert (came["D-4"], came[drawn[0]][:2], came["E-1"][0]) == ((1.0, 8, "Why?"), (1.0, 8), None)
    assert verify.problems(month) == []
    undo.undo(month, undo.newest(month), who="lead")
    assert held(month) == with_d4
    undo.undo(month, undo.newest(month), who="lead")
    assert held(month) == before
    agenda.remove(month, MONTH, drawn[0], who="lead")
    undo.undo(month, undo.newest(month), who="lead")
    assert held(month) == before
    for case_id in drawn:
        agenda.remove(month, MONTH, case_id, who="lead")
    larger = agenda.draw(month, MONTH, every, 3, 1, who="lead")
    assert larger["cases"][:2] == drawn
    assert verify.problems(month) == []
    with pytest.raises(UsageError, match="found no case"):
        agenda.draw(month, "2031-08", [], 3, 1, who="lead")


def test_entries_are_taken_back_one_after_the_other_and_only_from_the_newest(month: Path) -> None:
    former = held(month)
    for text in ("First?", "Second?"):
        agenda.add(month, MONTH, "C-1", who="lead", question=text)
    last = log.entries(month)[-1]["entry"]
    with pytest.raises(UsageError, match="changed since"):
        undo.undo(month, last - 1, who="lead")
    undo.undo(month, last, who="lead")
    assert held(month)["agenda"][0][:2] == ("C-1", "First?")
    undo.undo(month, last - 1, who="lead")
    assert held(month) == former
    with pytest.raises(UsageError, match="there is none"):
        undo.undo(month, last, who="lead")


def test_what_was_seen_cannot_be_taken_back(month: Path) -> None:
    entry = next(row["entry"] for row in log.entries(month) if row["subject"] == "outcome")
    with pytest.raises(UsageError, match="none that can be taken back"):
        undo.undo(month, entry, who="lead")


def test_the_list_holds_this_meeting_alone(month: Path) -> None:
    actions.change(month, 1, who="chair", period="2031-04", state="started")
    agenda.add(month, "2031-05", "C-5", who="lead")
    listed = undo.of_meeting(month, MONTH)
    asked = ["family_question", "family_question"]
    assert [row["subject"] for row in listed] == ["action", *asked, "issue", "finding", "agenda"]
    assert [row["subject"] for row in undo.of_meeting(month, "2031-05")] == ["agenda"]


def test_a_pack_made_before_the_newest_entry_of_its_month_lacks_it(month: Path) -> None:
    at_s = max(datetime.fromisoformat(row["at"]).timestamp() for row in log.entries(month))
    assert undo.entered_since(month, MONTH, at_s - 60)
    assert not undo.entered_since(month, MONTH, at_s + 60)
    assert not undo.entered_since(month, "2031-07", at_s - 60)


@pytest.mark.parametrize(
    ("aim", "said"),
    [
        (actions.Aim("hours_assessed", "rise"), "from period missing"),
        (actions.Aim(direction="fall", from_period=MONTH), "measure missing"),
        (actions.Aim("hours_assessed", "wobble", MONTH), "expected one of rise, fall"),
        (actions.Aim("Midwife Quill", "rise", MONTH), "name of a measure"),
        (actions.Aim("hours_assessed", "rise", "2031-13"), "2031-13"),
    ],
)
def test_an_aim_is_whole_and_names_a_measure(db: Path, aim: actions.Aim, said: str) -> None:
    with pytest.raises(UsageError, match=said):
        actions.add(db, MONTH, "More rounds", owner_role="x", due_period=MONTH, who="chair", aim=aim)


def test_actions_with_a_measure_stay_on_that_list_until_they_are_dropped(db: Path) -> None:
    aim = actions.Aim("hours_assessed", "rise", "2031-04")
    number = actions.add(db, MONTH, "More rounds", owner_role="x", due_period=MONTH, who="chair", aim=aim)
    actions.add(db, MONTH, "More paper", owner_role="x", due_period=MONTH, who="chair")
    actions.change(db, number, who="chair", period=MONTH, state="done")
    assert [row["action_id"] for row in actions.with_measure(db, "2032-01")] == [number]
    assert actions.with_measure(db, "2031-02") == []
    actions.change(db, number, who="chair", period="2031-09", state="dropped")
    assert actions.with_measure(db, "2032-01") == []


def test_what_a_family_asks_names_nobody_and_stays_open_until_it_is_answered(db: Path) -> None:
    number = family_questions.add(db, MONTH, "C-1", "Why was the birth so late?", who="lead")
    with pytest.raises(UsageError, match="found nothing"):
        family_questions.add(db, MONTH, "C-1", " ", who="lead")
    with pytest.raises(UsageError, match="a name"):
        family_questions.add(db, MONTH, "C-1", "What did Tessa Quill see?", who="lead")
    assert [row["answer"] for row in family_questions.of_case(db, MONTH, "C-1")] == [None]
    with pytest.raises(UsageError, match="a name"):
        family_questions.change(db, number, answer="It was Mrs Quill who decided", who="chair")
    family_questions.change(db, number, answer="Theatre was busy", who="chair")
    (row,) = family_questions.of_case(db, MONTH, "C-1")
    assert (row["question"], row["answer"]) == ("Why was the birth so late?", "Theatre was busy")
    assert family_questions.of_case(db, None, "C-1") == []
    entry = log.entries(db)[-1]
    assert (entry["who"], entry["deed"], entry["subject"]) == ("chair", "changed", "family_question")
    assert verify.problems(db) == []


def test_an_action_follows_from_an_issue_of_its_meeting_and_case(db: Path) -> None:
    late = issues.add(db, MONTH, "C-1", Issue("recognised late"), who="chair")
    other = issues.add(db, "2031-05", "C-5", Issue("other"), who="chair")
    said: dict[str, Any] = {"owner_role": "ward lead", "due_period": "2031-06", "who": "chair"}
    number = actions.add(db, MONTH, "Hourly rounds", issue_id=late, **said)
    (row,) = actions.agreed_in(db, MONTH)
    assert (row["case_id"], row["issue_id"], row["issue"]) == ("C-1", late, "recognised late")
    assert [row["issue"] for row in actions.for_meeting(db, "2031-06")] == ["recognised late"]
    for issue_id, case_id in ((other, None), (late, "C-2"), (99, None)):
        with pytest.raises(UsageError, match=rf"issue {issue_id}: expected one of the meeting about {MONTH}"):
            actions.add(db, MONTH, "Other rounds", case_id=case_id, issue_id=issue_id, **said)
    with pytest.raises(UsageError, match=rf"action {number} follows from it"):
        issues.remove(db, late, who="chair")
    actions.change(db, number, who="chair", period=MONTH, issue_id=0)
    assert actions.agreed_in(db, MONTH)[0]["issue"] is None
    issues.remove(db, late, who="chair")
    assert verify.problems(db) == []

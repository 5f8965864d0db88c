"""The sheet for the team of a case: what it says and what it never says."""

import io
from pathlib import Path

import pytest
from pypdf import PdfReader

from audit.errors import AuditError
from audit.pack.feedback import feedback_pdf, learning, seen_when
from audit.people import actions, disclosures, family_questions, findings, issues
from audit.people.findings import Finding
from audit.people.issues import Issue
from audit.store import published
from audit.tables.bedside import SEEN_WHEN
from tests.page_databases import small_database

PERIOD, DAY = "2031-04", "2031-05-10"
_NOTED = {"what": "escalated late", "stage": "second stage", "factor": "handover", "avoidability": "not avoidable",
          "note": "the bell was not heard"}  # fmt: skip


def test_learning_has_no_grade_and_no_avoidability() -> None:
    finding = Finding("3", factors=("oxytocin use",), learning_point="Call earlier", went_well="Calm")
    assert learning(finding, [_NOTED]) == [
        "Call earlier",
        "escalated late, second stage: the bell was not heard",
        "Contributed: handover, oxytocin use",
    ]
    assert learning(None, []) == []


def test_what_staff_wrote_down_stands_among_the_steps_also_where_it_did_not_fit() -> None:
    """By hand: the pattern from 100 to 160 min, recognisable at 110, recorded as such at 130."""
    points = [
        {"step": step, "at_s": at and 60.0 * at, "minutes": at and at - 110.0}
        for step, at in (("pattern", 100), ("recognisable", 110), ("recorded", 130), ("escalated", None))
    ]
    wait = {"standard": "nice-ng229", "recognisable_s": 6600.0, "points": points,
            "parts": [{"from_s": 6000.0, "to_s": 6600.0}, {"from_s": 6600.0, "to_s": 9600.0}]}  # fmt: skip
    written = [
        {"at_s": 60.0 * at, "standard": standard, "category": category}
        for at, standard, category in (
            (90, "nice-ng229", "normal"), (105, "nice-ng229", "normal"), (130, "nice-ng229", "pathological"),
            (140, "nichd-2008", "II"), (170, "nice-ng229", "normal"),
        )
    ]  # fmt: skip
    table = SEEN_WHEN.filled(seen_when(wait, written))
    assert table.shown() == [
        ["01:40", "pattern begins", "-10"], ["01:45", "written down: normal", "-5"], ["01:50", "recognisable", "0"],
        ["02:10", "recorded as such", "20"], ["02:20", "written down: II (NICHD 2008)", "30"],
    ]  # fmt: skip


@pytest.mark.slow
def test_the_sheet_says_what_was_seen_good_to_learn_and_agreed_and_no_outcome(tmp_path: Path) -> None:
    db = small_database(tmp_path)
    disclosures.record(db, "C-001", who="chair", place="meeting", period=PERIOD)
    well = Finding("2", learning_point="Say the time aloud", went_well="Early call")
    findings.save(db, PERIOD, "C-001", well, who="chair")
    issues.add(db, PERIOD, "C-001", Issue("escalated late", avoidability="probably avoidable"), who="chair")
    actions.add(
        db, PERIOD, "Mark the clock", owner_role="audit lead", due_period="2031-05", who="chair", case_id="C-001"
    )
    family_questions.add(db, PERIOD, "C-001", "Who decided, and when?", who="lead")
    family_questions.add(db, PERIOD, "C-001", "Was theatre free?", answer="From minute 40 on", who="chair")
    family_questions.add(db, PERIOD, "C-002", "Of somebody else", who="lead")
    found = feedback_pdf(db, published.required(db), "C-001", made_on=DAY)
    text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(found)).pages)
    for said in ("What was seen when", "What was good", "Early call", "Say the time aloud", "escalated late",
                 "Mark the clock", "Who decided, and when? – not yet answered", "Was theatre free? – From minute 40 on",
                 "Retrospective review by licensed clinicians"):  # fmt: skip
        assert said in text, said
    for never in ("Care grade", "suboptimal", "avoidable", "cord artery", "Apgar", "Outcome", "somebody else"):
        assert never not in text, never
    assert feedback_pdf(db, published.required(db), "C-001", made_on=DAY) == found
    with pytest.raises(AuditError, match="no such case"):
        feedback_pdf(db, published.required(db), "C-404")

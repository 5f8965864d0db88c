"""The sheet for the team of a case: what it says and what it never says."""

import io
from pathlib import Path

import pytest
from pypdf import PdfReader

from audit.errors import AuditError
from audit.pack.feedback import feedback_pdf, learning
from audit.people import actions, disclosures, family_questions, findings, issues
from audit.people.findings import Finding
from audit.people.issues import Issue
from audit.store import published
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

"""What pages keep of the answers of one state of a database."""

from dataclasses import replace

from audit.store import published
from dashboards import data, place


def test_what_was_worked_out_of_a_state_stays_good_while_somebody_writes(databases, monkeypatch):
    """Answers are kept by what answered: a remark beside it, that somebody writes, made every page work anew."""
    db = databases["small"]
    monkeypatch.setenv(place.DB_VARIABLE, str(db))
    found = published.source(db)
    monkeypatch.setattr(published, "source", lambda *_, **__: replace(found, note="somebody writes"))
    assert data.copy().note == "somebody writes"
    assert data.answering() == replace(found, note=None)

"""What pages keep of the answers of one state of a database, and what is worked out before they ask."""

from dataclasses import replace

import pytest

from audit.questions import cases_to_discuss, trends
from audit.store import published
from dashboards import beforehand, data, place


def test_what_was_worked_out_of_a_state_stays_good_while_somebody_writes(databases, monkeypatch):
    """Answers are kept by what answered: a remark beside it, that somebody writes, made every page work anew."""
    db = databases["small"]
    monkeypatch.setenv(place.DB_VARIABLE, str(db))
    found = published.source(db)
    monkeypatch.setattr(published, "source", lambda *_, **__: replace(found, note="somebody writes"))
    assert data.copy().note == "somebody writes"
    assert data.answering() == replace(found, note=None)


def test_pages_find_worked_out_what_they_ask_first(open_page, databases, monkeypatch):
    monkeypatch.setenv(place.DB_VARIABLE, str(databases["small"]))
    beforehand.work_out()
    for module in (cases_to_discuss, trends):
        monkeypatch.setattr(module, "document", None)
    for page, title in (("cases_to_discuss", "Cases to discuss"), ("trends", "Trends")):
        assert open_page("small", page).title[0].value == title


@pytest.mark.parametrize("kind", ["none", "empty", "odd"])
def test_nothing_is_worked_out_where_there_is_nothing(databases, monkeypatch, kind):
    monkeypatch.setenv(place.DB_VARIABLE, str(databases[kind]))
    beforehand.work_out()
    assert beforehand.newest() == (None if kind == "none" else published.record_of(databases[kind]).copy)

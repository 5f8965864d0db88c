"""What ended each wait, as the query of the response times has it."""

from audit.store import database


def test_the_query_says_what_ended_each_wait(unit):
    unit.case("c1")
    unit.episode("c1", "in_time", 3.0, at_s=100.0)
    unit.episode("c1", "late", 20.0, at_s=200.0)
    unit.episode("c1", "resolved", at_s=300.0, lasted_minutes=9.0)
    unit.episode("c1", "born_first", at_s=400.0, to_birth=7.0, open_end=True)
    unit.episode("c1", "none_recorded", at_s=500.0, lasted_minutes=30.0)
    unit.episode("c1", "none_recorded", at_s=600.0, lasted_minutes=30.0, to_birth=90.0, open_end=True)
    unit.episode("c1", "none_recorded", at_s=700.0, lasted_minutes=30.0, to_birth=None, open_end=True)
    unit.episode("c1", "none_recorded", at_s=800.0, lasted_minutes=12.0, to_birth=None, open_end=True)
    unit.episode("c1", "not_assessable", at_s=900.0)
    found = database.rows(unit.con, "response/times", {"period": "2031-03", "standard": "figo-2015"})
    assert found["ended_by"].fillna("-").tolist() == [
        "response", "response", "resolved", "birth", "resolved", "birth", "end_of_tracing", "end_of_tracing", "-",
    ]  # fmt: skip
    assert found["wait_minutes"].fillna(-1).tolist() == [3.0, 20.0, 9.0, 7.0, 30.0, 90.0, 30.0, 15.0, -1.0]
    assert database.rows(unit.con, "response/times", {"period": "2031-04", "standard": None}).empty


def test_a_concern_that_was_there_when_the_recording_begins_is_in_no_share(unit):
    """How long it had waited nobody knows: left truncation, as survival texts call it; common practice, no source."""
    unit.case("c1")
    unit.episode("c1", "in_time", 3.0, at_s=100.0, at_start=True)
    unit.episode("c1", "late", 20.0, at_s=9000.0)
    found = database.rows(unit.con, "response/times", {"period": None, "standard": None})
    assert found["ended_by"].fillna("-").tolist() == ["-", "response"]
    assert found["wait_minutes"].fillna(-1).tolist() == [-1.0, 20.0]

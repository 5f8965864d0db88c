"""What the invented meetings enter is what was planted, and can be read back from the people's store and its log."""

from itertools import pairwise

import pytest

from audit.people import actions, agenda, agreed, family_questions, issues, verify
from audit.store import published
from synthetic_cases.meetings import ACTION, STANDARD, hold
from synthetic_cases.scenario import CHANGE_MONTH, period

pytestmark = pytest.mark.slow  # a unit of eight months is written


@pytest.fixture(scope="module")
def held(unit, tmp_path_factory, schema_only):
    """Meetings over a database with nothing computed: whatever they say comes from what was planted."""
    db = tmp_path_factory.mktemp("held") / "unit.duckdb"
    db.write_bytes(schema_only.read_bytes())
    published.publish(db)
    return db, hold(db, unit.summary.files.parent)


def test_agreed_clocks_are_the_planted_ones_to_the_minute(unit, held):
    db, counted = held
    cases = {case["case_id"]: case for case in unit.truth["cases"]}
    rows = agreed.everything(db)
    assert len(rows) == counted.clocks == counted.agenda >= 16
    for row in rows:
        planted, clock = cases[row["case_id"]]["responses"][0], row["agreed"]
        known = min(at for name, at in planted["recognisable_s"].items() if name.startswith(STANDARD))
        assert clock.concern is True
        assert known - 60.0 < clock.recognisable_s <= known or clock.recognisable_s == clock.from_s
        assert clock.first_act_event == planted["response_event"]
        if planted["response_s"] is None:
            assert clock.first_act_s is None
        else:
            assert abs(clock.first_act_s - planted["response_s"]) <= 0.5
    assert verify.problems(db) == []


def test_slow_answers_come_first_and_leave_an_issue_from_which_the_change_follows(unit, held):
    db, counted = held
    cases = {case["case_id"]: case for case in unit.truth["cases"]}
    order = ("long_delay", "unrecorded", "slow", "prompt")
    slow = 0
    for month in unit.summary.periods:
        paces = [order.index(cases[row["case_id"]]["responses"][0]["pace"]) for row in agenda.items(db, month)]
        assert all(a <= b for a, b in pairwise(paces))
        noted = {row["case_id"] for row in issues.in_period(db, month)}
        assert noted == {row["case_id"] for row in agenda.items(db, month)
                         if cases[row["case_id"]]["responses"][0]["pace"] != "prompt"}  # fmt: skip
        slow += len(noted)
    assert slow == counted.issues
    (action,) = actions.everything(db)
    assert (action["action"], action["period"], action["issue"]) == (ACTION, period(CHANGE_MONTH - 2), "escalated late")
    assert (action["from_period"], action["state"]) == (unit.truth["story"]["change"]["period"], "done")


def test_families_ask_and_not_every_question_is_answered_yet(unit, held):
    db, counted = held
    asked = [row for month in unit.summary.periods for row in family_questions.in_period(db, month)]
    assert len(asked) == counted.family_questions == len(unit.summary.periods)
    assert 0 < sum(row["answer"] is None for row in asked) < len(asked)


def test_a_demo_made_again_finds_its_meetings_as_they_were(unit, held):
    db, _ = held
    before = agreed.everything(db)
    assert hold(db, unit.summary.files.parent).agenda == 0
    assert agreed.everything(db) == before

"""What the invented meetings enter is what was planted, and can be read back from the people's store and its log."""

from itertools import pairwise

import pytest

from audit.people import actions, agenda, agreed, family_questions, issues, verify
from audit.response.agreed import Mark
from audit.store import published
from synthetic_cases.meetings import ACTION, STANDARD, _stands_on, hold, marks_of
from synthetic_cases.scenario import CHANGE_MONTH, period

pytestmark = pytest.mark.slow  # a unit of eight months is written


@pytest.fixture(scope="module")
def held(unit, tmp_path_factory, schema_only):
    """Meetings over a database with nothing computed: whatever they say comes from what was planted."""
    db = tmp_path_factory.mktemp("held") / "unit.duckdb"
    db.write_bytes(schema_only.read_bytes())
    published.required(db)
    return db, hold(db, unit.summary.files.parent)


def test_agreed_clocks_are_the_planted_ones_to_the_minute(unit, held):
    db, counted = held
    cases = {case["case_id"]: case for case in unit.truth["cases"]}
    rows = agreed.everything(db)
    assert len(rows) == counted.clocks == counted.agenda >= 16
    for row in rows:
        planted, clock = cases[row["case_id"]]["responses"][0], row["agreed"]
        known = min(at for name, at in planted["recognisable_s"].items() if name.startswith(STANDARD))
        assert (clock.concern, clock.marks) == (True, ())  # nothing was read, so nothing can be struck out
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


@pytest.mark.parametrize(("deed", "recognised_s", "stands"), [
    ("struck_out", 500.0, True), ("struck_out", 619.0, True), ("struck_out", 621.0, False),
    ("struck_out", 499.0, False), ("added", 550.0, False),
])  # fmt: skip
def test_a_concern_stands_on_the_fall_that_ends_as_it_is_recognised(deed, recognised_s, stands):
    mark = Mark(deed, "deceleration", 500.0, 560.0, "artefact")
    assert _stands_on([mark], {"recognisable_s": recognised_s}) is stands


def test_found_where_none_was_drawn_is_struck_out_and_drawn_in_sight_but_not_found_is_added():
    def drawn(onset_s, end_s, seen_fraction):
        return {"onset_s": onset_s, "end_s": end_s, "seen_fraction": seen_fraction, "kind": "late"}

    truth = {
        "decelerations": [drawn(100.0, 140.0, 1.0), drawn(500.0, 540.0, 0.95), drawn(900.0, 940.0, 0.3)],
        "level_changes": [
            {"onset_s": 2000.0, "end_s": 3000.0, "from_bpm": 140.0, "to_bpm": 90.0},
            {"onset_s": 4000.0, "end_s": 5000.0, "from_bpm": 120.0, "to_bpm": 165.0},  # a rise hides no fall
        ],
    }
    found = [
        {"onset_s": onset_s, "end_s": end_s, "depth_bpm": depth_bpm}
        for onset_s, end_s, depth_bpm in ((120, 160, 30), (700, 730, 16), (2010, 2400, 50), (4100, 4120, 70))
    ]
    assert marks_of(truth, found) == (
        Mark("struck_out", "deceleration", 700, 730, "baseline_drawn_otherwise"),
        Mark("struck_out", "deceleration", 4100, 4120, "artefact"),
        Mark("added", "deceleration", 500.0, 540.0, "event_not_found", "late"),
    )

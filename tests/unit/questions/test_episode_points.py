"""Points of unanswered concerns, and the words for how long one lasted. Rules of this program: our choice."""

import pytest

from audit.questions.episode_points import gravest, oxytocin_words, points_of
from audit.questions.lasted import sentence
from audit.settings import load_settings

FIND = load_settings().find
POINTS = FIND.points


def row(**more):
    known = {
        "standard": "figo-2015", "trigger": "pathological", "status": "none_recorded", "clocks": 3, "late_under": 3,
        "decided_by": "escalation", "evidence_minutes": 10.0, "first_act_event": None, "oxytocin_event": None,
        "oxytocin_s": None, "pattern_start_s": 18120.0, "recognisable_s": 18300.0, "last_finding_s": 18480.0,
        "category_until_s": 20280.0, "open_end": False,
    }  # fmt: skip
    return {**known, **more}


def test_points_grow_with_gravity_length_and_what_was_left_undone():
    whole = points_of(row(), FIND)
    assert whole == pytest.approx(
        POINTS.no_response + POINTS.severe_concern + POINTS.evidence_doubled + POINTS.nothing_done
    )
    assert points_of(row(first_act_event="position_change"), FIND) == whole - POINTS.nothing_done + POINTS.nobody_called
    assert points_of(row(decided_by="first_act"), FIND) == whole - POINTS.severe_concern
    lengths = [points_of(row(evidence_minutes=float(minutes)), FIND) for minutes in (0, 1, 5, 20, 60, 300)]
    assert lengths == sorted(set(lengths))
    assert points_of(row(late_under=1), FIND) < whole
    late = row(status="late", first_act_event="senior_called")
    assert points_of(late, FIND) == POINTS.late_response + POINTS.severe_concern + POINTS.evidence_doubled


def test_twenty_minutes_of_bradycardia_with_nobody_called_never_ties_with_one_late_deceleration():
    bradycardia = row(trigger="prolonged_deceleration", evidence_minutes=20.0, first_act_event="position_change")
    for nothing in (None, "position_change"):
        one_late = row(standard="nice-ng229", evidence_minutes=1.5, first_act_event=nothing)
        assert points_of({**bradycardia, "first_act_event": nothing}, FIND) > points_of(one_late, FIND) + 1
    assert gravest([row(status="in_time"), row(evidence_minutes=2.0), bradycardia], FIND)["evidence_minutes"] == 20.0
    assert gravest([row(status="in_time")], FIND) is None


def test_more_oxytocin_is_told_whatever_the_status():
    raised = row(status="in_time", oxytocin_event="oxytocin_increased", oxytocin_s=18720.0)
    assert oxytocin_words([row(), raised]) == "oxytocin increased 10 min into pathological under FIGO 2015"
    assert oxytocin_words([row()]) is None


def test_words_tell_the_finding_and_the_look_back_apart():
    assert sentence(row()) == (
        "findings of 6 min from 05:02; the category stays until 05:38 because its window looks back"
    )
    assert sentence(row(category_until_s=18490.0)) == "findings of 6 min from 05:02"
    assert sentence(row(open_end=True)) == "findings of 6 min from 05:02, going on when the recording ends"
    assert sentence(row(last_finding_s=None)) == ""

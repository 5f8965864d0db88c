"""The parts of a wait, on cases counted by hand.

The chain of states: Andersen & Keiding, Stat Methods Med Res 2002;11:91-115. Times are drawn by hand in minutes.
"""

from dataclasses import replace

import pytest

from audit.response.parts import Noted, Wait, longest, parts, points

STANDARD = "nice-ng229"


def wait(trigger="pathological", *, end=120, birth=180, tracing=170, open_end=False):
    last = min(end + 15, birth) if birth is not None else end + 15
    return Wait(
        STANDARD, trigger, 0.0, 600.0, None if open_end else 60.0 * end, -60.0,
        60.0 * (birth if open_end and birth is not None else last), None if birth is None else 60.0 * birth,
        60.0 * tracing,
    )  # fmt: skip


def noted(minute, what, category=None, standard=STANDARD):
    return Noted(60.0 * minute, what, None if category is None else standard, category)


def cut(of, *events):
    return [(p.until, p.since, p.minutes, p.end) for p in parts(of, points(of, events))]


def test_each_step_takes_what_it_took_and_the_parts_add_up_to_the_whole():
    events = [
        noted(20, "assessment", "pathological"), noted(25, "senior_called"), noted(40, "senior_at_bedside"),
        noted(50, "decision_for_birth"), noted(80, "theatre_arrival"),
    ]  # fmt: skip
    found = cut(wait(open_end=True), *events)
    assert found == [
        ("recognisable", "pattern", 10, "reached"), ("recorded", "recognisable", 10, "reached"),
        ("escalated", "recorded", 5, "reached"), ("senior_there", "escalated", 15, "reached"),
        ("decision", "senior_there", 10, "reached"), ("theatre", "decision", 30, "reached"),
        ("birth", "theatre", 100, "reached"),
    ]  # fmt: skip
    assert sum(row[2] for row in found) == 180


def test_a_step_that_was_there_before_the_one_it_follows_takes_no_time():
    found = cut(wait(), noted(5, "senior_called"), noted(30, "assessment", "pathological"))
    # called before it had to be recognised: escalated at 10, recorded was passed over then
    assert found[1:] == [
        ("recorded", "recognisable", 0, "passed_over"), ("senior_there", "escalated", 110, "resolved")
    ]  # fmt: skip


def test_time_before_a_step_that_was_passed_over_was_spent_waiting_for_it():
    found = cut(wait(open_end=True), noted(20, "assessment", "normal"), noted(45, "decision_for_birth"))
    assert found[1:] == [
        ("recorded", "recognisable", 35, "passed_over"), ("theatre", "decision", 135, "birth")
    ]  # fmt: skip


def test_recorded_as_such_is_the_worst_category_for_a_trigger_of_the_worst_and_any_concern_for_others():
    seen = [noted(20, "assessment", "suspicious"), noted(60, "assessment", "pathological")]
    at = {trigger: dict((p.step, p.at_s) for p in points(wait(trigger), seen)) for trigger in
          ("pathological", "suspicious_persistent", "urgent_review")}  # fmt: skip
    assert [at[name]["recorded"] for name in at] == [3600.0, 1200.0, 1200.0]


def test_what_staff_wrote_under_another_standard_is_no_answer_to_this_one():
    other = [noted(20, "assessment", "pathological", "figo-2015")]
    assert "recorded" not in [p.step for p in points(wait(), other)]
    assert cut(wait(), *other)[1:] == [("escalated", "recognisable", 110, "resolved")]


@pytest.mark.parametrize(
    ("of", "end", "minutes"),
    [
        (wait(end=60), "resolved", 50), (wait(end=60, birth=None), "resolved", 50),
        (wait(open_end=True), "birth", 170), (wait(open_end=True, birth=None), "end_of_tracing", 160),
        (wait(end=170, birth=90), "birth", 80),
    ],
)  # fmt: skip
def test_nobody_did_anything(of, end, minutes):
    (_, only) = cut(of, noted(3, "assessment", "normal"))
    assert only == ("recorded", "recognisable", minutes, end)


def test_after_the_decision_the_patterns_own_end_ends_nothing():
    found = cut(wait(end=40, birth=100), noted(15, "decision_for_birth"))
    assert found[-1] == ("theatre", "decision", 85, "birth")


def test_a_call_long_after_the_pattern_belongs_to_another_concern():
    assert cut(wait(end=40), noted(90, "senior_called"))[1:] == [("escalated", "recognisable", 30, "resolved")]


def test_the_longest_part_is_that_after_recognition_and_the_first_of_equals():
    of = wait(open_end=True)
    found = parts(of, points(of, [noted(40, "senior_called"), noted(70, "senior_at_bedside")]))
    assert longest(found).until == "decision"  # 110 minutes until birth, nobody decided
    of = wait(end=10)
    assert longest(parts(of, points(of, []))) is None


WAIT = Wait(STANDARD, "pathological", 0.0, 600.0, 7200.0, -60.0, 8100.0, 10800.0, 10200.0)


def steps(*events, of=WAIT):
    return {point.step: point.at_s for point in points(of, events)}


@pytest.mark.parametrize(("at_s", "counts"), [(-61.0, False), (-60.0, True), (8100.0, True), (8101.0, False)])
def test_a_call_answers_from_the_first_to_the_last_moment_both_included(at_s, counts):
    assert (steps(Noted(at_s, "senior_called"))["escalated"] is not None) is counts


@pytest.mark.parametrize(("at_s", "theatre_s"), [(2999.0, None), (3000.0, 3000.0), (9000.0, 9000.0)])
def test_the_theatre_is_reached_from_the_decision_on(at_s, theatre_s):
    assert steps(Noted(3000.0, "decision_for_birth"), Noted(at_s, "theatre_arrival"))["theatre"] == theatre_s
    assert steps(Noted(at_s, "theatre_arrival"))["theatre"] is None


def test_of_two_calls_and_two_arrivals_the_first_counts():
    both = [Noted(at_s, what) for what in ("senior_called", "theatre_arrival") for at_s in (4000.0, 3500.0)]
    found = steps(*both, Noted(3000.0, "decision_for_birth"))
    assert (found["escalated"], found["theatre"]) == (3500.0, 3500.0)


@pytest.mark.parametrize(
    ("category", "worst_s", "any_s"),
    [
        ("normal", None, None),
        ("suspicious", None, 900.0),
        ("pathological", 900.0, 900.0),
        ("not assessable", None, None),
    ],
)
def test_recorded_as_such_by_tier(category, worst_s, any_s):
    seen = Noted(900.0, "assessment", STANDARD, category)
    assert steps(seen)["recorded"] == worst_s
    assert steps(seen, of=replace(WAIT, trigger="suspicious_persistent"))["recorded"] == any_s


def test_a_pattern_that_ends_with_the_call_was_resolved_only_without_it():
    ended = replace(WAIT, resolved_s=1800.0)
    assert parts(ended, points(ended, []))[-1].end == "resolved"
    called = parts(ended, points(ended, [Noted(1800.0, "senior_called")]))
    assert [(part.until, part.end) for part in called[1:]] == [("escalated", "reached"), ("senior_there", "resolved")]
    assert longest(called).until == "escalated"

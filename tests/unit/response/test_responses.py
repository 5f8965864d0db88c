"""The clock by hand: which acts count under every trigger, and both sides of every boundary. Times in minutes."""

import pytest

from tests.clock_by_hand import AT_S, BEGUN, PATHOLOGICAL, SETTINGS, SUSPICIOUS, TRIGGERS, clock


@pytest.mark.parametrize("trigger", TRIGGERS, ids="/".join)
def test_every_trigger_reaches_every_status(trigger):
    target = SETTINGS.rules[trigger].target_minutes
    act = (target - 1, "senior_called")
    assert clock(act, trigger=trigger).status == "in_time"
    assert clock((target, "senior_called"), trigger=trigger).status == "in_time"
    late = clock((target + 0.5, "senior_called"), trigger=trigger)
    assert (late.status, late.minutes_to_response) == ("late", pytest.approx(target + 0.5))
    assert clock((-600, "epidural"), trigger=trigger).status == "none_recorded"
    assert clock(trigger=trigger, end=target).status == "resolved"
    assert clock(trigger=trigger, end=target, birth=target - 1, open_end=True).status == "born_first"
    assert clock(act, trigger=trigger, recorded=False).status == "not_assessable"
    assert late.target_minutes == target


# Which events count: intrauterine resuscitation, escalation, decision; tests and oxygen do not (standards of ACOG and
# NICE, from memory; ACOG practice advisory 2022 on oxygen).
@pytest.mark.parametrize(
    "event",
    [
        "position_change", "iv_fluid_bolus", "oxytocin_reduced", "oxytocin_stopped", "tocolytic_given",
        "hypotension_treated", "senior_called", "senior_at_bedside", "decision_for_birth", "theatre_arrival",
        "incision", "instrument_applied",
    ],
)  # fmt: skip
def test_an_act_counts_under_every_trigger(event):
    for trigger in TRIGGERS:
        response = clock((3, event), trigger=trigger)
        assert (response.first_act_event, response.minutes_to_first_act) == (event, pytest.approx(3))
        firm = event in SETTINGS.events_of("escalation", "decision")
        assert response.escalation_event == (event if firm else None)
        decides = firm or SETTINGS.rules[trigger].decided_by == "first_act"
        assert (response.status, response.response_event) == (
            ("in_time", event) if decides else ("none_recorded", None)
        )


@pytest.mark.parametrize(
    "event",
    [
        "oxygen_given", "oxytocin_started", "oxytocin_increased", "epidural", "membranes_ruptured", "pushing_started",
        "scalp_stimulation", "fetal_blood_sample",
    ],
)  # fmt: skip
def test_tests_oxygen_and_the_course_of_labour_never_count(event):
    for trigger in TRIGGERS:
        assert clock((3, event), trigger=trigger).status == "none_recorded"


def test_amnioinfusion_counts_where_the_standard_offers_it():
    event = (3, "amnioinfusion")
    assert clock(event, trigger=("nichd-2008", "category_ii_persistent")).status == "in_time"
    assert clock(event, trigger=("nichd-2008", "category_iii")).first_act_event == "amnioinfusion"
    for trigger in TRIGGERS:
        if trigger[0] == "nice-ng229":
            assert clock(event, trigger=trigger).first_act_event is None


def test_a_test_is_told_though_it_does_not_count():
    response = clock((4, "scalp_stimulation"))
    assert response.status == "none_recorded"
    assert "scalp stimulation noted after 4 min: a test" in (response.note or "")


# An act answers a concern only from its pattern's start on, with a minute for notes rounded to it; from there to the
# target everything that counts does, also before the criterion was met. The rule of this clock: our choice.
@pytest.mark.parametrize(
    ("minute", "status", "minutes"),
    [
        (0.0, "in_time", 0.0),
        (0.4, "in_time", 0.4),
        (15.0, "in_time", 15.0),
        (15.0 + 1 / 60, "late", 15.0 + 1 / 60),
        (-15.0, "in_time", -15.0),
        (BEGUN, "in_time", BEGUN),
        (BEGUN - 1.0, "in_time", BEGUN - 1.0),
        (BEGUN - 1.0 - 1 / 60, "none_recorded", None),
        (180.0, "late", 180.0),
        (180.0 + 1 / 60, "none_recorded", None),
    ],
)
def test_boundaries_of_pattern_start_target_and_birth(minute, status, minutes):
    response = clock((minute, "senior_called"), open_end=True, end=179)
    assert response.status == status
    assert response.minutes_to_response == (None if minutes is None else pytest.approx(minutes))


def test_both_clocks_are_told_and_one_decides():
    response = clock((-4, "oxytocin_stopped"), (3, "senior_called"))
    assert (response.status, response.minutes_to_response, response.response_event, response.decided_by) == (
        "in_time", pytest.approx(3), "senior_called", "escalation",
    )  # fmt: skip
    assert (response.first_act_s, response.minutes_to_first_act) == (pytest.approx(AT_S - 240), pytest.approx(-4))
    assert (response.escalation_s, response.minutes_to_escalation) == (pytest.approx(AT_S + 180), pytest.approx(3))
    other = clock((-4, "oxytocin_stopped"), (35, "senior_called"), trigger=SUSPICIOUS)
    assert (other.status, other.minutes_to_response, other.decided_by) == ("in_time", pytest.approx(-4), "first_act")
    assert other.minutes_to_escalation == pytest.approx(35)


def test_one_turn_and_nobody_called_is_no_answer_to_a_severe_concern():
    response = clock((1, "position_change"))
    assert (response.status, response.response_event) == ("none_recorded", None)
    assert response.first_act_event == "position_change"
    assert "nobody was called" in (response.note or "")


@pytest.mark.parametrize("event", ["oxytocin_started", "oxytocin_increased"])
def test_more_oxytocin_during_a_concern_is_told_and_answers_nothing(event):
    for trigger in (PATHOLOGICAL, SUSPICIOUS):
        response = clock((-5, event), trigger=trigger)
        assert (response.status, response.first_act_s) == ("none_recorded", None)
        assert (response.oxytocin_event, response.oxytocin_s) == (event, pytest.approx(AT_S - 300))
        assert "15 min into the pattern: no answer" in (response.note or "")
    assert clock((BEGUN - 5, event)).oxytocin_s is None
    assert clock((130, event), end=120).oxytocin_s is None


def test_the_order_of_the_list_of_events_does_not_matter():
    events = [(20.0, "senior_called"), (12.0, "iv_fluid_bolus"), (-100.0, "epidural"), (12.0, "position_change")]
    results = {clock(*events[k:], *events[:k]).minutes_to_response for k in range(4)}
    assert results == {20.0}
    first_acts = {clock(*events[k:], *events[:k]).first_act_event for k in range(4)}
    assert first_acts == {"iv_fluid_bolus"}

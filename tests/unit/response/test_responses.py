"""The clock by hand: every trigger, every status, both sides of every boundary. Times in minutes after recognition."""

import pytest

from audit.response.record import births_by_fetus, has_care_record, suspect_times
from audit.response.responses import respond
from audit.response.rules import BUILT_IN
from audit.response.types import CareEvent, Episode, Response
from audit.setting_types import changed, plain
from audit.settings import load_settings

SETTINGS = load_settings().response
TRIGGERS = sorted(BUILT_IN)
PATHOLOGICAL = ("figo-2015", "pathological")  # target 15 min, lead window 15 min
PROLONGED = ("nichd-2008", "prolonged_deceleration")  # target 6 min, lead window 5 min
AT_S = 7261.25  # recognition, on no whole minute
NEVER = 1e4


def clock(
    *events: tuple[float, str],
    trigger: tuple[str, str] = PATHOLOGICAL,
    end: float = 120.0,
    open_end: bool = False,
    birth: float | None = 180.0,
    tracing_end: float | None = None,
    mode: str | None = "spontaneous",
    recorded: bool = True,
    second_stage: float | None = None,
    shift_s: float = 0.0,
) -> Response:
    at_s = AT_S + shift_s
    episode = Episode(*trigger, at_s - 1200.0, at_s, at_s + 60 * end, open_end)
    if tracing_end is None:
        tracing_end = birth if birth is not None else max(end, 0.0)
    (response,) = respond(
        [episode],
        [CareEvent(at_s + 60 * minute, event) for minute, event in events],
        birth_s=None if birth is None else at_s + 60 * birth,
        second_stage_s=None if second_stage is None else at_s + 60 * second_stage,
        mode_of_birth=mode,
        tracing_end_s=at_s + 60 * tracing_end,
        events_recorded=recorded,
        settings=SETTINGS,
    )
    return response


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
        assert (response.status, response.response_event) == ("in_time", event)
        assert response.minutes_to_response == pytest.approx(3)


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
    assert clock(event, trigger=("nichd-2008", "category_iii")).status == "in_time"
    for trigger in TRIGGERS:
        if trigger[0] == "nice-ng229":
            assert clock(event, trigger=trigger).status == "none_recorded"


def test_a_test_is_told_though_it_does_not_count():
    response = clock((4, "scalp_stimulation"))
    assert response.status == "none_recorded"
    assert "scalp stimulation noted after 4 min: a test" in (response.note or "")


@pytest.mark.parametrize(
    ("minute", "status", "minutes"),
    [
        (0.0, "in_time", 0.0),
        (0.4, "in_time", 0.4),
        (15.0, "in_time", 15.0),
        (15.0 + 1 / 60, "late", 15.0 + 1 / 60),
        (-15.0, "in_time", 0.0),
        (-15.0 - 1 / 60, "none_recorded", None),
        (180.0, "late", 180.0),
        (180.0 + 1 / 60, "none_recorded", None),
    ],
)
def test_boundaries_of_lead_window_target_and_birth(minute, status, minutes):
    response = clock((minute, "position_change"), open_end=True, end=179)
    assert response.status == status
    assert response.minutes_to_response == (None if minutes is None else pytest.approx(minutes))


def test_what_was_under_way_beats_what_came_later():
    response = clock((-4, "oxytocin_stopped"), (3, "senior_called"))
    assert (response.status, response.minutes_to_response, response.response_event) == (
        "in_time",
        0.0,
        "oxytocin_stopped",
    )
    assert response.response_s == pytest.approx(AT_S - 240)
    assert (response.minutes_to_escalation, response.escalation_s) == (pytest.approx(3), pytest.approx(AT_S + 180))


def test_the_order_of_the_list_of_events_does_not_matter():
    events = [(20.0, "senior_called"), (12.0, "iv_fluid_bolus"), (-100.0, "epidural"), (12.0, "position_change")]
    results = {clock(*events[k:], *events[:k]).minutes_to_response for k in range(4)}
    assert len(results) == 1
    assert results.pop() == pytest.approx(12)


@pytest.mark.parametrize(
    ("end", "act", "status"),
    [
        (15.0, None, "resolved"),
        (15.1, None, "none_recorded"),
        (5.0, 8.0, "in_time"),  # the act came after the pattern had gone, still within the target
        (5.0, 16.0, "resolved"),  # ended by itself; what came later answers something else
        (40.0, 50.0, "late"),
        (40.0, 55.0, "late"),
        (40.0, 55.1, "none_recorded"),  # too long after the end to answer this pattern
    ],
)
def test_resolution_competes_with_the_response(end, act, status):
    events = [] if act is None else [(act, "senior_at_bedside")]
    response = clock(*events, end=end)
    assert response.status == status
    assert (response.response_s is None) == (status in ("resolved", "none_recorded"))


@pytest.mark.parametrize(
    ("birth", "mode", "status", "event"),
    [
        (15.0, "spontaneous", "born_first", None),
        (15.1, "spontaneous", "none_recorded", None),
        (15.0, None, "born_first", None),
        (15.0, "caesarean", "in_time", "birth"),
        (15.0, "Instrumental vaginal", "in_time", "birth"),
        (15.0, "spontaneous_vaginal", "born_first", None),
        (15.1, "caesarean", "none_recorded", None),
    ],
)
def test_birth_competes_with_the_response(birth, mode, status, event):
    response = clock(open_end=True, end=birth, birth=birth, mode=mode)
    assert (response.status, response.response_event) == (status, event)
    assert response.minutes_to_birth == pytest.approx(birth)


def test_an_operative_birth_without_a_noted_decision_says_what_is_missing():
    response = clock(open_end=True, end=60, birth=60, mode="caesarean")
    assert response.status == "none_recorded"
    assert "its time is not recorded" in (response.note or "")


def test_no_response_yet_at_the_end_of_the_tracing_with_birth_two_minutes_later_is_born_first():
    response = clock(open_end=True, end=8, tracing_end=8, birth=10)
    assert response.status == "born_first"


@pytest.mark.parametrize(
    ("tracing_end", "birth", "status"),
    [
        (9.9, 60.0, "not_assessable"),
        (10.0, 60.0, "none_recorded"),  # stops five minutes before the target: watched to it
        (9.9, None, "not_assessable"),
        (30.0, None, "none_recorded"),  # the tracing itself shows that birth had not come
        (9.9, 15.0, "born_first"),
    ],
)
def test_a_tracing_that_stops_before_the_target_leaves_the_verdict_open(tracing_end, birth, status):
    response = clock(open_end=True, end=tracing_end, tracing_end=tracing_end, birth=birth)
    assert response.status == status


def test_without_a_birth_time_an_act_long_after_the_tracing_is_not_credited():
    assert clock((50, "iv_fluid_bolus"), open_end=True, end=30, tracing_end=30, birth=None).status == "none_recorded"
    assert clock((45, "iv_fluid_bolus"), open_end=True, end=30, tracing_end=30, birth=None).status == "late"


@pytest.mark.parametrize(("minute", "status", "minutes"), [(-75.0, "in_time", 0.0), (-75.1, "none_recorded", None)])
def test_a_decision_for_birth_stays_in_force_for_the_75_minutes_of_category_2(minute, status, minutes):
    response = clock((minute, "decision_for_birth"), trigger=PROLONGED)
    assert (response.status, response.minutes_to_response) == (status, minutes)


def test_a_birth_long_after_an_old_decision_is_the_response_and_can_be_late():
    response = clock((-100, "decision_for_birth"), open_end=True, end=40, birth=40, mode="caesarean")
    assert (response.status, response.response_event) == ("late", "birth")
    assert response.minutes_to_response == pytest.approx(40)


def pair(inner_at: float, *events: tuple[float, str], outer_end: float = 90.0) -> Response:
    outer = Episode("figo-2015", "pathological", AT_S - 1800, AT_S, AT_S + 60 * outer_end)
    inner_s = AT_S + 60 * inner_at
    inner = Episode("figo-2015", "prolonged_deceleration", inner_s - 180, inner_s, inner_s + 1200)
    return respond(
        [outer, inner],
        [CareEvent(AT_S + 60 * minute, event) for minute, event in events],
        birth_s=AT_S + 7200,
        second_stage_s=None,
        mode_of_birth=None,
        tracing_end_s=AT_S + 7200,
        events_recorded=True,
        settings=SETTINGS,
    )[1]


def test_an_escalation_in_the_enclosing_episode_covers_one_inside_it():
    assert pair(30, (0.5, "senior_at_bedside")).status == "in_time"
    assert "enclosing" in (pair(30, (0.5, "senior_at_bedside")).note or "")
    assert pair(40, (0.5, "senior_at_bedside")).status == "none_recorded"  # more than half an hour ago
    assert pair(30, (0.5, "position_change")).status == "none_recorded"  # a measure does not cover a graver concern
    assert pair(30, (0.5, "senior_at_bedside"), outer_end=20).status == "none_recorded"  # not inside it


def test_no_record_at_all_is_not_a_late_response():
    response = clock(recorded=False, birth=60)
    assert (response.status, response.minutes_to_response) == ("not_assessable", None)
    assert response.minutes_to_birth == pytest.approx(60)
    assert "no care events are recorded" in (response.note or "")
    assert has_care_record([CareEvent(0.0, "birth")]) is False
    assert has_care_record([CareEvent(0.0, "epidural")]) is True


def test_criteria_met_at_or_after_birth_start_no_clock():
    for birth in (0.0, -5.0):
        response = clock((3, "senior_called"), birth=birth, tracing_end=60)
        assert (response.status, response.response_s, response.minutes_to_birth is None) == (
            "not_assessable",
            None,
            birth < 0,
        )


def test_times_out_of_order_leave_the_verdict_open_where_they_decide():
    swapped = clock((20, "incision"), (25, "decision_for_birth"))
    assert (swapped.status, swapped.minutes_to_response) == ("not_assessable", None)
    assert "before the decision" in (swapped.note or "")
    assert clock((200, "decision_for_birth")).status == "not_assessable"  # birth at 180
    # an act that is beyond doubt is credited all the same
    assert clock((5, "position_change"), (20, "incision"), (25, "decision_for_birth")).status == "in_time"
    # and a disorder hours later does not touch a pattern that had ended
    assert clock((150, "incision"), (155, "decision_for_birth"), end=40).status == "none_recorded"


def test_the_order_is_judged_to_the_minute():
    assert clock((24.5, "incision"), (25, "decision_for_birth")).status == "late"
    assert clock((180.9, "instrument_applied"), (5, "senior_called")).status == "in_time"


def test_a_birth_time_that_contradicts_the_record_decides_nothing():
    assert clock((60, "birth"), open_end=True, end=10, birth=10).status == "not_assessable"
    assert clock(open_end=True, end=10, birth=10, second_stage=30).status == "not_assessable"
    assert clock((10.5, "birth"), open_end=True, end=10, birth=10).status == "born_first"


def test_acts_after_birth_that_care_after_birth_explains_are_no_disorder():
    events = [CareEvent(100.0, "birth"), CareEvent(400.0, "senior_called"), CareEvent(500.0, "iv_fluid_bolus")]
    assert suspect_times(events, birth_s=100.0, second_stage_s=None, settings=SETTINGS) == []
    assert clock((181, "senior_called"), (182, "iv_fluid_bolus")).status == "none_recorded"


def test_twins_have_a_birth_each_when_both_are_noted():
    births = [CareEvent(900.0, "birth"), CareEvent(300.0, "birth")]
    assert births_by_fetus(["A", "B"], 300.0, births) == {"A": 300.0, "B": 900.0}
    assert births_by_fetus(["A", "B"], 300.0, births[:1]) == {"A": 300.0, "B": 300.0}
    assert births_by_fetus(["A"], None, births[:1]) == {"A": 900.0}
    assert births_by_fetus(["A"], None, []) == {"A": None}
    # a decision between the two births is no disorder
    events = [*births, CareEvent(600.0, "decision_for_birth")]
    assert suspect_times(events, birth_s=300.0, second_stage_s=None, settings=SETTINGS) == []


@pytest.mark.parametrize("shift_s", [0.25, 13.37, -5000.0, 86400.1])
@pytest.mark.parametrize("minute", [-15.0, 0.0, 15.0, 15.2])
def test_a_shift_of_all_times_changes_no_interval(shift_s, minute):
    here = clock((minute, "senior_called"))
    there = clock((minute, "senior_called"), shift_s=shift_s)
    assert there.status == here.status
    assert there.minutes_to_response == pytest.approx(here.minutes_to_response, abs=1e-6)
    assert there.minutes_to_birth == pytest.approx(here.minutes_to_birth)


def test_much_unseen_signal_is_told_beside_a_late_verdict():
    def note(unseen: float, status: str) -> str:
        (response,) = respond(
            [Episode(*PATHOLOGICAL, 0.0, 60.0, 2460.0, unseen_minutes=unseen)],
            [CareEvent(1860.0 if status == "late" else 120.0, "senior_called")],
            birth_s=9000.0,
            second_stage_s=None,
            mode_of_birth=None,
            tracing_end_s=9000.0,
            events_recorded=True,
            settings=SETTINGS,
        )
        assert response.status == status
        return response.note or ""

    assert note(20.0, "late") == "no usable signal for 20 of its 40 min"
    assert note(19.0, "late") == ""
    assert note(30.0, "in_time") == ""


def test_no_episodes_no_responses():
    assert (
        respond(
            [],
            [CareEvent(0.0, "senior_called")],
            birth_s=None,
            second_stage_s=None,
            mode_of_birth=None,
            tracing_end_s=0.0,
            events_recorded=True,
            settings=SETTINGS,
        )
        == []
    )


def test_a_unit_can_change_target_and_what_counts():
    triggers = plain(SETTINGS)["triggers"]
    rule = {**triggers["/".join(PATHOLOGICAL)], "target_minutes": 5.0, "counts": ["senior_called"]}
    mine = changed(SETTINGS, triggers={**triggers, "/".join(PATHOLOGICAL): rule})
    (response,) = respond(
        [Episode(*PATHOLOGICAL, 0.0, 60.0, 6000.0)],
        [CareEvent(120.0, "position_change"), CareEvent(420.0, "senior_called")],
        birth_s=9000.0,
        second_stage_s=None,
        mode_of_birth=None,
        tracing_end_s=9000.0,
        events_recorded=True,
        settings=mine,
    )
    assert (response.status, response.minutes_to_response) == ("late", 6.0)

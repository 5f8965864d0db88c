"""The clock by hand: the statuses compete with each other, and the record may leave them open. Times in minutes."""

import pytest

from audit.response.record import births_by_fetus, has_care_record, suspect_times
from audit.response.responses import labour_of, respond
from audit.response.types import CareEvent, Episode
from audit.setting_types import changed, plain
from tests.clock_by_hand import AT_S, BEGUN, PATHOLOGICAL, PROLONGED, SETTINGS, clock


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
    assert clock((50, "senior_called"), open_end=True, end=30, tracing_end=30, birth=None).status == "none_recorded"
    assert clock((45, "senior_called"), open_end=True, end=30, tracing_end=30, birth=None).status == "late"


# Intervals in force: NICE NG192, category 1 within 30 minutes, category 2 within 75; without an urgency the 30 minutes
# of ACOG/AAP from decision to incision. All from memory. Urgencies 3 and 4 have no published interval.
@pytest.mark.parametrize(
    ("urgency", "before", "status"),
    [
        (1, 30.0 - 6.0 - 20.0, "under_way"),
        (1, 30.0 - 6.0 - 20.0 + 0.1, "none_recorded"),
        (2, 75.0 - 6.0 - 20.0, "under_way"),
        (2, 75.0 - 6.0 - 20.0 + 0.1, "none_recorded"),
        (None, 4.0, "under_way"),
        (None, 4.1, "none_recorded"),
        (3, 4.0, "none_recorded"),
        (4, 4.0, "none_recorded"),
    ],
)
def test_a_decision_in_force_is_a_status_of_its_own_for_the_interval_of_its_urgency(urgency, before, status):
    response = clock((BEGUN - before, "decision_for_birth", urgency), trigger=PROLONGED)
    assert (response.status, response.response_s, response.minutes_to_response) == (status, None, None)
    stood = AT_S + 60 * (BEGUN - before)
    if status == "under_way":
        assert (response.standing_decision_s, response.standing_decision_urgency) == (pytest.approx(stood), urgency)
        assert "was in force" in (response.note or "")


def test_a_decision_in_force_covers_a_pattern_that_ends_or_a_birth_that_comes_within_its_interval():
    decision = (BEGUN - 5, "decision_for_birth", 1)  # in force until 5 min after recognition
    assert clock(decision, end=5).status == "under_way"
    assert clock(decision, end=5.1).status == "resolved"
    assert clock(decision, open_end=True, end=5, birth=5).status == "under_way"


@pytest.mark.parametrize(
    ("former", "later", "status"),
    [(2, 1, "in_time"), (2, 2, "in_time"), (1, 2, "none_recorded"), (2, None, "in_time"), (None, 3, "in_time")],
)
def test_after_its_interval_only_a_new_act_or_a_raised_urgency_answers(former, later, status):
    events = ((BEGUN - 71, "decision_for_birth", former), (3, "decision_for_birth", later))
    assert clock(*events).status == status
    assert clock(events[0]).status == "none_recorded"
    assert clock(events[0], (3, "theatre_arrival")).status == "in_time"


def test_a_birth_long_after_an_old_decision_is_the_response_and_can_be_late():
    response = clock((-100, "decision_for_birth"), open_end=True, end=40, birth=40, mode="caesarean")
    assert (response.status, response.response_event) == ("late", "birth")
    assert response.minutes_to_response == pytest.approx(40)


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
    assert clock((5, "senior_called"), (20, "incision"), (25, "decision_for_birth")).status == "in_time"
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
@pytest.mark.parametrize("minute", [BEGUN, -15.0, 0.0, 15.0, 15.2])
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
            labour_of(
                [CareEvent(1860.0 if status == "late" else 120.0, "senior_called")],
                birth_s=9000.0,
                second_stage_s=None,
                mode_of_birth=None,
                tracing_end_s=9000.0,
                events_recorded=True,
                settings=SETTINGS,
            ),
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
            labour_of(
                [CareEvent(0.0, "senior_called")],
                birth_s=None,
                second_stage_s=None,
                mode_of_birth=None,
                tracing_end_s=0.0,
                events_recorded=True,
                settings=SETTINGS,
            ),
        )
        == []
    )


def test_a_unit_can_change_target_and_what_counts():
    triggers = plain(SETTINGS)["triggers"]
    rule = {**triggers["/".join(PATHOLOGICAL)], "target_minutes": 5.0, "counts": ["senior_called"]}
    mine = changed(SETTINGS, triggers={**triggers, "/".join(PATHOLOGICAL): rule})
    (response,) = respond(
        [Episode(*PATHOLOGICAL, 0.0, 60.0, 6000.0)],
        labour_of(
            [CareEvent(120.0, "senior_at_bedside"), CareEvent(420.0, "senior_called")],
            birth_s=9000.0,
            second_stage_s=None,
            mode_of_birth=None,
            tracing_end_s=9000.0,
            events_recorded=True,
            settings=mine,
        ),
    )
    assert (response.status, response.minutes_to_response) == ("late", 6.0)

"""The clock of what a meeting agreed, by hand; targets and deciding acts are those of the computed clock."""

import pytest

from audit.response.agreed import agreed_clock, change_of_verdict

ACT, CALL = (300.0, "position_change"), (1500.0, "senior_called")


def clock(**more):
    known = {"concern": True, "recognisable_s": 0.0, "first_act": ACT, "escalation": CALL, "decided_by": "escalation",
             "target_minutes": 15.0, "birth_s": 9000.0}  # fmt: skip
    return agreed_clock(**(known | more))


@pytest.mark.parametrize(
    ("more", "status", "minutes"),
    [
        ({}, "late", 25.0), ({"decided_by": "first_act"}, "in_time", 5.0),
        ({"escalation": (900.0, "senior_called")}, "in_time", 15.0), ({"recognisable_s": 600.0}, "in_time", 15.0),
        ({"escalation": (-60.0, "senior_called")}, "in_time", -1.0), ({"escalation": None}, "none_recorded", None),
        ({"escalation": None, "birth_s": 800.0}, "born_first", None), ({"birth_s": 800.0}, "born_first", None),
        ({"birth_s": 1000.0}, "none_recorded", None), ({"concern": False}, "no_concern", None),
        ({"recognisable_s": None}, None, None), ({"birth_s": None}, "late", 25.0),
        ({"birth_s": 1500.0}, "late", 25.0), ({"birth_s": 1499.0}, "none_recorded", None),
        ({"escalation": None, "birth_s": 900.0}, "born_first", None),
        ({"escalation": None, "birth_s": 901.0}, "none_recorded", None),
        ({"escalation": (906.0, "senior_called")}, "late", 15.1),
        ({"escalation": (600.0, "senior_called"), "birth_s": 600.0}, "in_time", 10.0),
    ],
)  # fmt: skip
def test_how_an_agreed_clock_ends(more, status, minutes):
    found = clock(**more)
    assert (found.status, found.minutes_to_response) == (status, minutes)


@pytest.mark.parametrize(
    ("agreed", "computed", "change"),
    [
        ("late", ["late", "in_time"], "unchanged"), ("in_time", ["in_time"], "unchanged"),
        ("no_concern", [], "unchanged"),
        ("no_concern", ["none_recorded"], "cleared"), ("in_time", ["late"], "cleared"),
        ("none_recorded", ["in_time", "resolved"], "called_delayed"), ("late", [], "called_delayed"),
        (None, ["late"], None), ("late", ["not_assessable"], None),
    ],
)  # fmt: skip
def test_which_way_the_meeting_turned_the_verdict(agreed, computed, change):
    assert change_of_verdict(agreed, computed) == change


@pytest.mark.parametrize(("second", "in_time"), [(1e-6, True), (2e-6, False)])
def test_a_millionth_of_a_second_is_rounding_and_two_are_not(second, in_time):
    """Fifteen minutes after second -900 is second 0; the millionth is our choice."""
    early = {"recognisable_s": -900.0, "escalation": (second, "senior_called")}
    found = clock(**early)
    assert (found.status, found.response_s, found.response_event) == (
        "in_time" if in_time else "late", second, "senior_called",
    )  # fmt: skip
    assert (clock(**early, birth_s=0.0).response_s == second) is in_time
    assert clock(**(early | {"escalation": None}), birth_s=second).status == (
        "born_first" if in_time else "none_recorded"
    )


def test_one_episode_that_can_be_judged_is_enough_for_a_verdict():
    assert change_of_verdict("late", ["not_assessable", "late"]) == "unchanged"
    assert change_of_verdict("late", ["not_assessable", "in_time"]) == "called_delayed"

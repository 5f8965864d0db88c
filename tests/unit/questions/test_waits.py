"""Waits by group: counts by hand, competing ends, and no mean anywhere."""

import pytest

from audit.questions import waits
from audit.tables import episodes as wait_tables


def row(minutes, ended_by, shift="day", target=15.0, status="in_time"):
    return {"wait_minutes": minutes, "ended_by": ended_by, "shift": shift, "target_minutes": target, "status": status}


ROWS = [
    row(5.0, "response"), row(15.0, "response"), row(15.1, "response"), row(8.0, "birth"), row(9.0, "resolved"),
    row(3.0, "end_of_tracing"), row(None, None), row(2.0, "response", shift=None),
]  # fmt: skip


def test_counts_tell_apart_in_time_late_other_ends_and_unknown():
    every, = waits.wait_groups(ROWS, None)  # fmt: skip
    assert (every.episodes, every.not_assessable) == (8, 1)
    assert (every.within, every.late, every.other_end, every.unknown) == (3, 1, 2, 1)
    # of seven: answered at 2 (1/7), one lost at 3; at 5 one of five left 6/7 x 1/5; born at 8, resolved at 9, then at
    # 15 one of two left: 6/7 x 4/5 x 3/4 x 2/3 x 1/2 = 6/35 (Aalen-Johansen by hand)
    assert every.share == pytest.approx(1 / 7 + 6 / 35 + 6 / 35)
    assert every.share_low < every.share < every.share_high


def test_a_decision_already_in_force_is_in_no_share():
    every, = waits.wait_groups([*ROWS, row(None, None, status="under_way")], None)  # fmt: skip
    assert (every.episodes, every.not_assessable, every.under_way, every.assessed) == (9, 1, 1, 7)
    assert every.share == waits.wait_groups(ROWS, None)[0].share


def test_each_wait_is_measured_against_its_own_target():
    rows = [row(20.0, "response", target=30.0), row(20.0, "response", target=15.0)]
    every = waits.wait_groups(rows, None)[0]
    assert (every.within, every.late) == (1, 1)


def test_groups_are_named_and_unknown_ones_are_said_to_be_so():
    assert [group.name for group in waits.wait_groups(ROWS, "shift")] == ["day", "not given"]


def test_half_answered_is_not_reached_when_birth_comes_first():
    rows = [row(5.0, "response"), row(6.0, "birth"), row(7.0, "birth")]
    every, = waits.wait_groups(rows, None)  # fmt: skip
    assert every.half_answered_min is None
    assert wait_tables.half_words(every) == ("not reached", "fewer than half answered")


def test_half_answered_without_competing_ends_is_the_median():
    every, = waits.wait_groups([row(m, "response") for m in (1.0, 2.0, 3.0, 10.0)], None)  # fmt: skip
    assert every.half_answered_min == 2.0
    # fifty that waited alike tell nothing of how far others would differ
    alike, = waits.wait_groups([row(34.0, "response")] * 50, None)  # fmt: skip
    assert wait_tables.half_words(alike) == ("34 min", "95 % interval not known")


def test_a_group_that_cannot_be_assessed_has_no_share_and_no_curve():
    every, = waits.wait_groups([row(None, None)], None)  # fmt: skip
    assert (every.share, every.curve) == (None, None)
    assert wait_tables.share_words(every)[0] == "not known"
    assert waits.curve_rows([every], longest_min=30.0) == []


def test_curves_go_on_to_the_end_of_the_drawing_and_start_at_zero():
    points = waits.answers(waits.curve_rows(waits.wait_groups(ROWS[:3], None), longest_min=60.0))
    assert points[0]["minutes"] == 0.0
    assert points[-1]["minutes"] == 60.0
    assert points[-1]["share"] == pytest.approx(1.0)


def test_the_drawing_reaches_past_every_answer_and_target():
    assert waits.horizon_min([row(29.0, "response", target=15.0)]) == 60.0
    assert waits.horizon_min([row(5.0, "birth", target=28.0)]) == 30.0
    assert waits.horizon_min([]) == 30.0


def test_a_difference_needs_two_groups():
    assert waits.difference(ROWS[:3], "shift") == "One group only: nothing to compare."
    text = waits.difference(
        [*ROWS[:3], row(50.0, "response", shift="night"), row(60.0, "response", shift="night")], "shift"
    )
    assert text.startswith("Log-rank test")
    assert "not independent" in text


# the same episodes counted by hand in every way: seven whose clock ran, one that cannot be assessed
MIXED = [
    row(5.0, "response"), row(10.0, "response"), row(20.0, "response", status="late"),
    row(8.0, "resolved", status="resolved"), row(12.0, "birth", status="born_first"),
    row(30.0, "end_of_tracing", status="none_recorded"), row(None, None, status="not_assessable"),
    row(40.0, "birth", status="none_recorded"),
]  # fmt: skip


def test_every_episode_is_counted_once():
    every, = waits.wait_groups(MIXED, "shift")  # fmt: skip
    # of all 7 whose clock ran, 2 were answered by the target; resolution and birth came first for two, and they stay in
    assert (every.episodes, every.not_assessable, every.within, every.late, every.other_end) == (8, 1, 2, 3, 2)
    assert every.share == pytest.approx(2 / 7)
    # Wilson 95 % interval of 2 of 7: 0.0822 to 0.6411 (Newcombe 1998, formula by hand)
    assert (every.share_low, every.share_high) == (pytest.approx(0.0822, abs=5e-4), pytest.approx(0.6411, abs=5e-4))
    assert {item["status"]: item["episodes"] for item in waits.status_counts(MIXED)} == {
        "in_time": 2, "late": 1, "none_recorded": 2, "resolved": 1, "born_first": 1, "not_assessable": 1,
    }  # fmt: skip


def test_the_uninterrupted_curve_by_hand():
    points = waits.uninterrupted_rows(MIXED, "shift", longest_min=60.0)
    steps = {point["minutes"]: point["share"] for point in points}
    # at 5 min 7 wait, at 8 one resolves, at 10 five wait, at 12 one is born, at 20 three wait
    assert steps[0.0] == 0.0
    assert steps[5.0] == pytest.approx(1 - 6 / 7)
    assert steps[10.0] == pytest.approx(1 - 6 / 7 * 4 / 5)
    assert steps[20.0] == pytest.approx(1 - 6 / 7 * 4 / 5 * 2 / 3)
    # nobody is followed beyond 40 min, so the curve ends there
    assert max(steps) == 40.0
    assert steps[40.0] == steps[20.0]
    waiting = {point["minutes"]: point["waiting"] for point in points}
    assert (waiting[5.0], waiting[10.0], waiting[20.0]) == (7, 5, 3)
    assert all(point["low"] <= point["share"] <= point["high"] for point in points)


def test_an_uninterrupted_curve_goes_on_only_where_that_is_known():
    everyone = waits.uninterrupted_rows(ROWS[:2], None, longest_min=60.0)
    assert (everyone[-1]["minutes"], everyone[-1]["share"]) == (60.0, 1.0)
    assert everyone[-1]["low"] is None  # nobody is left
    beyond = waits.uninterrupted_rows([row(5.0, "response"), row(90.0, "birth")], None, longest_min=60.0)
    assert (beyond[-1]["minutes"], beyond[-1]["share"]) == (60.0, 0.5)
    assert waits.uninterrupted_rows([row(None, None)], None, longest_min=60.0) == []
    assert waits.uninterrupted_rows([], None, longest_min=60.0) == []


def test_competing_ends_add_up_to_one():
    points = waits.curve_rows(waits.wait_groups(MIXED, "shift"), longest_min=60.0)
    last = {point["end"]: point["share"] for point in points}
    assert last["answered"] == pytest.approx(3 / 7)
    # the one still waiting at 30 min is censored; the last one is born at 40
    assert set(last) == {"answered", "resolved first", "born first"}
    assert sum(last.values()) == pytest.approx(1.0)


def test_waits_that_are_not_over_are_not_averaged():
    """Nine still waiting at 20 minutes and one answered at 1: half had no answer, so there is no median."""
    every, = waits.wait_groups([row(1.0, "response"), *[row(20.0, "end_of_tracing")] * 9], None)  # fmt: skip
    assert every.half_answered_min is None


def test_groups_are_in_order_and_a_missing_one_comes_last():
    rows = [row(30.0, "response", shift=None), row(1.0, "response", shift="with the late team"), *MIXED]
    names = ["day", "with the late team", "not given"]
    assert [group.name for group in waits.wait_groups(rows, "shift")] == names
    points = waits.uninterrupted_rows(rows, "shift", longest_min=60.0)
    assert list(dict.fromkeys(point["group"] for point in points)) == names


def test_a_response_at_exactly_the_target_is_within_it_whatever_the_target():
    for target in (6.0, 15.0, 30.0):
        every, = waits.wait_groups([row(target, "response", target=target),
                                    row(target + 0.01, "response", target=target)], None)  # fmt: skip
        assert (every.within, every.late, every.share) == (1, 1, pytest.approx(0.5))


def test_clearly_slower_answers_are_told_apart():
    slow = [row(60.0 + k, "response", shift="night") for k in range(12)]
    quick = [row(1.0 + k, "response") for k in range(12)]
    assert "p below 0.001" in waits.difference([*slow, *quick], "shift")
    assert "p below 0.001" not in waits.difference([*quick, *(dict(one, shift="night") for one in quick)], "shift")


def test_an_unknown_grouping_is_refused():
    for found in (
        lambda: waits.wait_groups(MIXED, "case_id"),
        lambda: waits.difference(MIXED, "case_id"),
        lambda: waits.uninterrupted_rows(MIXED, "case_id", longest_min=60.0),
    ):
        with pytest.raises(ValueError, match="expected one of"):
            found()


def test_no_episodes_are_no_groups():
    assert waits.wait_groups([], "trigger") == []
    assert waits.curve_rows([], longest_min=60.0) == []

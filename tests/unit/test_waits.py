"""Waits by group: counts by hand, competing ends, and no mean anywhere."""

import pytest

from audit import waits


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
    assert every.share == pytest.approx(0.75)
    # Wilson 95 % interval of 3 of 4: 0.3006 to 0.9544 (Newcombe 1998, formula by hand)
    assert (every.share_low, every.share_high) == (pytest.approx(0.3006, abs=5e-4), pytest.approx(0.9544, abs=5e-4))


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
    assert waits.half_words(every) == ("not reached", "fewer than half were answered")


def test_half_answered_without_competing_ends_is_the_median():
    every, = waits.wait_groups([row(m, "response") for m in (1.0, 2.0, 3.0, 10.0)], None)  # fmt: skip
    assert every.half_answered_min == 2.0


def test_a_group_that_cannot_be_assessed_has_no_share_and_no_curve():
    every, = waits.wait_groups([row(None, None)], None)  # fmt: skip
    assert (every.share, every.curve) == (None, None)
    assert waits.share_words(every)[0] == "not known"
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

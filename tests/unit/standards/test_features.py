"""Features at minute marks: signal, baseline, variability, contractions, and the runs they form."""

from dataclasses import replace

import numpy as np
import pytest

from audit.setting_types import RateLimit
from audit.standards.basics import basics_at, marks_of, printed, run_minutes, share, trailing_median
from audit.standards.falls import falls_of
from audit.standards.seen import Seen
from audit.tracing.types import LevelChange
from tests.reading_builder import contraction, deceleration, edited, late_at, reading, table


def test_marks_are_whole_minutes_that_have_passed() -> None:
    assert marks_of(reading(2.99)).tolist() == [60.0, 120.0]
    assert marks_of(reading(0.5)).tolist() == []


def test_the_share_of_a_window_is_of_what_lies_in_the_tracing() -> None:
    counted = np.array([0, 1, 1, 2, 2])  # the first and the third of four seconds
    found = share(counted, np.array([0.0, -4.0, 1.0, 0.0]), np.array([4.0, 4.0, 3.0, 8.0]))
    assert found.tolist() == [0.5, 0.5, 0.5, 0.25]  # what lies after the tracing was not seen


def test_baseline_is_that_of_the_last_ten_minutes() -> None:
    made = reading(40, baseline=[140.0] * 20 + [150.0] * 20)
    found = basics_at(made, np.array([1200.0, 1500.0, 1800.0]))
    assert found.baseline_bpm.tolist() == [140.0, 145.0, 150.0]


def test_the_previous_window_stands_in_for_so_long() -> None:
    # NICHD 2008, from memory: an indeterminate window takes the one before.
    made = reading(60, not_baseline=[(1200.0, 3600.0)])
    found = basics_at(made, marks_of(made), carry_min=10.0)
    known = np.isfinite(found.baseline_bpm)
    # 120 s of baseline are in the window up to minute 28, the carry holds ten more
    assert known.tolist()[:2] == [False, True]  # one minute holds too little baseline
    assert known[1:38].all()
    assert not known[38:].any()


def test_a_level_change_is_a_fall_until_its_ten_minutes_are_over() -> None:
    change = LevelChange(1800.0, 3600.0, 140.0, 90.0)
    made = reading(60, baseline=[140.0] * 30 + [90.0] * 30, level_changes=[change])
    found = basics_at(made, marks_of(made))
    assert found.baseline_bpm[29:39].tolist() == [140.0] * 10  # minutes 30 to 39
    assert found.baseline_bpm[39] == 90.0  # minute 40: its ten minutes are over
    so_far = falls_of(made).so_far_s(found.at_s)[:, 0]
    assert so_far[:30].tolist() == [0.0] * 30  # nothing of it before its onset
    assert so_far[32] == 180.0
    assert so_far[38] == 540.0
    assert so_far[39] == 0.0


def test_a_lasting_bradycardia_goes_on_where_a_guideline_has_no_ten_minute_rule() -> None:
    change = LevelChange(1800.0, 3600.0, 140.0, 90.0)
    made = reading(60, baseline=[140.0] * 30 + [90.0] * 30, level_changes=[change])
    lasting = falls_of(made).lasting()
    assert lasting.so_far_s(np.array([2700.0]))[0, 0] == 900.0
    mild = falls_of(edited(made, {"level_changes": (LevelChange(1800.0, 3600.0, 140.0, 120.0),)})).lasting()
    assert mild.so_far_s(np.array([2700.0]))[0, 0] == 0.0


@pytest.mark.parametrize(
    ("states", "expected"),
    [
        ([1, 1, 1], [1, 2, 3]),
        ([0, 1, 1, 0, 1], [0, 1, 2, 0, 4]),  # one minute out between two and one is bridged, once it is over
        ([1, 0, 1], [1, 0, 1]),
        ([1, 1, 0, 0, 1], [1, 2, 0, 0, 1]),
        ([1, -1, 1], [1, 2, 3]),
        ([1, -1, -1, 1], [1, 2, 0, 1]),  # longer than the gap that is allowed
        ([-1, 1], [0, 1]),
        ([], []),
        ([1], [1]),
    ],
)
def test_runs_of_minutes(states: list[int], expected: list[float]) -> None:
    assert run_minutes(np.array(states, dtype=np.int64), gap_min=1).tolist() == expected


def test_trailing_median_leaves_out_the_unknown() -> None:
    values = np.array([1.0, np.nan, 3.0, 10.0])
    found = trailing_median(values, np.array([0, 1, 2, 3, 4]), 3, 2)
    np.testing.assert_array_equal(found, [np.nan, np.nan, np.nan, 2.0, 6.5])
    assert trailing_median(np.array([1.0, 3.0]), np.array([2]), 2, 1).tolist() == [2.0]


def test_the_variability_before_a_fall_is_that_of_the_last_five_minutes() -> None:
    # our choice; here each minute of the tracing has as many bpm as have passed before it
    made = Seen(reading(60, variability=[float(k) for k in range(60)]))
    before = made.variability_before(np.array([1799.0, 1800.0, np.nan]), 2)
    np.testing.assert_array_equal(before, [26.0, 27.0, np.nan])


def test_a_finding_of_the_baseline_began_with_the_window_that_first_showed_it() -> None:
    # FIGO 2015 and NICHD 2008: a baseline is that of 10 minutes
    made = reading(60, baseline=[140.0] * 30 + [90.0] * 30)
    seen = Seen(made)
    basics = seen.basics(marks_of(made), 0.0, table("figo-2015"))
    # minute 39 is the first whose ten hold less than 100 bpm: nine of 90 and one of 140 are 95
    found = seen.level_start_s(basics, basics.baseline_bpm < 100.0)
    assert np.isnan(found[:38]).all()
    assert found[38:].tolist() == [29 * 60.0] * 22
    always, first, last = np.ones(60, dtype=bool), np.arange(60) == 0, np.arange(60) == 59
    assert seen.level_start_s(basics, always).tolist() == [0.0] * 60
    assert seen.level_start_s(basics, last)[59] == 3000.0
    np.testing.assert_array_equal(seen.level_start_s(basics, first), [0.0] + [np.nan] * 59)


def test_contractions_are_not_scaled_up_for_lost_toco() -> None:
    peaks = [contraction(60.0 + 120.0 * k) for k in range(15)]
    made = reading(30, contractions=peaks)
    assert basics_at(made, np.array([1800.0])).contractions_per_10_min.tolist() == [5.0]
    toco = made.toco_usable_1hz.copy()
    toco[:360] = False
    at_limit = edited(made, {"toco_usable_1hz": toco})
    assert basics_at(at_limit, np.array([1800.0])).contractions_per_10_min.tolist() == [5.0]
    toco = toco.copy()
    toco[360] = False
    below = basics_at(edited(made, {"toco_usable_1hz": toco}), np.array([1800.0]))
    assert np.isnan(below.contractions_per_10_min).all()


def test_no_contraction_rate_before_thirty_minutes() -> None:
    made = reading(40, contractions=[contraction(60.0 + 120.0 * k) for k in range(20)])
    known = np.isfinite(basics_at(made, marks_of(made)).contractions_per_10_min)
    assert known.tolist() == [False] * 29 + [True] * 11


@pytest.mark.parametrize("minutes", [0.0, 1 / 60, 0.5, 30.0])
def test_tracings_without_signal_give_no_number(minutes: float) -> None:
    seconds = round(minutes * 60)
    made = reading(minutes, unseen=[(0.0, float(seconds))], toco=False) if seconds else reading(0)
    found = basics_at(made, marks_of(made))
    assert not np.isfinite(found.baseline_bpm).any()
    assert not np.isfinite(found.variability_bpm).any()


def test_features_do_not_change_their_input() -> None:
    made = reading(60, decelerations=[late_at(1800.0)], contractions=[contraction(1800.0)])
    before = [array.copy() for array in (made.fhr_1hz, made.baseline_1hz, made.variability_1min)]
    Seen(made).basics(marks_of(made), 0.0, table("figo-2015"))
    for array, copy in zip((made.fhr_1hz, made.baseline_1hz, made.variability_1min), before, strict=True):
        np.testing.assert_array_equal(array, copy)


def test_return_is_measured_from_the_end_of_a_flat_bottom() -> None:
    event = deceleration(600.0, drop=40.0, length_s=110.0, nadir_after_s=20.0, return_s=31.0)
    made = reading(30, decelerations=[event])
    assert falls_of(made).return_s.tolist() == [31.0]
    # its lowest second is the first of the flat bottom
    early = edited(made, {"decelerations": (replace(event, nadir_to_end_s=90.0),)})
    assert falls_of(early).return_s.tolist() == [31.0]
    bare = deceleration(600.0, drop=40.0, length_s=110.0, nadir_after_s=20.0, return_s=90.0)
    assert falls_of(reading(30, decelerations=[bare])).return_s.tolist() == [90.0]


def test_a_reason_never_prints_the_limit_itself_for_a_value_beyond_it() -> None:
    # NG229's table: over 160 is red, under 110 amber; '160 bpm; limit 160' would be a reason that refutes itself.
    over = np.array([160.0, 160.04, 160.4, 160.6, 161.4, np.nan])
    assert printed(over, RateLimit(">", 160.0))[:-1].tolist() == [160.0, 160.1, 160.4, 161.0, 161.0]
    under = np.array([110.0, 109.98, 109.6, 109.4])
    assert printed(under, RateLimit("<", 110.0)).tolist() == [110.0, 109.9, 109.6, 109.0]
    assert np.isnan(printed(over, RateLimit(">", 160.0))[-1])

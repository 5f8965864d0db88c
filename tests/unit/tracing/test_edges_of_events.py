"""Both sides of every limit by which an event of the reading counts, and of the small tools beneath, by hand.

NICHD 2008: a deceleration is 15 bpm for 15 s, gradual from 30 s to its nadir on, prolonged from 2 minutes on;
variability of 5, 6 to 25 and more bpm; baselines in steps of 5 bpm. Other limits are settings and our choice.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from audit.settings import load_settings
from audit.tracing.baseline_doubt import doubtful_baselines
from audit.tracing.cautions import end_of_monitoring
from audit.tracing.contractions import UterineActivity
from audit.tracing.decelerations import Timing, judged_fall, kind_of, timing_of
from audit.tracing.edges import measure_flanks
from audit.tracing.epochs import epochs_of, round_half_up
from audit.tracing.excursions import Course, _heights, course_of, find_accelerations
from audit.tracing.monitoring import monitored_until
from audit.tracing.overshoots import mark_overshoots
from audit.tracing.quality import exclusions
from audit.tracing.read import read_tracing
from audit.tracing.runs import bridge_gaps, fill_nearest, merge_runs, moving_mean, moving_sum, true_runs
from audit.tracing.types import Acceleration, Contraction, Exclusion, Sinusoidal, Tracing
from audit.tracing.variability import variability_class
from tests.accuracy.edges import draw_falls
from tests.accuracy.known_truth import match
from tests.reading_builder import deceleration

SETTINGS = load_settings().tracing
NAN = math.nan


def dipped(bpm):
    """Twenty minutes at 140 bpm, drawn flat, with one fall of 40 s with steep flanks."""
    fhr = np.full(1200 * 4, 140.0)
    fhr[600 * 4 : 640 * 4] -= bpm
    return read_tracing(Tracing(fhr, np.full(fhr.size, NAN)), SETTINGS)


@pytest.mark.parametrize(("depth_bpm", "listed"), [(14.25, 0), (14.5, 1), (15.0, 1)])
def test_fifteen_bpm_are_those_that_the_eye_rounds_to_fifteen(depth_bpm, listed):
    found = dipped(depth_bpm).decelerations
    assert len(found) == listed
    assert all(not event.shallow and event.depth_bpm == depth_bpm for event in found)


@pytest.mark.parametrize(
    ("length_s", "fall_s", "lag_s", "kind"),
    [
        (119.0, 20.0, 0.0, "variable"),
        (120.0, 20.0, 0.0, "prolonged"),
        (100.0, 29.9, 30.0, "variable"),
        (100.0, 30.0, 30.0, "late"),
        (100.0, 30.0, 10.1, "late"),
        (100.0, 30.0, 10.0, "early"),
        (100.0, 30.0, -20.0, "early"),
        (100.0, 30.0, None, "unclassified"),
    ],
)
def test_the_kind_by_length_fall_and_lag(length_s, fall_s, lag_s, kind):
    assert kind_of(length_s, fall_s, Timing(0.0, lag_s, 0.0), True, SETTINGS) == kind
    blind = kind_of(length_s, fall_s, Timing(0.0, lag_s, 0.0), False, SETTINGS)
    assert blind == (kind if kind in ("variable", "prolonged") else "unclassified")


def lag(nadir_s, *peaks, onset_s=None, end_s=None):
    """Lag behind the contraction (30 s on either side of its peak) that a fall goes with; None = it has none."""
    uterus = tuple(Contraction(peak - 30.0, peak, peak + 30.0, 40.0, 10.0) for peak in peaks)
    onset = nadir_s - 20.0 if onset_s is None else onset_s
    return timing_of(onset, nadir_s, nadir_s + 20.0 if end_s is None else end_s, uterus, SETTINGS).lag_s


def test_a_contraction_peaks_within_100_s_before_and_30_s_after_the_nadir():
    assert lag(1000.0, 900.0, onset_s=950.0) == 100.0
    assert lag(1000.0, 899.0, onset_s=950.0) is None
    assert lag(1000.0, 1030.0, end_s=1040.0) == -30.0
    assert lag(1000.0, 1031.0, end_s=1040.0) is None


def test_it_ends_at_most_half_a_minute_before_the_onset_and_begins_before_the_end():
    assert lag(1000.0, 930.0, onset_s=990.0) == 70.0  # ended at 960
    assert lag(1000.0, 930.0, onset_s=991.0) is None
    assert lag(1000.0, 1020.0, end_s=991.0) == -20.0  # begins at 990
    assert lag(1000.0, 1020.0, end_s=990.0) is None


def test_of_two_contractions_one_before_the_nadir_fits_three_times_as_well():
    assert lag(1000.0, 980.0, 1006.0) == -6.0  # 20 against 18
    assert lag(1000.0, 980.0, 1007.0) == 20.0  # 20 against 21


def test_a_fall_is_judged_by_its_own_time_without_noise():
    assert judged_fall(28.0, 45.0, 28.0, 0.0) == 28.0
    assert judged_fall(28.0, 45.0, 100.0, 3.5) == 28.0  # noise of 3.5 % of the depth


@pytest.mark.parametrize("drawn_s", [20.0, 50.0])
def test_a_fall_in_noise_is_judged_as_long_as_it_was_drawn(drawn_s):
    # NICHD 2008: abrupt is under 30 s from onset to nadir. Drawn: symmetrical falls in fluctuation of 12 bpm.
    judged = []
    for seed in (3100, 3101):
        drawn = draw_falls(
            seed,
            lambda rng, gradual: (drawn_s, 8.0, drawn_s, "cosine", "cosine"),
            12.0,
            depth_bpm=(25, 45),
            gradual_share=float(drawn_s > 30.0),
        )
        found = read_tracing(Tracing(drawn.fhr_bpm, drawn.toco), SETTINGS).decelerations
        judged += [found[k].judged_fall_s for _, k in match(drawn.decelerations, list(found), 0.3)]
    assert len(judged) >= 45
    assert np.median(judged) == pytest.approx(drawn_s, abs=3.0)
    assert np.mean((np.array(judged) < 30.0) == (drawn_s < 30.0)) >= 0.97


@pytest.mark.parametrize(
    ("bpm", "name"),
    [(2.4, "absent"), (2.5, "minimal"), (5.4, "minimal"), (5.5, "moderate"), (25.4, "moderate"), (25.5, "marked")],
)
def test_variability_is_classed_in_whole_bpm(bpm, name):
    assert variability_class(bpm, SETTINGS) == name


@pytest.mark.parametrize(("bpm", "rounded"), [(132.4, 130), (132.5, 135), (137.4, 135), (137.5, 140)])
def test_a_baseline_is_rounded_to_five_bpm_with_halves_upwards(bpm, rounded):
    assert round_half_up(bpm, 5.0) == rounded


def segments(n_s, *, quiet_s=None, usable_s=None, waves=(), peaks=()):
    """The 10-minute segments of a flat tracing at 140 bpm."""
    in_event = np.arange(n_s) >= (n_s if quiet_s is None else quiet_s)
    usable = np.arange(n_s) < (n_s if usable_s is None else usable_s)
    fhr = np.full(n_s, 140.0)
    uterus = tuple(Contraction(peak - 30.0, peak, peak + 30.0, 40.0, 10.0) for peak in peaks)
    variability = np.full(-(-n_s // 60), 10.0)
    return epochs_of(fhr, fhr, in_event, variability, uterus, usable, tuple(waves), SETTINGS)


@pytest.mark.parametrize(("n_s", "count"), [(59, 0), (60, 1), (600, 1), (659, 1), (660, 2)])
def test_a_last_segment_of_a_minute_counts(n_s, count):
    assert len(segments(n_s)) == count


@pytest.mark.parametrize(("quiet_s", "known"), [(120, True), (119, False)])
def test_a_segment_needs_two_minutes_of_baseline(quiet_s, known):
    # NICHD 2008: at least 2 minutes of baseline in 10
    assert (segments(600, quiet_s=quiet_s)[0].baseline_bpm is not None) is known


def test_contractions_of_a_segment_are_known_with_seven_tenths_of_toco_and_belong_where_they_peak():
    assert segments(600, usable_s=420)[0].contractions_per_10_min == 0.0
    assert segments(600, usable_s=419)[0].contractions_per_10_min is None
    found = segments(1200, peaks=(0.0, 599.9, 600.0))
    assert [epoch.contractions_per_10_min for epoch in found] == [2.0, 1.0]
    assert segments(300, peaks=(100.0,))[0].contractions_per_10_min == 2.0


@pytest.mark.parametrize(("end_s", "marked"), [(300.0, True), (299.0, False)])
def test_a_segment_is_sinusoidal_from_half_of_it_on(end_s, marked):
    later = Sinusoidal(700.0, 900.0, 4.0, 10.0)
    assert segments(600, waves=[Sinusoidal(-100.0, end_s, 4.0, 10.0), later])[0].sinusoidal is marked


def uterus(*ends_s, n_s=3600):
    contractions = tuple(Contraction(end - 60.0, end - 30.0, float(end), 40.0, 10.0) for end in ends_s)
    return UterineActivity(contractions, np.ones(n_s, dtype=bool))


@pytest.mark.parametrize(
    ("last_s", "toco_to_s", "until_s"),
    [
        (3541, 0, 3600.0),  # a silence of 59 s is a loss like any other
        (3540, 0, 3540.0),
        (3000, 3301, 3600.0),  # a contraction under five minutes before the end: somebody was monitored
        (3000, 3300, 3300.0),
        (3000, 3000, 3000.0),
    ],
)
def test_monitoring_ends_with_the_last_of_both_channels(last_s, toco_to_s, until_s):
    fhr = np.where(np.arange(3600) < last_s, 140.0, NAN)
    flat = np.full(3600, 10.0)
    found = uterus(900, toco_to_s) if toco_to_s else uterus(900)
    assert monitored_until(fhr, flat, found) == until_s


def test_the_last_of_several_contractions_ends_monitoring_and_nothing_at_all_was_none():
    fhr = np.where(np.arange(3600) < 1800, 140.0, NAN)
    assert monitored_until(fhr, np.full(3600, 10.0), uterus(900, 2000, 2400, 2900)) == 2900.0
    assert monitored_until(np.full(3600, NAN), np.full(3600, 10.0), uterus()) == 0.0


@pytest.mark.parametrize(("height", "until_s"), [(6.0, 2100.0), (5.9, 1800.0)])
def test_a_toco_that_moves_by_fifteen_hundredths_of_a_contraction_is_on_somebody(height, until_s):
    fhr = np.where(np.arange(3600) < 1800, 140.0, NAN)
    toco = np.full(3600, 10.0)
    toco[2040:2100:2] += height
    assert monitored_until(fhr, toco, uterus(900)) == until_s


@pytest.mark.parametrize(("by", "until_s"), [(59.0, 1800.0), (61.0, 2100.0), (-59.0, 1800.0), (-61.0, 2100.0)])
def test_a_tenth_of_a_minute_moves_a_toco_by_a_tenth_of_what_it_jumped(by, until_s):
    """Of 60 s 6 lie elsewhere: the 10th or 90th hundredth lies a tenth of the way there, 5.9 or 6.1, by hand."""
    fhr = np.where(np.arange(3600) < 1800, 140.0, NAN)
    toco = np.full(3600, 10.0)
    toco[2040:2046] += by
    assert monitored_until(fhr, toco, uterus(900)) == until_s


@pytest.mark.parametrize("lost_s", [0, 7, 20, 29, 31])
def test_seconds_lost_in_a_silent_toco_are_no_movement(lost_s):
    """What was not seen says neither that somebody was monitored nor that nobody was: lost seconds were once zeros."""
    fhr = np.where(np.arange(3600) < 1800, 140.0, NAN)
    toco = np.full(3600, 10.0)
    toco[2040 : 2040 + lost_s] = NAN
    assert monitored_until(fhr, toco, uterus(900)) == 1800.0


@pytest.mark.parametrize(("after_s", "said"), [(59.9, False), (60.0, True)])
def test_the_end_of_monitoring_is_said_from_a_minute_on(after_s, said):
    assert bool(end_of_monitoring(3600.0 - after_s, 3600.0)) is said


@pytest.mark.parametrize(
    ("onset_s", "peak_s", "kind", "marked"),
    [
        (655.0, 660.0, "variable", True),  # 15 s after the end
        (655.1, 660.0, "variable", False),
        (630.0, 640.0, "variable", True),  # begun before the fall was over
        (630.0, 639.0, "variable", False),  # its peak lies inside it
        (655.0, 660.0, "late", False),
        (655.0, 660.0, "prolonged", True),  # its fall was abrupt
    ],
)
def test_a_rise_within_15_s_of_an_abrupt_fall_is_an_overshoot(onset_s, peak_s, kind, marked):
    # NICHD 2008 lists overshoots among the features of variable decelerations
    fall = deceleration(600.0, drop=30.0, length_s=40.0, nadir_after_s=20.0, kind=kind)
    fall = replace(fall, judged_fall_s=20.0)
    (rise,) = mark_overshoots((Acceleration(onset_s, peak_s, onset_s + 40.0, 20.0),), (fall,), SETTINGS)
    assert rise.overshoot is marked


@pytest.mark.parametrize(("fall_s", "marked"), [(29.9, True), (30.0, False)])
def test_a_prolonged_fall_of_half_a_minute_is_gradual_and_no_rise_is_its_overshoot(fall_s, marked):
    # NICHD 2008: abrupt is under 30 s. The last of several falls before the rise decides.
    last = replace(deceleration(600.0, drop=30.0, length_s=130.0, nadir_after_s=20.0), judged_fall_s=fall_s)
    first = replace(last, onset_s=300.0, end_s=400.0, judged_fall_s=20.0)
    rises = tuple(Acceleration(onset, onset + 10.0, onset + 30.0, 20.0) for onset in (380.0, 405.0, 735.0))
    assert [rise.overshoot for rise in mark_overshoots(rises, (first, last), SETTINGS)] == [False, True, marked]


@pytest.mark.parametrize(
    ("bpm", "code"),
    [
        (49.75, Exclusion.OUT_OF_RANGE),
        (50.0, Exclusion.ACCEPTED),
        (220.0, Exclusion.ACCEPTED),
        (220.25, Exclusion.OUT_OF_RANGE),
    ],
)
def test_rates_from_50_to_220_are_in_range(bpm, code):
    fhr = bpm + np.where(np.arange(480) % 2 == 0, 0.0, 0.25 if bpm < 100 else -0.25)
    assert exclusions(fhr, None, 4.0, SETTINGS)[0] == code


@pytest.mark.parametrize(
    ("gap_bpm", "length", "left_out"), [(5.0, 40, 40), (5.25, 40, 0), (5.0, 39, 0), (-5.0, 40, 40)]
)
def test_ten_seconds_within_5_bpm_of_the_mother_are_ambiguous(gap_bpm, length, left_out):
    # Pinto 2015: |FHR - MHR| of 5 bpm or less
    fhr = 140 + (np.arange(960) % 2) * 0.25
    mhr = np.full(960, 80.0)
    mhr[400 : 400 + length] = fhr[400 : 400 + length] - gap_bpm
    found = exclusions(fhr, mhr, 4.0, SETTINGS)
    assert np.count_nonzero(found == Exclusion.MATERNAL_RATE) == left_out
    assert np.count_nonzero(found) == left_out


def test_the_small_tools_on_a_few_samples():
    assert true_runs(np.array([True, False, True, True])).tolist() == [[0, 1], [2, 4]]
    runs = np.array([[0, 2], [4, 6], [9, 10]])
    assert merge_runs(runs, 1).tolist() == runs.tolist()
    assert merge_runs(runs, 2).tolist() == [[0, 6], [9, 10]]
    assert merge_runs(runs, 3).tolist() == [[0, 10]]
    values = np.array([NAN, 1.0, NAN, NAN, 4.0, NAN])
    np.testing.assert_array_equal(bridge_gaps(values, 1), values)
    np.testing.assert_array_equal(bridge_gaps(values, 2), [NAN, 1.0, 2.0, 3.0, 4.0, NAN])
    np.testing.assert_array_equal(fill_nearest(values), [1.0, 1.0, 2.0, 3.0, 4.0, 4.0])
    assert moving_sum(np.array([1.0, 2.0, 4.0, 8.0]), 1).tolist() == [3.0, 7.0, 14.0, 12.0]
    mean, count = moving_mean(values, ~np.isnan(values), 1)
    np.testing.assert_array_equal(mean, [1.0, 1.0, 1.0, 4.0, 4.0, 4.0])
    assert count.tolist() == [1, 1, 1, 1, 1, 1]


def two_levels(up_bpm, *, share, visits, n_s=1200):
    """A quiet line at 130 bpm with so many visits to a second level, for this share of the time."""
    fhr, each = np.full(n_s, 130.0), int(n_s * share / visits)
    for k in range(visits):
        fhr[k * n_s // visits : k * n_s // visits + each] += up_bpm
    return [(c.level_bpm, c.other_bpm) for c in doubtful_baselines(fhr, np.full(n_s, 130.0), np.ones(n_s))]


@pytest.mark.parametrize(
    ("up_bpm", "share", "visits", "doubted"),
    [
        (20.0, 0.5, 4, True),
        (20.0, 0.5, 3, True),
        (20.0, 0.5, 2, False),  # one or two long ones are no second baseline
        (20.0, 0.3, 4, False),  # of levels above, more of the time is needed ...
        (-20.0, 0.3, 4, True),  # ... than of levels below
        (-20.0, 0.2, 4, False),
        (-20.0, 0.25, 4, True),  # a quarter of the time below, 35 hundredths above
        (20.0, 0.35, 4, True),
        (20.0, 0.34, 4, False),
        (12.0, 0.5, 4, True),
        (11.0, 0.5, 4, False),
        (32.0, 0.5, 4, True),
        (33.0, 0.5, 4, False),
    ],
)
def test_a_second_level_makes_a_baseline_doubtful(up_bpm, share, visits, doubted):
    found = two_levels(up_bpm, share=share, visits=visits)
    assert found == ([(130.0, 130.0 + up_bpm)] if doubted else [])


@pytest.mark.parametrize("shape", ["straight", "curved"])
@pytest.mark.parametrize("length_s", [20, 60])
@pytest.mark.parametrize("top_bpm", [15.0, 40.0])
def test_a_flank_without_noise_begins_and_arrives_where_it_was_drawn(shape, length_s, top_bpm):
    part = np.clip((np.arange(400) - 150) / length_s, 0.0, 1.0)
    drawn = top_bpm * (part if shape == "straight" else (1 - np.cos(np.pi * part)) / 2)
    one = np.array([1])
    flank = measure_flanks(drawn, 0.0, 160 * one, 300 * one, 0 * one, top_bpm * one, 0.0 * one)
    assert flank.foot_s[0] == pytest.approx(150.0, abs=1.0)
    assert flank.arrival_s[0] == pytest.approx(150.0 + length_s, abs=1.0)


def test_a_flank_is_timed_alike_beside_a_longer_event():
    """Also where one value a second does not reach the height of its farthest sample. By definition, no source."""
    drawn = 18.0 * np.clip((np.arange(900) - 150) / 10, 0.0, 1.0)
    start, extreme, none, top_bpm = np.array([152, 500]), np.array([160, 850]), np.zeros(2, int), np.array([20.0, 18.0])
    both = measure_flanks(drawn, 0.0, start, extreme, none, top_bpm, np.zeros(2))
    alone = measure_flanks(drawn, 0.0, start[:1], extreme[:1], none[:1], top_bpm[:1], np.zeros(1))
    assert both.arrival_s[0] == alone.arrival_s[0] <= 160.5
    assert both.foot_s[0] == alone.foot_s[0] == pytest.approx(150.0, abs=1.0)


@pytest.mark.parametrize(("noise_bpm", "whole"), [(0.49, True), (0.5, False)])
def test_under_half_a_bpm_there_is_no_noise_to_take_off_a_height(noise_bpm, whole):
    away = np.where((np.arange(600) >= 300) & (np.arange(600) < 340), -20.0, 0.0)
    course = Course(away, away, away, 0.0, np.full(600, noise_bpm), np.ones(600, dtype=bool))
    (height,) = _heights(course, -1, away, np.array([[300, 340]]))
    assert bool(height == 20.0) is whole
    assert 19.0 < height <= 20.0


@pytest.mark.parametrize(("rise_bpm", "found"), [(9.5, 1), (9.49, 0)])
def test_a_rise_of_nine_and_a_half_is_one_of_ten(rise_bpm, found):
    # NICHD 2008: before 32 weeks 10 bpm or more for 10 s; that a height is read in whole bpm is our choice
    high = np.where((np.arange(600) >= 300) & (np.arange(600) < 340), 140.0 + rise_bpm, 140.0)
    line, still = np.full(600, 140.0), np.zeros(600)
    course = course_of(high, line, still, SETTINGS.bridge_gap_s)
    assert len(find_accelerations(course, high, line, SETTINGS)) == found


def test_a_second_level_on_one_side_is_one_doubt_however_long_and_on_either_side_two():
    assert two_levels(20.0, share=0.5, visits=10, n_s=3000) == [(130.0, 150.0)]
    fhr = np.full(3600, 130.0)
    for k in range(6):
        fhr[200 * k : 200 * k + 100] += 20.0
        fhr[2400 + 200 * k : 2500 + 200 * k] -= 20.0
    found = doubtful_baselines(fhr, np.full(3600, 130.0), np.ones(3600))
    assert [c.other_bpm for c in found] == [150.0, 110.0]
    assert found[0].start_s == 0.0
    assert found[1].end_s == 3600.0


@pytest.mark.parametrize(("constant", "stuck"), [(480, 480), (482, 0)])
def test_a_rate_that_is_constant_for_most_of_the_time_is_drawn_and_for_half_of_it_stuck(constant, stuck):
    fhr = 140 + (np.arange(960) % 2) * 0.25
    fhr[200 : 200 + constant] = 145.0
    assert np.count_nonzero(exclusions(fhr, None, 4.0, SETTINGS) == Exclusion.STUCK) == stuck

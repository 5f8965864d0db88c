"""Where a sinusoidal run, a contraction and a change of level begin and end, on arrays whose answer is known.

NICHD 2008: 3 to 5 smooth cycles a minute that persist; an acceleration is 15 bpm for 15 s; a departure of 10 minutes is
a change of baseline. How much loss a run survives and how far a step is looked for are our choice.
"""

import numpy as np
import pytest

from audit.setting_types import changed
from audit.settings import load_settings
from audit.tracing.contractions import UterineActivity, find_contractions
from audit.tracing.level_changes import _best_cut, _departure
from audit.tracing.monitoring import _toco_until
from audit.tracing.runs import running_total, zero_unknown
from audit.tracing.sinusoidal import find_sinusoidal
from audit.tracing.types import Acceleration, Contraction

SETTINGS = load_settings().tracing


def sine(n_s=2400, per_min=4.0, width_bpm=10.0):
    return 140 + width_bpm / 2 * np.sin(2 * np.pi * per_min * np.arange(n_s) / 60)


def runs(fhr, accelerations=()):
    found = find_sinusoidal(fhr, np.full(fhr.size, 140.0), tuple(accelerations), SETTINGS)
    return [(run.start_s, run.end_s) for run in found]


@pytest.mark.parametrize(
    ("lost", "expected"),
    [
        ((1000, 1240), [(0, 2400)]),  # eight windows of two minutes in a row see too little
        ((1000, 1280), [(0, 1000), (1280, 2400)]),  # nine
        ((0, 240), [(240, 2400)]),
        ((2160, 2400), [(0, 2160)]),
        ((1000, 1012), [(0, 2400)]),
        ((120, 200), [(0, 2400)]),  # after the first window and before the last
        ((2200, 2280), [(0, 2400)]),
    ],
)
def test_a_run_reaches_across_eight_windows_without_signal_and_never_beyond_what_was_seen(lost, expected):
    fhr = sine()
    fhr[slice(*lost)] = np.nan
    assert runs(fhr) == expected


def test_a_loss_between_a_wave_and_none_belongs_to_neither():
    fhr = sine()
    fhr[1000:] = 140.0
    fhr[1000:1240] = np.nan
    assert runs(fhr) == [(0, 1000)]


@pytest.mark.parametrize(("n_s", "expected"), [(600, [(0, 600)]), (599, []), (120, []), (119, []), (0, [])])
def test_a_run_of_ten_minutes_is_listed_and_a_shorter_one_is_not(n_s, expected):
    assert runs(sine(n_s)) == expected


def test_a_run_has_its_own_rate_and_width_wherever_it_lies():
    fhr = sine(2400, per_min=5.0)
    fhr[:1080] = sine(1080, per_min=3.0, width_bpm=20.0)
    fhr[900:1320] = 140.0
    first, second = find_sinusoidal(fhr, np.full(2400, 130.0), (), SETTINGS)  # the line may lie beside the wave
    assert (first.cycles_per_min, second.cycles_per_min) == (3.0, 5.0)
    assert (first.amplitude_bpm, second.amplitude_bpm) == (pytest.approx(20, rel=0.02), pytest.approx(10, rel=0.02))
    lost = sine(680)
    lost[200:440] = np.nan  # more windows are lost than seen: they say nothing of its rate
    (run,) = find_sinusoidal(lost, np.full(680, 140.0), (), SETTINGS)
    assert (run.start_s, run.end_s, run.cycles_per_min) == (0, 680, 4.0)
    assert run.amplitude_bpm == pytest.approx(10, rel=0.02)


def test_a_wave_of_under_ten_minutes_late_in_a_tracing_is_none():
    fhr = np.full(2400, 140.0)
    fhr[1600:2000] = sine(400)
    assert runs(fhr) == []


@pytest.mark.parametrize(("gap_s", "expected"), [(10, [(0, 1200)]), (11, [])])
def test_losses_of_ten_seconds_are_drawn_across_and_longer_ones_are_lost(gap_s, expected):
    fhr = sine(1200)
    for start in range(20, 1200, 60):
        fhr[start : start + gap_s] = np.nan  # 22 s of each two minutes are more than a tenth
    assert runs(fhr) == expected


@pytest.mark.parametrize(("width_bpm", "found"), [(3.9, 0), (4.1, 1)])
@pytest.mark.parametrize(("beside", "alone"), [(0.48, True), (0.52, False)])
def test_a_wave_is_four_bpm_wide_and_holds_four_fifths_of_the_power(width_bpm, found, beside, alone):
    """Of two waves the second has the square of its share of the first's width: 0.5 leaves four fifths. Our choice."""
    other = sine(1200, 9.0, beside * width_bpm) - 140.0
    assert len(runs(sine(1200, 4.0, width_bpm) + other)) == (found if alone else 0)


@pytest.mark.parametrize(("n_s", "expected"), [(119, []), (120, [(0, 120)])])
def test_a_unit_may_ask_for_one_window_of_two_minutes(n_s, expected):
    brief = changed(SETTINGS, sinusoidal_shortest_s=120.0)
    found = find_sinusoidal(sine(n_s), np.full(n_s, 140.0), (), brief)
    assert [(run.start_s, run.end_s) for run in found] == expected


@pytest.mark.parametrize(
    ("height_bpm", "length_s", "expected"),
    [
        (15.0, 15.0, [(0, 1160), (1240, 2400)]),
        (14.9, 15.0, [(0, 2400)]),
        (15.0, 14.0, [(0, 2400)]),
    ],
)
def test_an_acceleration_of_15_by_15_breaks_a_run_and_a_smaller_one_does_not(height_bpm, length_s, expected):
    assert runs(sine(), [Acceleration(1190.0, 1195.0, 1190.0 + length_s, height_bpm)]) == expected


def test_a_run_goes_on_from_the_window_after_an_acceleration():
    rise = Acceleration(1200.0, 1205.0, 1215.0, 15.0)  # at the end of one window and the start of another
    assert runs(sine(), [rise]) == [(0, 1200), (1240, 2400)]
    brief = changed(SETTINGS, sinusoidal_shortest_s=120.0)
    at_once = Acceleration(0.0, 5.0, 15.0, 15.0)
    (run,) = find_sinusoidal(sine(600), np.full(600, 140.0), (at_once,), brief)
    assert run.start_s == 40


@pytest.mark.parametrize("per_min", [3.0, 4.0, 5.0])
@pytest.mark.parametrize("width_bpm", [5.0, 10.0, 25.0])
def test_rate_and_width_of_a_pure_wave_are_those_drawn(per_min, width_bpm):
    (run,) = find_sinusoidal(sine(1200, per_min, width_bpm), np.full(1200, 140.0), (), SETTINGS)
    assert run.cycles_per_min == per_min
    assert run.amplitude_bpm == pytest.approx(width_bpm, rel=0.02)


@pytest.mark.parametrize("per_min", [2.0, 2.25, 2.5, 2.75, 5.25, 5.5, 5.75, 6.0])
def test_a_wave_outside_three_to_five_a_minute_is_none(per_min):
    assert runs(sine(1200, per_min)) == []


@pytest.mark.parametrize("per_min", [3.0, 5.0])
def test_a_wave_at_the_limit_of_the_band_is_found_in_noise_and_drift(per_min):
    rng = np.random.default_rng(3)
    drift = np.cumsum(rng.normal(0, 0.05, 1200))
    assert runs(sine(1200, per_min, 12.0) + rng.normal(0, 1.0, 1200) + drift) == [(0, 1200)]


def bells(peaks, *, n_s=1800, half_s=40.0):
    t = np.arange(n_s)
    return 15 + sum(20 * (1 + np.cos(np.pi * np.clip((t - peak) / half_s, -1, 1))) for peak in peaks)


def test_a_contraction_cut_off_by_loss_begins_and_ends_with_what_was_seen():
    peaks = [100, 350, 600, 850, 1100, 1350, 1600]
    toco = bells(peaks)
    toco[400:575] = np.nan  # 25 s before the third, longer than what is bridged
    toco[626:800] = np.nan
    found = find_contractions(toco, SETTINGS).contractions
    assert [c.peak_s for c in found] == pytest.approx(peaks, abs=3)
    assert (found[2].onset_s, found[2].end_s) == (575, 625)
    for k in (0, 1, 3, 4, 5, 6):  # those before the first loss and after the last are whole
        assert (found[k].onset_s, found[k].end_s) == pytest.approx((peaks[k] - 40, peaks[k] + 40), abs=8)


@pytest.mark.parametrize(
    ("steps_s", "cut_s"), [(605, 605), (490, 490), (715, 715), (480, 480), (400, 480), (720, 720), (800, 720)]
)
def test_a_jump_is_moved_to_its_second_within_two_minutes_of_its_minute(steps_s, cut_s):
    joined = np.where(np.arange(1800) < steps_s, 140.0, 120.0)
    assert _best_cut(600, 140.0, 120.0, joined) == cut_s


@pytest.mark.parametrize(
    ("last_at_level", "onset"),
    [(949, 950), (1000, 1001), (700, 701), (699, 700), (600, 700)],  # the middle itself; five minutes before it
)
def test_a_change_begins_after_the_last_second_at_the_former_level(last_at_level, onset):
    joined = np.full(1800, 120.0)
    joined[: last_at_level + 1] = 135.0  # within the edge of an event: 5 bpm
    assert _departure(joined, 1000, 140.0, -1.0, SETTINGS) == onset
    joined[: last_at_level + 1] = 134.0
    assert _departure(joined, 1000, 140.0, -1.0, SETTINGS) == 700
    assert _departure(np.full(1800, 120.0), 200, 140.0, -1.0, SETTINGS) == 0


def test_sums_of_what_is_unknown_and_of_what_is_true():
    assert zero_unknown(np.array([np.nan, 1.0, np.nan])).tolist() == [0.0, 1.0, 0.0]
    assert running_total(np.array([1.0, 2.0, 4.0])).tolist() == [0.0, 1.0, 3.0, 7.0]
    assert running_total(np.array([True, False, True])).tolist() == [0, 1, 1, 2]


@pytest.mark.parametrize(
    ("known_s", "range_units", "ends_s", "until_s"),
    [
        (31, 6.0, 60.0, 720),  # more than half of its minute was seen, and it moved by 15 % of a contraction
        (30, 6.0, 60.0, 60),
        (60, 5.9, 60.0, 60),
        (60, 6.0, 719.0, 720),
        (60, 6.0, 721.0, 721),
    ],
)
def test_a_toco_shows_a_patient_for_as_long_as_it_moves(known_s, range_units, ends_s, until_s):
    # our choice
    toco = np.full(800, 10.0)
    toco[660:720:2] += range_units
    toco[660 + known_s : 720] = np.nan
    uterus = UterineActivity((Contraction(ends_s - 60.0, ends_s - 30.0, ends_s, 40.0, 10.0),), np.ones(800, dtype=bool))
    assert _toco_until(toco, uterus, 600) == until_s
    assert _toco_until(toco[:659], uterus, 600) == int(ends_s)
    assert _toco_until(toco, UterineActivity((), np.ones(800, dtype=bool)), 600) == 0

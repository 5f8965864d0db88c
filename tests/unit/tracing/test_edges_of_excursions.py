"""How candidates of events are measured, divided and judged, on shapes laid out by hand. The limits are our choice."""

import numpy as np
import pytest

from audit.settings import load_settings
from audit.tracing.decelerations import _range_inside, _seen_depth, describe_falls
from audit.tracing.excursions import (
    Course,
    Excursions,
    _divide,
    _edges,
    _heights,
    _left_over,
    course_of,
    find_excursions,
)
from audit.tracing.scraps import shows_itself
from audit.tracing.types import Contraction
from tests.accuracy.known_truth import draw_shape

SETTINGS = load_settings().tracing


def course(away, noise_bpm=0.0):
    return Course(away, away, away, 0.0, np.full(away.size, noise_bpm), np.isfinite(away))


@pytest.mark.parametrize(
    ("length_s", "noise_bpm", "reach_s"),
    [
        (20, 2.0, 1),  # a tenth of the length, but 3 s at least
        (39, 2.0, 1),
        (40, 2.0, 2),
        (69, 2.0, 2),
        (70, 3.0, 4),
        (119, 2.0, 4),
        (120, 2.0, 7),
        (39, 1.0, 0),  # as much less as there is less noise than 2 bpm
        (40, 1.0, 1),
        (80, 0.9, 1),
        (200, 1.55, 4),  # and 15 s at most
        (200, 1.61, 7),
        (200, 0.49, None),
        (200, 0.5, 1),
    ],
)
@pytest.mark.parametrize("side", [-1, 1])
def test_a_height_is_a_mean_over_a_stretch_that_grows_with_length_and_noise(length_s, noise_bpm, reach_s, side):
    """A mean over 2 r + 1 seconds at the top of a roof of 1 bpm a second lies r (r + 1) / (2 r + 1) under it."""
    away = side * (40.0 - np.abs(np.arange(1200.0) - 600))
    runs = np.array([[600 - length_s // 2, 600 - length_s // 2 + length_s]])
    (found,) = _heights(course(away, noise_bpm), side, np.full(1200, side * 50.0), runs)
    whole = 50.0 if reach_s is None else 40.0 - reach_s * (reach_s + 1) / (2 * reach_s + 1) - 0.6 * noise_bpm
    assert found == pytest.approx(whole)
    assert _heights(course(away, noise_bpm), side, away, runs[:0]).size == 0
    # what a cut at its edge leaves of a candidate, also at the tracing's end, has no height and takes none of another's
    odd = np.array([[1, 1], runs[0], [1200, 1200]])
    assert _heights(course(np.append(away, 0.0), noise_bpm), side, np.full(1201, side * 50.0), odd).tolist() == [
        -np.inf,
        pytest.approx(whole),
        -np.inf,
    ]


def roofs(*tops, valley_bpm=0.0, valley_s=0):
    """Two heights of 30 s each with a valley between them, in a candidate that lasts from 100 s on."""
    left, right = (np.full(30, float(top)) - 0.01 * np.abs(np.arange(30) - 15) for top in tops)
    return np.concatenate((np.zeros(100), left, np.full(valley_s, valley_bpm), right, np.zeros(100)))


@pytest.mark.parametrize(
    ("tops", "valley_bpm", "valley_s", "divided"),
    [
        ((30, 30), 11.9, 10, True),  # less than 4 tenths of the lesser height for 10 s
        ((30, 30), 12.0, 10, False),
        ((30, 30), 11.9, 9, False),
        ((40, 30), 11.9, 10, True),
        ((30, 40), 12.1, 10, False),
        ((40, 30), 12.1, 10, False),
    ],
)
def test_a_candidate_is_divided_where_the_rate_nearly_recovered(tops, valley_bpm, valley_s, divided):
    wide = roofs(*tops, valley_bpm=valley_bpm, valley_s=valley_s)
    runs = np.array([[100, 160 + valley_s]])
    parts = _divide(runs, wide, 7.5, 0.4, 10.0)
    assert parts.tolist() == ([[100, 130], [130, 160 + valley_s]] if divided else runs.tolist())
    # 5 s under four tenths of the lesser height, 13 s under four tenths of the greater
    steps = np.concatenate((np.full(4, 15.0), np.full(5, 11.9), np.full(4, 15.0)))
    uneven = np.concatenate((roofs(40, 30)[:130], steps, roofs(40, 30)[130:]))
    assert _divide(np.array([[100, 173]]), uneven, 7.5, 0.4, 10.0).tolist() == [[100, 173]]
    assert _divide(runs[:0], wide, 7.5, 0.4, 10.0).size == 0
    apart = np.array([[100, 131], [129 + valley_s, 160 + valley_s]])  # two candidates are two already
    assert _divide(apart, wide, 7.5, 0.4, 10.0).tolist() == apart.tolist()


@pytest.mark.parametrize(
    ("onset_s", "end_s", "cuts"),
    [(115, 200, [115]), (114, 200, []), (100, 185, [185]), (100, 186, []), (120, 180, [120, 180])],
)
def test_what_an_event_left_of_its_candidate_is_one_of_its_own(onset_s, end_s, cuts):
    """From as long as an event lasts, 15 s, and eight tenths of its height on."""
    edges = tuple(np.array([float(value)]) for value in (onset_s, 150, 150, end_s, 20))
    for height_bpm, found in ((12.0, cuts), (11.9, [])):
        wide = np.where((np.arange(300) >= 100) & (np.arange(300) < 200), height_bpm, 0.0)
        assert _left_over(edges, np.array([[100, 200]]), wide, 15.0, 15.0).tolist() == found
    assert _left_over(tuple(part[:0] for part in edges), np.empty((0, 2), int), wide, 15.0, 15.0).size == 0


def dips(*spans, depth_bpm=20.0):
    fhr = np.full(900, 140.0)
    for start, stop in spans:
        fhr[start:stop] -= depth_bpm
    made = course_of(fhr, np.full(900, 140.0), np.zeros(900), 60.0)
    found = find_excursions(
        made, fhr - 140.0, side=-1, height_bpm=15.0, duration_s=15.0, edge_bpm=5.0, merge_s=10.0, split_fraction=0.4,
        seen_fraction=0.5, pulses=True,
    )  # fmt: skip
    return list(zip(found.onset_s.tolist(), found.end_s.tolist(), strict=True))


@pytest.mark.parametrize(("length_s", "count"), [(17, 1), (12, 0)])
def test_a_fall_counts_from_fifteen_seconds_on(length_s, count):
    # NICHD 2008; its edges are known to a second or two
    assert len(dips((400, 400 + length_s))) == count


def test_falls_apart_are_two_and_a_short_return_divides_none():
    assert len(dips((300, 340), (400, 440))) == 2
    assert len(dips((300, 340), (344, 384))) == 1


@pytest.mark.parametrize(
    ("seen", "shown"),
    [
        ([(112, 132)], True),  # half of it
        ([(112, 131)], False),
        ([(92, 110)], True),  # the whole fall in one piece
        ([(92, 103), (107, 110)], False),  # a loss of 4 s breaks it, one of 3 s does not
        ([(92, 103), (106, 110)], True),
        ([(133, 148)], True),  # the return
        ([(112, 128)], False),  # the bottom alone
    ],
)
def test_an_event_was_seen_for_half_of_its_time_or_falls_or_returns_in_one_piece(seen, shown):
    # a fall and a return of 10 s each, from below 4 tenths of the height to above 6 tenths
    away = np.interp(np.arange(300.0), (100, 110, 130, 140), (0.0, 30.0, 30.0, 0.0))
    known = np.zeros(300, dtype=bool)
    for start, stop in seen:
        known[start:stop] = True
    told = np.where(known, away, np.nan), np.array([100.0]), np.array([140.0]), np.array([30.0]), 0.5
    assert shows_itself(*told).tolist() == [shown]


@pytest.mark.parametrize(("seconds", "range_bpm"), [(29, None), (30, 26.0), (40, 36.0), (101, 90.0)])
def test_variability_inside_an_event_is_the_range_of_nine_tenths_of_half_a_minute_seen(seconds, range_bpm):
    """Of 0, 1, 2, ... the values at 5 and 95 hundredths of the way, whole places downwards; lost ones take no part."""
    rest = np.concatenate((np.arange(float(seconds))[::-1], np.full(40, np.nan)))
    assert _range_inside(rest) == (pytest.approx(range_bpm) if range_bpm else pytest.approx(np.nan, nan_ok=True))


@pytest.mark.parametrize(
    ("depth_bpm", "seen_bpm", "found"), [(30.0, 20.0, 20.0), (15.0, 20.0, 15.0), (30.0, -5.0, 30.0), (30.0, None, 30.0)]
)
def test_of_a_fall_with_losses_no_more_than_was_seen_is_deep(depth_bpm, seen_bpm, found):
    away = np.full(100, np.nan)
    if seen_bpm is not None:
        away[20:40] = -seen_bpm
    away[80:] = -50.0  # of another fall
    assert _seen_depth(depth_bpm, course(away), 20, 60) == found


def test_a_fall_beside_a_loss_is_open_at_that_end():
    """Two minutes at 140 bpm with a fall of a minute, its onset and end laid down; 4 s lost at either of them."""
    line, none = np.full(240, 140.0), np.zeros(240, dtype=bool)
    fall = Excursions(*(np.array([value]) for value in (100.0, 120.0, 130.0, 160.0, 30.0)))
    for lost, is_open in ((slice(0), False), (slice(97, 101), True), (slice(98, 101), False), (slice(160, 163), True)):
        away = np.where((np.arange(240) >= 100) & (np.arange(240) < 160), -30.0, 0.0)
        away[lost] = np.nan
        (event,) = describe_falls(fall, course(away), line, (), none, SETTINGS)
        assert event.open_end is is_open
        assert (event.unseen_duration_s, event.at_least) == (1.0 * (lost.start in (97, 98)), False)
    early = Excursions(*(np.array([value]) for value in (2.0, 20.0, 30.0, 60.0, 30.0)))
    for lost, is_open in ((slice(1, 3), False), (slice(0, 3), True)):
        away = np.where((np.arange(240) >= 2) & (np.arange(240) < 60), -30.0, 0.0)
        away[lost] = np.nan
        assert describe_falls(early, course(away), line, (), none, SETTINGS)[0].open_end is is_open
    whole = Excursions(*(np.array([value]) for value in (0.0, 120.0, 130.0, 160.0, 30.0)))
    assert describe_falls(whole, course(np.full(240, -30.0)), line, (), none, SETTINGS)[0].open_end


@pytest.mark.parametrize(("noise_bpm", "sigma_s"), [(0.99, 0.0), (1.0, 1.5)])
def test_edges_are_smoothed_from_a_noise_of_one_bpm_on(noise_bpm, sigma_s):
    flat = np.full(100, 140.0)
    assert course_of(flat, flat, np.full(100, noise_bpm), 60.0).fine_sigma_s == sigma_s


def drawn_rises(seed, noise_bpm):
    """An hour of rises of all sizes in noise, with gaps, bpm from the baseline."""
    rng = np.random.default_rng(seed)
    bell = np.hanning(9) / np.sqrt(np.sum(np.hanning(9) ** 2))
    away, at = noise_bpm * np.convolve(rng.normal(0, 1, 3608), bell, "valid"), 100
    while at < 3200:
        shape = draw_shape(*rng.uniform((3, 0, 3), 40), *rng.choice(["line", "cosine"], 2))[2::4] * rng.uniform(8, 45)
        away[at : at + shape.size] += shape
        at += int(shape.size + rng.uniform(-15, 100))
    for start, length in zip(rng.integers(0, 3500, 12), rng.integers(1, 30, 12), strict=True):
        away[start : start + length] = np.nan
    return away


def rises_of(away, noise_bpm, side=1):
    line = np.full(away.size, 140.0)
    made = course_of(line + side * away, line, np.full(away.size, noise_bpm), 60.0)
    found = find_excursions(
        made, side * away, side=side, height_bpm=10.0, duration_s=10.0, edge_bpm=5.0, merge_s=0.0, split_fraction=0.4,
        seen_fraction=0.5, pulses=False,
    )  # fmt: skip
    return np.array([found.onset_s, found.extreme_s, found.leaving_s, found.end_s, found.height_bpm])


@pytest.mark.parametrize("noise_bpm", [0.2, 1.5])
def test_a_tracing_read_backwards_or_upside_down_has_the_same_events_backwards_and_upside_down(noise_bpm):
    """No direction of time or of the rate is preferred: edges and heights are mirrored, to the second's rounding."""
    found, mirrored = [], []
    for seed in range(2):
        away = drawn_rises(seed, noise_bpm)
        forwards, backwards = rises_of(away, noise_bpm), rises_of(away[::-1], noise_bpm)
        np.testing.assert_allclose(rises_of(away, noise_bpm, side=-1), forwards, rtol=1e-9)
        assert forwards.shape == backwards.shape
        found.append(forwards)
        mirrored.append(np.vstack((away.size - backwards[[3, 2, 1, 0]], backwards[4]))[:, ::-1])
    apart = np.abs(np.hstack(found) - np.hstack(mirrored))
    assert apart.shape[1] > 40
    assert apart.max() <= 1.0
    assert np.mean(apart > 1e-9, axis=1).max() <= 0.1  # an edge half way between two seconds is rounded upwards


@pytest.mark.parametrize(("onset_s", "unusable", "usable"), [(10, slice(1, 11), True), (10, slice(1, 12), False),
                                                              (100, slice(70, 84), True), (100, slice(70, 85), False),
                                                              (100, slice(0, 70), True)])  # fmt: skip
def test_a_fall_has_a_usable_toco_for_eight_tenths_of_itself_and_the_half_minute_before(onset_s, unusable, usable):
    """Our choice: of 50 s before the tracing's second 50 it is 40 s, of 70 s 56 s."""
    fall = Excursions(*(np.array([onset_s + value]) for value in (0.0, 10.0, 20.0, 40.0)), np.array([30.0]))
    toco = np.ones(240, dtype=bool)
    toco[unusable] = False
    away = np.where((np.arange(240) >= onset_s) & (np.arange(240) < onset_s + 40), -30.0, 0.0)
    assert describe_falls(fall, course(away), np.full(240, 140.0), (), toco, SETTINGS)[0].toco_usable is usable


def described(length_s=60, lost_s=0, *contractions):
    """A fall of 30 bpm from second 100 on with its nadir at 140, with so many seconds lost in it."""
    fall = Excursions(*(np.array([value]) for value in (100.0, 140.0, 145.0, 100.0 + length_s, 40.0)))
    away = np.where((np.arange(900) >= 100) & (np.arange(900) < 100 + length_s), -30.0, 0.0)
    away[110 : 110 + lost_s] = np.nan
    usable = np.ones(900, dtype=bool)
    return describe_falls(fall, course(away), np.full(900, 140.0), contractions, usable, SETTINGS)


@pytest.mark.parametrize(("length_s", "listed"), [(599, 1), (600, 0)])
def test_ten_minutes_below_are_a_change_of_the_baseline_and_no_fall(length_s, listed):
    assert len(described(length_s)) == listed  # NICHD 2008


@pytest.mark.parametrize("peak_s", [40.0, 90.0, 140.0, 170.0])
def test_a_fall_is_described_with_its_contraction(peak_s):
    (fall,) = described(60, 0, Contraction(peak_s - 30.0, peak_s, peak_s + 30.0, 40.0))
    assert (fall.contraction_peak_s, fall.lag_s, fall.kind_certain) == (peak_s, 140.0 - peak_s, True)


@pytest.mark.parametrize(("lost_s", "at_least", "depth_bpm"), [(2, False, 40.0), (3, True, 30.0)])
def test_three_lost_seconds_make_a_depth_one_of_at_least_what_was_seen(lost_s, at_least, depth_bpm):
    (fall,) = described(60, lost_s)
    assert (fall.at_least, fall.depth_bpm, fall.unseen_duration_s) == (at_least, depth_bpm, lost_s)


@pytest.mark.parametrize(("length_s", "fitted"), [(100, True), (300, False)])
def test_no_pulse_is_fitted_to_what_lasts_longer_than_four_minutes(length_s, fitted):
    # our choice: the longest contraction of the settings; a longer fall is timed by its flanks, however noisy
    t = np.arange(1200)
    away = 40.0 * ((t >= 400) & (t < 400 + length_s)) + np.random.default_rng(2).normal(0, 3, t.size)
    bounds, noise = np.array([[380, 400, 400 + length_s, 420 + length_s]]), np.full(t.size, 6.0)
    with_pulses, without = (_edges(away, away, 1.0, bounds, np.array([40.0]), noise, each) for each in (True, False))
    assert bool(np.any(with_pulses != without)) is fitted

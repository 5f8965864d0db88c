"""Contractions on drawn toco channels."""

import numpy as np
import pytest

from audit.setting_types import changed
from audit.settings import load_settings
from audit.tracing.belt import _held, belt_slips
from audit.tracing.contractions import (
    _feet,
    _least_amplitude,
    _present,
    _tone_and_spread,
    _usable,
    find_contractions,
)
from audit.tracing.types import Contraction

SETTINGS = load_settings().tracing


def train(peaks, *, amplitude=40.0, half_s=40.0, tone=15.0, n=3600, noise=0.5, seed=0):
    t = np.arange(n) + 0.5
    toco = tone + np.random.default_rng(seed).standard_normal(n) * noise
    for peak in peaks:
        toco += amplitude / 2 * (1 + np.cos(np.pi * np.clip((t - peak) / half_s, -1, 1)))
    return toco


def peaks_of(toco):
    return [contraction.peak_s for contraction in find_contractions(toco, SETTINGS).contractions]


@pytest.mark.parametrize("amplitude", [15, 40, 100])
@pytest.mark.parametrize("half_s", [17, 30, 60])
@pytest.mark.parametrize("tone", [1, 30, 60])
def test_every_size_length_and_tone_is_found(amplitude, half_s, tone):
    true = np.arange(150, 3500, 200)
    found = peaks_of(train(true, amplitude=amplitude, half_s=half_s, tone=tone))
    assert len(found) == len(true)
    np.testing.assert_allclose(found, true, atol=8)


def test_contractions_every_75_s_stay_apart():
    true = np.arange(100, 3500, 75)
    np.testing.assert_allclose(peaks_of(train(true, half_s=30)), true, atol=5)


def test_pushes_of_the_second_stage_are_one_contraction():
    t = np.arange(3600) + 0.5
    true = np.arange(150, 3500, 160)
    toco = train(true, half_s=38)
    pushes = sum(np.exp(-(((t - (peak + k * 12)) / 3) ** 2)) for peak in true for k in (-1, 0, 1))
    np.testing.assert_allclose(peaks_of(np.minimum(toco + 35 * pushes, 100)), true, atol=15)


def test_a_clipped_top_is_one_contraction():
    true = np.arange(150, 3500, 240)
    assert len(peaks_of(np.minimum(train(true, amplitude=150), 100))) == len(true)


@pytest.mark.parametrize(
    "toco",
    [np.zeros(3600), np.full(3600, np.nan), 12 + np.random.default_rng(1).standard_normal(3600)],
    ids=["off", "absent", "noise"],
)
def test_a_channel_without_contractions_is_not_usable_rather_than_quiet(toco):
    found = find_contractions(toco, SETTINGS)
    assert found.contractions == ()
    assert not found.usable_1hz.any()


def test_what_was_not_recorded_is_not_usable():
    toco = train(np.arange(150, 3500, 200))
    toco[1200:2400] = np.nan
    found = find_contractions(toco, SETTINGS)
    assert not found.usable_1hz[1200:2400].any()
    assert found.usable_1hz[300:900].all()
    assert all(not 1200 <= contraction.peak_s < 2400 for contraction in found.contractions)


def test_the_input_is_not_modified():
    toco = train([500, 900])
    kept = toco.copy()
    find_contractions(toco, SETTINGS)
    np.testing.assert_array_equal(toco, kept)


@pytest.mark.parametrize("gain", [0.25, 0.5, 2, 4])
@pytest.mark.parametrize("offset", [-100, 0, 60])
def test_toco_units_are_arbitrary(gain, offset):
    # External toco says nothing of strength (FIGO 2015): another gain or zero is the same recording.
    true = np.arange(150, 3500, 200)
    toco = train(true, amplitude=25, noise=1.0)
    stored = np.round((gain * toco + offset) * 2) / 2
    found, before = peaks_of(stored), peaks_of(np.round(toco * 2) / 2)
    assert len(found) == len(true)
    np.testing.assert_allclose(found, before, atol=4)


@pytest.mark.parametrize("gain", [0.25, 1, 4])
@pytest.mark.parametrize(("every_s", "half_s"), [(75, 45), (85, 52), (100, 60)])
def test_contractions_that_merge_are_counted_each(gain, every_s, half_s):
    # More than 5 in 10 minutes is tachysystole (NICHD 2008), also where the toco never comes back to rest.
    true = np.arange(100, 3500, every_s)
    found = peaks_of(gain * train(true, half_s=half_s))
    np.testing.assert_allclose(found, true, atol=6)


@pytest.mark.parametrize("gain", [0.25, 1, 4])
def test_coupled_contractions_are_two(gain):
    true = np.sort(np.concatenate((np.arange(200, 3400, 280), np.arange(258, 3460, 280))))
    found = peaks_of(gain * train(true, half_s=33))
    np.testing.assert_allclose(found, true, atol=6)


@pytest.mark.parametrize("gain", [0.25, 1, 4])
def test_waves_of_a_resting_toco_are_no_contractions_at_any_gain(gain):
    rng = np.random.default_rng(4)
    waves = np.convolve(rng.standard_normal(3900), np.hanning(60), mode="valid")[:3600]
    toco = 20 + 1.5 * waves / waves.std() + rng.standard_normal(3600) * 1.5
    assert peaks_of(gain * toco) == []


@pytest.mark.parametrize(("length_s", "flat"), [(300, True), (299, False)])
def test_five_minutes_on_one_value_are_no_toco_and_less_is_rest(length_s, flat):
    toco = 12 + (np.arange(1800) % 2) * 0.5
    toco[700 : 700 + length_s] = 30.0
    present = np.ones(1800, dtype=bool)
    present[700 : 700 + length_s] = not flat
    np.testing.assert_array_equal(_present(toco, SETTINGS), present)


@pytest.mark.parametrize(("seen_s", "usable"), [(289, (808, 1001)), (288, (0, 0))])
def test_a_toco_is_usable_where_six_tenths_of_the_four_minutes_on_either_side_were_seen(seen_s, usable):
    # Counted by hand: of 481 s six tenths are 289; the seconds 808 to 1000 have all of 760 to 1048 within 240 s.
    known = np.zeros(1800, dtype=bool)
    known[760 : 760 + seen_s] = True
    expected = np.zeros(1800, dtype=bool)
    expected[slice(*usable)] = True
    np.testing.assert_array_equal(_usable(known, (Contraction(870.0, 900.0, 930.0, 40.0, 10.0),), SETTINGS), expected)


def resting(n):
    rng = np.random.default_rng(4)
    waves = np.convolve(rng.standard_normal(n + 300), np.hanning(60), mode="valid")[:n]
    return 60 + 1.5 * waves / waves.std() + rng.standard_normal(n) * 1.5


@pytest.mark.parametrize("over_s", [1, 30])
@pytest.mark.parametrize("moved_by", [(-20.0,), (20.0,), (40.0,), (15.0, -30.0, 20.0)])
def test_waves_of_a_resting_toco_stay_waves_when_the_belt_slips(moved_by, over_s):
    # The zero of an external toco is arbitrary (FIGO 2015): a change of it is no contraction.
    toco = resting(3600)
    for k, by in enumerate(moved_by):
        toco += np.interp(np.arange(3600), (800 * (k + 1), 800 * (k + 1) + over_s), (0.0, by))
    assert peaks_of(toco) == []


def test_contractions_are_read_as_recorded_when_the_belt_slips():
    true = np.arange(150, 3500, 200)
    found = find_contractions(train(true) + np.where(np.arange(3600) > 1650, 60, 0), SETTINGS)
    np.testing.assert_allclose([c.peak_s for c in found.contractions], true, atol=5)


def test_a_toco_read_backwards_has_the_same_contractions_backwards():
    toco = train((400, 1100, 1700, 2600), half_s=35)
    forwards, backwards = (find_contractions(channel, SETTINGS).contractions for channel in (toco, toco[::-1]))
    mirrored = [(3599 - c.end_s, 3599 - c.peak_s, 3599 - c.onset_s) for c in reversed(backwards)]
    assert [(c.onset_s, c.peak_s, c.end_s) for c in forwards] == mirrored
    assert len(forwards) == 4


def test_a_gap_in_the_toco_is_held_from_either_side():
    known = np.array([False, False, True, True, False, False, False, False, True, False])
    held = _held(np.array([9.0, 9.0, 1.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 9.0]), known)
    assert held.tolist() == [9.0, 9.0, 1.0, 1.0, 1.0, 1.0, 6.0, 6.0, 6.0, 9.0]  # ends stay as they are


@pytest.mark.parametrize("takes_s", [1, 20])
def test_what_a_slip_of_the_belt_added_is_known(takes_s):
    """The truth is what was drawn."""
    toco = np.interp(np.arange(3600.0), (1800, 1800 + takes_s), (10.0, 30.0))
    added, slipping = belt_slips(toco, np.ones(3600, dtype=bool))
    assert slipping[1790:1830].any()
    assert added[:1760].tolist() == [0.0] * 1760
    assert added[-1] == pytest.approx(20.0)


@pytest.mark.parametrize(("seconds", "count"), [(24, 0), (25, 1)])
def test_so_few_seconds_of_toco_as_no_contraction_lasts_show_none_across_what_was_lost(seconds, count):
    """A contraction lasts 25 s or more, our choice: of one drawn over two minutes every fifth second was seen."""
    toco = np.full(600, np.nan)
    toco[200 + 5 * np.arange(seconds)] = 10 + 40 * np.sin(np.pi * np.arange(seconds) / (seconds - 1))
    assert len(find_contractions(toco, SETTINGS).contractions) == count


@pytest.mark.parametrize(
    ("range_units", "top", "waves"),
    [
        (8 * 1.4826, 19.9, False),  # a range of eight times the noise is clear of it
        (8 * 1.4826 - 0.01, 19.9, True),
        (8 * 1.4826 - 0.01, 20.0, False),  # twice as far up from the middle as down shows contractions
    ],
)
def test_a_range_that_hardly_stands_out_of_the_noise_and_moves_both_ways_is_waves(range_units, top, waves):
    """Of 101 values that of each hundredth is one of them: the 5th is 10 below the middle, the 95th the top.

    The noise is 1.4826 times its median size, the standard deviation of normal noise (Hampel 1974). Limits: our choice.
    """
    above = np.repeat([-10.0, 0.0, 10.0, top, 90.0], [6, 45, 44, 1, 5])
    lost, known = np.full(300, 500.0), np.arange(401) < 101
    told = np.concatenate((np.ones(101), lost)), np.concatenate((above, lost))
    spread = np.concatenate((np.full(101, range_units), lost))
    least = _least_amplitude(*told, spread, known, SETTINGS)
    assert np.isinf(least).all() == waves
    if not waves:
        assert least[:101] == pytest.approx(max(2 * 1.4826, range_units / 4))


@pytest.mark.parametrize(
    ("noise", "usual", "here", "least"),
    [
        (0.0, 4.0, 3.9, 1.0),  # two steps of a recorder
        (0.0, 50.0, 4.0, 10.0),  # a fifth of the usual range
        (10.0, 200.0, 0.0, 40.0),
        (10.0, 140.0, 0.0, 29.652),  # two standard deviations of the noise
        (0.0, 50.0, 80.0, 20.0),  # a quarter of the range near by
    ],
)
def test_a_contraction_is_as_high_as_the_range_and_the_noise_ask_for(noise, usual, here, least):
    """Our choice; the usual range is that of the upper quarter of what was seen."""
    spread = np.repeat([usual, here], [76, 25]) if here < usual else np.repeat([0.0, usual, here], [60, 21, 20])
    found = _least_amplitude(np.full(101, -noise), np.zeros(101), spread, np.ones(101, dtype=bool), SETTINGS)
    assert found[-1] == pytest.approx(least)


@pytest.mark.parametrize("window_s", [240.0, 500.0])
def test_the_local_range_is_that_of_the_tenth_to_the_ninetieth_percentile(window_s):
    """Percentiles as NumPy's `lower` ones; at the middle of each block of 10 s."""
    blocks, half = np.random.default_rng(1).normal(20, 5, 160), int(window_s / 10)
    _, spread = _tone_and_spread(np.repeat(blocks, 10), changed(SETTINGS, toco_window_s=window_s))
    for k in (60, 80, 99):
        low, high = np.percentile(blocks[k - half : k + half + 1], (10, 90), method="lower")
        assert spread[5 + 10 * k] == pytest.approx(high - low)


def test_a_contraction_begins_at_its_last_low_point_where_the_steep_part_points_before_it():
    """By hand: the steep part, 10 to 30 units in 40 s, points to 20 s before it; 2 % of 40 were left 5 s before it."""
    above = np.interp(np.arange(600), (0, 235, 240, 280, 300, 340, 599), (0.5, 0.5, 10.0, 30.0, 40.0, 0.0, 0.0))
    (begun,), _ = _feet(above, np.array([300]), np.array([100]), np.array([500]), 0.02)
    assert begun == pytest.approx(235.0, abs=0.5)

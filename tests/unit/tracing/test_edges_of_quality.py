"""Both sides of the limits by which samples are left out, on rates laid out by hand. The limits are our choice."""

import numpy as np
import pytest

from audit.settings import load_settings
from audit.tracing.quality import exclusions, mean_per_second, per_second
from audit.tracing.scraps import scraps_of
from audit.tracing.types import Exclusion

SETTINGS = load_settings().tracing


def left_out(*parts, code=None):
    """Samples at 4 Hz that are left out, of (bpm, seconds) in a row; None for bpm = not seen.

    What is constant for most of the time is a drawn rate, not a stuck one.
    """
    fhr = np.concatenate([np.full(round(4 * s), np.nan if bpm is None else bpm) for bpm, s in parts])
    found = exclusions(fhr, None, 4.0, SETTINGS)
    named = (Exclusion.ACCEPTED, Exclusion.NO_SIGNAL) if code is None else ()
    return np.count_nonzero(~np.isin(found, named) if code is None else found == code)


@pytest.mark.parametrize(
    ("parts", "spike"),
    [
        ([(140, 60), (170, 10), (140, 60)], 40),  # up to 10 s between flanks that agree
        ([(140, 60), (170, 10.25), (140, 60)], 0),
        ([(140, 60), (110, 5), (140, 60)], 20),
        ([(140, 60), (165, 5), (140, 60)], 0),  # a jump is more than 25 bpm
        ([(140, 60), (165.5, 5), (140, 60)], 20),
        ([(140, 60), (170, 5), (125, 60)], 20),  # flanks agree within 15 bpm
        ([(140, 60), (170, 5), (124.5, 60)], 0),
        ([(140, 60), (170, 5), (200, 60)], 0),  # steps in one direction
        ([(170, 5), (140, 60)], 0),  # one flank is none
        ([(140, 60), (170, 5)], 0),
        ([(140, 60), (170, 5), (None, 29.75), (140, 60)], 20),  # a flank that is seen within half a minute
        ([(140, 60), (170, 5), (None, 30), (140, 60)], 0),
        ([(140, 60), (None, 29.75), (170, 5), (140, 60)], 20),
        ([(140, 60), (None, 30), (170, 5), (140, 60)], 0),
    ],
)
def test_a_spike_stands_between_flanks_that_agree(parts, spike):
    assert left_out(*parts, code=Exclusion.SPIKE) == spike
    assert left_out(*parts[::-1], code=Exclusion.SPIKE) == spike


@pytest.mark.parametrize(
    ("parts", "code", "count"),
    [
        ([(140, 200), (70, 100), (140, 200)], Exclusion.HALVED, 400),
        ([(140, 400), (70, 300), (140, 400)], Exclusion.HALVED, 1200),  # up to five minutes
        ([(140, 400), (70, 300.25), (140, 400)], Exclusion.HALVED, 0),
        ([(140, 200), (76, 100), (140, 200)], Exclusion.HALVED, 400),  # twice the rate within 12 bpm of the flanks
        ([(140, 200), (76.5, 100), (140, 200)], Exclusion.HALVED, 0),
        ([(140, 200), (64, 100), (140, 200)], Exclusion.HALVED, 400),
        ([(140, 200), (63.5, 100), (140, 200)], Exclusion.HALVED, 0),
        ([(140, 200), (70, 100), (152, 200)], Exclusion.HALVED, 400),
        ([(140, 200), (70, 100), (152.5, 200)], Exclusion.HALVED, 0),
        ([(152.5, 200), (70, 100), (140, 200)], Exclusion.HALVED, 0),
        ([(140, 60), (70, 100), (140, 60)], Exclusion.HALVED, 400),  # shorter flanks at a usual rate are right
        ([(98, 60), (49.5, 100), (98, 60)], Exclusion.HALVED, 0),
        ([(100, 60), (200, 70), (100, 60)], Exclusion.DOUBLED, 280),
        ([(99.5, 60), (200, 70), (99.5, 60)], Exclusion.DOUBLED, 0),
        ([(80, 200), (160, 100), (80, 200)], Exclusion.DOUBLED, 400),
        ([(80, 200), (184, 100), (80, 200)], Exclusion.DOUBLED, 400),
        ([(80, 200), (184.5, 100), (80, 200)], Exclusion.DOUBLED, 0),
        ([(80, 200), (136, 100), (80, 200)], Exclusion.DOUBLED, 400),
        ([(80, 200), (135.5, 100), (80, 200)], Exclusion.DOUBLED, 0),
        ([(140, 200), (70, 1.25), (140, 200)], Exclusion.HALVED, 5),
        ([(140, 200), (70, 1.0), (140, 200)], Exclusion.SPIKE, 4),  # a second is too short to tell
        ([(80, 200), (160, 1.25), (80, 200)], Exclusion.DOUBLED, 5),
        ([(80, 200), (160, 1.0), (80, 200)], Exclusion.SPIKE, 4),
    ],
)
def test_a_rate_is_halved_or_doubled_within_twelve_bpm_of_both_flanks(parts, code, count):
    assert left_out(*parts, code=code) == count


@pytest.mark.parametrize(
    ("seconds", "gap_s", "count"), [(2.75, 3.25, 11), (3.0, 3.25, 0), (2.75, 3.0, 0), (1.0, 60.0, 4)]
)
def test_an_island_is_shorter_than_three_seconds_with_longer_losses_on_either_side(seconds, gap_s, count):
    parts = [(140, 60), (None, gap_s), (140, seconds), (None, gap_s), (140, 60)]
    assert left_out(*parts) == count
    one_sided = [(140, 60), (None, gap_s), (140, seconds), (None, 1), (140, 60)]
    assert left_out(*one_sided) == left_out(*one_sided[::-1]) == 0
    assert left_out((140, seconds), (None, gap_s), (140, 60)) == count  # before the first sample is no signal either
    assert left_out((140, 60), (None, gap_s), (140, seconds)) == count


def test_the_values_of_a_second_are_those_of_its_samples():
    values = np.array([3.0, 1.0, 2.0, 9.0, np.nan, 5.0, 4.0, np.nan, np.nan, np.nan, np.nan, np.nan, 7.0])
    middle, lowest, highest = per_second(values, np.ones(13, dtype=bool), 4.0)
    np.testing.assert_array_equal(middle, [2.5, 4.5, np.nan])
    np.testing.assert_array_equal(lowest, [1.0, 4.0, np.nan])
    np.testing.assert_array_equal(highest, [9.0, 5.0, np.nan])
    np.testing.assert_array_equal(mean_per_second(values, 4.0), [3.75, 4.5, np.nan])
    many = np.arange(24.0)[::-1]  # 8 Hz: 23 to 16, 15 to 8, 7 to 0
    np.testing.assert_array_equal(np.array(per_second(many, many != 16.0, 8.0))[:, 0], [20.0, 17.0, 23.0])
    np.testing.assert_array_equal(mean_per_second(np.arange(4.0), 0.5), np.repeat(np.arange(4.0), 2))


@pytest.mark.parametrize(
    ("piece_s", "loss_s", "bpm", "scrap"),
    [
        (29.75, 60.25, 80.0, True),
        (30.0, 60.25, 80.0, False),  # half a minute shows what it is
        (29.75, 60.0, 80.0, False),  # a loss of a minute is bridged: the rules of events decide
        (10.0, 60.25, 155.0, False),  # within 15 bpm it says what the longer ones say
        (10.0, 60.25, 155.5, True),
    ],
)
def test_a_scrap_is_shorter_than_half_a_minute_amid_losses_that_nothing_bridges(piece_s, loss_s, bpm, scrap):
    parts = [(140.0, 200), (np.nan, loss_s), (bpm, piece_s), (np.nan, loss_s), (140.0, 200)]
    assert scrapped(*parts) == (round(4 * piece_s) if scrap else 0)


def scrapped(*parts):
    fhr = np.concatenate([np.full(round(4 * s), level) for level, s in parts])
    return np.count_nonzero(scraps_of(fhr, np.isfinite(fhr), 4.0, SETTINGS))


@pytest.mark.parametrize(
    ("piece_s", "loss_s", "scrap"), [(20, 19.75, False), (20, 20, True), (5, 14.75, False), (5, 15, True)]
)
def test_losses_on_both_sides_are_as_long_as_a_scrap_and_a_quarter_of_a_minute(piece_s, loss_s, scrap):
    piece = (np.nan, loss_s), (80.0, piece_s), (np.nan, 61.0)
    assert scrapped((140.0, 200), *piece, (140.0, 200)) == 4 * piece_s * scrap
    assert scrapped((140.0, 200), *piece[::-1], (140.0, 200)) == 4 * piece_s * scrap
    assert scrapped((140.0, 200), *piece) == 4 * piece_s * scrap  # what lies after the last sample is no signal either
    assert scrapped((80.0, piece_s)) == 0


@pytest.mark.parametrize(("constant", "stuck"), [(60, 60), (59, 0)])
def test_a_quarter_of_a_minute_is_stuck_where_the_finest_step_is_a_quarter_of_a_bpm(constant, stuck):
    fhr = 140 + (np.arange(960) % 2) * 0.25 + (np.arange(960) // 100 % 2) * 3.0
    fhr[200 : 200 + constant] = 147.0
    assert np.count_nonzero(exclusions(fhr, None, 4.0, SETTINGS) == Exclusion.STUCK) == stuck


@pytest.mark.parametrize(
    ("rate_hz", "step_bpm", "seconds"), [(1, 1.0, 60), (1, 0.25, 60), (2, 0.25, 30), (4, 0.5, 30), (4, 2.0, 60)]
)
def test_coarse_steps_and_few_samples_make_a_stuck_run_longer_up_to_four_times(rate_hz, step_bpm, seconds):
    """15 s at 4 Hz in steps of a quarter, as the settings say: longer by the step and by the rate."""
    constant = seconds * rate_hz
    for length, stuck in ((constant, constant), (constant - 1, 0)):
        fhr = 140 + (np.arange(960) % 2) * step_bpm
        fhr[200 : 200 + length] = 144.0 + step_bpm / 2
        assert np.count_nonzero(exclusions(fhr, None, float(rate_hz), SETTINGS) == Exclusion.STUCK) == stuck


@pytest.mark.parametrize(("apart", "left_out"), [(8, 48), (9, 0)])
def test_what_comes_near_the_mother_again_within_two_seconds_is_one_stretch(apart, left_out):
    fhr = 140 + (np.arange(960) % 2) * 0.25
    mhr = np.full(960, 80.0)
    for start in (400, 420 + apart):
        mhr[start : start + 20] = fhr[start : start + 20]
    assert np.count_nonzero(exclusions(fhr, mhr, 4.0, SETTINGS) == Exclusion.MATERNAL_RATE) == left_out

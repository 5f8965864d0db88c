"""When a kind is certain: how near 30 s of a fall, and 2 min of a length, are too near to tell.

NICHD 2008 divides abrupt from gradual at 30 s and others from prolonged at 2 min; how near is too near is our choice.
"""

import pytest

from audit.settings import load_settings
from audit.tracing.decelerations import Timing, length_error, other_kind_of

SETTINGS = load_settings().tracing


@pytest.mark.parametrize(
    ("fall_s", "other"),
    [(23.9, None), (24.0, "late"), (29.9, "late"), (30.0, "variable"), (37.0, "variable"), (37.1, None)],
)
def test_a_fall_near_thirty_seconds_could_be_the_other_kind(fall_s, other):
    assert other_kind_of(100.0, 8.0, fall_s, Timing(0.0, 30.0, 0.0), True, SETTINGS) == other
    assert other_kind_of(130.0, 8.0, fall_s, Timing(0.0, 30.0, 0.0), True, SETTINGS) is None  # prolonged either way


@pytest.mark.parametrize(
    ("length_s", "fall_s", "other"),
    [
        (111.0, 40.0, None), (112.0, 40.0, "prolonged"), (119.0, 40.0, "prolonged"),
        (120.0, 40.0, "late"), (128.0, 10.0, "variable"), (129.0, 10.0, None),
        (119.0, 31.0, "variable"), (121.0, 31.0, "late"),
    ],
)  # fmt: skip
def test_a_length_near_two_minutes_could_be_prolonged_or_not(length_s, fall_s, other):
    # NICHD 2008: prolonged from 2 min on; how near is too near to tell is our choice, here 8 s
    assert other_kind_of(length_s, 8.0, fall_s, Timing(0.0, 30.0, 0.0), True, SETTINGS) == other


@pytest.mark.parametrize(
    ("length_s", "unseen_s", "noise_bpm", "error_s"),
    [
        (120.0, 0.0, 0.0, 0.0),
        (120.0, 0.0, 4.0, 8.0),
        (120.0, 0.0, 0.9, 4.0),
        (16.0, 0.0, 4.0, 2.0),
        (120.0, 30.0, 4.0, 18.0),
    ],
)
def test_a_length_errs_with_the_noise_its_size_and_what_was_not_seen(length_s, unseen_s, noise_bpm, error_s):
    # our choice, measured on drawn events; 30 bpm deep
    assert length_error(length_s, unseen_s, 30.0, noise_bpm, SETTINGS) == pytest.approx(error_s)

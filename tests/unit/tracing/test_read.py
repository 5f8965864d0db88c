"""The whole reading on inputs that have little or nothing in them."""

from contextlib import nullcontext

import numpy as np
import pytest

from audit.errors import SettingsError
from audit.setting_types import changed
from audit.settings import load_settings
from audit.tracing.read import read_tracing
from audit.tracing.types import Tracing

SETTINGS = load_settings().tracing


@pytest.mark.parametrize("n_samples", [0, 1, 3, 4, 7, 240, 2399, 2400, 2401])
def test_any_length_of_steady_signal_is_read(n_samples):
    reading = read_tracing(Tracing(np.full(n_samples, 140.0), np.zeros(n_samples)), SETTINGS)
    assert reading.fhr_1hz.size == n_samples // 4
    assert reading.exclusion.size == n_samples
    assert reading.decelerations == ()


def test_a_tracing_without_signal_has_no_baseline_and_no_events():
    lost = np.full(14400, np.nan)
    reading = read_tracing(Tracing(lost, lost), SETTINGS)
    assert np.isnan(reading.baseline_1hz).all()
    assert reading.decelerations == reading.accelerations == reading.contractions == ()
    assert not reading.toco_usable_1hz.any()


def test_channels_of_different_length_are_refused():
    with pytest.raises(ValueError, match=r"toco: found shape \(3,\), expected \(4,\)"):
        read_tracing(Tracing(np.full(4, 140.0), np.zeros(3)), SETTINGS)


@pytest.mark.parametrize(
    ("lower", "higher", "may_be_equal"),
    [
        ("fhr_lowest_bpm", "fhr_highest_bpm", False),
        ("gradual_s", "prolonged_s", False),
        ("prolonged_s", "baseline_change_s", False),
        ("contraction_shortest_s", "contraction_longest_s", False),
        ("acceleration_height_bpm", "term_acceleration_height_bpm", True),
        ("shallow_depth_bpm", "deceleration_depth_bpm", True),
        ("baseline_min_seen_s", "baseline_window_s", True),
    ],
)
def test_limits_that_contradict_each_other_are_refused(lower, higher, may_be_equal):
    """A fall of 30 s could not be abrupt and prolonged at once (NICHD 2008); a limit that is the other one may be."""
    found = {"fall_uncertain_to_s": 200.0} if lower == "gradual_s" else {}
    top = getattr(SETTINGS, higher)
    for value, fits in ((top, may_be_equal), (top + 1.0, False)):
        with nullcontext() if fits else pytest.raises(SettingsError, match=lower):
            changed(SETTINGS, **{lower: value}, **found)

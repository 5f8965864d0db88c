"""Rules that practitioners teach at the bedside: common practice, no source.

Where the published definitions say something else they decide; these tests keep the reading recognisable.
"""

import numpy as np
import pytest

from audit.settings import load_settings
from audit.tracing.read import read_tracing
from audit.tracing.types import Tracing

SETTINGS = load_settings().tracing
RATE = 4
T = np.arange(3600 * RATE) / RATE
PEAKS = np.arange(200.0, 3600.0, 240.0)
HALF_S = 45.0  # from onset to peak, and from peak to end, of every contraction


def uterus():
    toco = np.full(T.size, 12.0)
    for peak in PEAKS:
        toco += 25 * (1 + np.cos(np.pi * np.clip((T - peak) / HALF_S, -1, 1)))
    return toco


def fluctuation(sensor):
    """A scalp electrode shows every beat; ultrasound averages over a second and a half and loses some of it."""
    rng = np.random.default_rng(8)
    beats = np.repeat(rng.standard_normal(T.size // 2 + 1), 2)[: T.size]
    slow = sum(rng.uniform(0.5, 1) * np.sin(2 * np.pi * (f * T / 60 + rng.uniform())) for f in rng.uniform(2, 6, 6))
    noise = 1.5 * slow / np.std(slow) + 0.8 * beats
    return noise if sensor == "scalp_electrode" else np.convolve(noise, np.full(6, 1 / 6), mode="same")


def read(fall, sensor):
    fhr = np.round((140 - fall + fluctuation(sensor)) * 4) / 4
    if sensor == "ultrasound":
        fhr[np.random.default_rng(9).random(fhr.size) < 0.08] = np.nan
    return read_tracing(Tracing(fhr, uterus(), fhr_sensor=sensor), SETTINGS)


def falls(onset_after_peak_s, fall_s, rise_s, depth_bpm=26.0, hold_s=0.0):
    """The same fall with every second contraction, along half cosines."""
    total = np.zeros(T.size)
    for peak in PEAKS[1::2]:
        t = T - (peak + onset_after_peak_s)
        down = np.clip(t / fall_s, 0, 1)
        up = np.clip((fall_s + hold_s + rise_s - t) / rise_s, 0, 1)
        total += depth_bpm * (1 - np.cos(np.pi * down)) * (1 - np.cos(np.pi * up)) / 4
    return total


@pytest.mark.parametrize("sensor", ["ultrasound", "scalp_electrode"])
def test_a_steady_140_that_drifts_to_110_and_comes_back_is_one_deceleration_of_30(sensor):
    # Common practice, no source.
    drift = np.interp(T, [1500, 1580, 1620, 1700], [0, 30, 30, 0])
    (event,) = read(drift, sensor).decelerations
    assert event.depth_bpm == pytest.approx(30, abs=3)
    assert event.baseline_bpm == pytest.approx(140, abs=2)


def test_the_toco_rises_from_its_resting_line_with_the_contraction_and_falls_back():
    # Common practice, no source.
    found = read(np.zeros(T.size), "ultrasound").contractions
    assert len(found) == PEAKS.size
    for contraction, peak in zip(found, PEAKS, strict=True):
        assert contraction.peak_s == pytest.approx(peak, abs=3)
        assert contraction.onset_s == pytest.approx(peak - HALF_S, abs=8)
        assert contraction.end_s == pytest.approx(peak + HALF_S, abs=8)
        assert contraction.resting_tone == pytest.approx(12, abs=2)
        assert contraction.amplitude == pytest.approx(50, abs=3)


@pytest.mark.parametrize("sensor", ["ultrasound", "scalp_electrode"])
def test_gradual_and_at_its_bottom_by_the_midpoint_and_back_with_the_contraction_is_early(sensor):
    # Common practice, no source.
    found = read(falls(-44, 44, 44), sensor).decelerations
    assert [event.kind for event in found] == ["early"] * len(PEAKS[1::2])


@pytest.mark.parametrize("sensor", ["ultrasound", "scalp_electrode"])
def test_gradual_and_only_beginning_to_fall_after_the_midpoint_is_late(sensor):
    # Common practice, no source.
    found = read(falls(3, 44, 50), sensor).decelerations
    assert [event.kind for event in found] == ["late"] * len(PEAKS[1::2])


@pytest.mark.parametrize("sensor", ["ultrasound", "scalp_electrode"])
@pytest.mark.parametrize("onset_after_peak_s", [-60, -20, 10, 60])
def test_abrupt_ones_with_no_fixed_relation_to_contractions_are_variable(sensor, onset_after_peak_s):
    # Common practice, no source.
    found = read(falls(onset_after_peak_s, 9, 14, depth_bpm=45, hold_s=20), sensor).decelerations
    assert [event.kind for event in found] == ["variable"] * len(PEAKS[1::2])


def test_a_mix_of_early_and_late_is_not_called_variable():
    # Bedside teaching calls a strip 'variable' when early and late mix; NICHD 2008 does not, and decides.
    mixed = np.where(T < 1800, falls(-44, 44, 44), falls(3, 44, 50))
    kinds = {event.kind for event in read(mixed, "ultrasound").decelerations}
    assert kinds == {"early", "late"}

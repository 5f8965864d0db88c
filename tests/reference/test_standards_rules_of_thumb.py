"""Rules of thumb of the labour ward, on drawn tracings read from samples to kinds. All: common practice, no source.

Bedside teaching also calls a strip 'variable' when early and late decelerations mix, and ranks the kinds good, fair and
bad. The published standards do neither, and they decide: the last tests hold that each deceleration keeps its own kind.
"""

import numpy as np
import pytest

from audit.settings import load_settings
from audit.standards.registry import STANDARDS
from audit.tracing.read import read_tracing
from audit.tracing.types import Reading, Tracing

SETTINGS = load_settings()
RATE = 4
MINUTES = 40
RESTING = 10.0
SENSORS = [("ultrasound", 1.5), ("scalp_electrode", 0.6)]
# contractions: onset, peak and end in s, every four minutes
STARTS = np.arange(240.0, 2200.0, 240.0)
LENGTH_S = 80.0


def toco() -> np.ndarray:
    t = np.arange(MINUTES * 60 * RATE) / RATE
    tone = np.full(t.size, RESTING)
    for start in STARTS:
        inside = (t >= start) & (t < start + LENGTH_S)
        tone[inside] += 45.0 * np.sin(np.pi * (t[inside] - start) / LENGTH_S)
    return tone


def read(falls: list[tuple[float, float, float, float, float]], sensor: str, noise_bpm: float) -> Reading:
    """Read a baseline of 140 with falls (start, down for, flat for, up for in s, depth in bpm) and contractions."""
    generator = np.random.default_rng(11)
    t = np.arange(MINUTES * 60 * RATE) / RATE
    fhr = 140.0 + 3.0 * np.sin(2 * np.pi * t / 31.0) + 3.0 * np.sin(2 * np.pi * t / 9.1)
    fhr += generator.normal(scale=noise_bpm, size=t.size)
    for start, down, flat, up, depth in falls:
        fhr -= depth * np.interp(t, [start, start + down, start + down + flat, start + down + flat + up], [0, 1, 1, 0])
    tracing = Tracing(np.round(fhr * 4) / 4, toco() + generator.normal(scale=0.5, size=t.size), fhr_sensor=sensor)
    return read_tracing(tracing, SETTINGS.tracing)


def kinds(found: Reading) -> list[str]:
    return [d.kind for d in found.decelerations]


@pytest.mark.parametrize(("sensor", "noise_bpm"), SENSORS)
def test_the_toco_rises_with_the_contraction_and_falls_back(sensor: str, noise_bpm: float) -> None:
    found = read([], sensor, noise_bpm)
    assert len(found.contractions) == len(STARTS)
    for one, start in zip(found.contractions, STARTS, strict=True):
        assert one.peak_s == pytest.approx(start + LENGTH_S / 2, abs=8.0)
        assert start - 15.0 <= one.onset_s < one.peak_s < one.end_s <= start + LENGTH_S + 15.0


@pytest.mark.parametrize(("sensor", "noise_bpm"), SENSORS)
def test_a_drift_to_110_and_back_is_one_deceleration_of_30(sensor: str, noise_bpm: float) -> None:
    found = read([(600.0, 40.0, 5.0, 40.0, 30.0)], sensor, noise_bpm)
    assert len(found.decelerations) == 1
    assert found.decelerations[0].depth_bpm == pytest.approx(30.0, abs=8.0)


@pytest.mark.parametrize(("sensor", "noise_bpm"), SENSORS)
def test_at_the_bottom_by_the_midpoint_is_early(sensor: str, noise_bpm: float) -> None:
    found = read([(start, 40.0, 0.0, 40.0, 25.0) for start in STARTS[1:6]], sensor, noise_bpm)
    assert kinds(found) == ["early"] * 5


@pytest.mark.parametrize(("sensor", "noise_bpm"), SENSORS)
def test_beginning_after_the_midpoint_is_late(sensor: str, noise_bpm: float) -> None:
    found = read([(start + 45.0, 40.0, 0.0, 40.0, 25.0) for start in STARTS[1:6]], sensor, noise_bpm)
    assert kinds(found) == ["late"] * 5


@pytest.mark.parametrize(("sensor", "noise_bpm"), SENSORS)
def test_abrupt_ones_with_no_fixed_relation_are_variable(sensor: str, noise_bpm: float) -> None:
    offsets = [0.0, 35.0, 70.0, 110.0, 150.0]
    falls = [(start + off, 8.0, 20.0, 8.0, 40.0) for start, off in zip(STARTS[1:6], offsets, strict=True)]
    found = read(falls, sensor, noise_bpm)
    assert kinds(found) == ["variable"] * 5


@pytest.mark.parametrize(("sensor", "noise_bpm"), SENSORS)
def test_a_mix_of_early_and_late_stays_early_and_late(sensor: str, noise_bpm: float) -> None:
    # Bedside teaching would call the strip variable; the standards class each deceleration by itself.
    offsets = [0.0, 45.0, 0.0, 45.0]
    falls = [(start + off, 40.0, 0.0, 40.0, 25.0) for start, off in zip(STARTS[1:5], offsets, strict=True)]
    assert kinds(read(falls, sensor, noise_bpm)) == ["early", "late", "early", "late"]


def test_the_kinds_are_not_ranked() -> None:
    # Early decelerations leave category I; late and variable ones both lead to II, neither above the other.
    def category(start_off: float, down: float, depth: float) -> str:
        found = read([(STARTS[6] + start_off, down, 5.0, down, depth)], "scalp_electrode", 0.6)
        return STANDARDS["nichd-2008"].minute_categories(found, SETTINGS.of_standards["nichd-2008"]).categories[-1]

    assert category(0.0, 40.0, 25.0) == "I"
    assert category(45.0, 40.0, 25.0) == "II"
    assert category(0.0, 8.0, 40.0) == "II"

"""A slow tracing is read at its own rate and shows what it showed when each sample was held on quarter seconds.

Rules in seconds and in bpm between neighbouring samples must not change their meaning with the rate: a step between
samples one or two seconds apart is still one step, and at 0.5 Hz a sample stands for two seconds.
"""

from dataclasses import replace

import numpy as np
import pytest

from audit.settings import load_settings
from audit.tracing.quality import exclusions, mean_per_second, per_second
from audit.tracing.read import read_tracing
from audit.tracing.types import Exclusion, Tracing
from tests.simulate import simulate_labour

SETTINGS = load_settings().tracing


def thinned(tracing: Tracing, every: int) -> Tracing:
    mhr = None if tracing.mhr_bpm is None else tracing.mhr_bpm[::every]
    fhr, toco = tracing.fhr_bpm[::every], tracing.toco[::every]
    return replace(tracing, fhr_bpm=fhr, toco=toco, mhr_bpm=mhr, sample_rate_hz=4.0 / every)


def held(tracing: Tracing) -> Tracing:
    copies = round(4 / tracing.sample_rate_hz)
    mhr = None if tracing.mhr_bpm is None else np.repeat(tracing.mhr_bpm, copies)
    fhr, toco = np.repeat(tracing.fhr_bpm, copies), np.repeat(tracing.toco, copies)
    return replace(tracing, fhr_bpm=fhr, toco=toco, mhr_bpm=mhr, sample_rate_hz=4.0)


@pytest.mark.parametrize("every", [2, 4, 8])
@pytest.mark.parametrize("seed", [11, 12, 13])
def test_the_reading_of_own_samples_is_that_of_held_ones(seed, every):
    drawn = simulate_labour(seed, artefact_level="severe", hours=1.5)[0]
    slow = thinned(Tracing(drawn["fhr_bpm"], drawn["toco"], mhr_bpm=drawn["mhr_bpm"]), every)
    own, copied = read_tracing(slow, SETTINGS), read_tracing(held(slow), SETTINGS)
    np.testing.assert_array_equal(np.repeat(own.exclusion, every), copied.exclusion)
    np.testing.assert_array_equal(own.fhr_1hz, copied.fhr_1hz)
    np.testing.assert_allclose(own.baseline_1hz, copied.baseline_1hz, rtol=0, atol=1e-9)
    np.testing.assert_allclose(own.variability_1min, copied.variability_1min, rtol=0, atol=1e-9)
    assert len(own.decelerations) > 5
    assert repr(own.decelerations) == repr(copied.decelerations)  # NaN is not equal to itself
    assert own.duration_s == copied.duration_s


@pytest.mark.parametrize(("every", "least_f1"), [(2, 0.97), (4, 0.97), (8, 0.95)])
def test_a_thinned_tracing_shows_nearly_the_decelerations_of_the_whole(every, least_f1):
    """Nothing published says how near is near enough: our choice, below what drawn tracings showed."""
    found = whole = both = 0
    for seed in (21, 22, 23):
        drawn = simulate_labour(seed, artefact_level="moderate", hours=1.5)[0]
        tracing = Tracing(drawn["fhr_bpm"], drawn["toco"])
        all_of_it, slow = read_tracing(tracing, SETTINGS), read_tracing(thinned(tracing, every), SETTINGS)
        whole, found = whole + len(all_of_it.decelerations), found + len(slow.decelerations)
        both += sum(
            any(
                min(a.end_s, b.end_s) - max(a.onset_s, b.onset_s) >= 0.5 * (a.end_s - a.onset_s)
                for b in slow.decelerations
            )
            for a in all_of_it.decelerations
        )
    assert whole > 30
    assert 2 * both / (whole + found) >= least_f1


@pytest.mark.parametrize("rate_hz", [0.5, 1.0, 2.0, 4.0])
def test_a_sample_stands_for_its_whole_step(rate_hz):
    values = np.arange(120.0, 140.0)
    middle, _, _ = per_second(values, np.ones(20, bool), rate_hz)
    assert middle.size == 20 / rate_hz
    assert np.isfinite(middle).all()
    np.testing.assert_allclose(mean_per_second(values, rate_hz), middle)
    if rate_hz < 1:
        np.testing.assert_array_equal(middle, np.repeat(values, 2))


@pytest.mark.parametrize("rate_hz", [0.5, 1.0, 2.0, 3.0, 4.0])
def test_a_lone_value_far_from_both_neighbours_is_a_spike_at_every_rate(rate_hz):
    fhr = np.full(round(120 * rate_hz), 140.0) + np.arange(round(120 * rate_hz)) % 2
    fhr[fhr.size // 2] = 190.0
    code = exclusions(fhr, None, rate_hz, SETTINGS)
    assert code[fhr.size // 2] == Exclusion.SPIKE
    assert np.count_nonzero(code) == 1

"""Drawn strips share the grain of real ones: held beats, stored step, lengths of gaps, fluctuation of a minute.

Source: the open intrapartum database (Chudacek 2014), records read here by hand (WFDB format 16, two channels).
"""

import numpy as np
import pytest

from tests.simulate import simulate_labour


def _real_fhr(folder, limit):
    for path in sorted(folder.glob("*.hea"))[:limit]:
        samples = np.fromfile(path.with_suffix(".dat"), "<i2").reshape(-1, 2)[:, 0] / 100
        yield np.where(samples == 0, np.nan, samples)


def _grain(fhr_bpm):
    """Share of repeated neighbours; gap lengths in s; median minute's middle 90 % of 1-second values, bpm."""
    step = np.diff(fhr_bpm)
    step = step[np.isfinite(step)]
    edges = np.flatnonzero(np.diff(np.isnan(fhr_bpm), prepend=False, append=False)).reshape(-1, 2)
    seconds = fhr_bpm[: fhr_bpm.size // 240 * 240].reshape(-1, 60, 4).mean(axis=2)
    whole = seconds[np.isfinite(seconds).mean(axis=1) > 0.7]
    width = np.nanpercentile(whole, 95, axis=1) - np.nanpercentile(whole, 5, axis=1)
    return (step == 0).mean(), (edges[:, 1] - edges[:, 0]) / 4, np.median(width)


def _summary(recordings):
    grains = [_grain(fhr) for fhr in recordings]
    gaps = np.concatenate([g for _, g, _ in grains])
    return {
        "repeated": float(np.median([r for r, _, _ in grains])),
        "gap_median_s": float(np.median(gaps)),
        "gap_p90_s": float(np.percentile(gaps, 90)),
        "minute_width_bpm": float(np.median([w for _, _, w in grains])),
    }


def test_the_grain_of_drawn_strips_is_that_of_real_ones(ctu_uhb):
    real = list(_real_fhr(ctu_uhb, 60))
    levels = ("moderate", "severe") * 8
    drawn = [simulate_labour(s, artefact_level=level, hours=1.5)[0]["fhr_bpm"] for s, level in enumerate(levels)]
    seen, made = _summary(real), _summary(drawn)
    for recordings in (real, drawn):
        finite = np.concatenate([f[np.isfinite(f)] for f in recordings])
        np.testing.assert_array_equal(finite * 4, np.round(finite * 4))
    assert made["repeated"] == pytest.approx(seen["repeated"], abs=0.08)
    assert 0.7 < made["gap_median_s"] / seen["gap_median_s"] < 1.4
    assert 0.7 < made["gap_p90_s"] / seen["gap_p90_s"] < 1.5
    # Real late labour has more decelerations in the minute than a drawn one of every regime.
    assert 0.6 < made["minute_width_bpm"] / seen["minute_width_bpm"] < 1.4

"""Band-limited noise: the fluctuation of the rate, slow wandering, and courses between knots."""

from functools import lru_cache

import numpy as np

from synthetic_cases.plan import SAMPLE_RATE_HZ, Course
from synthetic_cases.shapes import FloatArray

_LOW_CUT_HZ = 0.018
_SLOPE = 1.6  # fall of power with frequency; our choice, close to quiet stretches of real recordings
_FASTER_FALL = 0.6  # added to the slope above 0.15 Hz
_BUMP_WIDTH_HZ = 0.018


def _fft_length(n: int) -> int:
    return 1 << max(int(n - 1).bit_length(), 4)


def _shaped(rng: np.random.Generator, n: int, power: FloatArray) -> FloatArray:
    """Gaussian noise of unit variance with the given power spectrum, cut to n samples."""
    m = 2 * (power.size - 1)
    amplitude = np.sqrt(power / power[1:].sum()) * m / 2
    spectrum = amplitude * (rng.standard_normal(power.size) + 1j * rng.standard_normal(power.size))
    spectrum[0] = 0
    return np.asarray(np.fft.irfft(spectrum, m)[:n])


@lru_cache(maxsize=64)
def _frequencies(m: int) -> FloatArray:
    return np.asarray(np.fft.rfftfreq(m, 1 / SAMPLE_RATE_HZ), dtype=np.float64)


def fluctuation(rng: np.random.Generator, n: int) -> FloatArray:
    """The unit fluctuation of the rate: slow oscillation of 3 to 6 cycles a minute over a falling spectrum.

    Scaled so that within a typical minute the middle 90 % of its 1-second means span 1. Frequencies under one cycle
    a minute are left out: they belong to the wandering of the baseline.
    """
    if n == 0:
        return np.empty(0)
    m = _fft_length(n)
    f = _frequencies(m)
    centre = rng.uniform(0.05, 0.09)
    with np.errstate(divide="ignore"):
        power = np.where(f < _LOW_CUT_HZ, 0.0, np.where(f > 0, f, 1.0) ** -_SLOPE)
    power *= np.minimum(1.0, (np.maximum(f, 0.15) / 0.15) ** -_FASTER_FALL)
    power += 0.5 * centre**-_SLOPE * np.exp(-(((f - centre) / _BUMP_WIDTH_HZ) ** 2) / 2) * (f >= _LOW_CUT_HZ)
    x = _shaped(rng, n, power)
    # Fetal activity comes and goes: the size swells by a fifth within a minute or two and drifts over several.
    swell = 1 + 0.20 * slow(rng, n, period_s=70) + 0.12 * slow(rng, n, period_s=300)
    x = x * np.clip(swell, 0.5, 1.5)
    width = per_minute_width(x)
    return x / np.median(width) if width.size else x / 3.0


def steadied(x: FloatArray, steadiness: FloatArray) -> FloatArray:
    """The fluctuation with its minutes made alike to a degree from 0 (as it is) to 1, both shape (n_samples,)."""
    width = per_minute_width(x)
    if width.size == 0:
        return x
    middles = (np.arange(width.size) + 0.5) * 60 * SAMPLE_RATE_HZ
    local = np.interp(np.arange(x.size), middles, np.maximum(width, 0.2))
    return np.asarray(x / local**steadiness)


def slow(rng: np.random.Generator, n: int, period_s: float) -> FloatArray:
    """Smooth wandering of unit variance with nothing faster than `period_s`; made by joining random knots."""
    step = max(int(period_s * SAMPLE_RATE_HZ / 2), 1)
    knots = rng.standard_normal(n // step + 4)
    neighbours = np.lib.stride_tricks.sliding_window_view(knots, 4)
    return np.asarray((neighbours @ _joining(step)).reshape(-1)[:n])


@lru_cache(maxsize=64)
def _joining(step: int) -> FloatArray:
    """Weights of four neighbouring knots, shape (4, step): cubic (Catmull-Rom) joining keeps the slope continuous."""
    x = np.arange(step) / step
    return 0.5 * np.stack(
        [
            -x + 2 * x**2 - x**3,
            2 - 5 * x**2 + 3 * x**3,
            x + 4 * x**2 - 3 * x**3,
            -(x**2) + x**3,
        ]
    )


def seconds(x: FloatArray) -> FloatArray:
    """Means of whole seconds."""
    rate = int(SAMPLE_RATE_HZ)
    return np.asarray(x[: x.size // rate * rate].reshape(-1, rate).mean(axis=1))


def per_minute_width(x: FloatArray, low: float = 5, high: float = 95) -> FloatArray:
    """Width between two percentiles of the 1-second means, by whole minute, shape (n_minutes,)."""
    one = seconds(x)
    minutes = one[: one.size // 60 * 60].reshape(-1, 60)
    if minutes.size == 0:
        return np.empty(0)
    ordered = np.sort(minutes, axis=1)
    return np.asarray(_at(ordered, high) - _at(ordered, low))


def _at(ordered: FloatArray, percent: float) -> FloatArray:
    position = percent / 100 * (ordered.shape[1] - 1)
    k = min(int(position), ordered.shape[1] - 2)
    return np.asarray(ordered[:, k] + (position - k) * (ordered[:, k + 1] - ordered[:, k]))


def along(course: Course, n: int) -> FloatArray:
    """The course at each sample, shape (n,)."""
    return np.interp(np.arange(n) / SAMPLE_RATE_HZ, course.times_s, course.values)

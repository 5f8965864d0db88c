"""The toco channel: contractions on a resting tone, pushing, breathing, belt moves, poor and missing stretches."""

import numpy as np

from synthetic_cases.fhr import samples
from synthetic_cases.noise import slow
from synthetic_cases.plan import SAMPLE_RATE_HZ, CasePlan, ContractionPlan
from synthetic_cases.shapes import FloatArray, departure
from synthetic_cases.truth import TrueContraction

_FOOT = 0.05  # share of its own height at which a drawn contraction begins and ends
_POOR_GAIN = 0.15
_FULL_SCALE = 100.0


def _draw_contraction(pressure: FloatArray, event: ContractionPlan) -> TrueContraction | None:
    shape = event.amplitude * _outline(event)
    first = samples(event.onset_s)
    if first < 0 or first >= pressure.size:
        return None
    drawn = shape[: pressure.size - first]
    pressure[first : first + drawn.size] += drawn
    above = np.flatnonzero(shape >= _FOOT * shape.max())
    end_s = min((first + int(above[-1]) + 1) / SAMPLE_RATE_HZ, pressure.size / SAMPLE_RATE_HZ)
    peak_s = min((first + int(np.argmax(shape))) / SAMPLE_RATE_HZ, end_s)
    return TrueContraction((first + int(above[0])) / SAMPLE_RATE_HZ, peak_s, end_s, float(shape.max()), True)


def _outline(event: ContractionPlan) -> FloatArray:
    """The unit outline of one contraction; a hump rides on its way down."""
    n_out, n_back = samples(event.rise_s), samples(event.fall_s)
    shape = departure(event.out, event.back, n_out, 0, n_back)
    if event.hump > 0:
        x = np.arange(n_back) / max(n_back, 1)
        shape[n_out:] += event.hump * np.exp(-(((x - 0.5) / 0.16) ** 2) / 2) * np.sin(np.pi * x)
        shape /= shape.max()
    return shape


def _push(pressure: FloatArray, event: ContractionPlan, rng: np.random.Generator) -> None:
    """Bearing down: short steep combs, 5 to 9 s each, around the peak of the contraction."""
    start = event.onset_s + 0.35 * event.rise_s
    for _ in range(event.pushes):
        length = samples(rng.uniform(5, 9))
        first = samples(start)
        if first + length > pressure.size:
            return
        out = max(length // 4, 2)
        comb = rng.uniform(25, 65) * departure("rounded", "rounded", out, length - 2 * out, out)
        pressure[first : first + length] += comb
        start += rng.uniform(9, 14)


def usable_toco(plan: CasePlan) -> np.ndarray:
    """True where the toco was working well enough to show its contractions, shape (n_samples,)."""
    usable = np.full(plan.n_samples, plan.artefacts.toco_gain >= _POOR_GAIN)
    for spans in (plan.artefacts.toco_absent_s, plan.artefacts.toco_poor_s, plan.artefacts.gaps_s):
        for start, end in spans:
            usable[samples(start) : samples(end)] = False
    return usable


def draw_toco(plan: CasePlan, rng: np.random.Generator) -> tuple[FloatArray, np.ndarray, list[TrueContraction]]:
    """The recorded toco, shape (n_samples,), where it was usable, and every contraction as drawn."""
    n, art = plan.n_samples, plan.artefacts
    pressure = np.zeros(n)
    drawn: list[TrueContraction] = []
    for event in plan.contractions:
        contraction = _draw_contraction(pressure, event)
        if contraction is not None:
            drawn.append(contraction)
            if event.pushes:
                _push(pressure, event, rng)
    gain = np.full(n, art.toco_gain)
    for start, end in art.toco_poor_s:
        gain[samples(start) : samples(end)] *= 0.08
    tone = plan.resting_tone + art.toco_drift * slow(rng, n, period_s=1500) + _belt_moves(plan, rng)
    breath = 2 * np.pi * np.cumsum(rng.uniform(0.22, 0.33) * (1 + 0.1 * slow(rng, n, period_s=30))) / SAMPLE_RATE_HZ
    breathing = 1.6 * np.sin(breath) * np.clip(1 + 0.7 * slow(rng, n, period_s=120), 0, 3)
    ripple = art.toco_noise * (rng.standard_normal(n) + breathing + 1.2 * slow(rng, n, period_s=8))
    # The firmer the belt is pressed, the more of every movement it shows.
    ripple *= 1 + np.clip(pressure, 0, 60) / 40
    ripple += art.toco_waves * slow(rng, n, period_s=50)
    toco = np.clip(np.round((tone + gain * pressure + ripple) * 2) / 2, 0, _FULL_SCALE)
    for start, end in art.toco_absent_s:
        toco[samples(start) : samples(end)] = 0
    for start, end in art.gaps_s:
        toco[samples(start) : samples(end)] = np.nan
    usable = usable_toco(plan)
    seen = [_with_visibility(c, usable, toco) for c in drawn]
    return toco, usable, seen


def _belt_moves(plan: CasePlan, rng: np.random.Generator) -> FloatArray:
    """Steps of the resting line where the belt slipped or was set to zero, each with a short disturbance."""
    n = plan.n_samples
    shift = np.zeros(n)
    for _ in range(rng.poisson(plan.artefacts.belt_moves_per_hour * plan.duration_s / 3600)):
        at = int(rng.integers(n))
        shift[at:] = rng.uniform(-10, 14)
        shake = min(samples(rng.uniform(4, 15)), n - at)
        shift[at : at + shake] += rng.normal(0, 18, shake)
    return shift


def _with_visibility(event: TrueContraction, usable: np.ndarray, toco: FloatArray) -> TrueContraction:
    first, last = samples(event.onset_s), max(samples(event.end_s), samples(event.onset_s) + 1)
    part = toco[first:last]
    visible = bool(usable[first:last].mean() >= 0.8) and bool(np.isfinite(part).mean() >= 0.8)
    return TrueContraction(event.onset_s, event.peak_s, event.end_s, event.amplitude, visible)

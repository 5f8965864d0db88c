"""The fetal heart rate as it truly was: baseline, events and fluctuation, before any sensor."""

import numpy as np

from synthetic_cases.noise import along, fluctuation, slow, steadied
from synthetic_cases.plan import SAMPLE_RATE_HZ, AccelerationPlan, CasePlan, DecelerationPlan, LevelChangePlan
from synthetic_cases.shapes import AT_NADIR, VISIBLE, FloatArray, departure, edge
from synthetic_cases.truth import TrueAcceleration, TrueDeceleration, TrueLevelChange

Span = tuple[int, int]


def samples(seconds: float) -> int:
    """Seconds as a whole number of samples."""
    return round(seconds * SAMPLE_RATE_HZ)


def draw_baseline(plan: CasePlan, rng: np.random.Generator) -> tuple[FloatArray, list[TrueLevelChange]]:
    """The baseline with its slow wandering and its changes of level, shape (n_samples,)."""
    n = plan.n_samples
    baseline = along(plan.baseline_bpm, n) + plan.wander_bpm * slow(rng, n, period_s=1200)
    changes = []
    for change in plan.level_changes:
        changes.append(_apply_level_change(baseline, change, rng))
    return baseline, changes


def _apply_level_change(baseline: FloatArray, change: LevelChangePlan, rng: np.random.Generator) -> TrueLevelChange:
    """Move the line down to `to_bpm` until the change ends; returns what was drawn."""
    n = baseline.size
    first, last = samples(change.onset_s), min(samples(change.end_s), n)
    weight = np.zeros(n)
    n_out = min(samples(change.descent_s), last - first)
    weight[first : first + n_out] = edge("rounded", n_out)
    weight[first + n_out : last] = 1
    from_bpm = float(baseline[max(first - 1, 0)])
    baseline += weight * (change.to_bpm + 2.5 * slow(rng, n, period_s=240) - baseline)
    return TrueLevelChange(change.onset_s, last / SAMPLE_RATE_HZ, from_bpm, change.to_bpm)


def _draw_fall(line: FloatArray, event: DecelerationPlan, rng: np.random.Generator) -> TrueDeceleration | None:
    """Subtract one deceleration from the line in place; None when it lies beyond the tracing."""
    shape = event.depth_bpm * departure(
        event.out,
        event.back,
        samples(event.descent_s),
        samples(event.plateau_s),
        samples(event.recovery_s),
        event.notch,
    )
    if event.sway > 0:
        _sway(shape, samples(event.descent_s), samples(event.plateau_s), event.sway, rng)
    first = samples(event.onset_s)
    drawn = shape[: max(line.size - first, 0)]
    if first < 0 or drawn.size == 0 or drawn.max() < VISIBLE:
        return None
    line[first : first + drawn.size] -= drawn
    if event.shoulder_bpm > 0:
        _draw_shoulders(line, first, first + shape.size, event.shoulder_bpm)
    above = np.flatnonzero(drawn >= VISIBLE)
    lowest = int(np.argmax(drawn))
    begin = int(np.argmax(drawn >= drawn.max() - AT_NADIR))
    rate = SAMPLE_RATE_HZ
    return TrueDeceleration(
        onset_s=(first + int(above[0])) / rate,
        nadir_s=(first + lowest) / rate,
        end_s=(first + int(above[-1]) + 1) / rate,
        depth_bpm=float(drawn.max()),
        area_bpm_s=float(drawn.sum() / rate),
        kind=event.kind,
        nadir_begin_s=(first + begin) / rate,
        contraction_peak_s=event.contraction_peak_s,
        seen_fraction=1.0,
        seen_area_bpm_s=float(drawn.sum() / rate),
        open_end=bool(drawn.size < shape.size),
    )


def _sway(shape: FloatArray, first: int, length: int, share: float, rng: np.random.Generator) -> None:
    """Let a long plateau wander by a share of its depth, in place, without a step at either end."""
    taper = np.sin(np.pi * (np.arange(length) + 0.5) / max(length, 1)) ** 0.5
    shape[first : first + length] *= 1 - share * taper * np.clip(slow(rng, length, period_s=50), -1.5, 1.5)


def _draw_shoulders(line: FloatArray, first: int, last: int, height_bpm: float) -> None:
    """Short rises just outside a variable deceleration: under 13 s, so never accelerations of their own."""
    n = samples(12.0)
    bump = height_bpm * departure("cosine", "cosine", n // 2, 0, n - n // 2)
    for start in (first - n, last):
        if start >= 0 and start + n <= line.size:
            line[start : start + n] += bump


def _draw_rise(line: FloatArray, event: AccelerationPlan, rng: np.random.Generator) -> TrueAcceleration | None:
    shape = event.height_bpm * departure(
        event.out, event.back, samples(event.rise_s), samples(event.plateau_s), samples(event.fall_s)
    )
    _sway(shape, samples(event.rise_s), samples(event.plateau_s), 0.12, rng)
    first = samples(event.onset_s)
    if first < 0 or first + shape.size > line.size:
        return None
    line[first : first + shape.size] += shape
    above = np.flatnonzero(shape >= VISIBLE)
    rate = SAMPLE_RATE_HZ
    return TrueAcceleration(
        onset_s=(first + int(above[0])) / rate,
        peak_s=(first + int(np.argmax(shape))) / rate,
        end_s=(first + int(above[-1]) + 1) / rate,
        height_bpm=float(shape.max()),
        seen_fraction=1.0,
    )


def draw_rate(
    plan: CasePlan, baseline: FloatArray, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray, list[TrueDeceleration], list[TrueAcceleration]]:
    """The clean rate and its fluctuation alone, both shape (n_samples,), with the events as drawn."""
    line = baseline.copy()
    falls = [drawn for event in plan.decelerations if (drawn := _draw_fall(line, event, rng)) is not None]
    rises = [risen for bump in plan.accelerations if (risen := _draw_rise(line, bump, rng)) is not None]
    variation = fluctuation(rng, plan.n_samples)
    if max(plan.steadiness.values) > 0:
        variation = steadied(variation, along(plan.steadiness, plan.n_samples))
    variation *= along(plan.variability_bpm, plan.n_samples)
    t = np.arange(plan.n_samples) / SAMPLE_RATE_HZ
    for run in plan.sinusoidal:
        # Fade in and out over 20 s so that the run has no corners.
        gate = np.clip((t - run.start_s) / 20, 0, 1) * np.clip((run.end_s - t) / 20, 0, 1)
        # Living sines are not clockwork: the pace and the height vary by a few per cent.
        pace = run.cycles_per_min / 60 * (1 + 0.05 * slow(rng, t.size, period_s=120))
        height = run.peak_to_trough_bpm / 2 * (1 + 0.07 * slow(rng, t.size, period_s=120))
        line += gate * height * np.sin(2 * np.pi * np.cumsum(pace) / SAMPLE_RATE_HZ)
    return line + variation, variation, falls, rises


def beat_held(rate_bpm: FloatArray) -> FloatArray:
    """Hold each beat's value until the next beat: at 4 Hz about half of the samples repeat the one before."""
    beats = np.floor(np.cumsum(np.clip(rate_bpm, 40, 260)) / (60 * SAMPLE_RATE_HZ))
    fresh = np.diff(beats, prepend=-1) > 0
    last = np.maximum.accumulate(np.where(fresh, np.arange(rate_bpm.size), 0))
    return np.asarray(rate_bpm[last])


def averaged(rate_bpm: FloatArray, width: int) -> FloatArray:
    """Centred moving average over an odd number of samples, as an ultrasound sensor's correlation window does."""
    half = width // 2
    padded = np.concatenate([np.repeat(rate_bpm[:1], half), rate_bpm, np.repeat(rate_bpm[-1:], half)])
    total = np.cumsum(np.concatenate([[0.0], padded]))
    return np.asarray((total[width:] - total[:-width]) / width)

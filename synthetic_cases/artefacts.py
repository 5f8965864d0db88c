"""What sensors do to a rate: lost signal, halved and doubled rates, spikes, the mother's rate in its place."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from synthetic_cases.fhr import averaged, beat_held, samples
from synthetic_cases.noise import fluctuation, slow
from synthetic_cases.plan import SAMPLE_RATE_HZ, CasePlan
from synthetic_cases.shapes import FloatArray, departure
from synthetic_cases.truth import Artefact

# Lengths of lost stretches: half under 2.25 s, a tenth over 14 s, as counted on open recordings of late labour.
_GAP_MEDIAN_S, _GAP_SIGMA = 2.25, 1.41
_RECORDED_LOW_BPM, _RECORDED_HIGH_BPM = 45.0, 240.0
Codes = NDArray[np.uint8]


def draw_mhr(plan: CasePlan, rng: np.random.Generator) -> FloatArray:
    """The mother's rate, shape (n_samples,): it rises with contractions, more so when she bears down."""
    n = plan.n_samples
    rate = rng.uniform(76, 94) + 4 * slow(rng, n, period_s=900) + 5 * fluctuation(rng, n)
    for event in plan.contractions:
        first = samples(event.onset_s)
        rise = (rng.uniform(12, 26) if event.pushes else rng.uniform(2, 10)) * departure(
            "cosine", "cosine", samples(event.rise_s), samples(8), samples(event.fall_s)
        )
        if first >= 0:
            part = rise[: max(n - first, 0)]
            rate[first : first + part.size] += part
    return np.asarray(np.round(beat_held(rate)))


def record(plan: CasePlan, clean: FloatArray, mhr: FloatArray, rng: np.random.Generator) -> tuple[FloatArray, Codes]:
    """The recorded rate with NaN where lost, and what was done to each sample, both shape (n_samples,)."""
    n = plan.n_samples
    if plan.fhr_sensor == "scalp_electrode":
        rate = beat_held(clean + rng.normal(0, 0.5, n))
    else:
        rate = beat_held(averaged(clean, 5) + rng.normal(0, 0.1, n))
    code: Codes = np.zeros(n, dtype=np.uint8)
    for start, end in plan.artefacts.maternal_s:
        here = slice(samples(start), samples(end))
        rate[here] = mhr[here]
        code[here] = Artefact.MATERNAL_RATE
    spared = _spared(plan)
    _scale_bursts(rate, code, spared, plan, rng)
    _spikes(rate, code, spared, plan, rng)
    rate = np.round(rate * 4) / 4
    lost = _lost(plan, clean, spared, rng)
    for start, end in plan.artefacts.gaps_s:
        lost[samples(start) : samples(end)] = True
    with np.errstate(invalid="ignore"):
        lost |= (rate < _RECORDED_LOW_BPM) | (rate > _RECORDED_HIGH_BPM)
    rate[lost] = np.nan
    code[lost] = Artefact.LOSS
    return rate, code


def _spared(plan: CasePlan) -> NDArray[np.bool_]:
    spared = np.zeros(plan.n_samples, dtype=bool)
    for start, end in plan.artefacts.spared_s:
        spared[max(samples(start), 0) : samples(end)] = True
    return spared


def _scale_bursts(
    rate: FloatArray, code: Codes, spared: NDArray[np.bool_], plan: CasePlan, rng: np.random.Generator
) -> None:
    """Stretches of 2 to 25 s in which the sensor counts every second beat, or each beat twice."""
    hours = plan.duration_s / 3600
    jobs = (
        (plan.artefacts.halving_per_hour, 0.5, Artefact.HALVED),
        (plan.artefacts.doubling_per_hour, 2.0, Artefact.DOUBLED),
    )
    for per_hour, factor, name in jobs:
        for _ in range(rng.poisson(per_hour * hours)):
            first = int(rng.integers(rate.size))
            here = slice(first, first + samples(rng.uniform(2, 25)))
            # Doubling happens at low rates: a doubled 140 would lie beyond what is recorded.
            if factor == 2.0 and rate[here].mean() > 115:
                continue
            if code[here].any() or spared[here].any():
                continue
            rate[here] *= factor
            code[here] = name


def _spikes(rate: FloatArray, code: Codes, spared: NDArray[np.bool_], plan: CasePlan, rng: np.random.Generator) -> None:
    for _ in range(rng.poisson(plan.artefacts.spikes_per_hour * plan.duration_s / 3600)):
        first = int(rng.integers(rate.size))
        here = slice(first, first + int(rng.integers(1, 5)))
        if code[here].any() or spared[here].any():
            continue
        rate[here] += rng.choice([-1.0, 1.0]) * rng.uniform(30, 70)
        code[here] = Artefact.SPIKE


def _lost(plan: CasePlan, clean: FloatArray, spared: NDArray[np.bool_], rng: np.random.Generator) -> NDArray[np.bool_]:
    """Bursts of lost signal whose share follows the stage of labour; ultrasound loses more on steep slopes."""
    n, art = plan.n_samples, plan.artefacts
    share = np.full(n, art.loss_first_stage)
    if plan.second_stage_s is not None:
        share[samples(plan.second_stage_s) :] = art.loss_second_stage
    if share.max(initial=0.0) <= 0:
        return np.zeros(n, dtype=bool)
    if plan.fhr_sensor != "scalp_electrode":
        steep = np.abs(np.gradient(averaged(clean, 9)) * SAMPLE_RATE_HZ) > 2.0
        share = share * np.where(steep, 2.5, 1.0)
    share = share * np.where(spared, 0.33, 1.0)
    # Overlapping bursts and their cap are made up for by the exponent: seen share = exp(-intensity x mean length).
    mean_s = _mean_gap_s(art.longest_gap_s)
    starts_per_sample = -np.log1p(-np.minimum(share, 0.9)) / (mean_s * SAMPLE_RATE_HZ)
    first = np.flatnonzero(rng.random(n) < starts_per_sample)
    length = np.minimum(_GAP_MEDIAN_S * np.exp(_GAP_SIGMA * rng.standard_normal(first.size)), art.longest_gap_s)
    length = np.where(spared[first], np.minimum(length, 8.0), length)
    change = np.zeros(n + 1, dtype=np.int64)
    np.add.at(change, first, 1)
    np.add.at(change, np.minimum(first + np.maximum(samples_of(length), 1), n), -1)
    return np.cumsum(change[:n]) > 0


def samples_of(seconds: FloatArray) -> NDArray[np.int64]:
    return np.round(seconds * SAMPLE_RATE_HZ).astype(np.int64)


@lru_cache(maxsize=16)
def _mean_gap_s(longest_s: float) -> float:
    """Mean of the capped lengths, by quadrature over the normal quantiles."""
    z = np.linspace(-5, 5, 2001)
    weight = np.exp(-(z**2) / 2)
    return float((np.minimum(_GAP_MEDIAN_S * np.exp(_GAP_SIGMA * z), longest_s) * weight).sum() / weight.sum())

"""Random labours with known truth, for measuring how right a reading is.

Unlike the invented unit these are not typical: every kind of deceleration comes often, at every size that counts, on
baselines that drift and step, with artefacts from none to severe.
"""

from dataclasses import replace
from typing import Literal

import numpy as np

from synthetic_cases.labours import HOUR, MINUTE, Draft, finish
from synthetic_cases.patterns import accelerate, contraction_train, prolonged, stretched, variable, with_contractions
from synthetic_cases.plan import ArtefactPlan, CasePlan
from synthetic_cases.shapes import FloatArray
from synthetic_cases.truth import Truth
from synthetic_cases.waveform import draw

Rng = np.random.Generator
ArtefactLevel = Literal["none", "mild", "moderate", "severe"]
Samples = dict[str, FloatArray | None]

_LEVELS: dict[ArtefactLevel, ArtefactPlan] = {
    "none": ArtefactPlan(toco_noise=0.3, toco_drift=1.5),
    "mild": ArtefactPlan(
        longest_gap_s=20.0,
        loss_first_stage=0.03,
        loss_second_stage=0.08,
        halving_per_hour=0.3,
        doubling_per_hour=0.2,
        spikes_per_hour=2.0,
        toco_noise=0.5,
        toco_waves=0.8,
        toco_drift=3.0,
        belt_moves_per_hour=0.2,
    ),
    "moderate": ArtefactPlan(
        longest_gap_s=60.0,
        loss_first_stage=0.10,
        loss_second_stage=0.22,
        halving_per_hour=1.5,
        doubling_per_hour=0.8,
        spikes_per_hour=5.0,
        toco_noise=0.8,
        toco_waves=1.4,
        toco_drift=5.0,
        belt_moves_per_hour=0.6,
    ),
    "severe": ArtefactPlan(
        loss_first_stage=0.22,
        loss_second_stage=0.38,
        halving_per_hour=4.0,
        doubling_per_hour=2.0,
        spikes_per_hour=12.0,
        toco_noise=1.3,
        toco_waves=2.4,
        toco_drift=7.0,
        belt_moves_per_hour=1.2,
    ),
}
_REGIMES = ("quiet", "early", "late", "variable", "prolonged", "mixed")


def simulate_labour(
    seed: int,
    *,
    artefact_level: ArtefactLevel = "mild",
    hours: float = 3.0,
    share_in_decelerations: float | None = None,
    with_mhr: bool = False,
) -> tuple[Samples, Truth]:
    """Draw a random labour.

    Parameters
    ----------
    seed : the same seed and options give the same samples.
    artefact_level : 'none' to 'severe' (a fifth to over a third of the signal lost, halvings, doublings, belt moves).
    hours : length of the tracing.
    share_in_decelerations : None for regimes in turn; otherwise about this share of the time is spent in variable
        decelerations throughout (0.6 and more is possible), to try the baseline.
    with_mhr : add a maternal channel, and let the maternal rate be recorded as the fetal one now and then.

    Returns
    -------
    samples : 'fhr_bpm', 'toco' and 'mhr_bpm' at 4 Hz, NaN = no signal; 'mhr_bpm' is None without the channel.
    truth : what was drawn. Kinds keep a margin from the boundaries of the definitions: gradual ones reach their nadir
        36 s or more after onset, abrupt ones within 24 s; late nadirs come 25 s or more after the peak.
    """
    rng = np.random.default_rng([seed, 4])
    plan = _random_plan(rng, hours, artefact_level, share_in_decelerations, with_mhr)
    recording, truth = draw(plan, rng)
    return {"fhr_bpm": recording.fhr_bpm, "toco": recording.toco, "mhr_bpm": recording.mhr_bpm}, truth


def _random_plan(
    rng: Rng, hours: float, level: ArtefactLevel, share_in_decelerations: float | None, with_mhr: bool
) -> CasePlan:
    duration = round(hours * HOUR)
    second = float(duration - rng.uniform(20, 50) * MINUTE) if hours >= 1.5 and rng.random() < 0.5 else None
    draft = Draft(
        rng=rng,
        duration_s=float(duration),
        second_stage_s=second,
        baseline_bpm=float(rng.uniform(115, 158)),
        variability_bpm=float(rng.uniform(9, 15)),
        fhr_sensor="scalp_electrode" if rng.random() < 0.3 else "ultrasound",
        with_mhr=with_mhr,
    )
    rate = float(rng.uniform(2.6, 3.8))
    draft.contractions = contraction_train(
        rng, draft.duration_s, lambda _t: rate, amplitude=float(rng.uniform(30, 55)), pushing_from_s=second
    )
    if share_in_decelerations is None:
        _regimes(draft)
    else:
        _dense(draft, share_in_decelerations)
    _random_baseline(draft)
    plan = finish(draft)
    artefacts = _LEVELS[level]
    if with_mhr and level != "none":
        artefacts = replace(artefacts, maternal_s=_maternal_spans(rng, draft.duration_s))
    return replace(plan, artefacts=artefacts)


def _regimes(draft: Draft) -> None:
    """Stretches of 18 to 35 minutes, each with one habit; accelerations where there is room."""
    rng, at = draft.rng, 60.0
    while at < draft.duration_s - 300:
        end = min(at + float(rng.uniform(18, 35)) * MINUTE, draft.duration_s - 120)
        regime = str(rng.choice(_REGIMES))
        if regime == "early":
            draft.contractions = stretched(draft.contractions, (at, end), rise_s=46)
            with_contractions(draft.builder, draft.contractions, (at, end), kind="early", share=0.6, depth=(18, 30))
        elif regime in ("late", "mixed"):
            share = 0.75 if regime == "late" else 0.4
            with_contractions(draft.builder, draft.contractions, (at, end), kind="late", share=share, depth=(18, 45))
        if regime in ("variable", "mixed"):
            with_contractions(
                draft.builder,
                draft.contractions,
                (at, end),
                kind="variable",
                share=0.6,
                depth=(22, 70),
                length=(22, 100),
            )
        if regime == "prolonged":
            event = prolonged(
                rng,
                at + float(rng.uniform(60, 500)),
                minutes=(2.4, 8.0),
                to_bpm=draft.baseline_bpm - float(rng.uniform(28, 65)),
                baseline_bpm=draft.baseline_bpm,
            )
            if event.end_s < draft.duration_s - 60:
                draft.builder.add_deceleration(event)
        _regime_variability(draft, regime, at, end)
        at = end


def _regime_variability(draft: Draft, regime: str, start_s: float, end_s: float) -> None:
    """Moderate as a rule, minimal in a third of the stretches with late decelerations, quiet cycles elsewhere."""
    rng = draft.rng
    if regime == "late" and rng.random() < 0.35:
        level = float(rng.uniform(2.5, 3.3))
    else:
        level = draft.variability_bpm * float(rng.uniform(0.75, 1.15))
        accelerate(draft.builder, (start_s, end_s), float(rng.uniform(2, 9)), (18, 34))
    draft.variability_knots += [(start_s + 60, level), (end_s - 60, level)]


def _dense(draft: Draft, share: float) -> None:
    """Decelerations one after the other, so that the asked share of the time is spent in them."""
    rng, at = draft.rng, 240.0
    draft.variability_knots.append((0.0, draft.variability_bpm))
    while at < draft.duration_s - 200:
        length = float(rng.uniform(55, 105))
        event = variable(rng, at, depth=(25, 60), length=(length, length), peak_s=None)
        draft.builder.add_deceleration(event)
        at += max(length / share, length + 16)


def _random_baseline(draft: Draft) -> None:
    """A slow drift, and in a quarter of the labours a step of about 20 bpm over two minutes."""
    rng = draft.rng
    level, low, high = draft.baseline_bpm, 112.0, 165.0
    at = 0.0
    while at <= draft.duration_s:
        draft.baseline_knots.append((at, level))
        level = float(np.clip(level + rng.normal(0, 4), low, high))
        at += 40 * MINUTE
    if rng.random() < 0.25 and draft.duration_s > HOUR:
        step = 20.0 if level < 140 else -20.0
        when = float(rng.uniform(0.3, 0.7)) * draft.duration_s
        moved = [(t, v + step if t > when else v) for t, v in draft.baseline_knots]
        here = float(np.interp(when, [t for t, _ in draft.baseline_knots], [v for _, v in draft.baseline_knots]))
        kept = [(t, v) for t, v in moved if not when - 1 <= t <= when + 121]
        draft.baseline_knots = sorted([*kept, (when, here), (when + 120, here + step)])


def _maternal_spans(rng: Rng, duration_s: float) -> tuple[tuple[float, float], ...]:
    spans, at = [], float(rng.uniform(600, 2400))
    while at < duration_s - 200:
        length = float(rng.uniform(25, 140))
        spans.append((at, at + length))
        at += length + float(rng.uniform(900, 3000))
    return tuple(spans)

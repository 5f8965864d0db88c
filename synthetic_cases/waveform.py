"""Draw one fetus's tracing from its plan, and write down the truth beside it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from synthetic_cases.artefacts import draw_mhr, record
from synthetic_cases.fhr import draw_baseline, draw_rate, samples
from synthetic_cases.noise import per_minute_width
from synthetic_cases.plan import SAMPLE_RATE_HZ, CasePlan
from synthetic_cases.shapes import FloatArray
from synthetic_cases.toco import draw_toco
from synthetic_cases.truth import TrueAcceleration, TrueDeceleration, TrueSinusoidal, Truth

Event = TypeVar("Event", TrueDeceleration, TrueAcceleration)


@dataclass(frozen=True)
class Recording:
    """Samples at 4 Hz, NaN = no signal, shape (n_samples,) each."""

    fhr_bpm: FloatArray
    toco: FloatArray
    mhr_bpm: FloatArray | None


def draw(plan: CasePlan, rng: np.random.Generator) -> tuple[Recording, Truth]:
    """Draw a tracing.

    `plan`: what to draw; events beyond the end of the tracing are left out of the truth. `rng`: the only source of
    chance; the same generator state gives the same samples.
    Gives recording: the samples as a sensor would have stored them. truth: what was drawn, before sensor and artefacts.
    """
    toco, usable, contractions = draw_toco(plan, rng)
    baseline, changes = draw_baseline(plan, rng)
    clean, variation, falls, rises = draw_rate(plan, baseline, rng)
    mhr = draw_mhr(plan, rng) if plan.with_mhr or plan.artefacts.maternal_s else np.zeros(plan.n_samples)
    fhr, code = record(plan, clean, mhr, rng)
    truth = Truth(
        duration_s=plan.duration_s,
        contractions=tuple(contractions),
        decelerations=tuple(_with_seen_area(_with_seen_fraction(falls, code), baseline - clean + variation, code)),
        accelerations=tuple(_with_seen_fraction(rises, code)),
        level_changes=tuple(changes),
        sinusoidal=tuple(
            TrueSinusoidal(s.start_s, s.end_s, s.cycles_per_min, s.peak_to_trough_bpm) for s in plan.sinusoidal
        ),
        baseline_bpm_4hz=baseline,
        clean_fhr_bpm_4hz=clean,
        artefact_4hz=code,
        toco_usable_4hz=usable,
        variability_1min_bpm=per_minute_width(variation),
        variability_range_1min_bpm=per_minute_width(variation, 0, 100),
    )
    return Recording(fhr, toco, mhr if plan.with_mhr else None), truth


def _with_seen_fraction(events: Sequence[Event], code: np.ndarray) -> list[Event]:
    return [
        replace(event, seen_fraction=float(np.mean(code[samples(event.onset_s) : samples(event.end_s)] == 0)))
        for event in events
    ]


def _with_seen_area(falls: list[TrueDeceleration], lack_bpm: FloatArray, code: np.ndarray) -> list[TrueDeceleration]:
    """Add the part of each area that was there to be seen; `lack_bpm` is baseline minus the drawn line."""
    seen = np.where(code == 0, lack_bpm, 0.0)
    return [
        replace(fall, seen_area_bpm_s=float(seen[samples(fall.onset_s) : samples(fall.end_s)].sum() / SAMPLE_RATE_HZ))
        for fall in falls
    ]

"""Random labours with one planted pattern each and a planted answer, for measuring the response clock."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from synthetic_cases.labours import MINUTE, Concern, Draft, background, finish, ordinary_rate
from synthetic_cases.patterns import prolonged, with_contractions
from synthetic_cases.plan import SinusoidalPlan
from synthetic_cases.truth import Truth
from synthetic_cases.waveform import draw
from tests.simulate import Samples

Rng = np.random.Generator
Status = Literal["in_time", "late", "none_recorded", "resolved", "born_first"]
Pattern = Literal["prolonged_deceleration", "recurrent_late", "low_variability", "sinusoidal"]

# What can happen to each pattern: a prolonged deceleration is over before anybody could be late by any target.
POSSIBLE: dict[Pattern, tuple[Status, ...]] = {
    "prolonged_deceleration": ("in_time", "resolved", "born_first"),
    "recurrent_late": ("in_time", "late", "none_recorded", "born_first"),
    "low_variability": ("in_time", "late", "none_recorded", "resolved"),
    "sinusoidal": ("in_time", "late", "none_recorded", "born_first"),
}
_LONGEST_GAP_S = 45.0
_LATE_MINUTES = (45.0, 55.0)  # after the last criterion: beyond any target up to 40 minutes
_OUTLASTS_MINUTES = 62.0


@dataclass(frozen=True)
class ResponseLabour:
    """One labour of the simulation. Times in seconds from the first sample."""

    labour: int
    samples: Samples
    truth: Truth
    pattern: Pattern
    pattern_start_s: float
    pattern_end_s: float
    recognisable_s: dict[str, float]  # 'standard/trigger' to the moment its criterion, read literally, is met
    response_s: float | None
    response_event: str | None
    status: Status  # under every standard and trigger of `recognisable_s`, for targets from 5 to 40 minutes
    events: tuple[tuple[float, str], ...]
    birth_s: float
    mode_of_birth: str
    second_stage_s: float | None
    gestation_weeks: int


def simulate_response_labours(n: int = 200, seed: int = 1) -> Iterator[ResponseLabour]:
    """Draw labours one after the other.

    Parameters
    ----------
    n : how many; patterns and outcomes of the clock come in turn, so every pair that is possible comes equally often.
    seed : the same seed gives the same labours.

    Yields
    ------
    labours with artefacts of a mild kind; nothing but the planted pattern is meant to meet a criterion.
    """
    pairs = [(pattern, status) for pattern, statuses in POSSIBLE.items() for status in statuses]
    for k in range(n):
        rng = np.random.default_rng([seed, 5, k])
        pattern, status = pairs[k % len(pairs)]
        yield _labour(k, rng, pattern, status)


def _labour(k: int, rng: Rng, pattern: Pattern, status: Status) -> ResponseLabour:
    start = float(rng.uniform(40, 70)) * MINUTE
    length, after = _length(rng, pattern, status)
    draft = _draft(rng, start + length + after)
    concern = _plant(draft, pattern, start, length)
    draft.concerns.append(concern)
    background(draft)
    first, last = min(concern.recognisable_s.values()), max(concern.recognisable_s.values())
    response = None
    if status == "in_time":
        # Prolonged decelerations are answered within their minutes, the others within four of the first criterion.
        response = (
            first + float(rng.uniform(0.4, 2.0) if pattern == "prolonged_deceleration" else rng.uniform(1, 4)) * 60
        )
    elif status == "late":
        response = last + float(rng.uniform(*_LATE_MINUTES)) * MINUTE
    birth = draft.duration_s + (2.0 if status == "born_first" else float(rng.uniform(30, 120)))
    events = [(float(rng.uniform(300, 1500)), "epidural"), (birth, "birth")]
    if response is not None:
        events += [(response, "senior_called"), (response + 30, "position_change")]
    plan = finish(draft)
    recording, truth = draw(
        replace(plan, artefacts=replace(plan.artefacts, spared_s=(), longest_gap_s=_LONGEST_GAP_S)), rng
    )
    return ResponseLabour(
        labour=k,
        samples={"fhr_bpm": recording.fhr_bpm, "toco": recording.toco, "mhr_bpm": None},
        truth=truth,
        pattern=pattern,
        pattern_start_s=concern.start_s,
        pattern_end_s=concern.end_s,
        recognisable_s=dict(concern.recognisable_s),
        response_s=response,
        response_event=None if response is None else "senior_called",
        status=status,
        events=tuple(sorted(events)),
        birth_s=birth,
        mode_of_birth="spontaneous_vaginal",
        second_stage_s=None,
        gestation_weeks=draft.gestation_weeks,
    )


def _length(rng: Rng, pattern: Pattern, status: Status) -> tuple[float, float]:
    """Seconds that the pattern lasts, and seconds of tracing after it."""
    met = {"prolonged_deceleration": 3, "recurrent_late": 30, "low_variability": 50, "sinusoidal": 20}[pattern]
    if pattern == "prolonged_deceleration":
        if status == "born_first":
            return float(rng.uniform(4.2, 6.0)) * MINUTE, 0.0
        # A self-limiting one stays under 5 minutes, or it would be pathological and outlast its answer.
        return float(rng.uniform(5.2, 7.0) if status == "in_time" else rng.uniform(4.2, 4.8)) * MINUTE, 25 * MINUTE
    if status == "in_time":
        return float(met + rng.uniform(12, 18)) * MINUTE, 25 * MINUTE
    if status == "born_first":
        return float(_first_met(pattern) + rng.uniform(3.0, 4.5)) * MINUTE, 0.0
    if status == "resolved":
        return float(met + rng.uniform(2.5, 4.0)) * MINUTE, 45 * MINUTE
    return float(met + _OUTLASTS_MINUTES + rng.uniform(0, 5)) * MINUTE, 2 * MINUTE


def _first_met(pattern: Pattern) -> float:
    """Minutes to the first criterion."""
    return 20.0 if pattern in ("recurrent_late", "sinusoidal") else 50.0


def _draft(rng: Rng, duration_s: float) -> Draft:
    duration = float(np.ceil(duration_s))
    draft = Draft(
        rng=rng,
        duration_s=duration,
        second_stage_s=None,
        baseline_bpm=float(rng.uniform(122, 150)),
        variability_bpm=float(rng.uniform(10.5, 14.0)),
        rate_per_10_min=ordinary_rate(rng, duration),
        fhr_sensor="scalp_electrode" if rng.random() < 0.3 else "ultrasound",
    )
    draft.loss = (float(rng.uniform(0.01, 0.06)), 0.1)
    return draft


def _plant(draft: Draft, pattern: Pattern, start: float, length: float) -> Concern:
    """Write one pattern into the draft."""
    if pattern == "recurrent_late":
        return _plant_late(draft, start, start + length)
    draft.contract()
    end = start + length
    if pattern == "prolonged_deceleration":
        draft.builder.keep_free(start - 240, start - 30)
        minutes = length / MINUTE
        low = float(draft.rng.uniform(72, 84))
        event = prolonged(draft.rng, start, minutes=(minutes, minutes), to_bpm=low, baseline_bpm=draft.baseline_bpm)
        draft.builder.add_deceleration(event)
        draft.calm.append((start - 240, end))
        triggers = ("nichd-2008/prolonged_deceleration", "figo-2015/prolonged_deceleration", "nice-ng229/urgent_review")
        return Concern(pattern, start, event.end_s, dict.fromkeys(triggers, start + 3 * MINUTE), strong=True)
    draft.builder.keep_free(start - 60, end + 60)
    if pattern == "low_variability":
        draft.hold_variability(start, end, float(draft.rng.uniform(2.2, 3.0)))
        standards = ("figo-2015/pathological", "nice-ng229/pathological")
        return Concern(pattern, start, end, dict.fromkeys(standards, start + 50 * MINUTE), strong=True)
    draft.hold_variability(start, end, 1.0)
    draft.sinusoidal.append(
        SinusoidalPlan(start, end, float(draft.rng.uniform(3.5, 4.5)), float(draft.rng.uniform(10, 14)))
    )
    return Concern(pattern, start, end, {"nichd-2008/category_iii": start + 20 * MINUTE}, strong=True)


def _plant_late(draft: Draft, start: float, end: float) -> Concern:
    """Late decelerations with minimal variability; FIGO 2015 counts 20 minutes of them, Clark 2013 thirty."""
    usual = draft.rate_per_10_min
    draft.contract(lambda t: 3.4 if start - 300 <= t < end else usual(t))
    # between absent and moderate, so that the pattern is of category II throughout
    draft.hold_variability(start, end, float(draft.rng.uniform(2.8, 4.0)))
    with_contractions(draft.builder, draft.contractions, (start, end), kind="late", share=0.95, depth=(22, 36))
    first = min(d.onset_s for d in draft.builder.decelerations)
    moments = {"figo-2015/pathological": first + 20 * MINUTE}
    if first + 31 * MINUTE < end:
        moments["nichd-2008/category_ii_persistent"] = first + 30 * MINUTE
    return Concern("recurrent_late", first, end, moments, strong=True)

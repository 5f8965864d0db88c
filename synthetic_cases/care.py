"""What the unit did and when: care events of a case, and the planted response to its pattern."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from synthetic_cases.labours import MINUTE, Concern, Draft

Rng = np.random.Generator
Pace = Literal["prompt", "slow", "long_delay", "unrecorded"]
Ending = Literal["spontaneous_vaginal", "instrumental_vaginal", "caesarean"]
SUDDEN = ("prolonged_deceleration", "terminal_bradycardia", "short_prolonged_deceleration")


@dataclass(frozen=True)
class CareEvent:
    at_s: float
    event: str


@dataclass(frozen=True)
class PlantedResponse:
    """When the first action came. `pace` says what was planted: 'prompt' ones are in time by any published target."""

    pattern: str
    pattern_start_s: float
    pattern_end_s: float
    recognisable_s: dict[str, float]
    response_s: float | None
    response_event: str | None
    pace: Pace


def routine(draft: Draft, rng: Rng) -> list[CareEvent]:
    """Events of any labour that are no answer to a pattern."""
    events = []
    if rng.random() < 0.6:
        events.append(CareEvent(float(rng.uniform(0.1, 0.4)) * draft.first_stage_end_s, "epidural"))
    if rng.random() < 0.7:
        events.append(CareEvent(float(rng.uniform(0.05, 0.6)) * draft.first_stage_end_s, "membranes_ruptured"))
    if draft.oxytocin or rng.random() < 0.35:
        draft.oxytocin = True
        started = float(rng.uniform(0.03, 0.2)) * draft.first_stage_end_s
        events.append(CareEvent(started, "oxytocin_started"))
        events.append(CareEvent(started + 60 * float(rng.uniform(20, 40)), "oxytocin_increased"))
    if draft.second_stage_s is not None:
        events.append(CareEvent(draft.second_stage_s + 60 * float(rng.uniform(1, 8)), "pushing_started"))
    return events


def respond(draft: Draft, concern: Concern, pace: Pace, rng: Rng) -> tuple[list[CareEvent], PlantedResponse]:
    """The unit's actions on one pattern.

    Prompt: from a few minutes after the pattern began and again every 6 to 9 minutes while it lasts, so that whatever
    the moment of recognition a response follows within minutes. Slow: nothing until well after the criterion was met,
    then as prompt. Long delay: nothing for over an hour after every criterion was met. Unrecorded: nothing.
    """
    moments = _action_moments(concern, pace, rng)
    events: list[CareEvent] = []
    for number, at in enumerate(moments):
        events += _actions(draft, concern, number, at, rng)
    first = min(events, key=lambda e: e.at_s) if events else None
    planted = PlantedResponse(
        pattern=concern.pattern,
        pattern_start_s=concern.start_s,
        pattern_end_s=concern.end_s,
        recognisable_s=dict(concern.recognisable_s),
        response_s=None if first is None else first.at_s,
        response_event=None if first is None else first.event,
        pace=pace,
    )
    return events, planted


def _action_moments(concern: Concern, pace: Pace, rng: Rng) -> list[float]:
    if pace == "unrecorded":
        return []
    known = concern.recognisable_s.values()
    if concern.pattern in SUDDEN:
        met = concern.start_s + 3 * MINUTE
        wait = {"prompt": rng.uniform(0.2, 1.6), "slow": rng.uniform(5, 9), "long_delay": rng.uniform(40, 50)}[pace]
        first, gap = met + wait * MINUTE, 2.5
    elif pace == "prompt":
        first, gap = concern.start_s + float(rng.uniform(4, 9)) * MINUTE, 7.5
    elif pace == "slow":
        met = min(known, default=concern.start_s + 12 * MINUTE)
        first, gap = met + float(np.clip(rng.lognormal(np.log(24), 0.3), 14, 40)) * MINUTE, 7.5
    else:
        met = max(known, default=concern.start_s + 30 * MINUTE)
        first, gap = met + float(rng.uniform(66, 84)) * MINUTE, 7.5
    moments = [float(first)]
    while moments[-1] + gap * MINUTE < concern.end_s and len(moments) < 16:
        moments.append(moments[-1] + gap * MINUTE * float(rng.uniform(0.8, 1.2)))
    return moments


def _actions(draft: Draft, concern: Concern, number: int, at: float, rng: Rng) -> list[CareEvent]:
    """What is done at one moment: the first brings the senior's call and resuscitation, later ones review."""
    step = float(rng.uniform(0.4, 0.9)) * MINUTE
    if concern.pattern == "tachysystole":
        firsts = ["oxytocin_reduced", "senior_called"] if rng.random() < 0.4 else ["oxytocin_stopped", "senior_called"]
        later = ["tocolytic_given", "senior_at_bedside"]
    elif concern.pattern in ("rising_baseline", "tachycardia"):
        firsts, later = ["iv_fluid_bolus", "senior_called"], ["senior_at_bedside"]
    elif concern.pattern == "short_prolonged_deceleration":
        firsts, later = ["position_change", "hypotension_treated"], ["senior_at_bedside"]
    elif concern.pattern in ("reduced_variability", "low_variability"):
        firsts, later = ["senior_called", "position_change"], ["scalp_stimulation", "senior_at_bedside"]
    else:
        firsts, later = ["senior_called", "position_change"], ["iv_fluid_bolus", "senior_at_bedside"]
        if draft.oxytocin:
            firsts.append("oxytocin_stopped")
    if number == 0:
        return [CareEvent(at + k * step, name) for k, name in enumerate(firsts)]
    if number == 1:
        return [CareEvent(at + k * step, name) for k, name in enumerate(later)]
    return [CareEvent(at, "senior_at_bedside" if number % 2 else "position_change")]


@dataclass(frozen=True)
class Birth:
    mode: Ending
    birth_s: float
    events: list[CareEvent]


def birth(draft: Draft, mode: Ending, urgency: Literal["none", "soon", "immediate"], rng: Rng) -> Birth:
    """The end of the labour: the tracing stops at birth, or at leaving for the theatre."""
    end = draft.duration_s
    if mode == "spontaneous_vaginal":
        at = end + float(rng.uniform(5, 120))
        return Birth(mode, at, [CareEvent(at, "birth")])
    if mode == "instrumental_vaginal":
        at = end + float(rng.uniform(20, 150))
        applied = at - 60 * float(rng.uniform(4, 9))
        decided = applied - 60 * float(rng.uniform(3, 9))
        names = ((decided, "decision_for_birth"), (applied, "instrument_applied"), (at, "birth"))
        return Birth(mode, at, [CareEvent(t, name) for t, name in names])
    before = {"immediate": (4, 7), "soon": (8, 14), "none": (15, 30)}[urgency]
    to_birth = {"immediate": (17, 26), "soon": (26, 48), "none": (42, 90)}[urgency]
    decided = end - 60 * float(rng.uniform(*before))
    at = decided + 60 * float(rng.uniform(*to_birth))
    incision = at - 60 * float(rng.uniform(3, 6))
    theatre = end + 0.4 * max(incision - end, 120) * float(rng.uniform(0.5, 1.0))
    names = ((decided, "decision_for_birth"), (theatre, "theatre_arrival"), (incision, "incision"), (at, "birth"))
    return Birth(mode, at, [CareEvent(t, name) for t, name in names])

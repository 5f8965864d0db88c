"""What the unit did and when: care events of a case, and the planted response to its pattern."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from synthetic_cases.labours import MINUTE, Concern, Draft

Rng = np.random.Generator
Pace = Literal["prompt", "slow", "long_delay", "unrecorded"]
Ending = Literal["spontaneous_vaginal", "instrumental_vaginal", "caesarean"]
UP, DOWN = "oxytocin_started", ("oxytocin_reduced", "oxytocin_stopped")
SUDDEN = ("prolonged_deceleration", "terminal_bradycardia", "short_prolonged_deceleration")


@dataclass(frozen=True)
class CareEvent:
    at_s: float
    event: str
    urgency: int | None = None  # of a decision for birth


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

    Prompt: within ten minutes of every moment at which one or other published criterion is met, then again and again
    while the pattern lasts. Slow: nothing until well after the criterion was met. Long delay: nothing for over an hour
    after every criterion was met. Unrecorded: nothing.
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


# Minutes after the pattern's start at which one standard or another is met: 20 and 30 minutes of late decelerations
# (FIGO 2015, Clark 2013), 50 of low variability (FIGO 2015, NICE NG229), 3 of a prolonged one, 10 of a raised
# baseline, and half-hourly review of what persists (FIGO 2015). The team of the story acts on each.
_MET_MINUTES: dict[str, tuple[float, ...]] = {
    "recurrent_late": (2, 20, 30),
    "absent_variability_recurrent_late": (2, 10, 20),
    "low_variability": (35, 51),
    "reduced_variability": (35,),
    "recurrent_variable": (3, 16, 34, 52),
    "tachysystole": (20, 54),
    "tachycardia": (1, 28),
    "rising_baseline": (80, 152),
    "sinusoidal": (10, 20, 30),
    "prolonged_deceleration": (3,),
    "terminal_bradycardia": (3,),
    "short_prolonged_deceleration": (1.8,),
}


_SLOW_FROM = {
    "recurrent_variable": 3,
    "tachysystole": 0,
}  # which of these moments a slow answer is counted from; else the second


def _action_moments(concern: Concern, pace: Pace, rng: Rng) -> list[float]:
    """When somebody acted, s."""
    if pace == "unrecorded":
        return []
    met = [m for m in _MET_MINUTES[concern.pattern] if concern.start_s + m * MINUTE < concern.end_s]
    met = met or [_MET_MINUTES[concern.pattern][0]]
    sudden = concern.pattern in SUDDEN
    if pace == "prompt":
        waits = [float(rng.uniform(0.2, 1.6) if sudden else np.clip(rng.lognormal(np.log(4), 0.5), 1, 10)) for _ in met]
        moments = [concern.start_s + (m + wait) * MINUTE for m, wait in zip(met, waits)]
    elif pace == "slow":
        criterion = met[min(_SLOW_FROM.get(concern.pattern, 1), len(met) - 1)]
        wait = float(rng.uniform(5, 9) if sudden else np.clip(rng.lognormal(np.log(24), 0.3), 16, 42))
        moments = [concern.start_s + (criterion + wait) * MINUTE]
    else:
        last = max(concern.recognisable_s.values(), default=concern.start_s + met[-1] * MINUTE)
        moments = [last + float(rng.uniform(66, 84)) * MINUTE]
    gap = 2.5 if sudden else 24.0 if concern.pattern in ("tachycardia", "rising_baseline") else 11.0
    while moments[-1] + 1.2 * gap * MINUTE < concern.end_s:
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


def oxytocin_went_on(draft: Draft, planted: PlantedResponse, events: list[CareEvent]) -> list[CareEvent]:
    """Oxytocin that was increased while a concern lasted that nobody had answered, and stopped with the answer.

    It runs from before the pattern: from the routine's start, or a tenth of the first stage on. No chance is drawn.
    """
    known, answered = max(planted.recognisable_s.values(), default=None), planted.response_s
    if known is None or answered is None:
        return []
    increased, stopped = known + 0.4 * (answered - known), answered + 2 * MINUTE
    started = min(0.1 * draft.first_stage_end_s, planted.pattern_start_s - 10 * MINUTE)
    found = [CareEvent(increased, "oxytocin_increased"), CareEvent(stopped, "oxytocin_stopped")]
    running = any(e.event == "oxytocin_started" and e.at_s < planted.pattern_start_s for e in events)
    return found if running else [CareEvent(started, "oxytocin_started"), *found]


def oxytocin_was_lowered(draft: Draft, planted: PlantedResponse, events: list[CareEvent]) -> list[CareEvent]:
    """Oxytocin that ran before the pattern, and was reduced three minutes after the answer. No chance is drawn.

    Where it was stopped or reduced from the answer on, nothing is added; unanswered, it runs on.
    """
    first, answered = planted.pattern_start_s, planted.response_s
    running = any(e.event == "oxytocin_started" and e.at_s < first for e in events)
    found = [] if running else [CareEvent(max(0.0, min(0.1 * draft.first_stage_end_s, first - 10 * MINUTE)), UP)]
    if answered is None or any(e.event in DOWN and first <= e.at_s <= planted.pattern_end_s for e in events):
        return found
    return [*found, CareEvent(answered + 3 * MINUTE, "oxytocin_reduced")]


def before_birth(planted: PlantedResponse, birth_s: float) -> PlantedResponse:
    """The same, or no response when birth came before it."""
    if planted.response_s is None or planted.response_s <= birth_s:
        return planted
    return replace(planted, response_s=None, response_event=None)


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
        return Birth(mode, at, [_step(t, name, 1 if urgency == "immediate" else 2) for t, name in names])
    before = {"immediate": (4, 7), "soon": (8, 14), "none": (15, 30)}[urgency]
    to_birth = {"immediate": (17, 26), "soon": (26, 48), "none": (42, 90)}[urgency]
    decided = end - 60 * float(rng.uniform(*before))
    at = decided + 60 * float(rng.uniform(*to_birth))
    incision = at - 60 * float(rng.uniform(3, 6))
    theatre = end + 0.4 * max(incision - end, 120) * float(rng.uniform(0.5, 1.0))
    steps = ((decided, "decision_for_birth"), (theatre, "theatre_arrival"), (incision, "incision"), (at, "birth"))
    category = {"immediate": 1, "soon": 2, "none": 3}[urgency]
    return Birth(mode, at, [_step(t, name, category) for t, name in steps])


def _step(at_s: float, event: str, urgency: int) -> CareEvent:
    return CareEvent(at_s, event, urgency if event == "decision_for_birth" else None)

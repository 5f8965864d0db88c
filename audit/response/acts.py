"""Which recorded acts answer a concern: the first act, the escalation, a decision already in force. Pure."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from audit.response.record import Suspect
from audit.response.rules import ResponseSettings, TriggerRule
from audit.response.types import CareEvent, Episode

SLACK_S = 1e-6  # rounding of floating-point times only
DECISION = "decision_for_birth"
OXYTOCIN_UP = ("oxytocin_started", "oxytocin_increased")


@dataclass(frozen=True)
class Labour:
    """What all episodes of one fetus share."""

    acts: tuple[CareEvent, ...]  # in time order, without the suspect ones
    suspects: tuple[Suspect, ...]
    birth_s: float | None
    operative: bool
    tracing_end_s: float
    recorded: bool
    settings: ResponseSettings


class Act(NamedTuple):
    """The act that answered an episode."""

    at_s: float
    event: str
    note: str | None = None


@dataclass(frozen=True)
class Standing:
    """A decision for birth in force when a pattern began, and until when."""

    at_s: float
    urgency: int | None
    until_s: float


@dataclass(frozen=True)
class Answers:
    """Both clocks of one episode, what stood already, and what made it worse. None = not recorded."""

    first_act: Act | None
    escalation: Act | None
    standing: Standing | None
    oxytocin: CareEvent | None


def answers_of(episode: Episode, rule: TriggerRule, labour: Labour) -> Answers:
    """What the record holds for one episode, whatever came of it.

    Acts count from the pattern's start on (`note_rounding_minutes` for notes rounded to the minute), also before the
    criterion was met, up to birth or a while after the pattern's end. A later decision of lower urgency than the last
    one before the pattern is none. An operative birth whose decision is not noted stands for it.
    """
    last_s = last_moment(episode, rule, labour)
    counted = [event for event in _within(episode, last_s, labour) if _answers(event, episode, rule, labour)]
    firm = labour.settings.events_of("escalation", "decision")
    birth = _operative_birth(episode, rule, labour)
    return Answers(
        first_act=_earliest(counted, birth),
        escalation=_earliest([event for event in counted if event.event in firm], birth),
        standing=_standing(episode, rule, labour),
        oxytocin=_oxytocin(episode, labour),
    )


def from_moment(episode: Episode, settings: ResponseSettings) -> float:
    """The first moment at which an act can answer the episode, s."""
    return episode.pattern_start_s - 60.0 * settings.note_rounding_minutes - SLACK_S


def last_moment(episode: Episode, rule: TriggerRule, labour: Labour) -> float:
    """The last moment at which an act still answers the episode, s."""
    settings = labour.settings
    after_s = 60.0 * settings.after_end_minutes
    last_s = float("inf")
    if not episode.open_end:
        last_s = max(episode.recognisable_s + 60.0 * rule.target_minutes, episode.end_s + after_s)
    if labour.birth_s is not None:
        last_s = min(last_s, labour.birth_s)
    elif episode.open_end:
        # without a birth time an act long after the tracing may belong to the care after birth
        last_s = labour.tracing_end_s + after_s
    return last_s + SLACK_S


def is_operative(events: Sequence[CareEvent], mode_of_birth: str | None, settings: ResponseSettings) -> bool:
    """Whether the birth was operative, by its mode or by what was noted."""
    words = set(re.split(r"[^a-z]+", (mode_of_birth or "").lower()))
    if words & settings.operative_words:
        return True
    return any(event.event in ("incision", "instrument_applied") for event in events)


def _within(episode: Episode, last_s: float, labour: Labour) -> list[CareEvent]:
    first_s = from_moment(episode, labour.settings)
    return [event for event in labour.acts if first_s <= event.at_s <= last_s]


def _earliest(counted: Sequence[CareEvent], birth: Act | None) -> Act | None:
    return Act(counted[0].at_s, counted[0].event) if counted else birth


def _answers(event: CareEvent, episode: Episode, rule: TriggerRule, labour: Labour) -> bool:
    if event.event not in rule.counts:
        return False
    if event.event != DECISION or event.urgency is None:
        return True
    before = _last_decision(episode, labour)
    return before is None or before.urgency is None or event.urgency <= before.urgency


def _last_decision(episode: Episode, labour: Labour) -> CareEvent | None:
    first_s = from_moment(episode, labour.settings)
    earlier = [event for event in labour.acts if event.event == DECISION and event.at_s < first_s]
    return earlier[-1] if earlier else None


def _standing(episode: Episode, rule: TriggerRule, labour: Labour) -> Standing | None:
    decision = _last_decision(episode, labour)
    if decision is None or DECISION not in rule.counts:
        return None
    until_s = decision.at_s + 60.0 * labour.settings.decision_in_force.minutes(decision.urgency)
    if until_s < episode.pattern_start_s - SLACK_S:
        return None
    return Standing(decision.at_s, decision.urgency, until_s)


def _oxytocin(episode: Episode, labour: Labour) -> CareEvent | None:
    until_s = episode.end_s if labour.birth_s is None else min(episode.end_s, labour.birth_s)
    for event in labour.acts:
        if event.event in OXYTOCIN_UP and episode.pattern_start_s <= event.at_s <= until_s:
            return event
    return None


def _operative_birth(episode: Episode, rule: TriggerRule, labour: Labour) -> Act | None:
    """An operative birth as the answer itself: within the target, or after an earlier decision."""
    born_s = labour.birth_s
    if born_s is None or not labour.operative or not labour.settings.events_of("decision") & rule.counts:
        return None
    if born_s > last_moment(episode, rule, labour):
        return None
    soon = born_s <= episode.recognisable_s + 60.0 * rule.target_minutes + SLACK_S
    if not soon and _last_decision(episode, labour) is None:
        return None
    return Act(born_s, "birth", note="the operative birth itself is the first act noted")

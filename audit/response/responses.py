"""The response clock: what was recorded after a concern became recognisable, and how it ended.

Fair to those who were there: it counts from recognition, credits what was already under way, and calls nothing late
that the record or the tracing leaves open.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from audit.response.record import Suspect, suspect_times
from audit.response.rules import ResponseSettings, TriggerRule
from audit.response.types import CareEvent, Episode, Response, Status

NOTHING_RECORDED = "no care events are recorded for this labour"
_MUCH_UNSEEN = 0.5  # share of an episode that is told; our choice
_SLACK_S = 1e-6  # rounding of floating-point times only


def respond(
    episodes: Sequence[Episode],
    events: Sequence[CareEvent],
    *,
    birth_s: float | None,
    second_stage_s: float | None,
    mode_of_birth: str | None,
    tracing_end_s: float,
    events_recorded: bool,
    settings: ResponseSettings,
) -> list[Response]:
    """Say for each episode what answered it, after how long, and how it ended.

    Parameters
    ----------
    episodes : of one fetus, any standards and triggers. events : of its labour, any order. Neither is modified.
    birth_s : birth of this fetus, s; None = unknown.
    second_stage_s : start of the second stage, s; None = unknown. Only to see whether the birth time can be right.
    mode_of_birth : as the unit says; None = not given.
    tracing_end_s : last judged moment of the tracing, s.
    events_recorded : False when no care was noted for this labour at all (a missing record, not missing care).
    settings : triggers with target and lead window (min), and the events that count.

    Returns
    -------
    responses : one per episode, in the episodes' order.

    Raises
    ------
    SettingsError : the settings hold no entry for an episode's trigger.

    Notes
    -----
    Statuses, first that fits:
    not_assessable: nothing recorded at all; recognised only after birth; the times that decide are out of order; the
    tracing ended before the target with the pattern unresolved; birth time unknown where it decides.
    in_time: an act that counts, from the lead window before recognition to the target, exactly at the target included;
    a decision for birth still in force or an operative birth within the target is such an act.
    late: the first such act came after the target, while the pattern lasted or shortly after.
    resolved: the pattern ended by the target and nothing had been recorded. born_first: birth did.
    none_recorded: the pattern outlasted the target and no act is recorded.
    Which acts count: `response.triggers` and `response.events` in the settings, with their sources. An act after birth
    never counts; tests and oxygen are never credited.
    """
    suspects = suspect_times(events, birth_s=birth_s, second_stage_s=second_stage_s, settings=settings)
    doubted = {id(suspect.event) for suspect in suspects}
    labour = _Labour(
        acts=tuple(sorted((event for event in events if id(event) not in doubted), key=lambda event: event.at_s)),
        suspects=tuple(suspects),
        birth_s=birth_s,
        operative=_is_operative(events, mode_of_birth, settings),
        tracing_end_s=tracing_end_s,
        recorded=events_recorded,
        episodes=tuple(episodes),
        settings=settings,
    )
    return [_respond(episode, labour) for episode in episodes]


@dataclass(frozen=True)
class _Labour:
    """What all episodes of one fetus share."""

    acts: tuple[CareEvent, ...]  # in time order, without the suspect ones
    suspects: tuple[Suspect, ...]
    birth_s: float | None
    operative: bool
    tracing_end_s: float
    recorded: bool
    episodes: tuple[Episode, ...]
    settings: ResponseSettings


class _Act(NamedTuple):
    """The act that answered an episode."""

    at_s: float
    event: str
    under_way: bool
    note: str | None = None


def _respond(episode: Episode, labour: _Labour) -> Response:
    rule = labour.settings.rule(episode.standard, episode.trigger)
    act = _first_act(episode, rule, labour)
    status, note = _status(episode, rule, act, labour)
    if status not in ("in_time", "late"):
        act = None
    escalation = _first_escalation(episode, rule, labour) if act is not None else None
    birth_s = labour.birth_s
    to_birth = None if birth_s is None or birth_s < episode.recognisable_s else birth_s - episode.recognisable_s
    return Response(
        standard=episode.standard,
        trigger=episode.trigger,
        pattern_start_s=episode.pattern_start_s,
        recognisable_s=episode.recognisable_s,
        end_s=episode.end_s,
        response_s=None if act is None else act.at_s,
        response_event=None if act is None else act.event,
        minutes_to_response=None if act is None else _minutes_to(episode, act, rule, status),
        minutes_to_birth=None if to_birth is None else to_birth / 60.0,
        target_minutes=rule.target_minutes,
        status=status,
        escalation_s=None if escalation is None else escalation.at_s,
        minutes_to_escalation=None if escalation is None else _minutes_since(episode, escalation),
        note=_joined(
            note,
            None if act is None else act.note,
            _unseen_note(episode) if status in ("late", "none_recorded") else None,
            _tests_note(episode, act, labour),
        ),
    )


def _minutes_to(episode: Episode, act: _Act, rule: TriggerRule, status: Status) -> float:
    minutes = _minutes_since(episode, act)
    # exactly at the target is in time, whatever the last bit of a floating-point time says
    return min(minutes, rule.target_minutes) if status == "in_time" else minutes


def _unseen_note(episode: Episode) -> str | None:
    """Nobody could watch a pattern without signal, so a reviewer should know how much of it there was."""
    lasted = (episode.end_s - episode.recognisable_s) / 60.0
    if episode.unseen_minutes < _MUCH_UNSEEN * lasted or episode.unseen_minutes == 0:
        return None
    return f"no usable signal for {episode.unseen_minutes:.0f} of its {lasted:.0f} min"


def _minutes_since(episode: Episode, act: _Act) -> float:
    return 0.0 if act.under_way else max(0.0, act.at_s - episode.recognisable_s) / 60.0


def _status(episode: Episode, rule: TriggerRule, act: _Act | None, labour: _Labour) -> tuple[Status, str | None]:
    if not _clock_runs(episode, labour):
        return "not_assessable", _why_no_clock(episode, labour)
    deadline_s = episode.recognisable_s + 60.0 * rule.target_minutes + _SLACK_S
    if act is not None and (act.under_way or act.at_s <= deadline_s):
        return "in_time", None
    ended_s = float("inf") if episode.open_end else episode.end_s
    born_s = float("inf") if labour.birth_s is None else labour.birth_s
    if min(ended_s, born_s) <= deadline_s:
        if born_s <= ended_s:
            doubt = _birth_doubt(labour)
            return ("not_assessable", doubt) if doubt else ("born_first", None)
        return "resolved", None
    doubt = _order_doubt(episode, rule, labour)
    if doubt:
        return "not_assessable", doubt
    if act is not None:
        after = (act.at_s - labour.tracing_end_s) / 60.0
        return "late", f"the tracing had ended {after:.0f} min before" if episode.open_end and after >= 1 else None
    grace_s = 60.0 * labour.settings.tracing_end_grace_minutes
    if episode.open_end and labour.tracing_end_s + grace_s < deadline_s - _SLACK_S:
        seen = (labour.tracing_end_s - episode.recognisable_s) / 60.0
        unknown = "; the time of birth is unknown" if labour.birth_s is None else ""
        return "not_assessable", (
            f"the tracing ended {seen:.0f} min after recognition, before the target of {rule.target_minutes:.0f} min,"
            f" with the pattern going on{unknown}"
        )
    return "none_recorded", _operative_note(labour)


def _clock_runs(episode: Episode, labour: _Labour) -> bool:
    return labour.recorded and (labour.birth_s is None or labour.birth_s > episode.recognisable_s)


def _why_no_clock(episode: Episode, labour: _Labour) -> str:
    if not labour.recorded:
        return NOTHING_RECORDED
    return "the criteria were first met at or after the noted time of birth"


def _operative_note(labour: _Labour) -> str | None:
    if not labour.operative:
        return None
    return "the birth was operative, so a decision was taken, but its time is not recorded in the span that counts"


def _first_act(episode: Episode, rule: TriggerRule, labour: _Labour) -> _Act | None:
    """The earliest act that counts, something already under way before anything that came later."""
    under_way = _under_way(episode, rule, labour)
    if under_way is not None:
        return under_way
    last_s = _last_moment(episode, rule, labour)
    for event in labour.acts:
        if event.event in rule.counts and episode.recognisable_s < event.at_s <= last_s:
            return _Act(event.at_s, event.event, under_way=False)
    if _operative_birth_answers(episode, rule, labour) and labour.birth_s is not None:
        return _Act(labour.birth_s, "birth", under_way=False, note="the operative birth itself is the first act noted")
    return None


def _under_way(episode: Episode, rule: TriggerRule, labour: _Labour) -> _Act | None:
    """The latest act that was begun before recognition and still counts at it."""
    now_s = episode.recognisable_s
    lead_s = now_s - 60.0 * rule.lead_minutes - _SLACK_S
    before = [event for event in labour.acts if event.at_s <= now_s]
    for event in reversed(before):
        if event.event in rule.counts and event.at_s >= lead_s:
            return _Act(event.at_s, event.event, under_way=True)
    force_s = now_s - 60.0 * labour.settings.decision_in_force_minutes - _SLACK_S
    for event in reversed(before):
        if event.event == "decision_for_birth" and event.event in rule.counts and event.at_s >= force_s:
            return _Act(event.at_s, event.event, under_way=True, note="a decision for birth was already in force")
    return _answered_around(episode, rule, before, labour)


def _answered_around(episode: Episode, rule: TriggerRule, before: Sequence[CareEvent], labour: _Labour) -> _Act | None:
    """An escalation within an episode that encloses this one: the same people are on the same concern."""
    recent_s = episode.recognisable_s - 60.0 * labour.settings.escalation_in_force_minutes - _SLACK_S
    escalation = labour.settings.events_of("escalation") & rule.counts
    for outer in labour.episodes:
        encloses = outer.standard == episode.standard and outer is not episode
        if not encloses or not outer.recognisable_s < episode.recognisable_s < outer.end_s:
            continue
        for event in reversed(before):
            if event.event in escalation and event.at_s >= max(recent_s, outer.recognisable_s):
                note = f"called already within the enclosing {outer.trigger.replace('_', ' ')}"
                return _Act(event.at_s, event.event, under_way=True, note=note)
    return None


def _last_moment(episode: Episode, rule: TriggerRule, labour: _Labour) -> float:
    """The last moment at which an act still answers this episode."""
    settings = labour.settings
    after_s = 60.0 * settings.after_end_minutes
    last_s = float("inf")
    if not episode.open_end:
        deadline_s = episode.recognisable_s + 60.0 * rule.target_minutes
        last_s = max(deadline_s, episode.end_s + after_s)
    if labour.birth_s is not None:
        last_s = min(last_s, labour.birth_s)
    elif episode.open_end:
        # without a birth time an act long after the tracing may belong to the care after birth
        last_s = labour.tracing_end_s + after_s
    return last_s + _SLACK_S


def _first_escalation(episode: Episode, rule: TriggerRule, labour: _Labour) -> _Act | None:
    """The first call or decision, whatever measures came before it."""
    wanted = labour.settings.events_of("escalation", "decision") & rule.counts
    under_way = _under_way(episode, rule, labour)
    if under_way is not None and under_way.event in wanted:
        return under_way
    lead_s = episode.recognisable_s - 60.0 * rule.lead_minutes - _SLACK_S
    last_s = _last_moment(episode, rule, labour)
    for event in labour.acts:
        if event.event in wanted and lead_s <= event.at_s <= last_s:
            return _Act(event.at_s, event.event, under_way=event.at_s <= episode.recognisable_s)
    if _operative_birth_answers(episode, rule, labour) and labour.birth_s is not None:
        return _Act(labour.birth_s, "birth", under_way=False)
    return None


def _operative_birth_answers(episode: Episode, rule: TriggerRule, labour: _Labour) -> bool:
    """Whether an operative birth is itself the answer: within the target, or after an earlier decision."""
    born_s = labour.birth_s
    if born_s is None or not labour.operative or not labour.settings.events_of("decision") & rule.counts:
        return False
    if not episode.recognisable_s < born_s <= _last_moment(episode, rule, labour):
        return False
    if born_s <= episode.recognisable_s + 60.0 * rule.target_minutes + _SLACK_S:
        return True
    return any(event.event == "decision_for_birth" and event.at_s <= episode.recognisable_s for event in labour.acts)


def _is_operative(events: Sequence[CareEvent], mode_of_birth: str | None, settings: ResponseSettings) -> bool:
    words = set(re.split(r"[^a-z]+", (mode_of_birth or "").lower()))
    if words & settings.operative_words:
        return True
    return any(event.event in ("incision", "instrument_applied") for event in events)


def _order_doubt(episode: Episode, rule: TriggerRule, labour: _Labour) -> str | None:
    """Why the order of times leaves the verdict open: a suspect act lies where it could have decided."""
    first_s = episode.recognisable_s - 60.0 * rule.lead_minutes
    last_s = _last_moment(episode, rule, labour)
    # an act with a wrong time happened at some time before; how long before, nobody can say
    reach_s = 60.0 * labour.settings.decision_in_force_minutes
    for suspect in labour.suspects:
        event = suspect.event
        decides = event.event in rule.counts or event.event == "birth"
        if decides and first_s <= event.at_s <= last_s + reach_s:
            return f"times out of order: {suspect.why}"
    return None


def _birth_doubt(labour: _Labour) -> str | None:
    for suspect in labour.suspects:
        if suspect.event.event == "birth":
            return f"times out of order: {suspect.why}"
    return None


def _tests_note(episode: Episode, act: _Act | None, labour: _Labour) -> str | None:
    """Tests noted while nothing else was: they show attention, though they treat nothing."""
    until_s = act.at_s if act is not None else (episode.end_s if labour.birth_s is None else labour.birth_s)
    tests = labour.settings.events_of("test")
    for event in labour.acts:
        if event.event in tests and episode.recognisable_s <= event.at_s < min(until_s, episode.end_s):
            minutes = (event.at_s - episode.recognisable_s) / 60.0
            return f"{event.event.replace('_', ' ')} noted after {minutes:.0f} min: a test, not counted as a response"
    return None


def _joined(*parts: str | None) -> str | None:
    said = [part for part in parts if part]
    return "; ".join(said) if said else None

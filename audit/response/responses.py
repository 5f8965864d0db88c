"""The response clock: what was recorded after a concern began, and how it ended.

Fair to those who were there and to those who ask: an act counts from the pattern's start, never from before it; what
was decided already is told as such; nothing is called late that the record or the tracing leaves open.
"""

from collections.abc import Sequence

from audit.response.acts import SLACK_S, Act, Answers, Labour, answers_of, from_moment, is_operative, last_moment
from audit.response.record import suspect_times
from audit.response.rules import ResponseSettings, TriggerRule
from audit.response.types import CareEvent, Episode, Response, Status

NOTHING_RECORDED = "no care events are recorded for this labour"
AT_START = "already there when the recording begins: how long it had lasted is not known"
_MUCH_UNSEEN = 0.5  # share of an episode that is told; our choice


def respond(episodes: Sequence[Episode], labour: Labour) -> list[Response]:
    """Say for each episode what answered it, after how long, and how it ended.

    Parameters
    ----------
    episodes : of one fetus, any standards and triggers; not modified.
    labour : of the same fetus, as `labour_of` makes it.

    Returns
    -------
    responses : one per episode, in the episodes' order.

    Raises
    ------
    SettingsError : the settings hold no entry for an episode's trigger.

    Notes
    -----
    Two clocks run, first act and escalation (senior called or at the bedside, decision); `decided_by` of the trigger
    says which gives the status. Statuses, first that fits:
    not_assessable: nothing recorded at all; recognised only after birth.
    under_way: a decision for birth was in force when the pattern began, and its published interval (NICE NG192, ACOG,
    from memory) had not passed when the target did, or the pattern or the labour ended.
    in_time: the deciding clock's act lies between the pattern's start and the target, exactly at the target included.
    born_first, resolved: birth or the pattern's end came by the target.
    not_assessable: the times that decide are out of order; the tracing ended before the target with the pattern
    unresolved; birth time unknown where it decides.
    late: the first such act came after the target, while the pattern lasted or shortly after.
    none_recorded: the pattern outlasted the target and no such act is recorded.
    An act after birth never counts; tests, oxygen and more oxytocin are never credited.
    """
    return [_respond(episode, labour) for episode in episodes]


def labour_of(
    events: Sequence[CareEvent],
    *,
    birth_s: float | None,
    second_stage_s: float | None,
    mode_of_birth: str | None,
    tracing_end_s: float,
    events_recorded: bool,
    settings: ResponseSettings,
) -> Labour:
    """The labour's record, with times that cannot be right put apart.

    Parameters
    ----------
    events : of the labour, any order; not modified.
    birth_s : birth of this fetus, s; None = unknown.
    second_stage_s : start of the second stage, s; None = unknown. Only to see whether the birth time can be right.
    mode_of_birth : as the unit says; None = not given.
    tracing_end_s : last judged moment of the tracing, s.
    events_recorded : False when no care was noted for this labour at all (a missing record, not missing care).
    settings : triggers with target (min), deciding clock, and the events that count.
    """
    suspects = suspect_times(events, birth_s=birth_s, second_stage_s=second_stage_s, settings=settings)
    doubted = {id(suspect.event) for suspect in suspects}
    return Labour(
        acts=tuple(sorted((event for event in events if id(event) not in doubted), key=in_order)),
        suspects=tuple(suspects),
        birth_s=birth_s,
        operative=is_operative(events, mode_of_birth, settings),
        tracing_end_s=tracing_end_s,
        recorded=events_recorded,
        settings=settings,
    )


def status_of(episode: Episode, labour: Labour) -> Status:
    """The status alone, as `respond` gives it."""
    rule = labour.settings.rule(episode.standard, episode.trigger)
    return _status(episode, rule, answers_of(episode, rule, labour), labour)[0]


def in_order(event: CareEvent) -> tuple[float, str, int]:
    """The order of a labour's acts: by time, and at one time always the same."""
    return event.at_s, event.event, event.urgency or 0


def _respond(episode: Episode, labour: Labour) -> Response:
    rule = labour.settings.rule(episode.standard, episode.trigger)
    answers = answers_of(episode, rule, labour)
    status, note = _status(episode, rule, answers, labour)
    deciding = _deciding(rule, answers) if status in ("in_time", "late") else None
    told = _clock_runs(episode, labour)
    first_act, escalation = (answers.first_act, answers.escalation) if told else (None, None)
    standing, oxytocin = (answers.standing, answers.oxytocin) if told else (None, None)
    birth_s = labour.birth_s
    to_birth = None if birth_s is None or birth_s < episode.recognisable_s else birth_s - episode.recognisable_s
    minutes = None if deciding is None else _minutes(episode, deciding)
    if status == "in_time" and minutes is not None:
        # exactly at the target is in time, whatever the last bit of a floating-point time says
        minutes = min(minutes, rule.target_minutes)
    return Response(
        standard=episode.standard,
        trigger=episode.trigger,
        pattern_start_s=episode.pattern_start_s,
        recognisable_s=episode.recognisable_s,
        end_s=episode.end_s,
        response_s=None if deciding is None else deciding.at_s,
        response_event=None if deciding is None else deciding.event,
        minutes_to_response=minutes,
        minutes_to_birth=None if to_birth is None else to_birth / 60.0,
        target_minutes=rule.target_minutes,
        status=status,
        first_act_s=None if first_act is None else first_act.at_s,
        first_act_event=None if first_act is None else first_act.event,
        minutes_to_first_act=None if first_act is None else _minutes(episode, first_act),
        escalation_s=None if escalation is None else escalation.at_s,
        escalation_event=None if escalation is None else escalation.event,
        minutes_to_escalation=None if escalation is None else _minutes(episode, escalation),
        decided_by=rule.decided_by,
        standing_decision_s=None if standing is None else standing.at_s,
        standing_decision_urgency=None if standing is None else standing.urgency,
        oxytocin_s=None if oxytocin is None else oxytocin.at_s,
        oxytocin_event=None if oxytocin is None else oxytocin.event,
        note=_joined(
            note,
            AT_START if episode.at_start and told else None,
            None if deciding is None else deciding.note,
            _unseen_note(episode) if status in ("late", "none_recorded") else None,
            _oxytocin_note(episode, answers) if told else None,
            _tests_note(episode, deciding, labour),
        ),
    )


def _deciding(rule: TriggerRule, answers: Answers) -> Act | None:
    return answers.escalation if escalates(rule) else answers.first_act


def escalates(rule: TriggerRule) -> bool:
    """Whether the escalation decides and not the first act."""
    return rule.decided_by == "escalation"


def deadline_s(episode: Episode, rule: TriggerRule) -> float:
    """The last moment in time, s."""
    return episode.recognisable_s + 60.0 * rule.target_minutes + SLACK_S


def latest_to_stand(episode: Episode, rule: TriggerRule, labour: Labour) -> float:
    """Until when a former decision must be in force to be under way: the target, or an end before it, s."""
    return min(deadline_s(episode, rule), _ended_s(episode), _born_s(labour))


def _ended_s(episode: Episode) -> float:
    return float("inf") if episode.open_end else episode.end_s


def _born_s(labour: Labour) -> float:
    return float("inf") if labour.birth_s is None else labour.birth_s


def _minutes(episode: Episode, act: Act) -> float:
    return (act.at_s - episode.recognisable_s) / 60.0


def _unseen_note(episode: Episode) -> str | None:
    """Nobody could watch a pattern without signal, so a reviewer should know how much of it there was."""
    lasted = (episode.end_s - episode.recognisable_s) / 60.0
    if episode.unseen_minutes < _MUCH_UNSEEN * lasted or episode.unseen_minutes == 0:
        return None
    return f"no usable signal for {episode.unseen_minutes:.0f} of its {lasted:.0f} min"


def _status(episode: Episode, rule: TriggerRule, answers: Answers, labour: Labour) -> tuple[Status, str | None]:
    if not _clock_runs(episode, labour):
        return "not_assessable", _why_no_clock(labour)
    until_s, ended_s, born_s = deadline_s(episode, rule), _ended_s(episode), _born_s(labour)
    standing = answers.standing
    if standing is not None and latest_to_stand(episode, rule, labour) <= standing.until_s + 2 * SLACK_S:
        return "under_way", _standing_note(episode, answers)
    act = _deciding(rule, answers)
    if act is not None and act.at_s <= until_s:
        return "in_time", None
    if min(ended_s, born_s) <= until_s:
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
    if episode.open_end and labour.tracing_end_s + grace_s < until_s - SLACK_S:
        seen = (labour.tracing_end_s - episode.recognisable_s) / 60.0
        unknown = "; the time of birth is unknown" if labour.birth_s is None else ""
        return "not_assessable", (
            f"the tracing ended {seen:.0f} min after recognition, before the target of {rule.target_minutes:.0f} min,"
            f" with the pattern going on{unknown}"
        )
    return "none_recorded", _none_note(episode, rule, answers, labour)


def _clock_runs(episode: Episode, labour: Labour) -> bool:
    return labour.recorded and (labour.birth_s is None or labour.birth_s > episode.recognisable_s)


def _why_no_clock(labour: Labour) -> str:
    if not labour.recorded:
        return NOTHING_RECORDED
    return "the criteria were first met at or after the noted time of birth"


def _standing_note(episode: Episode, answers: Answers) -> str | None:
    standing = answers.standing
    if standing is None:
        return None
    before = (episode.pattern_start_s - standing.at_s) / 60.0
    urgency = "urgency not given" if standing.urgency is None else f"urgency {standing.urgency}"
    return f"birth was decided {before:.0f} min before the pattern began ({urgency}) and the decision was in force"


def _none_note(episode: Episode, rule: TriggerRule, answers: Answers, labour: Labour) -> str | None:
    if labour.operative:
        return "the birth was operative, so a decision was taken, but its time is not recorded in the span that counts"
    act = answers.first_act
    if rule.decided_by == "escalation" and act is not None:
        words, minutes = act.event.replace("_", " "), _minutes(episode, act)
        when = f"{minutes:.0f} min after" if minutes >= 0 else f"{-minutes:.0f} min before"
        return f"{words} {when} recognition, and nobody was called"
    return None


def _order_doubt(episode: Episode, rule: TriggerRule, labour: Labour) -> str | None:
    """Why the order of times leaves the verdict open: a suspect act lies where it could have decided."""
    first_s = from_moment(episode, labour.settings)
    # an act with a wrong time happened at some time before; how long before, nobody can say
    last_s = last_moment(episode, rule, labour) + 60.0 * labour.settings.decision_in_force.longest
    for suspect in labour.suspects:
        event = suspect.event
        decides = event.event in rule.counts or event.event == "birth"
        if decides and first_s <= event.at_s <= last_s:
            return f"times out of order: {suspect.why}"
    return None


def _birth_doubt(labour: Labour) -> str | None:
    for suspect in labour.suspects:
        if suspect.event.event == "birth":
            return f"times out of order: {suspect.why}"
    return None


def _oxytocin_note(episode: Episode, answers: Answers) -> str | None:
    """More oxytocin during a concern is never an answer."""
    oxytocin = answers.oxytocin
    if oxytocin is None:
        return None
    after = (oxytocin.at_s - episode.pattern_start_s) / 60.0
    return f"{oxytocin.event.replace('_', ' ')} {after:.0f} min into the pattern: no answer to it"


def _tests_note(episode: Episode, act: Act | None, labour: Labour) -> str | None:
    """Tests noted while nothing else was: they show attention, though they treat nothing."""
    until_s = act.at_s if act is not None else (episode.end_s if labour.birth_s is None else labour.birth_s)
    tests = labour.settings.events_of("test")
    for event in labour.acts:
        if event.event in tests and episode.pattern_start_s <= event.at_s < min(until_s, episode.end_s):
            minutes = (event.at_s - episode.recognisable_s) / 60.0
            when = f"after {minutes:.0f} min" if minutes >= 0 else f"{-minutes:.0f} min before recognition"
            return f"{event.event.replace('_', ' ')} noted {when}: a test, not counted as a response"
    return None


def _joined(*parts: str | None) -> str | None:
    said = [part for part in parts if part]
    return "; ".join(said) if said else None

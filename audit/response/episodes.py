"""When a trigger's criteria held: from minute-by-minute judgements to episodes that last as long as what was found."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, get_args

import numpy as np
from numpy.typing import NDArray

from audit.response.rules import ResponseSettings, TriggerRule
from audit.response.types import Episode, PossibleConcern
from audit.standards.types import TakenAs, TriggerSeries

_STEP_BACK_S = 1e-3  # an episode ends before the next one begins


def episodes(series: TriggerSeries, *, settings: ResponseSettings) -> list[Episode]:
    """Find the stretches in which the criteria held.

    `series`: at_s, met, unseen, pattern_start_s, each shape (n,), one value per judged minute. `settings`: clear time
    and gap between findings, min.
    Gives episodes: in time order, not overlapping. Empty for an empty series and for a trigger that is not in use.
    Raises ValueError: the arrays differ in length, or the times do not increase. Raises SettingsError: the settings
    hold no entry for this trigger.

    An episode lasts as long as its findings do, not as long as the look-back of the category. It begins at the first
    seen minute with the criteria whose latest finding is no older than `finding_gap_minutes`; findings that come back
    within that many seen minutes are one episode. It ends when the last of them ended, plus
    `end_after_clear_minutes`; `category_until_s` tells how long the criteria held. A minute without usable signal
    neither starts nor ends an episode; it is counted in `unseen_minutes`. Our choice, no published source.
    """
    if not settings.rule(series.standard, series.trigger).in_use:
        return []
    at_s = np.asarray(series.at_s, dtype=np.float64)
    met, unseen = np.asarray(series.met, dtype=bool), np.asarray(series.unseen, dtype=bool)
    if not (at_s.shape == met.shape == unseen.shape == np.shape(series.pattern_start_s)):
        raise ValueError("the arrays of a trigger series must have one length")
    if np.any(np.diff(at_s) <= 0):
        raise ValueError("the times of a trigger series must increase")
    if not met.any():
        return []
    step_minutes = _steps_minutes(at_s)
    from_s, until_s = _findings(series, at_s)
    runs = _runs(met, unseen, at_s, until_s, step_minutes, settings.finding_gap_minutes)
    found: list[Episode] = []
    for number, run in enumerate(runs):
        episode = _episode(series, at_s, run, settings)
        if found and episode.pattern_start_s < found[-1].end_s:
            # what an earlier episode was about is no part of this one
            begun_s = max(float(from_s[run.first]), runs[number - 1].last_finding_s)
            episode = _begun(episode, min(begun_s, episode.recognisable_s), series, settings)
        if found and episode.recognisable_s <= found[-1].end_s:
            found[-1] = replace(found[-1], end_s=episode.recognisable_s - _STEP_BACK_S)
        found.append(episode)
    return [
        replace(
            episode,
            unseen_minutes=float(
                step_minutes[unseen & (at_s > episode.recognisable_s) & (at_s <= episode.end_s)].sum()
            ),
        )
        for episode in found
    ]


@dataclass(frozen=True)
class Otherwise:
    """When an episode would have been recognisable had what cannot be told all been one thing; None = never."""

    kind: str  # abrupt, gradual, longer, shorter
    recognisable_s: float | None


def recognised_otherwise(
    found: Sequence[Episode], series: TriggerSeries, *, settings: ResponseSettings
) -> list[tuple[Otherwise, ...]]:
    """For each episode of a series how its recognition hangs on falls that could be of another kind or length.

    `found`: what `episodes` gives for the series.

    A time that is less than a minute off is none of its own. An episode that the other kind makes part of an earlier
    one is told with that one's time.
    """
    told: list[tuple[Otherwise, ...]] = [() for _ in found]
    for kind, instead in _instead(series, settings):
        for number, episode in enumerate(found):
            times = [one.recognisable_s for one in instead if _meets(one, episode)]
            at_s = min(times, default=None)
            if at_s is None or abs(at_s - episode.recognisable_s) >= 60.0:
                told[number] = (*told[number], Otherwise(kind, at_s))
    return told


def only_otherwise(
    found: Sequence[Episode], series: TriggerSeries, *, settings: ResponseSettings
) -> list[PossibleConcern]:
    """The episodes that a series has under the other kind or length of falls alone, none of which `found` meets."""
    return [
        PossibleConcern(one.standard, one.trigger, kind, one.recognisable_s, one.end_s)
        for kind, instead in _instead(series, settings)
        for one in instead
        if not any(_meets(one, episode) for episode in found)
    ]


def _instead(series: TriggerSeries, settings: ResponseSettings) -> list[tuple[str, list[Episode]]]:
    """By kind, the episodes had all uncertain falls been of it; kinds that change nothing are left out."""
    others = [(kind, getattr(series, f"if_{kind}")) for kind in get_args(TakenAs)]
    return [(kind, episodes(other, settings=settings)) for kind, other in others if other is not None]


def _meets(other: Episode, episode: Episode) -> bool:
    return other.recognisable_s <= episode.end_s and other.end_s >= episode.pattern_start_s


def category_trigger(
    at_s: NDArray[np.float64], categories: Sequence[str], unseen: NDArray[np.bool_], *, rule: TriggerRule
) -> TriggerSeries:
    """A unit's own trigger: one of `rule.categories` without a break for `rule.for_minutes`.

    `at_s`: shape (n,), s. End of each judged minute. `categories`: (n,) category at each minute under the rule's
    standard. `unseen`: shape (n,). Minutes without usable signal keep the count where it is: they neither add nor
    break. `rule`: a rule with `categories`.
    Gives series: met from the minute at which the seen minutes in those categories reach `for_minutes`.

    The unit's definition; no published source. An empty input gives an empty series.
    """
    step_minutes = _steps_minutes(np.asarray(at_s, dtype=np.float64))
    met = np.zeros(len(at_s), dtype=bool)
    start_s = np.full(len(at_s), np.nan)
    reasons: list[tuple[str, ...]] = [()] * len(at_s)
    held, begun = 0.0, np.nan
    for k, category in enumerate(categories):
        if unseen[k]:
            continue
        if category not in rule.categories:
            held, begun = 0.0, np.nan
            continue
        if held == 0.0:
            begun = float(at_s[k]) - 60.0 * float(step_minutes[k])
        held += float(step_minutes[k])
        if held >= rule.for_minutes - 1e-9:
            met[k], start_s[k] = True, begun
            reasons[k] = (f"{category} for {held:.0f} seen minutes (unit's own trigger: {rule.for_minutes:.0f})",)
    return TriggerSeries(
        rule.standard, rule.trigger, np.asarray(at_s, dtype=np.float64), met, np.array(unseen), start_s, reasons
    )


def _steps_minutes(at_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Minutes that each judgement stands for; a series of one stands for one minute."""
    if at_s.size < 2:
        return np.ones(at_s.size)
    steps = np.diff(at_s) / 60.0
    return np.concatenate([[steps[0]], steps])


class _Run(NamedTuple):
    """Minutes of one episode, by index; `last` is that of its last finding."""

    first: int
    last: int
    last_finding_s: float
    open_end: bool


def _findings(series: TriggerSeries, at_s: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Onset and end of the latest finding at each minute; the minute itself where the series tells none."""
    if series.finding_from_s is None or series.finding_until_s is None:
        return at_s, at_s
    known = np.isfinite(series.finding_until_s)
    until_s = np.where(known, np.minimum(series.finding_until_s, at_s), at_s)
    return np.where(known, series.finding_from_s, at_s), until_s


def _runs(
    met: NDArray[np.bool_],
    unseen: NDArray[np.bool_],
    at_s: NDArray[np.float64],
    until_s: NDArray[np.float64],
    step_minutes: NDArray[np.float64],
    gap_minutes: float,
) -> list[_Run]:
    runs: list[_Run] = []
    first = last = -1
    last_s = clear = -np.inf
    minutes = zip(met.tolist(), unseen.tolist(), at_s.tolist(), until_s.tolist(), step_minutes.tolist(), strict=True)
    for k, (holds, dark, now_s, found_s, step) in enumerate(minutes):
        if dark:
            continue
        fresh = holds and found_s >= now_s - 60.0 * step - 1e-6
        recent = holds and found_s > last_s and now_s - found_s <= 60.0 * gap_minutes + 1e-6
        if first < 0 and recent:
            first, last, last_s, clear = k, k, found_s, (now_s - found_s) / 60.0
        elif first >= 0 and fresh:
            last, last_s, clear = k, found_s, 0.0
        elif first >= 0:
            clear += step
            if clear >= gap_minutes - 1e-9:
                runs.append(_Run(first, last, last_s, False))
                first = -1
    if first >= 0:
        runs.append(_Run(first, last, last_s, True))
    return runs


def _episode(series: TriggerSeries, at_s: NDArray[np.float64], run: _Run, settings: ResponseSettings) -> Episode:
    start_s = float(series.pattern_start_s[run.first])
    recognisable_s = _recognised(series, at_s, run.first)
    end_s = max(run.last_finding_s + 60.0 * settings.end_after_clear_minutes, recognisable_s)
    open_end = run.open_end and end_s >= at_s[-1]
    # a pattern cannot begin after it was recognised
    begun_s = recognisable_s if np.isnan(start_s) else min(start_s, recognisable_s)
    episode = Episode(
        standard=series.standard,
        trigger=series.trigger,
        pattern_start_s=begun_s,
        recognisable_s=recognisable_s,
        end_s=float(at_s[-1]) if open_end else end_s,
        open_end=open_end,
        reasons=tuple(series.reasons[run.first]) if len(series.reasons) else (),
        last_finding_s=run.last_finding_s,
        category_until_s=_held_until_s(series, at_s, run.last),
    )
    return _begun(episode, begun_s, series, settings)


def _begun(episode: Episode, begun_s: float, series: TriggerSeries, settings: ResponseSettings) -> Episode:
    """The episode with the start of its pattern and what follows from it."""
    last_s = episode.end_s if episode.last_finding_s is None else episode.last_finding_s
    minutes_end_s = np.asarray(series.at_s, dtype=np.float64)
    step_s = 60.0 * _steps_minutes(minutes_end_s)
    # a state that holds from the first minute that could be judged was not seen to begin either
    first_judged = int(np.argmin(series.unseen))
    judged_from_s = float(minutes_end_s[first_judged] - step_s[first_judged])
    before_recording = begun_s - float(minutes_end_s[0] - 60.0) <= 60.0 * settings.at_start_minutes
    return replace(
        episode,
        pattern_start_s=begun_s,
        evidence_minutes=max(last_s - begun_s, 0.0) / 60.0,
        at_start=before_recording or abs(begun_s - judged_from_s) < 1e-6,
    )


def _held_until_s(series: TriggerSeries, at_s: NDArray[np.float64], last: int) -> float:
    """Until when the criteria held without a break from the last finding on, by whatever look-back."""
    until = last
    for k in range(last + 1, at_s.size):
        if series.unseen[k]:
            continue
        if not series.met[k]:
            break
        until = k
    return float(at_s[until])


def _recognised(series: TriggerSeries, at_s: NDArray[np.float64], first: int) -> float:
    """The second of recognition where the standard tells it, else the end of the minute."""
    minute_began = at_s[first - 1] if first else -np.inf
    # a limit of 'more than' is passed at the very mark before it could be met there
    exact = [second for second in series.recognisable_exact_s if minute_began <= second <= at_s[first]]
    return float(min(exact)) if exact else float(at_s[first])

"""When a trigger's criteria held: from minute-by-minute judgements to episodes, without flicker."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from audit.response.rules import ResponseSettings, TriggerRule
from audit.response.types import Episode
from audit.standards.types import TriggerSeries


def episodes(series: TriggerSeries, *, settings: ResponseSettings) -> list[Episode]:
    """Find the stretches in which the criteria held.

    Parameters
    ----------
    series : at_s, met, unseen, pattern_start_s, each shape (n,), one value per judged minute. Not modified.
    settings : hysteresis and flicker times, min.

    Returns
    -------
    episodes : in time order, not overlapping. Empty for an empty series and for a trigger that is not in use.

    Raises
    ------
    ValueError : the arrays differ in length, or the times do not increase.
    SettingsError : the settings hold no entry for this trigger.

    Notes
    -----
    A minute without usable signal neither starts nor ends an episode; it is counted in `unseen_minutes`. An episode
    ends at the first seen minute without the criteria once they stayed away for `end_after_clear_minutes` of seen
    minutes. An episode shorter than `short_episode_minutes` and its neighbour are one when at most
    `flicker_gap_minutes` lie between them; the first one's recognition stands. Our choice, no published source.
    """
    if not settings.rule(series.standard, series.trigger).in_use:
        return []
    at_s = np.asarray(series.at_s, dtype=np.float64)
    met, unseen = np.asarray(series.met, dtype=bool), np.asarray(series.unseen, dtype=bool)
    if not (at_s.shape == met.shape == unseen.shape == np.shape(series.pattern_start_s)):
        raise ValueError("the arrays of a trigger series must have one length")
    if np.any(np.diff(at_s) <= 0):
        raise ValueError("the times of a trigger series must increase")
    if not np.any(met & ~unseen):
        return []
    step_minutes = _steps_minutes(at_s)
    runs = _runs(met, unseen, step_minutes, settings.end_after_clear_minutes)
    found = [_episode(series, at_s, run) for run in runs]
    merged = _merge_flicker(found, settings)
    return [
        replace(
            episode,
            unseen_minutes=float(
                step_minutes[unseen & (at_s > episode.recognisable_s) & (at_s <= episode.end_s)].sum()
            ),
        )
        for episode in merged
    ]


def category_trigger(
    at_s: NDArray[np.float64], categories: Sequence[str], unseen: NDArray[np.bool_], *, rule: TriggerRule
) -> TriggerSeries:
    """A unit's own trigger: one of `rule.categories` without a break for `rule.for_minutes`.

    Parameters
    ----------
    at_s : shape (n,), s. End of each judged minute.
    categories : (n,) category at each minute under the rule's standard.
    unseen : shape (n,). Minutes without usable signal keep the count where it is: they neither add nor break.
    rule : a rule with `categories`.

    Returns
    -------
    series : met from the minute at which the seen minutes in those categories reach `for_minutes`.

    Notes
    -----
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


def _runs(
    met: NDArray[np.bool_], unseen: NDArray[np.bool_], step_minutes: NDArray[np.float64], clear_minutes: float
) -> list[tuple[int, int, bool]]:
    """(first met, first clear or last judged, open end) by index."""
    runs: list[tuple[int, int, bool]] = []
    begun = clear_from = -1
    clear = 0.0
    for k in range(met.size):
        if unseen[k]:
            continue
        if met[k]:
            begun = k if begun < 0 else begun
            clear_from, clear = -1, 0.0
        elif begun >= 0:
            clear_from = k if clear_from < 0 else clear_from
            clear += float(step_minutes[k])
            if clear >= clear_minutes - 1e-9:
                runs.append((begun, clear_from, False))
                begun, clear_from, clear = -1, -1, 0.0
    if begun >= 0:
        runs.append((begun, met.size - 1, True))
    return runs


def _episode(series: TriggerSeries, at_s: NDArray[np.float64], run: tuple[int, int, bool]) -> Episode:
    first, last, open_end = run
    start_s = float(series.pattern_start_s[first])
    recognisable_s = _recognised(series, at_s, first)
    return Episode(
        standard=series.standard,
        trigger=series.trigger,
        # a pattern cannot begin after it was recognised
        pattern_start_s=recognisable_s if np.isnan(start_s) else min(start_s, recognisable_s),
        recognisable_s=recognisable_s,
        end_s=float(at_s[last]),
        open_end=open_end,
        reasons=tuple(series.reasons[first]) if len(series.reasons) else (),
    )


def _recognised(series: TriggerSeries, at_s: NDArray[np.float64], first: int) -> float:
    """The second of recognition where the standard tells it, else the end of the minute."""
    minute_began = at_s[first - 1] if first else -np.inf
    exact = [second for second in series.recognisable_exact_s if minute_began < second <= at_s[first]]
    return float(min(exact)) if exact else float(at_s[first])


def _merge_flicker(found: list[Episode], settings: ResponseSettings) -> list[Episode]:
    merged: list[Episode] = []
    for episode in found:
        if merged and _is_flicker(merged[-1], episode, settings):
            merged[-1] = replace(merged[-1], end_s=episode.end_s, open_end=episode.open_end)
        else:
            merged.append(episode)
    assert all(a.end_s <= b.recognisable_s for a, b in pairwise(merged))
    return merged


def _is_flicker(former: Episode, later: Episode, settings: ResponseSettings) -> bool:
    gap = (later.recognisable_s - former.end_s) / 60.0
    shortest = min(former.end_s - former.recognisable_s, later.end_s - later.recognisable_s) / 60.0
    return shortest < settings.short_episode_minutes and gap <= settings.flicker_gap_minutes + 1e-9

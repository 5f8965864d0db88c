"""The response clock of one tracing: episodes and what answered them, on the case's clock."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import msgspec
import numpy as np

from audit.response.chance import shifted_statuses
from audit.response.episodes import Otherwise, category_trigger, episodes, only_otherwise, recognised_otherwise
from audit.response.readers import reader_clocks
from audit.response.record import has_care_record
from audit.response.responses import labour_of, respond
from audit.response.rules import ResponseSettings
from audit.response.types import CareEvent, Episode, PossibleConcern, Read, ReaderClock, Response
from audit.standards.types import MinuteCategories, TriggerSeries
from audit.vocabulary import NOT_ASSESSABLE
from audit.words import RECOGNISABLE_AT, TAKEN_AS, hh_mm


@dataclass(frozen=True)
class CaseClock:
    """The records of `concern_episodes`, `responses`, `reader_clocks` and `possible_concerns`; fields are columns."""

    episodes: list[Episode]
    responses: list[Response]
    reader_clocks: list[ReaderClock]
    possible: list[PossibleConcern]


def case_clock(
    minutes: Mapping[str, MinuteCategories],
    *,
    start_s: float,
    end_s: float,
    facts: Mapping[str, Any],
    events: Sequence[Mapping[str, Any]],
    reads: Sequence[Mapping[str, Any]],
    settings: ResponseSettings,
    name: str = "",
) -> CaseClock:
    """Every concern episode, what answered it, and the clocks that readers' reads start.

    `minutes`: per standard, on the reading's clock. `start_s`: first sample on the case's clock; `end_s`: the last.
    `facts`: `birth_s`, `second_stage_s`, `mode_of_birth`; `events`: `at_s`, `event`, `urgency`; `reads`: as stored.
    `name`: of the labour: decides how its acts are shifted for the share by chance.
    """
    listed_series = [series for one in minutes.values() for series in one.triggers.values()]
    listed_series += _own_series(minutes, settings)
    by_series = [(series, episodes(series, settings=settings)) for series in listed_series]
    found = [
        _with_otherwise(_with_assessed(episode, minutes, settings).moved(start_s), otherwise, start_s)
        for series, own in by_series
        for episode, otherwise in zip(own, recognised_otherwise(own, series, settings=settings), strict=True)
    ]
    possible = [
        replace(one, recognisable_s=one.recognisable_s + start_s, end_s=one.end_s + start_s)
        for series, own in by_series
        for one in only_otherwise(own, series, settings=settings)
    ]
    acts = [CareEvent(at_s=float(row["at_s"]), event=str(row["event"]), urgency=row.get("urgency")) for row in events]
    born_s = facts.get("birth_s")
    labour = labour_of(
        acts,
        birth_s=born_s,
        second_stage_s=facts.get("second_stage_s"),
        mode_of_birth=facts.get("mode_of_birth"),
        tracing_end_s=end_s,
        events_recorded=has_care_record(acts),
        settings=settings,
    )
    responses = respond(found, labour)
    if labour.recorded:
        letters = shifted_statuses(
            found,
            labour,
            name=name,
            start_s=start_s,
            end_s=max([end_s, *(act.at_s for act in acts)]) if born_s is None else born_s,
            shifts=settings.chance.shifts,
            seed=settings.chance.seed,
        )
        responses = [replace(one, chance_statuses=text or None) for one, text in zip(responses, letters, strict=True)]
    given = [{name: value for name, value in row.items() if value is not None} for row in reads]
    clocks = reader_clocks(msgspec.convert(given, list[Read]), labour)
    return CaseClock(found, responses, clocks, possible)


def _with_otherwise(episode: Episode, otherwise: Sequence[Otherwise], start_s: float) -> Episode:
    """With a reason for each other time at which it would have been recognisable; times on the case's clock."""
    at = f"{RECOGNISABLE_AT}{hh_mm(episode.recognisable_s)}, or "
    told = [
        f"{at}{'not as such' if one.recognisable_s is None else hh_mm(one.recognisable_s + start_s)}"
        f" if {TAKEN_AS[one.kind]}"
        for one in otherwise
    ]
    return replace(episode, reasons=(*episode.reasons, *told))


def _with_assessed(episode: Episode, minutes: Mapping[str, MinuteCategories], settings: ResponseSettings) -> Episode:
    """The standards with a category in enough of the minutes from the pattern's start to its end."""
    until_s = max(episode.end_s, episode.recognisable_s)
    assessed = []
    for standard, one in minutes.items():
        here = one.codes[(one.at_s > episode.pattern_start_s) & (one.at_s <= until_s)]
        if here.size and np.mean(here >= 0) >= settings.assessed_from_fraction:
            assessed.append(standard)
    return replace(episode, assessed_under=tuple(assessed))


def _own_series(minutes: Mapping[str, MinuteCategories], settings: ResponseSettings) -> list[TriggerSeries]:
    """The unit's own triggers: categories that lasted."""
    listed = []
    for rule in settings.rules.values():
        one = minutes.get(rule.standard)
        if rule.categories and one is not None:
            categories = one.categories
            unseen = np.array([category == NOT_ASSESSABLE for category in categories], dtype=bool)
            listed.append(category_trigger(one.at_s, categories, unseen, rule=rule))
    return listed

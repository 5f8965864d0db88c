"""The clock of one fetus: from the standards' minutes, the record of care and the readers to rows for the store."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Protocol

import numpy as np

from audit.response.episodes import category_trigger, episodes
from audit.response.readers import reader_clocks
from audit.response.record import births_by_fetus, has_care_record
from audit.response.responses import respond
from audit.response.rules import ResponseSettings, response_settings
from audit.response.types import CareEvent, Read, TriggerSeries
from audit.standards.types import NOT_ASSESSABLE, MinuteCategories


class CaseLike(Protocol):
    """What is needed of a case; times of facts, events and windows are on the case's clock."""

    @property
    def fetus(self) -> str: ...
    @property
    def tracing(self) -> Any: ...  # start_s, sample_rate_hz, fhr_bpm
    @property
    def facts(self) -> dict[str, Any]: ...
    @property
    def events(self) -> list[dict[str, Any]]: ...
    @property
    def windows(self) -> list[dict[str, Any]]: ...


@dataclass(frozen=True)
class CaseClock:
    """Rows on the case's clock, without keys of case, fetus and run."""

    episodes: list[dict[str, Any]]
    responses: list[dict[str, Any]]
    reader_clocks: list[dict[str, Any]]


def case_clock(case: CaseLike, minutes: Mapping[str, MinuteCategories], table: Mapping[str, Any]) -> CaseClock:
    """Find the concern episodes of one tracing under every standard, what answered them, and the readers' clocks.

    Parameters
    ----------
    case : facts, events and readers' windows on the case's clock; `tracing.start_s` is its first sample.
    minutes : per standard, the minutes on the reading's own clock (0 s = first sample).
    table : the settings table `response`.

    Raises
    ------
    SettingsError : as `response_settings`.
    """
    settings = response_settings(table)
    start_s = float(case.tracing.start_s)
    events = [CareEvent(event["at_s"], event["event"], event.get("detail")) for event in case.events]
    birth_s = _birth_s(case, events)
    known: dict[str, Any] = {
        "birth_s": birth_s,
        "second_stage_s": case.facts.get("second_stage_s"),
        "mode_of_birth": case.facts.get("mode_of_birth"),
        "tracing_end_s": start_s + len(case.tracing.fhr_bpm) / float(case.tracing.sample_rate_hz),
        "events_recorded": has_care_record(events),
        "settings": settings,
    }
    found = [
        episode for series in _all_series(minutes, start_s, settings) for episode in episodes(series, settings=settings)
    ]
    found.sort(key=lambda episode: (episode.standard, episode.recognisable_s, episode.trigger))
    return CaseClock(
        episodes=[asdict(episode) for episode in found],
        responses=[asdict(response) for response in respond(found, events, **known)],
        reader_clocks=[asdict(clock) for clock in reader_clocks(_reads(case.windows), events, **known)],
    )


def _all_series(
    minutes: Mapping[str, MinuteCategories], start_s: float, settings: ResponseSettings
) -> list[TriggerSeries]:
    listed: list[TriggerSeries] = []
    for standard, judged in minutes.items():
        at_s = judged.at_s + start_s
        for trigger, series in judged.triggers.items():
            listed.append(
                TriggerSeries(
                    standard=standard,
                    trigger=trigger,
                    at_s=at_s,
                    met=series.met,
                    unseen=series.unseen,
                    pattern_start_s=series.pattern_start_s + start_s,
                    reasons=judged.reasons,
                    recognisable_exact_s=tuple(second + start_s for second in series.recognisable_exact_s),
                )
            )
        own = [rule for rule in settings.rules.values() if rule.standard == standard and rule.categories]
        if own:
            categories = judged.categories
            unseen = np.array([category == NOT_ASSESSABLE for category in categories], dtype=bool)
            listed.extend(category_trigger(at_s, categories, unseen, rule=rule) for rule in own)
    return listed


def _birth_s(case: CaseLike, events: Sequence[CareEvent]) -> float | None:
    """The birth of this fetus; of several, A is the first born unless the births cannot be told apart."""
    plurality = int(case.facts.get("plurality") or 1)
    fetuses = [chr(ord("A") + k) for k in range(plurality)]
    if case.fetus not in fetuses:
        fetuses = [case.fetus]
    return births_by_fetus(fetuses, case.facts.get("birth_s"), events)[case.fetus]


def _reads(windows: Sequence[Mapping[str, Any]]) -> list[Read]:
    return [
        Read(
            reader=window["reader"],
            start_s=window["start_s"],
            end_s=window["end_s"],
            standard=window["standard"],
            category=window["category"],
            would_act=window.get("would_act"),
            outcome_hidden=window.get("outcome_hidden"),
            occasion=window.get("occasion") or 1,
        )
        for window in windows
    ]

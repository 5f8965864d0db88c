"""One tracing, from samples and what is known of the case to every derived row. Runs in a worker process.

The reading itself (`audit.tracing`) counts seconds from its first sample; here the tracing's own start is added, and
events, birth and windows, which come on the case's clock, are brought to the reading's clock first.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa

from audit.analysis.clock import case_clock
from audit.analysis.episode_id import episode_id
from audit.analysis.second_reading import second_rows
from audit.measures.burden import burden_rows
from audit.response.record import births_by_fetus
from audit.response.types import CareEvent, Episode, Response
from audit.second_reading.model import FittedReading
from audit.settings import AnalysisSettings
from audit.standards.registry import FORMER_STANDARDS, STANDARDS
from audit.standards.seen import Seen
from audit.standards.types import MinuteCategories
from audit.store.finding_tables import minute_table, table_of
from audit.tracing.read import TracingSettings, read_tracing
from audit.tracing.types import Reading, Tracing
from audit.tracing.window_description import window_items


@dataclass(frozen=True)
class CaseInput:
    """What one reading is given. Times of facts, events and windows are on the case's clock."""

    case_id: str
    fetus: str
    leads: bool  # the case's first fetus: its toco stands for the labour
    tracing: Tracing
    facts: dict[str, Any]
    events: list[dict[str, Any]]
    windows: list[dict[str, Any]]


def read_case(case: CaseInput, settings: AnalysisSettings, fitted: FittedReading | None = None) -> dict[str, pa.Table]:
    """Derived tables of one tracing, on the case's clock, without run_id; `fitted` is the unit's second reading."""
    key = {"case_id": case.case_id, "fetus": case.fetus}
    start_s = case.tracing.start_s
    reading = read_tracing(case.tracing, settings.tracing)
    seen = Seen(
        reading,
        gestation_weeks=case.facts.get("gestation_weeks"),
        second_stage_s=_on_reading_clock(case.facts.get("second_stage_s"), start_s),
        gradual_s=settings.tracing.gradual_s,
    )
    tables = settings.of_standards_for(case.facts.get("period"))
    minutes = {name: one.minute_categories(reading, tables[name], seen=seen) for name, one in STANDARDS.items()}
    found = _events(case, reading, settings.tracing, key)
    found["tracing_states"] = table_of("tracing_states", [_state(case, reading)], key)
    found["epochs"] = table_of("epochs", [on_case_clock(dict(vars(epoch)), start_s) for epoch in reading.epochs], key)
    found["minute_categories"] = _minutes(minutes, start_s, key)
    found["window_categories"] = table_of("window_categories", _windows(case, reading, seen, settings), key)
    second = second_rows(
        fitted,
        reading,
        seen,
        minutes,
        settings,
        case_id=case.case_id,
        start_s=start_s,
        read_spans=[_span(read) for read in case.windows],
    )
    found["second_readings"] = table_of("second_readings", second.windows, key)
    found["second_reading_lane"] = table_of("second_reading_lane", second.lane, key)
    found["second_reading_evidence"] = table_of("second_reading_evidence", second.evidence, key)
    found["burden"] = table_of("burden", _burden(case, reading, settings), key)
    clock = case_clock(
        minutes,
        start_s=start_s,
        end_s=start_s + reading.duration_s,
        facts={**case.facts, "birth_s": _birth_s(case)},
        events=case.events,
        reads=case.windows,
        settings=settings.response,
        name=case.case_id,
    )
    found["concern_episodes"] = table_of("concern_episodes", _named(clock.episodes, key), key)
    found["responses"] = table_of("responses", _named(clock.responses, key), key)
    found["reader_clocks"] = table_of("reader_clocks", map(vars, clock.reader_clocks), key)
    return found


def _named(rows: Sequence[Episode] | Sequence[Response], key: Mapping[str, str]) -> list[dict[str, Any]]:
    """Episodes or responses with the key that joins them."""
    case_id, fetus = key["case_id"], key["fetus"]
    return [
        {**vars(row), "episode_id": episode_id(case_id, fetus, row.standard, row.trigger, row.recognisable_s)}
        for row in rows
    ]


def _state(case: CaseInput, reading: Reading) -> dict[str, Any]:
    seconds = reading.fhr_1hz.size
    return {
        "start_s": case.tracing.start_s,
        "duration_s": reading.duration_s,
        "seen_fraction": float(np.isfinite(reading.fhr_1hz).mean()) if seconds else None,
        "monitored_until_s": case.tracing.start_s + reading.monitored_until_s,
        "notes": reading.notes,
    }


def _events(case: CaseInput, reading: Reading, settings: TracingSettings, key: dict[str, str]) -> dict[str, pa.Table]:
    start_s = case.tracing.start_s
    weeks = case.facts.get("gestation_weeks")
    height_bpm, duration_s = settings.least_acceleration(weeks)
    accelerations = [
        event
        for event in reading.accelerations
        if settings.is_preterm(weeks) or (event.height_bpm >= height_bpm and event.end_s - event.onset_s >= duration_s)
    ]
    listed: dict[str, Any] = {
        "contractions": reading.contractions if case.leads else (),
        "decelerations": reading.decelerations,
        "accelerations": accelerations,
        "level_changes": reading.level_changes,
    }
    return {
        name: table_of(name, [on_case_clock(dict(vars(event)), start_s) for event in events], key)
        for name, events in listed.items()
    }


_CLOCK_TIMES = ("onset_s", "nadir_s", "peak_s", "end_s", "start_s", "contraction_peak_s")


def on_case_clock(row: dict[str, Any], start_s: float) -> dict[str, Any]:
    for name in _CLOCK_TIMES:
        if row.get(name) is not None:
            row[name] += start_s
    return row


def _minutes(minutes: Mapping[str, MinuteCategories], start_s: float, key: dict[str, str]) -> pa.Table:
    each = list(minutes.values())
    return minute_table(
        key,
        each[0].at_s + start_s,
        list(minutes),
        [one.categories for one in each],
        [one.reasons for one in each],
    )


def _windows(case: CaseInput, reading: Reading, seen: Seen, settings: AnalysisSettings) -> list[dict[str, Any]]:
    rows, tables = [], settings.of_standards_for(case.facts.get("period"))
    start_s = case.tracing.start_s
    for first_s, last_s in sorted({_span(read) for read in case.windows}):
        begin, end = max(first_s - start_s, 0.0), min(last_s - start_s, reading.duration_s)
        if end <= begin:
            continue
        items = window_items(reading, begin, end, case.facts.get("gestation_weeks"), settings.tracing)
        former = {
            name: FORMER_STANDARDS[name]
            for name in sorted({read["standard"] for read in case.windows if _span(read) == (first_s, last_s)})
            if name in FORMER_STANDARDS
        }
        for name, standard in {**STANDARDS, **former}.items():
            result = standard.window_category(reading, begin, end, tables[name], seen=seen)
            rows.append(
                {
                    "start_s": first_s,
                    "end_s": last_s,
                    "standard": name,
                    "category": result.category,
                    "reasons": result.reasons,
                    **items,
                }
            )
    return rows


def _span(read: Mapping[str, Any]) -> tuple[float, float]:
    return float(read["start_s"]), float(read["end_s"])


def _burden(case: CaseInput, reading: Reading, settings: AnalysisSettings) -> list[dict[str, Any]]:
    start_s, facts = case.tracing.start_s, case.facts
    rows = burden_rows(
        reading,
        birth_s=_on_reading_clock(_birth_s(case), start_s),
        second_stage_s=_on_reading_clock(facts.get("second_stage_s"), start_s),
        settings=settings.burden,
    )
    return [vars(row) for row in rows]


def _birth_s(case: CaseInput) -> float | None:
    """The birth of this fetus: twins are one case with a birth each."""
    acts = [CareEvent(at_s=float(row["at_s"]), event=str(row["event"])) for row in case.events]
    fetuses = case.facts.get("fetuses") or [case.fetus]
    return births_by_fetus(fetuses, case.facts.get("birth_s"), acts)[case.fetus]


def _on_reading_clock(at_s: float | None, start_s: float) -> float | None:
    return None if at_s is None else at_s - start_s

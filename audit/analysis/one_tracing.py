"""One tracing, from samples and what is known of the case to the rows of the stages that are due. Runs in a worker.

The reading itself (`audit.tracing`) counts seconds from its first sample; here the tracing's own start is added, and
events, birth and windows, which come on the case's clock, are brought to the reading's clock first.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
import pyarrow as pa

from audit.analysis import stages
from audit.analysis.clock import case_clock
from audit.analysis.episode_id import episode_id
from audit.analysis.kept import (
    KeptMinutes,
    KeptReading,
    for_later_stages,
    pack_minutes,
    pack_reading,
    unpack_minutes,
    unpack_reading,
)
from audit.analysis.second_reading import second_rows
from audit.measures.burden import burden_rows
from audit.response.record import births_by_fetus
from audit.response.types import CareEvent, Episode, Response
from audit.second_reading.model import FittedReading
from audit.settings import AnalysisSettings
from audit.standards.registry import FORMER_STANDARDS, STANDARDS
from audit.standards.seen import Seen
from audit.store.finding_tables import minute_table, packed, table_of, unpacked
from audit.store.tracings import Stored
from audit.tracing.read import TracingSettings, read_tracing
from audit.tracing.types import Reading, Tracing, on_case_clock
from audit.tracing.window_description import window_items

_EVERY_STANDARD = {**STANDARDS, **FORMER_STANDARDS}


@dataclass(frozen=True)
class CaseInput:
    """What one reading is given. Times of facts, events and windows are on the case's clock."""

    case_id: str
    fetus: str
    leads: bool  # the case's first fetus: its toco stands for the labour
    tracing: Tracing | Stored | None  # None where no stage that reads the samples is due
    facts: dict[str, Any]
    events: list[dict[str, Any]]
    windows: list[dict[str, Any]]
    due: frozenset[str] = frozenset(stages.EVERY)
    kept: Mapping[str, bytes] = field(default_factory=dict)  # of the stages that those due need, and that are not due

    def whole(self) -> Tracing | None:
        """The tracing, put together if it comes as it was stored."""
        return self.tracing.tracing() if isinstance(self.tracing, Stored) else self.tracing

    @property
    def key(self) -> dict[str, str]:
        """The columns that name the tracing."""
        return {"case_id": self.case_id, "fetus": self.fetus}


@dataclass
class Found:
    """What the stages that were due have found: rows of derived tables without run_id, and what is kept of each."""

    tables: dict[str, pa.Table] = field(default_factory=dict)
    kept: dict[str, bytes | None] = field(default_factory=dict)
    state: dict[str, Any] | None = None  # of `tracing_states`; None where the reading was not due

    def __getstate__(self) -> dict[str, Any]:
        # between processes: pickling a table piece by piece costs several times what Arrow's own bytes do
        return vars(self) | {"tables": {name: packed(table) for name, table in self.tables.items()}}

    def __setstate__(self, state: dict[str, Any]) -> None:
        vars(self).update(state | {"tables": {name: unpacked(name, told) for name, told in state["tables"].items()}})


def read_case(case: CaseInput, settings: AnalysisSettings, fitted: FittedReading | None = None) -> Found:
    """The stages of one tracing that are due, on the case's clock; `fitted` is the unit's second reading.

    Raises ValueError when what an earlier analysis kept is damaged.
    """
    found = Found()
    read = _reading(case, settings, found) if stages.READING in case.due | stages.needed(case.due) else None
    seen = cache(lambda: _seen(case, settings, read))
    minutes = _minutes(case, settings, read, seen, found)
    if read is not None:
        _beside(case, settings, read, seen, fitted, found)
    if stages.CLOCK in case.due:
        _clock(case, settings, minutes, found)
    return found


def _reading(case: CaseInput, settings: AnalysisSettings, found: Found) -> KeptReading:
    """Samples to a reading; or the reading as it was kept."""
    if stages.READING not in case.due:
        return unpack_reading(case.kept[stages.READING])
    tracing = case.whole()
    assert tracing is not None
    reading = read_tracing(tracing, settings.tracing)
    read = KeptReading(tracing.start_s, for_later_stages(reading))
    weeks = stages.facts_for(stages.READING, case.facts).get("gestation_weeks")
    found.tables |= _events(case, reading, read.start_s, weeks, settings.tracing)
    epochs = [on_case_clock(epoch, read.start_s) for epoch in reading.epochs]
    found.tables["epochs"] = table_of("epochs", epochs, case.key)
    found.kept[stages.READING] = pack_reading(read)
    (found.state,) = table_of("tracing_states", [_state(read)], case.key).to_pylist()
    return read


def _minutes(
    case: CaseInput, settings: AnalysisSettings, read: KeptReading | None, seen: Callable[[], Seen], found: Found
) -> dict[str, KeptMinutes]:
    """The minute categories of each standard that is due or that a later stage needs."""
    wanted = case.due | stages.needed(case.due)
    minutes: dict[str, KeptMinutes] = {}
    for name, standard in STANDARDS.items():
        if name in case.due:
            assert read is not None
            table = settings.of_standards[name].for_month(stages.facts_for(name, case.facts).get("period"))
            judged = standard.minute_categories(read.reading, table, seen=seen())
            minutes[name] = KeptMinutes(read.start_s, read.reading.duration_s, judged)
            found.kept[name] = pack_minutes(minutes[name])
        elif name in wanted:
            minutes[name] = unpack_minutes(case.kept[name])
    new = [minutes[name] for name in STANDARDS if name in case.due]
    if new:
        found.tables["minute_categories"] = minute_table(
            case.key,
            new[0].minutes.at_s + new[0].start_s,
            [one.minutes.standard for one in new],
            [one.minutes.categories for one in new],
            [one.minutes.reasons for one in new],
        )
    return minutes


def _beside(
    case: CaseInput,
    settings: AnalysisSettings,
    read: KeptReading,
    seen: Callable[[], Seen],
    fitted: FittedReading | None,
    found: Found,
) -> None:
    """The readers' windows, the second reading and the burden."""
    under = [name for name, stage in stages.WINDOWS.items() if stage in case.due]
    if under:
        rows = _windows(case, read, settings, seen, under)
        found.tables["window_categories"] = table_of("window_categories", rows, case.key)
        found.kept |= {stages.WINDOWS[name]: None for name in under}
    if stages.SECOND_READING in case.due:
        second = second_rows(
            fitted,
            None if fitted is None else case.whole(),
            seen(),
            settings,
            case_id=case.case_id,
            start_s=read.start_s,
            read_spans=[_span(row) for row in case.windows],
        )
        found.tables |= {name: table_of(name, rows, case.key) for name, rows in vars(second).items()}
        found.kept[stages.SECOND_READING] = None
    if stages.BURDEN in case.due:
        found.tables["burden"] = table_of("burden", _burden(case, read, settings), case.key)
        found.kept[stages.BURDEN] = None


def _clock(case: CaseInput, settings: AnalysisSettings, minutes: Mapping[str, KeptMinutes], found: Found) -> None:
    """What the standards' triggers began, and what answered it."""
    first = next(iter(minutes.values()))
    facts = stages.facts_for(stages.CLOCK, case.facts)
    clock = case_clock(
        {name: one.minutes for name, one in minutes.items()},
        start_s=first.start_s,
        end_s=first.start_s + first.duration_s,
        facts={**facts, "birth_s": _birth_s(case, facts)},
        events=case.events,
        reads=case.windows,
        settings=settings.response,
        name=case.case_id,
    )
    key = case.key
    found.tables["concern_episodes"] = table_of("concern_episodes", _named(clock.episodes, key), key)
    found.tables["responses"] = table_of("responses", _named(clock.responses, key), key)
    found.tables["reader_clocks"] = table_of("reader_clocks", map(vars, clock.reader_clocks), key)
    found.tables["possible_concerns"] = table_of("possible_concerns", map(vars, clock.possible), key)
    found.kept[stages.CLOCK] = None


def _seen(case: CaseInput, settings: AnalysisSettings, read: KeptReading | None) -> Seen:
    """The reading as all stages built on it see it; the facts are those that each of them may see."""
    assert read is not None
    facts = stages.of_every_standard(case.facts)
    return Seen(
        read.reading,
        gestation_weeks=facts.get("gestation_weeks"),
        second_stage_s=_on_reading_clock(facts.get("second_stage_s"), read.start_s),
        gradual_s=settings.tracing.gradual_s,
    )


def _named(rows: Sequence[Episode] | Sequence[Response], key: Mapping[str, str]) -> list[dict[str, Any]]:
    """Episodes or responses with the key that joins them."""
    case_id, fetus = key["case_id"], key["fetus"]
    return [
        {**vars(row), "episode_id": episode_id(case_id, fetus, row.standard, row.trigger, row.recognisable_s)}
        for row in rows
    ]


def _state(read: KeptReading) -> dict[str, Any]:
    reading, seconds = read.reading, read.reading.fhr_1hz
    return {
        "start_s": read.start_s,
        "duration_s": reading.duration_s,
        "seen_fraction": float(np.isfinite(seconds).mean()) if seconds.size else None,
        "monitored_until_s": read.start_s + reading.monitored_until_s,
        "notes": reading.notes,
    }


def _events(
    case: CaseInput, reading: Reading, start_s: float, weeks: float | None, settings: TracingSettings
) -> dict[str, pa.Table]:
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
        name: table_of(name, [on_case_clock(event, start_s) for event in events], case.key)
        for name, events in listed.items()
    }


def _windows(
    case: CaseInput,
    read: KeptReading,
    settings: AnalysisSettings,
    seen: Callable[[], Seen],
    under: Sequence[str],
) -> list[dict[str, Any]]:
    """What the standards named make of the readers' windows."""
    spans = {name: set(stages.spans_under(name, case.windows)) for name in under}
    facts = stages.of_every_standard(case.facts)
    rows, tables = [], settings.of_standards_for(facts.get("period"))
    reading, start_s = read.reading, read.start_s
    for first_s, last_s in sorted(set().union(*spans.values())):
        begin, end = max(first_s - start_s, 0.0), min(last_s - start_s, reading.duration_s)
        if end <= begin:
            continue
        items = window_items(reading, begin, end, facts.get("gestation_weeks"), settings.tracing)
        for name in under:
            if (first_s, last_s) not in spans[name]:
                continue
            result = _EVERY_STANDARD[name].window_category(reading, begin, end, tables[name], seen=seen())
            rows.append({"start_s": first_s, "end_s": last_s, "standard": name, **vars(result), **items})
    return rows


def _span(read: Mapping[str, Any]) -> tuple[float, float]:
    return float(read["start_s"]), float(read["end_s"])


def _burden(case: CaseInput, read: KeptReading, settings: AnalysisSettings) -> list[dict[str, Any]]:
    facts = stages.facts_for(stages.BURDEN, case.facts)
    rows = burden_rows(
        read.reading,
        birth_s=_on_reading_clock(_birth_s(case, facts), read.start_s),
        second_stage_s=_on_reading_clock(facts.get("second_stage_s"), read.start_s),
        settings=settings.burden,
    )
    return [vars(row) for row in rows]


def _birth_s(case: CaseInput, facts: Mapping[str, Any]) -> float | None:
    """The birth of this fetus: twins are one case with a birth each."""
    acts = [CareEvent(at_s=float(row["at_s"]), event=str(row["event"])) for row in case.events]
    fetuses = facts.get("fetuses") or [case.fetus]
    return births_by_fetus(fetuses, facts.get("birth_s"), acts)[case.fetus]


def _on_reading_clock(at_s: float | None, start_s: float) -> float | None:
    return None if at_s is None else at_s - start_s

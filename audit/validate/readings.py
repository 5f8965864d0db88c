"""What the computed reading makes of one record: a class for each window, and the measures held against the outcome."""

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from audit.measures.burden import burden_rows
from audit.second_reading.described import labours_of, numbers_of
from audit.settings import AnalysisSettings
from audit.standards.evaluation import Standard
from audit.standards.registry import FORMER_STANDARDS, STANDARDS
from audit.standards.seen import Seen
from audit.tracing.read import read_tracing
from audit.tracing.types import FloatArray, Reading, Tracing
from audit.validate.records import DatabaseRecord, read_database_record

COMPARED: dict[str, Standard[Any]] = {
    "figo-1986": FORMER_STANDARDS["figo-1986"],
    "figo-2015": STANDARDS["figo-2015"],
}
AREA_PER_HOUR = "deceleration area per seen hour, last 60 min"
SHARE_LOST = "share of signal lost, last 60 min"
REPORTING, TUNING = "reporting", "tuning"


@dataclass(frozen=True)
class WindowReading:
    """One window of one record as the computer reads it."""

    step: str
    start_s: float
    end_s: float
    seen_fraction: float
    codes: dict[str, int]  # by standard: 0 normal, 1 suspicious, 2 pathological, 3 not assessable
    numbers: tuple[float, ...] = ()  # of the second reading; empty where none is wanted
    hour_numbers: tuple[float, ...] = ()


@dataclass(frozen=True)
class RecordReading:
    """One record as the computer reads it, with its outcome beside it."""

    name: str
    part: str
    ph: float | None
    windows: tuple[WindowReading, ...]
    measures: dict[str, float | None]
    names: tuple[str, ...] = ()  # of the numbers
    aways_1hz: tuple[FloatArray, ...] = ()  # of each phase, what the second reading's convolutions see


def part_of(name: str) -> str:
    """Which part a record is in: `reporting` when the SHA-256 of its name is odd, else `tuning`; blind to content."""
    return REPORTING if hashlib.sha256(name.encode()).digest()[-1] % 2 else TUNING


def read_one(folder: Path, name: str, settings: AnalysisSettings, *, second: bool = False) -> RecordReading:
    """Read one record of a folder; `second` asks for what a second reading needs too. Runs in a worker process."""
    return read_record(read_database_record(folder, name), settings, second=second)


def read_record(record: DatabaseRecord, settings: AnalysisSettings, *, second: bool = False) -> RecordReading:
    """What the computer makes of a record; `second` asks for what a second reading needs too."""
    name = record.name
    reading = read_tracing(record.tracing, settings.tracing)
    seen = Seen(
        reading,
        gestation_weeks=record.gestation_weeks,
        second_stage_s=record.second_stage_s,
        gradual_s=settings.tracing.gradual_s,
    )
    windows = tuple(
        _window(reading, seen, step, start_s, end_s, settings)
        for step, (start_s, end_s) in record.windows.items()
        if end_s > start_s
    )
    found = RecordReading(name, part_of(name), record.ph, windows, _measures(record, reading, settings))
    return _described(found, record.tracing, seen, settings) if second else found


def _described(found: RecordReading, tracing: Tracing, seen: Seen, settings: AnalysisSettings) -> RecordReading:
    """The same with the second reading's numbers of its windows."""
    labours = labours_of(tracing, settings.tracing, settings.of_standards, like=seen)
    names, window, hour = numbers_of(labours, [(w.start_s, w.end_s) for w in found.windows])
    windows = tuple(
        replace(one, numbers=tuple(a), hour_numbers=tuple(b))
        for one, a, b in zip(found.windows, window.tolist(), hour.tolist(), strict=True)
    )
    return replace(found, windows=windows, names=names, aways_1hz=tuple(one.away_1hz for one in labours))


def _window(
    reading: Reading, seen: Seen, step: str, start_s: float, end_s: float, settings: AnalysisSettings
) -> WindowReading:
    codes = {}
    for name, standard in COMPARED.items():
        words = standard.window_category(reading, start_s, end_s, settings.of_standards[name], seen=seen).category
        codes[name] = standard.levels.index(words) if words in standard.levels else len(standard.levels)
    part = reading.fhr_1hz[int(start_s) : int(end_s)]
    share = float(np.isfinite(part).mean()) if part.size else 0.0
    return WindowReading(step, start_s, end_s, share, codes)


def _measures(record: DatabaseRecord, reading: Reading, settings: AnalysisSettings) -> dict[str, float | None]:
    rows = {
        row.span: row
        for row in burden_rows(
            reading,
            birth_s=record.birth_s,
            second_stage_s=record.second_stage_s,
            settings=settings.burden,
        )
    }
    hour, half = rows["last_60_min"], rows["last_30_min"]
    end_s = hour.span_minutes * 60.0 + max(reading.duration_s - 3600.0, 0.0)
    minutes = reading.variability_1min[max(int(end_s // 60) - 60, 0) : int(end_s // 60)]
    known = minutes[np.isfinite(minutes)]
    minimal = float((known <= settings.tracing.minimal_to_bpm).mean()) if known.size else None
    return {
        AREA_PER_HOUR: hour.area_per_seen_hour_bpm_s,
        "deceleration area, last 60 min": hour.area_bpm_s,
        "triangle area, last 60 min": hour.triangle_area_bpm_s,
        "deceleration area per seen hour, last 30 min": half.area_per_seen_hour_bpm_s,
        "minutes in deceleration, last 60 min": hour.minutes_in_deceleration,
        "decelerations per 20 min, last 60 min": hour.decelerations_per_20_min,
        "late decelerations, last 60 min": float(hour.late),
        "deepest deceleration, last 60 min": hour.deepest_bpm or 0.0,
        "longest deceleration, last 60 min": hour.longest_s or 0.0,
        "share of minutes with minimal variability, last 60 min": minimal,
        SHARE_LOST: hour.signal_loss_fraction,
        "share of signal lost, last 30 min": half.signal_loss_fraction,
    }

"""The open intrapartum database's table of expert readings, taken as reads under FIGO 1986.

One row is one expert's look at one recording: three windows placed by the start of the second stage, and a guess at
the outcome that is not imported. Source: L. Hruban et al., J Eval Clin Pract 2015; the windows as the database's own
description gives them.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from audit.intake.checks import fields
from audit.intake.checks.fields import BadValue, refuse_calendar_times
from audit.intake.checks.reads import ReadRow, each_read_once
from audit.intake.door.remarks import Remarks
from audit.intake.door.shape import shape
from audit.intake.formats.tables import SmallTable
from audit.setting_tables.intake import ImportOptions
from audit.vocabulary import THREE_TIERS

STANDARD = "figo-1986"
CLASSES = dict(enumerate(THREE_TIERS, start=1))
NOT_READ = -1
BEFORE_S = {"eval_step1": 3600.0, "eval_step2": 1800.0}  # begins at most this long before the second stage
WINDOW_S = 1800.0
LEAST_SECOND_STAGE_S = 300.0


@dataclass(frozen=True)
class RecordingTimes:
    """What places the windows of a recording: seconds from its first sample."""

    end_s: float
    second_stage_s: float | None


def windows_of(times: RecordingTimes) -> dict[str, tuple[float, float]]:
    """The windows that were shown, by column. A recording without a second stage is taken from its end instead."""
    reference_s = times.end_s if times.second_stage_s is None else times.second_stage_s
    windows = {}
    for name, before_s in BEFORE_S.items():
        start_s = max(0.0, reference_s - before_s)
        windows[name] = (start_s, min(start_s + WINDOW_S, times.end_s))
    if times.second_stage_s is not None and times.end_s - times.second_stage_s >= LEAST_SECOND_STAGE_S:
        windows["eval_step3"] = (times.second_stage_s, times.end_s)
    return windows


def read_expert_readings(
    table: SmallTable, times: Mapping[str, RecordingTimes], remarks: Remarks, options: ImportOptions
) -> tuple[list[ReadRow], int]:
    """The reads, and how many rows of the file they came from. `times` by record name.

    A row for a recording that is not stored is rejected, because its windows cannot be placed. The second and later
    rows of an expert for one recording are repeat reads, numbered in the order of the file.
    """
    refuse_calendar_times(table, options.calendar_from_s)
    rows: list[ReadRow] = []
    looks: dict[tuple[str, str], int] = {}
    taken, not_read, without_stage = 0, 0, set()
    for k, number in enumerate(table.row_numbers):
        record, expert = (fields.as_text(table.columns[name][k]) for name in ("rec_id", "expert_id"))
        record, expert = remarks.case_id(record), remarks.reader(f"expert-{expert}")
        occasion = looks[record, expert] = looks.get((record, expert), 0) + 1
        if record not in times:
            reason = "no tracing is stored for this recording, expected it to be imported first"
            remarks.reject_row(number, reason, "rec_id", record)
            continue
        windows = windows_of(times[record])
        if times[record].second_stage_s is None:
            without_stage.add(record)
        taken += 1
        for name in ("eval_step1", "eval_step2", "eval_step3"):
            category = _category(name, table.columns.get(name, [None] * (k + 1))[k], number, remarks)
            if category is None:
                not_read += 1
            elif name not in windows:
                reason = f"found a class for a second stage of less than {LEAST_SECOND_STAGE_S:g} s, expected none"
                remarks.reject_value(number, name, category, reason)
            else:
                read = ReadRow(record, "A", expert, *windows[name], standard=STANDARD, category=category)
                rows.append(replace(read, occasion=occasion, row_number=number))
    remarks.message(
        f"{len(rows):,} windows read under {STANDARD}; {not_read:,} were not read or not assessable and are left out"
    )
    if without_stage:
        remarks.message(
            f"{len(without_stage)} recordings have no second stage; their windows are counted back from the end of the"
            " tracing (our choice)"
        )
    return each_read_once(rows, remarks), taken


def _category(name: str, value: Any, number: int, remarks: Remarks) -> str | None:
    try:
        found = fields.as_whole(value)
    except BadValue as error:
        remarks.reject_value(number, name, value, str(error))
        return None
    if found is None or found == NOT_READ:
        return None
    if found not in CLASSES:
        remarks.reject_value(number, name, value, f"found {shape(found)}, expected 1, 2, 3 or -1")
        return None
    return CLASSES[found]

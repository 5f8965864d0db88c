"""Rows of a reads file: one window read by one reader, under one standard, on one occasion."""

from dataclasses import dataclass
from typing import Any

from audit.intake.checks import fields
from audit.intake.checks.classed import ClassedRow, classed, features
from audit.intake.checks.codes import as_code, bad_reader
from audit.intake.checks.fields import refuse_calendar_times
from audit.intake.checks.rows import BadRow, case_of, checked_rows, fetus_of, kept, needed, once, refuse, time_of
from audit.intake.door.remarks import Remarks
from audit.intake.formats.tables import SmallTable
from audit.setting_tables.intake import ImportOptions
from audit.settings import Settings

OCCASIONS = (1, 9)


@dataclass(frozen=True)
class ReadRow(ClassedRow):
    """One checked read, under the column names of `reads`."""

    KEYS = ("case_id", "fetus", "reader", "start_s", "end_s", "standard", "occasion")

    reader: str
    start_s: float
    end_s: float
    would_act: bool | None = None
    outcome_hidden: bool | None = None
    occasion: int = 1


def read_reads(table: SmallTable, remarks: Remarks, settings: Settings) -> list[ReadRow]:
    """The rows that can be stored, each read once."""
    options = settings.import_
    refuse_calendar_times(table, options.calendar_from_s)
    rows = checked_rows(table, remarks, lambda values, number: _read_row(values, number, remarks, options))
    return each_read_once(rows, remarks)


def each_read_once(rows: list[ReadRow], remarks: Remarks) -> list[ReadRow]:
    """The same read twice counts once; two that contradict each other are both kept out."""

    def told(row: ReadRow, count: int, unlike: bool) -> str:
        return (
            f"found the same window {count} times for reader {row.reader}, occasion {row.occasion}"
            f"{', read differently; none is kept' if unlike else ''}; expected it once (give a repeat the occasion 2)"
        )

    return once(rows, remarks, "occasion", told)


def _read_row(values: dict[str, Any], number: int, remarks: Remarks, options: ImportOptions) -> ReadRow:
    case_id, fetus, reader = case_of(values, remarks), fetus_of(values), _reader(values, remarks)
    start_s, end_s = (time_of(name, values, 0.0, options.latest_s) for name in ("start_s", "end_s"))
    if end_s <= start_s:
        raise BadRow(
            f"found the end {end_s:g} s at or before the start {start_s:g} s, expected it later", "end_s", end_s
        )
    return ReadRow(
        case_id,
        fetus,
        reader,
        start_s,
        end_s,
        **classed(values),
        occasion=_occasion(values.get("occasion")),
        **features(values, number, remarks),
        would_act=kept("would_act", fields.as_yes_or_no, values, number, remarks),
        outcome_hidden=kept("outcome_hidden", fields.as_yes_or_no, values, number, remarks),
        row_number=number,
    )


def _reader(values: dict[str, Any], remarks: Remarks) -> str:
    reader = as_code(values.get("reader"))
    refuse(bad_reader(reader), "reader", reader)
    return remarks.reader(reader)


def _occasion(value: Any) -> int:
    with needed("occasion", value, " (1 = first read, 2 = repeat)"):
        found = fields.as_whole(value)
        if found is not None:
            fields.check_range("occasion", found, *OCCASIONS)
    return 1 if found is None else found

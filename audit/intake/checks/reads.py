"""Rows of a reads file: one window read by one reader, under one standard, on one occasion."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from dataclasses import fields as dataclass_fields
from typing import Any

from audit.intake.checks import fields
from audit.intake.checks.codes import as_code, bad_case_id, bad_fetus, bad_reader
from audit.intake.checks.fields import BadValue, refuse_calendar_times
from audit.intake.door.remarks import Remarks
from audit.intake.formats.tables import SmallTable
from audit.setting_tables.intake import ImportOptions
from audit.vocabulary import (
    ACCELERATIONS,
    BASELINE_RANGE_BPM,
    CONTRACTIONS_RANGE,
    DECELERATIONS,
    READ_CATEGORIES,
    VARIABILITY,
)

OCCASIONS = (1, 9)
_RANGES = {"baseline_bpm": BASELINE_RANGE_BPM, "contractions_per_10_min": CONTRACTIONS_RANGE}


@dataclass(frozen=True)
class ReadRow:
    """One checked read, under the column names of `reads`."""

    case_id: str
    fetus: str
    reader: str
    start_s: float
    end_s: float
    standard: str
    category: str
    baseline_bpm: float | None = None
    variability: str | None = None
    accelerations: str | None = None
    decelerations: str | None = None
    contractions_per_10_min: float | None = None
    would_act: bool | None = None
    outcome_hidden: bool | None = None
    occasion: int = 1
    row_number: int = 0

    @property
    def key(self) -> tuple[Any, ...]:
        """What makes two rows the same read."""
        return self.case_id, self.fetus, self.reader, self.start_s, self.end_s, self.standard, self.occasion

    def content(self) -> dict[str, Any]:
        """The columns of `reads`."""
        return {name: getattr(self, name) for name in COLUMNS}


COLUMNS = tuple(each.name for each in dataclass_fields(ReadRow) if each.name != "row_number")


def read_reads(table: SmallTable, remarks: Remarks, options: ImportOptions) -> list[ReadRow]:
    """The rows that can be stored, each read once."""
    refuse_calendar_times(table, options.calendar_from_s)
    rows: list[ReadRow] = []
    for k, number in enumerate(table.row_numbers):
        values = {name: column[k] for name, column in table.columns.items()}
        try:
            rows.append(_read_row(values, number, remarks, options))
        except BadRow as error:
            remarks.reject_row(number, error.reason, error.column, error.value)
    return once(rows, remarks)


def once(rows: list[ReadRow], remarks: Remarks) -> list[ReadRow]:
    """Each read once: the same twice counts once, two that contradict each other are both kept out."""
    together: dict[tuple[Any, ...], list[ReadRow]] = {}
    for row in rows:
        together.setdefault(row.key, []).append(row)
    kept = []
    for same in together.values():
        unlike = any(row.content() != same[0].content() for row in same)
        for row in same if unlike else same[1:]:
            remarks.reject_row(
                row.row_number,
                f"found the same window {len(same)} times for reader {row.reader}, occasion {row.occasion}"
                + (", read differently; none is kept" if unlike else "")
                + "; expected it once (give a repeat the occasion 2)",
                "occasion",
                row.occasion,
            )
        if not unlike:
            kept.append(same[0])
    return kept


class BadRow(Exception):
    """The row cannot be stored; the reason says what was found in which column and what was expected."""

    def __init__(self, reason: str, column: str, value: Any) -> None:
        super().__init__(reason)
        self.reason, self.column, self.value = reason, column, value


def _read_row(values: dict[str, Any], number: int, remarks: Remarks, options: ImportOptions) -> ReadRow:
    case_id, reader = as_code(values.get("case_id")), as_code(values.get("reader"))
    fetus = "A" if fields.is_none(values.get("fetus")) else fields.as_text(values["fetus"])
    for reason, column, value in (
        (bad_case_id(case_id), "case_id", case_id),
        (bad_fetus(fetus), "fetus", fetus),
        (bad_reader(reader), "reader", reader),
    ):
        if reason is not None:
            raise BadRow(reason, column, value)
    case_id, fetus, reader = remarks.case_id(case_id), fetus.upper(), remarks.reader(reader)
    start_s, end_s = (_needed_time(name, values[name], options) for name in ("start_s", "end_s"))
    if end_s <= start_s:
        raise BadRow(
            f"found the end {end_s:g} s at or before the start {start_s:g} s, expected it later", "end_s", end_s
        )
    standard = needed_word("standard", values["standard"], tuple(READ_CATEGORIES))
    category = needed_word("category", values["category"], READ_CATEGORIES[standard])
    occasion = _occasion(values.get("occasion"))

    return ReadRow(
        case_id,
        fetus,
        reader,
        start_s,
        end_s,
        standard,
        category,
        **features(values, number, remarks),
        would_act=kept("would_act", fields.as_yes_or_no, values, number, remarks),
        outcome_hidden=kept("outcome_hidden", fields.as_yes_or_no, values, number, remarks),
        occasion=occasion,
        row_number=number,
    )


def kept(name: str, checked: Callable[[Any], Any], values: dict[str, Any], number: int, remarks: Remarks) -> Any:
    """A checked value; one that cannot be stored is kept out of its row, with a remark."""
    try:
        return checked(values.get(name))
    except BadValue as error:
        remarks.reject_value(number, name, values.get(name), str(error))
        return None


def features(values: dict[str, Any], number: int, remarks: Remarks) -> dict[str, Any]:
    """What a read or an assessment says of the tracing, beside its category."""

    def in_range(name: str) -> Callable[[Any], float | None]:
        def checked(value: Any) -> float | None:
            found = fields.as_number(value)
            if found is not None:
                fields.check_range(name, found, *_RANGES[name])
            return found

        return checked

    checks: dict[str, Callable[[Any], Any]] = {
        "baseline_bpm": in_range("baseline_bpm"),
        "variability": lambda value: fields.as_one_of(value, VARIABILITY),
        "accelerations": lambda value: fields.as_one_of(value, ACCELERATIONS),
        "decelerations": kinds,
        "contractions_per_10_min": in_range("contractions_per_10_min"),
    }
    return {name: kept(name, checked, values, number, remarks) for name, checked in checks.items()}


def kinds(value: Any) -> str | None:
    """The kinds that a read names, in its own order. Raises BadValue for any other word."""
    if fields.is_none(value):
        return None
    text = fields.as_text(value).casefold()
    named = [each for each in re.split(r"[\s,;/+&]+|\band\b", text) if each]
    return " ".join(fields.as_one_of(each, DECELERATIONS) or "" for each in named)


def _needed_time(name: str, value: Any, options: ImportOptions) -> float:
    try:
        found = fields.as_number(value)
        if found is None:
            raise BadValue("found no time, expected seconds from the case's first sample")
        fields.check_range(name, found, 0.0, options.latest_s)
    except BadValue as error:
        raise BadRow(str(error), name, value) from error
    return found


def needed_word(name: str, value: Any, allowed: tuple[str, ...]) -> str:
    """One of the allowed words. Raises BadRow for any other, and for none."""
    try:
        found = fields.as_one_of(value, allowed)
        if found is None:
            raise BadValue(f"found nothing, expected {', '.join(allowed)}")
    except BadValue as error:
        raise BadRow(str(error), name, value) from error
    return found


def _occasion(value: Any) -> int:
    try:
        found = fields.as_whole(value)
        if found is not None:
            fields.check_range("occasion", found, *OCCASIONS)
    except BadValue as error:
        raise BadRow(f"{error} (1 = first read, 2 = repeat)", "occasion", value) from error
    return 1 if found is None else found

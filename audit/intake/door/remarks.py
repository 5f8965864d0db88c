"""What an import says about a file: values and rows kept out or stored with a remark, and files refused whole.

Nothing that was typed is repeated: of a value its shape is kept, of a column its name when it is one of ours. Reasons
are sentences of this program with numbers that lie in their range and words that it knows.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from audit.intake.door.names import UnitNames
from audit.intake.door.shape import shape
from audit.setting_tables.intake import CASE_ID_PATTERN, READER_PATTERN

_NONE_OR_INITIALS = frozenset(("na", "n/a", "n.a.", "none", "nil", "unknown"))
Severity = Literal["rejected", "flagged"]

Rows = Sequence[int] | NDArray[np.int64]


class FileRefused(Exception):
    """Nothing of this file may be stored; the message says why and what to do."""

    def __init__(self, reason: str, *, row: int | None = None, column: str | None = None, value: object = None) -> None:
        super().__init__(reason)
        self.sha256 = ""  # of the file, once it could be read
        self.remark = Remark(row, column, _shown(value), reason, "rejected")

    def move(self, rows: int) -> None:
        """Say it of a row that stands so many rows further down than was told."""
        if self.remark.row_number is not None:
            self.remark = replace(self.remark, row_number=self.remark.row_number + rows)


@dataclass(frozen=True)
class Remark:
    """One row of `import_rejects`. `row_number` is the line of the file, header = 1; None = the file as a whole.

    `value`: the shape of what was kept out; of what is stored with a remark the
    number itself.
    """

    row_number: int | None
    column_name: str | None
    value: str | None
    reason: str
    severity: Severity = "rejected"

    def text(self, source: str) -> str:
        """The remark as a line for a person."""
        where = [f"row {self.row_number}"] if self.row_number is not None else []
        where += [self.column_name] if self.column_name is not None else []
        place = f"{source}: {', '.join(where)}" if where else source
        return f"{place}: {self.reason}"


@dataclass
class Remarks:
    """Collects remarks up to `limit`, counting all of them."""

    limit: int
    names: UnitNames = field(default_factory=lambda: UnitNames(CASE_ID_PATTERN, READER_PATTERN))
    listed: list[Remark] = field(default_factory=list)
    rows_rejected: int = 0  # rows kept out whole
    values_rejected: int = 0  # values kept out of rows that are stored
    flagged: int = 0
    messages: list[str] = field(default_factory=list)  # sentences about the file, no one's fault
    pseudonyms: set[str] = field(default_factory=set)  # of case ids that are not of the unit's pattern
    _unlisted: int = 0

    def case_id(self, typed: str) -> str:
        """The code under which a case is stored."""
        if typed.casefold() in _NONE_OR_INITIALS:
            self.message(
                f"found {typed.upper()} as a case id, which many programs write where there is none: its rows are taken"
                " as one case"
            )
        stored = self.names.case_id(typed)
        if stored != typed:
            self.pseudonyms.add(stored)
        return stored

    def reader(self, typed: str) -> str:
        """The code under which a reader is stored."""
        stored = self.names.reader(typed)
        if stored != typed:
            self.message("readers without a code of the unit's pattern are stored under keyed pseudonyms")
        return stored

    def event_id(self, typed: str) -> str:
        """The key under which a care event is stored."""
        stored = self.names.event_id(typed)
        if stored != typed:
            self.message("keys of events without a code of the unit's pattern are stored under keyed pseudonyms")
        return stored

    def reject_row(self, row: int | None, reason: str, column: str | None = None, value: object = None) -> None:
        """Keep one row out."""
        self.rows_rejected += 1
        self._list(Remark(row, column, _shown(value), reason))

    def reject_rows(self, rows: Rows, column: str | None, values: Iterable[object], reasons: Iterable[str]) -> None:
        """Keep many rows out, each with its value and reason."""
        self.rows_rejected += len(rows)
        self._list_many(rows, column, values, reasons)

    def reject_block(self, rows: int, first_row: int | None, column: str | None, value: object, reason: str) -> None:
        """Keep many rows out for one reason that belongs to all of them together."""
        self.rows_rejected += rows
        self._list(Remark(first_row, column, _shown(value), reason))

    def reject_value(self, row: int | None, column: str, value: object, reason: str) -> None:
        """Keep one value out; the row is stored without it."""
        self.values_rejected += 1
        self._list(Remark(row, column, _shown(value), reason))

    def reject_values(self, rows: Rows, column: str, values: Iterable[object], reasons: Iterable[str]) -> None:
        """Keep many values out; their rows are stored without them."""
        self.values_rejected += len(rows)
        self._list_many(rows, column, values, reasons)

    def flag(self, row: int | None, column: str | None, value: object, reason: str | None) -> None:
        """Store it, with a remark; without one where there is no reason for it."""
        if reason is None:
            return
        self.flagged += 1
        number = isinstance(value, int | float) and not isinstance(value, bool)
        self._list(Remark(row, column, f"{value:g}" if number else _shown(value), reason, "flagged"))

    def message(self, sentence: str | None) -> None:
        """Say something about the file once, if there is something to say."""
        if sentence is not None and sentence not in self.messages:
            self.messages.append(sentence)

    def absorb(self, other: "Remarks", lines_before: int) -> None:
        """Take over the remarks on a later part of the file, which counted its lines from its own start."""
        self.rows_rejected += other.rows_rejected
        self.values_rejected += other.values_rejected
        self.flagged += other.flagged
        self.pseudonyms |= other.pseudonyms
        for sentence in other.messages:
            self.message(sentence)
        for remark in other.listed:
            row = remark.row_number
            self._list(replace(remark, row_number=None if row is None else row + lines_before))
        self._unlisted += other._unlisted

    def taken_out(self) -> "Remarks":
        """What was collected so far, without its names; from here on it is collected anew."""
        so_far = Remarks(self.limit)
        for each in fields(self):
            if each.name not in ("limit", "names"):
                mine, fresh = getattr(self, each.name), getattr(so_far, each.name)
                setattr(so_far, each.name, mine)
                setattr(self, each.name, fresh)
        return so_far

    def all(self) -> list[Remark]:
        """The listed remarks in order of their rows, and one that counts those that were not listed."""
        listed = sorted(self.listed, key=lambda remark: remark.row_number or 0)
        if not self._unlisted:
            return listed
        more = Remark(None, None, None, f"{self._unlisted:,} more remarks of this file are counted but not listed")
        return [*listed, more]

    def _list(self, remark: Remark) -> None:
        if len(self.listed) < self.limit:
            self.listed.append(remark)
        else:
            self._unlisted += 1

    def _list_many(self, rows: Rows, column: str | None, values: Iterable[object], reasons: Iterable[str]) -> None:
        room = max(0, self.limit - len(self.listed))
        for row, value, reason, _ in zip(rows, values, reasons, range(room), strict=False):
            self.listed.append(Remark(int(row), column, _shown(value), reason))
        self._unlisted += max(0, len(rows) - room)


def _shown(value: object) -> str | None:
    return None if value is None else shape(value)

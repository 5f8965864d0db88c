"""What a table is, said once: name, headings, kinds, digits, words for none. The renderers beside it draw it anywhere.

A definition is filled with rows (mappings, or a frame) and becomes a `Table`, whose cells are already rounded and
worded. Page, pack, slides, CSV and terminal take these cells as they are, so no two of them can disagree on a figure.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, Literal, TypeAlias, cast

import numpy as np
import pandas as pd

from audit import house_style
from audit import words as words_
from audit.figures import NOT_KNOWN, Figure, rounded

Cell = str | Figure | None
Row = Mapping[str, Any]
Rows: TypeAlias = Iterable[Row] | pd.DataFrame


class Kind(StrEnum):
    """What a column's values are, and so how they are written."""

    TEXT = "text"
    CODE = "code"  # a coded name, put in words
    STANDARD = "standard"
    STATUS = "status"
    YES_NO = "yes or no"
    CLOCK = "clock"  # seconds from the first sample, as hh:mm
    MOMENT = "moment"  # a date and time of day, to the minute
    NUMBER = "number"
    COUNT = "count"  # a whole number that may be large: with a mark between the thousands, but in CSV
    SEVERITY = "severity"  # of what an import remarked
    SHARE = "share"  # a fraction of 1, as percent


_NUMBERS = (Kind.NUMBER, Kind.COUNT, Kind.SHARE)
_WORDS: Mapping[Kind, Callable[[Any], str]] = {
    Kind.TEXT: lambda value: "; ".join(map(str, value)) if isinstance(value, list | np.ndarray) else str(value),
    Kind.CODE: lambda value: words_.words(str(value)),
    Kind.STANDARD: lambda value: words_.standard_name(str(value)),
    Kind.SEVERITY: lambda value: words_.SEVERITIES.get(str(value), str(value)),
    Kind.STATUS: lambda value: words_.status_words(str(value)),
    Kind.YES_NO: lambda value: "yes" if value else "no",
    Kind.CLOCK: lambda value: words_.hh_mm(float(value)),
    Kind.MOMENT: lambda value: str(value)[:16].replace("T", " "),
}


@dataclass(frozen=True)
class Column:
    """One column.

    Parameters
    ----------
    name : of the field in a row, unless `value` says how a row gives it.
    heading : with the unit where there is one.
    digits : decimals of a number; None = three significant digits, whole numbers in full.
    missing : words for what is not known; without them a dash, and an empty cell in CSV. Numbers have no such words.
    short : heading where room is scarce, on slides and terminal.
    width : a hint; None = by the content. A small column is never broken into lines.
    """

    name: str
    heading: str
    kind: Kind = Kind.TEXT
    digits: int | None = 0
    missing: str = ""
    short: str = ""
    width: Literal["small", "medium", "large"] | None = None
    value: Callable[[Row], Any] | None = None

    def __post_init__(self) -> None:
        if self.missing and self.is_number:
            raise ValueError(f"{self.name}: a number cannot have words for none, pages sort numbers as numbers")

    @property
    def is_number(self) -> bool:
        """Whether the column holds figures, set to the right."""
        return self.kind in _NUMBERS

    @property
    def short_heading(self) -> str:
        """The heading where room is scarce."""
        return self.short or self.heading

    def cell(self, row: Row) -> Cell:
        """The value of a row: a rounded figure, words, or None for what is not known."""
        value = self.value(row) if self.value else row.get(self.name)
        if is_unknown(value):
            return None
        if not self.is_number:
            return _WORDS[self.kind](value)
        if isinstance(value, str):  # a count that is hidden says so
            return value
        return rounded(value, self.digits, scale=100 if self.kind is Kind.SHARE else 1)

    def shown(self, cell: Cell) -> str:
        """A cell as it is printed."""
        if cell is None or cell == "":
            return house_style.text(self.missing) or NOT_KNOWN
        if isinstance(cell, str):
            return house_style.text(cell)
        return house_style.figure(f"{cell:,f}" if self.kind is Kind.COUNT else f"{cell:f}")


@dataclass(frozen=True)
class Table:
    """A definition filled with rows. `of` is what it is about (a case) where several stand in one pack.

    `is_part` says that another table of the pack has all the rows. `first_columns` are those that a page shows before
    somebody asks for the rest; empty = all of them.
    """

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""
    empty: str = ""
    of: str = ""
    is_part: bool = False
    first_columns: tuple[str, ...] = ()

    def only(self, *names: str) -> "Table":
        """Some of its columns, in the order in which they stand."""
        kept = [k for k, column in enumerate(self.columns) if column.name in names]
        rows = tuple(tuple(row[k] for k in kept) for row in self.rows)
        return replace(self, columns=tuple(self.columns[k] for k in kept), rows=rows, is_part=True)

    def first(self, rows: int) -> "Table":
        """As many rows as there is room for, with a note on the rest."""
        if len(self.rows) <= rows:
            return replace(self, is_part=True)
        rest = f"{len(self.rows) - rows} more in the tables of the pack."
        return replace(self, rows=self.rows[:rows], note=f"{self.note} {rest}".strip(), is_part=True)

    def shown(self) -> list[list[str]]:
        """The cells as they are printed."""
        return [[column.shown(cell) for column, cell in zip(self.columns, row, strict=True)] for row in self.rows]


@dataclass(frozen=True)
class TableDefinition:
    """A table, whatever it is drawn on: `name` of its file, `title` on paper, `empty` for the case without rows.

    `first_columns` are those that a page shows before somebody asks for the rest; empty = all of them.
    """

    name: str
    columns: tuple[Column, ...]
    title: str = ""
    empty: str = "Nothing to list."
    first_columns: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for found in ([column.name for column in self.columns], [column.heading for column in self.columns]):
            twice = {name for name in found if found.count(name) > 1}
            if twice:
                raise ValueError(f"{self.name}: two columns are called {', '.join(sorted(twice))}")
        unknown = set(self.first_columns) - set(self.names)
        if unknown:
            raise ValueError(f"{self.name}: no column is called {', '.join(sorted(unknown))}")

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the columns in their order."""
        return tuple(column.name for column in self.columns)

    def only(self, *names: str, **changes: Any) -> "TableDefinition":
        """The same table with some of its columns, in this order, for a place with less room."""
        by_name = {column.name: column for column in self.columns}
        kept = tuple(name for name in self.first_columns if name in names)
        return replace(self, **({"columns": tuple(by_name[name] for name in names), "first_columns": kept} | changes))

    def filled(
        self, rows: Rows, *, name: str = "", title: str = "", note: str = "", empty: str = "", of: str = ""
    ) -> Table:
        """The table of these rows; the words given here stand instead of the definition's."""
        records = rows_of(rows) if isinstance(rows, pd.DataFrame) else rows
        cells = tuple(tuple(column.cell(row) for column in self.columns) for row in records)
        name = name or self.name
        plain = tuple(replace(column, value=None) for column in self.columns)  # a table goes from process to process
        title, note, empty = title or self.title, note if cells else "", empty or self.empty
        return Table(name, title, plain, cells, note, empty, of, first_columns=self.first_columns)


def rows_of(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """A frame as rows."""
    return cast("list[dict[str, Any]]", frame.to_dict("records"))


def is_unknown(value: Any) -> bool:
    """None, and whatever pandas makes of it."""
    return value is None or (not isinstance(value, str | list | np.ndarray) and bool(pd.isna(value)))


def texts(kind: Kind = Kind.TEXT, /, **headings: str) -> tuple[Column, ...]:
    """Columns of one kind, from names and headings."""
    return tuple(Column(name, heading, kind) for name, heading in headings.items())


def numbers(digits: int | None = 0, /, **headings: str) -> tuple[Column, ...]:
    """Columns of numbers with so many decimals, from names and headings."""
    return tuple(Column(name, heading, Kind.NUMBER, digits) for name, heading in headings.items())


def counts(**headings: str) -> tuple[Column, ...]:
    """Columns of whole numbers that may be large, from names and headings."""
    return texts(Kind.COUNT, **headings)


def shares(**headings: str) -> tuple[Column, ...]:
    """Columns of shares, shown as whole percent, from names and headings."""
    return texts(Kind.SHARE, **headings)


def dynamic(name: str, headings: Sequence[str], *, title: str = "", empty: str = "") -> TableDefinition:
    """A table of texts whose columns are known only with its rows; the heading is the name."""
    return TableDefinition(name, tuple(Column(text, text) for text in headings), title, empty or "Nothing to list.")

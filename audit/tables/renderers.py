"""A filled table as a frame for a page, as CSV, or on a terminal; the pack's templates take its cells themselves."""

from collections.abc import Sequence
from decimal import Decimal
from functools import partial
from typing import Any, Literal

import pandas as pd
from rich import box
from rich.console import Console
from rich.table import Table as RichTable

from audit import house_style
from audit.csv_cells import csv_text
from audit.figures import NOT_KNOWN
from audit.tables.definition import Cell, Column, Kind, Table, is_unknown

_LEAST_TERMINAL_WIDTH = 100


def to_page(table: Table) -> pd.DataFrame:
    """The cells under the columns' names: figures as numbers, so that a reader can sort by them; the rest as text."""
    found = {}
    for place, column in enumerate(table.columns):
        cells = [row[place] for row in table.rows]
        if column.is_number:
            found[column.name] = pd.Series([_number(cell) for cell in cells], dtype="float64")
        else:
            found[column.name] = pd.Series([_text(cell or column.missing) for cell in cells], dtype="object")
    return pd.DataFrame(found)


def _text(cell: Cell) -> str | None:
    """A text as the house writes it; dates stay as they sort, `as_shown` writes them."""
    text = str(cell or "")
    return (text if house_style.is_date(text) else house_style.text(text)) or None


def as_shown(table: Table, frame: pd.DataFrame) -> Any:
    """What a page shows for the values of `to_page`: the frame itself, or with the house's own marks and dates."""
    if house_style.in_force().is_ours:
        return frame
    by_name = {column.name: partial(_as_house, column) for column in table.columns}
    return frame.style.format(by_name, na_rep=NOT_KNOWN)


def _as_house(column: Column, value: Any) -> str:
    if is_unknown(value):
        return NOT_KNOWN
    if isinstance(value, str):
        return house_style.text(value) if house_style.is_date(value) else value
    mark = "," if column.kind is Kind.COUNT else ""
    return house_style.figure(f"{value:.9g}" if column.digits is None else f"{value:{mark}.{column.digits}f}")


def _number(cell: Cell) -> float | None:
    return float(cell) if isinstance(cell, Decimal) else None


def to_csv(tables: Sequence[Table], *, out_of_date: str | None = None) -> bytes:
    """Tables of one kind as one file: headings, then every cell as it is printed; what is not known is empty.

    Where the tables are about something each (a case), that stands in the first column. UTF-8 with a byte order mark,
    so that spreadsheets read accents right; no cell is run as a formula. `out_of_date`: how far the figures are not
    what an analysis would find now: a last column, since a file leaves what says so.
    """
    headings = list(dict.fromkeys(column.heading for table in tables for column in table.columns))
    of = ["Case"] if any(table.of for table in tables) else []
    said = [house_style.text(out_of_date)] if out_of_date else []
    lines = []
    for table in tables:
        for row in table.rows:
            cells = {column.heading: _csv(column, cell) for column, cell in zip(table.columns, row, strict=True)}
            lines.append([*([table.of] if of else []), *(cells.get(heading) for heading in headings), *said])
    last = ["Out of date"] if out_of_date else []
    text = csv_text(house_style.everywhere([*of, *headings, *last]), lines, decimal=house_style.in_force().decimal)
    return text.encode("utf-8-sig")


def _csv(column: Column, cell: Cell) -> Cell:
    found = column.missing or None if cell is None else cell
    return house_style.text(found) if isinstance(found, str) else found


def console(least_width: int = _LEAST_TERMINAL_WIDTH) -> Console:
    """The terminal, at least as wide as a table needs; what was imported is never read as markup."""
    found = Console(highlight=False, markup=False)
    found.width = max(found.width, least_width)
    return found


def to_terminal(table: Table, width: int | None = None) -> RichTable:
    """The table with its short headings; figures and small columns stand on one line each.

    With a `width` columns are close together and no word is broken as long as the longest ones fit side by side.
    """
    found = RichTable(box=box.SIMPLE, pad_edge=False, collapse_padding=width is not None)
    shown = table.shown()
    widths = [None] * len(table.columns) if width is None else _widths(table, shown, width)
    for column, own in zip(table.columns, widths, strict=True):
        one_line = _on_one_line(column)
        justify: Literal["left", "right"] = "right" if column.is_number else "left"
        found.add_column(column.short_heading, justify=justify, no_wrap=one_line, overflow="fold", width=own)
    for row in shown:
        found.add_row(*row)
    return found


def _on_one_line(column: Column) -> bool:
    return column.is_number or column.width == "small"


def _widths(table: Table, shown: Sequence[Sequence[str]], width: int) -> list[int | None]:
    """Room for the longest word of each column; what is left goes to those that take most lines."""
    texts = [[column.short_heading, *(row[k] for row in shown)] for k, column in enumerate(table.columns)]
    whole = [max(map(len, column)) for column in texts]
    found = [
        max(len(word) for text in own for word in (text.split() or [""])) if not _on_one_line(column) else most
        for column, own, most in zip(table.columns, texts, whole, strict=True)
    ]
    for _ in range(min(width - 2 * len(found), sum(whole)) - sum(found)):
        found[max(range(len(found)), key=lambda k: whole[k] / found[k])] += 1
    return list(found)

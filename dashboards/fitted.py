"""How wide the columns of a table are, so that a page of 1280 px shows them all without a step sideways.

A cell that is cut shows all of its text once it is chosen; figures, times and headings are never cut.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import streamlit as st

from audit import house_style
from audit.tables.definition import Column, Kind, Table

# what a page of 1280 px with its menu open leaves of it, less the boxes by which rows are chosen and a scroll bar
ROOM_PX = 890
_CHARACTER_PX = 7.2  # of the tables' font, the wider letters; measured in Chromium
_HEADING_PX = 7.6  # headings are a little bolder
_AROUND_PX = 22
MOST_PINNED_PX = 200  # of a first column that stays in sight
NARROW_PX = 540  # what a window of 640 px leaves of itself, less the same
STACK, MOST_LINES, _LINE_PX = "stack", 10, 21
NO_LIMIT_PX = 1_000_000  # room of a table that may be moved sideways


def heading_px(column: Column) -> float:
    """What the heading of a column takes."""
    return len(house_style.text(column.heading)) * _HEADING_PX + _AROUND_PX


def wanted_px(found: Table, name: str) -> float:
    """What a column takes so that neither its heading nor a cell is cut."""
    place = [column.name for column in found.columns].index(name)
    column = found.columns[place]
    cells = (max(map(len, column.shown(row[place]).splitlines() or [""])) for row in found.rows)
    return max(heading_px(column), max(cells, default=0) * _CHARACTER_PX + _AROUND_PX)


def widths(found: Table, names: Sequence[str], room_px: int) -> dict[str, int]:
    """Widths of the columns named, in px, where they would not fit; where they do that of the first one alone.

    The first column stays in sight, and would not grow by itself to what it says.

    `found`: the table. `names`: columns that are shown. `room_px`: what they may take together.
    Gives widths: name -> px. Columns of text give way, the longest first, down to their headings.
    """
    wanted, least = {}, {}
    for column in found.columns:
        if column.name not in names:
            continue
        wanted[column.name] = wanted_px(found, column.name)
        whole = column.is_number or column.kind in (Kind.MOMENT, Kind.CLOCK)
        least[column.name] = wanted[column.name] if whole else heading_px(column)
    if sum(wanted.values()) <= room_px:
        return {names[0]: int(min(wanted[names[0]], MOST_PINNED_PX))}
    low, high = 0.0, max(wanted.values())
    while high - low > 1:  # the width above which columns of text are cut
        most = (low + high) / 2
        taken = sum(max(least[name], min(wanted[name], most)) for name in wanted)
        low, high = (most, high) if taken <= room_px else (low, most)
    return {name: int(max(least[name], min(wanted[name], low))) for name in wanted}


def stacks(found: Table, names: Sequence[str]) -> bool:
    """Whether a narrow window has no room for these columns beside each other."""
    return len(names) > 2 and sum(wanted_px(found, name) for name in names) > NARROW_PX


def stacked(found: Table, names: Sequence[str]) -> Table:
    """The same rows with their first column and one more, in which each other column stands with its heading."""
    places = [[column.name for column in found.columns].index(name) for name in names]
    first, rest = found.columns[places[0]], [(found.columns[place], place) for place in places[1:]]
    rows = tuple(
        (
            first.shown(row[places[0]]),
            "; ".join(
                f"{column.heading}: {column.shown(row[place])}" for column, place in rest if row[place] is not None
            ),
        )
        for row in found.rows
    )
    columns = (Column(first.name, first.heading), Column(STACK, "All else"))
    return replace(found, columns=columns, rows=rows, first_columns=())


def stack_height(found: Table) -> int:
    """Height of the rows of such a table (px), so that none of it is cut; of long ones as much as a window has."""
    first = int(min(wanted_px(found, found.columns[0].name), MOST_PINNED_PX))
    across = (NARROW_PX - first - _AROUND_PX) / _CHARACTER_PX
    longest = max((len(str(row[1])) for row in found.rows), default=0)
    return _AROUND_PX + _LINE_PX * min(MOST_LINES, 1 + int(longest / across))


def as_drawn(column: Column, width: int | None, pinned: bool) -> Any:
    """As the column is; what a row is about, its first cell, stays in sight when a narrow table is moved sideways."""
    heading = house_style.text(column.heading)
    if not column.is_number:
        return st.column_config.TextColumn(heading, width=width, pinned=pinned)
    if not house_style.in_force().is_ours:  # the values bring their own form
        return st.column_config.NumberColumn(heading, width=width, pinned=pinned)
    # cells are rounded already; the format keeps zeros at the end and 97.8 what it is, and marks a count's thousands
    mark = "," if column.kind is Kind.COUNT else ""
    shown = "%.9g" if column.digits is None else f"%{mark}.{column.digits}f"
    return st.column_config.NumberColumn(heading, width=width, format=shown, pinned=pinned)

"""How wide the columns of a table are, so that a page of 1280 px shows them all without a step sideways.

A cell that is cut shows all of its text once it is chosen; figures, moments and headings are never cut.
"""

from collections.abc import Sequence

from audit import house_style
from audit.tables.definition import Column, Kind, Table

# what a page of 1280 px with its menu open leaves of it, less the boxes by which rows are chosen and a scroll bar
ROOM_PX = 890
_CHARACTER_PX = 7.2  # of the tables' font, the wider letters; measured in Chromium
_HEADING_PX = 7.6  # headings are a little bolder
_AROUND_PX = 22


def heading_px(column: Column) -> float:
    """What the heading of a column takes."""
    return len(house_style.text(column.heading)) * _HEADING_PX + _AROUND_PX


def widths(found: Table, names: Sequence[str], room_px: int) -> dict[str, int]:
    """Widths of the columns named, in px, where they would not fit; nothing where they do.

    Parameters
    ----------
    found : the table. names : columns that are shown. room_px : what they may take together.

    Returns
    -------
    widths : name -> px. Columns of text give way, the longest first, down to their headings.
    """
    wanted, least = {}, {}
    for place, column in enumerate(found.columns):
        if column.name not in names:
            continue
        heading = heading_px(column)
        cells = (max(map(len, column.shown(row[place]).splitlines() or [""])) for row in found.rows)
        wanted[column.name] = max(heading, max(cells, default=0) * _CHARACTER_PX + _AROUND_PX)
        whole = column.is_number or column.kind is Kind.MOMENT
        least[column.name] = wanted[column.name] if whole else heading
    if sum(wanted.values()) <= room_px:
        return {}
    low, high = 0.0, max(wanted.values())
    while high - low > 1:  # the width above which columns of text are cut
        most = (low + high) / 2
        taken = sum(max(least[name], min(wanted[name], most)) for name in wanted)
        low, high = (most, high) if taken <= room_px else (low, most)
    return {name: int(max(least[name], min(wanted[name], low))) for name in wanted}

"""Sections on what staff recorded: where the time of a wait went, and whether somebody looked every hour."""

from collections.abc import Mapping, Sequence
from typing import Any

from audit.measures.suppression import hides_share, is_small
from audit.pack.model import Section
from audit.pack.options import PackOptions
from audit.questions.bedside import SOURCE
from audit.tables.bedside import HOURS, PARTS
from audit.words import standard_name

HIDDEN = "hidden"
_PARTS_NOTE = (
    "Each step of a concern's wait: of those that came to it how many went on, the pattern's own end and birth"
    " competing; intervals 95 %. The share of all minutes is over labours, from when the pattern could be recognised."
)
_PARTS_ON_PAPER = PARTS.only(
    "until", "came", "reached", "share", "low", "high", "half_min", "minutes", "share_of_time", "longest_in"
)
# for outside no count: those of one step follow from those of the next
_PARTS_OUTSIDE = PARTS.only("until", "share_of_time", "time_low", "time_high")
_HOURS_ON_PAPER = HOURS.only(
    "group", "labours", "without", "hours", "share_assessed", "low_assessed", "high_assessed", "share_second_person",
    "gap_over_hour", "longest_gap_min",
)  # fmt: skip


def sections(
    wait_parts: Mapping[str, Sequence[Mapping[str, Any]]], bedside: Mapping[str, Any], options: PackOptions
) -> list[Section]:
    """Waits in parts under the pack's standard, and the hourly audit; nothing for what was not recorded.

    Parameters
    ----------
    wait_parts : by standard, of the document of `delays`. bedside : the document of `questions.bedside`.
    """
    found = []
    rows = list(wait_parts.get(options.standard, ()))
    if rows and bedside["assessments"] and not (options.for_outside and is_small(rows[0]["came"], options.min_cell)):
        table = _PARTS_OUTSIDE if options.for_outside else _PARTS_ON_PAPER
        title = f"Where the time went, {standard_name(options.standard)}"
        found.append(Section(title=title, tables=(table.filled(rows, note=_PARTS_NOTE, title="Parts of the wait"),)))
    if bedside["hours"]:
        hours = _outside(bedside["hours"], options.min_cell) if options.for_outside else bedside["hours"]
        found.append(Section(title="Assessed every hour", tables=(_HOURS_ON_PAPER.filled(hours, note=SOURCE),)))
    return found


def _outside(rows: Sequence[Mapping[str, Any]], least: int) -> list[dict[str, Any]]:
    """All labours together alone, since shifts add up to it, and without its small counts."""
    row = dict(rows[0])
    if row["labours"] == HIDDEN:
        return [row]
    if hides_share(row["gap_over_hour"], row["labours"], least=least):
        row |= {"gap_over_hour": HIDDEN, "longest_gap_min": None}
    if is_small(row["without"], least):
        row["without"] = HIDDEN
    return [row]

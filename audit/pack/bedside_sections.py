"""Sections on what staff recorded: where the time of a wait went, and whether somebody looked every hour."""

from collections.abc import Mapping, Sequence
from typing import Any

from audit.measures.suppression import is_small
from audit.pack.model import Section
from audit.pack.options import PackOptions
from audit.pack.outside import HIDDEN, NOTHING, Untold
from audit.questions.bedside import SOURCE
from audit.tables.bedside import HOURS, PARTS
from audit.words import standard_name

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
    wait_parts: Mapping[str, Sequence[Mapping[str, Any]]],
    bedside: Mapping[str, Any],
    options: PackOptions,
    untold: Untold = NOTHING,
) -> list[Section]:
    """Waits in parts under the pack's standard, and the hourly audit; nothing for what was not recorded.

    `wait_parts`: by standard, of the document of `delays`. `bedside`: the document of `questions.bedside`. `untold`:
    what is hidden outside the unit.
    """
    found = []
    rows = list(wait_parts.get(options.standard, ()))
    if options.for_outside:
        rows = [row for row in rows if not is_small(row["labours"], options.min_cell)]
    if rows and bedside["assessments"]:
        table = _PARTS_OUTSIDE if options.for_outside else _PARTS_ON_PAPER
        title = f"Where the time went, {standard_name(options.standard)}"
        found.append(Section(title=title, tables=(table.filled(rows, note=_PARTS_NOTE, title="Parts of the wait"),)))
    if bedside["hours"]:
        hours = _outside(bedside["hours"], untold) if options.for_outside else bedside["hours"]
        found.append(Section(title="Assessed every hour", tables=(_HOURS_ON_PAPER.filled(hours, note=SOURCE),)))
    return found


def _outside(rows: Sequence[Mapping[str, Any]], untold: Untold) -> list[dict[str, Any]]:
    """All labours together alone, since shifts add up to it, and without its small counts."""
    row = dict(rows[0])
    if "labours" in untold.hours or row["labours"] == HIDDEN:
        return [{"group": row["group"], "labours": HIDDEN}]
    if "gap_over_hour" in untold.hours:
        row |= {"gap_over_hour": HIDDEN, "longest_gap_min": None}
    for field in {"assessed", "second_person"} & untold.hours:
        row |= dict.fromkeys((f"share_{field}", f"low_{field}", f"high_{field}"))
    if "without" in untold.hours:
        row["without"] = HIDDEN
    return [row]

"""Waits and outcomes by band, one table a field."""

from collections.abc import Mapping
from typing import Any

from audit.charts.control import measure_title
from audit.figures import shown
from audit.tables.definition import Column, Kind, Row, Table, TableDefinition, numbers, shares
from audit.words import words

HIDDEN = "hidden"


def _between(row: Row, low: str, high: str) -> str | None:
    """An interval of a share in whole percent, as one cell, so that the table is no wider than a page."""
    if row.get(low) is None or row.get(high) is None:
        return None
    return f"{shown(row[low], 0, scale=100)} to {shown(row[high], 0, scale=100)}"


BANDS = TableDefinition(
    "equity",
    (
        Column("measure", "Measure", value=lambda row: measure_title(row["measure"])),
        Column("band", "Band", value=lambda row: words(row["band"])),
        Column("numerator", "Part", Kind.COUNT, value=lambda row: HIDDEN if row["hidden"] else row["numerator"]),
        Column("denominator", "Of", Kind.COUNT, value=lambda row: HIDDEN if row["hidden"] else row["denominator"]),
        *shares(share="Share, %"),
        Column("interval", "Interval, %", value=lambda row: HIDDEN if row["hidden"] else _between(row, "low", "high")),
        *numbers(0, half_answered_min="Half answered by, min"),
        Column("beside", "Beside", value=lambda row: row["reference"] and words(row["reference"])),
        *shares(difference="Difference, points"),
        Column("reach", "Its interval", value=lambda row: _between(row, "difference_low", "difference_high")),
    ),
    empty="No band is large enough to be shown.",
    first_columns=("measure", "band", "numerator", "denominator", "share", "interval", "difference"),
)


def short_of_field(found: Mapping[str, Any]) -> Table:
    """A field in one row a band: labours, then each share with its interval, as a slide has room for."""
    measures = found["measures"]
    columns = [
        Column("band", "Band", Kind.CODE),
        Column("labours", "Labours", value=lambda row: HIDDEN if row["hidden"] else str(row["labours"])),
        *(_short_column(measure) for measure in measures),
    ]
    title = f"{words(found['field']).capitalize()}: % of those known, in brackets the interval"
    return TableDefinition(f"equity_short_{found['field']}", tuple(columns), title).filled(found["labours"])


def _short_column(measure: Mapping[str, Any]) -> Column:
    of = {row["band"]: row for row in measure["rows"]}

    def cell(labours: Row) -> str | None:
        row = of[labours["band"]]
        between = _between(row, "low", "high")
        return HIDDEN if row["hidden"] else between and f"{shown(row['share'], 0, scale=100)} ({between})"

    return Column(measure["name"], measure_title(measure["name"]), value=cell)


def hidden_words(least: int, *, whole_year: bool = True) -> str:
    """What is hidden, and what another table of other months would tell of it, in sentences."""
    told = (
        "Whole reporting years alone are compared, so that no two tables overlap."
        if whole_year
        else "No reporting year is over, so these are all months so far, for the unit alone: who has them and the"
        " year's report has their difference."
    )
    return f"Figures that rest on fewer than {least} are hidden, and those from which they could be worked out. {told}"


def of_field(found: Mapping[str, Any]) -> Table:
    """The table of one field of the document of `audit.questions.equity`: labours first, then each measure."""
    rows: list[dict[str, Any]] = [
        {"measure": "labours", "numerator": None, "denominator": row["labours"], "reference": None, **row}
        for row in found["labours"]
    ]
    for measure in found["measures"]:
        rows += [
            {
                **row,
                "measure": measure["name"],
                "reference": None if row["difference"] is None else measure["reference"],
            }
            for row in measure["rows"]
        ]
    return BANDS.filled(rows, name=f"equity_{found['field']}", title=words(found["field"]).capitalize())

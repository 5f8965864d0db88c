"""Waits and outcomes by band, one table a field."""

from collections.abc import Mapping
from typing import Any

from audit.charts.control import measure_title
from audit.tables.definition import Column, Kind, Table, TableDefinition, numbers, shares
from audit.words import words

HIDDEN = "hidden"
BANDS = TableDefinition(
    "equity",
    (
        Column("measure", "Measure", value=lambda row: measure_title(row["measure"])),
        Column("band", "Band", value=lambda row: words(row["band"])),
        Column("numerator", "Part", Kind.COUNT, value=lambda row: HIDDEN if row["hidden"] else row["numerator"]),
        Column("denominator", "Of", Kind.COUNT, value=lambda row: HIDDEN if row["hidden"] else row["denominator"]),
        *shares(share="Share, %", low="From, %", high="To, %"),
        *numbers(0, half_answered_min="Half answered by, min"),
        Column("beside", "Beside", value=lambda row: row["reference"] and words(row["reference"])),
        *shares(difference="Difference, points", difference_low="From, points", difference_high="To, points"),
    ),
    empty="No band is large enough to be shown.",
)


def hidden_words(least: int) -> str:
    """What is hidden, in a sentence."""
    return (
        f"Figures that rest on fewer than {least} are hidden, and those from which they could be worked out. Do not lay"
        " two such tables of overlapping months beside each other: their difference tells small counts."
    )


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

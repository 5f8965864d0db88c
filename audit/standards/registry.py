"""The standards by name."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from audit.standards import (
    figo_1986,
    figo_2015,
    figo_2015_table,
    nice_ng229,
    nice_ng229_table,
    nichd_2008,
    nichd_2008_table,
)
from audit.standards.evaluation import Standard
from audit.standards.types import Threshold, limits_in_force

STANDARDS: dict[str, Standard] = {
    standard.name: standard for standard in (nichd_2008.STANDARD, figo_2015.STANDARD, nice_ng229.STANDARD)
}

# Not for review: only to compare the computed reading with reads that were made under it.
FORMER_STANDARDS: dict[str, Standard] = {figo_1986.NAME: figo_1986.STANDARD}


THRESHOLDS: dict[str, tuple[Threshold, ...]] = {
    nichd_2008_table.NAME: nichd_2008_table.THRESHOLDS,
    figo_2015_table.NAME: figo_2015_table.THRESHOLDS,
    nice_ng229_table.NAME: nice_ng229_table.THRESHOLDS,
    figo_1986.NAME: figo_1986.THRESHOLDS,
}


@dataclass(frozen=True)
class GuidelineRow:
    """One limit of one standard."""

    standard: str
    edition: str
    name: str
    says: str
    published: str  # operator and value
    in_force: str  # operator and value
    unit: str
    source: str
    from_memory: bool  # nobody has yet held the figure against the original text


def guideline_rows(standard: str, table: Mapping[str, Any]) -> list[GuidelineRow]:
    """The limits of a standard in the guideline's order, with what a unit's settings put in force.

    Raises KeyError for an unknown standard, SettingsError for a limit that cannot be read.
    """
    thresholds = THRESHOLDS[standard]
    limits = limits_in_force(thresholds, table)
    return [
        GuidelineRow(
            standard=standard,
            edition=str(table["edition"]),
            name=threshold.name,
            says=threshold.says,
            published=threshold.published,
            in_force=f"{limits[threshold.name].symbol} {limits[threshold.name].number}",
            unit=threshold.unit,
            source=threshold.source,
            from_memory=threshold.from_memory,
        )
        for threshold in thresholds
    ]

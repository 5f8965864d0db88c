"""The standards by name."""

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
from audit.standards.settings import StandardSettings
from audit.standards.types import Threshold

STANDARDS: dict[str, Standard[Any]] = {
    standard.name: standard for standard in (nichd_2008.STANDARD, figo_2015.STANDARD, nice_ng229.STANDARD)
}

# Not for review: only to compare the computed reading with reads that were made under it.
FORMER_STANDARDS: dict[str, Standard[Any]] = {figo_1986.NAME: figo_1986.STANDARD}


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

    @property
    def departs(self) -> bool:
        """Whether what is in force is not what was published."""
        return self.published != self.in_force


def guideline_rows(standard: str, settings: StandardSettings) -> list[GuidelineRow]:
    """The limits of a standard in the guideline's order, with what a unit's settings put in force.

    Raises KeyError for an unknown standard.
    """
    return [
        GuidelineRow(
            standard=standard,
            edition=settings.printed_edition,
            name=threshold.name,
            says=threshold.says,
            published=str(threshold.published_limit),
            in_force=str(settings.limit(threshold.name)),
            unit=threshold.unit,
            source=threshold.source,
            from_memory=threshold.from_memory,
        )
        for threshold in THRESHOLDS[standard]
    ]


def departures(standard: str, settings: StandardSettings) -> list[GuidelineRow]:
    """The limits in which a unit's settings leave the published figure."""
    return [row for row in guideline_rows(standard, settings) if row.departs]

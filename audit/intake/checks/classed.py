"""A category that somebody gave a tracing under a standard, with its features: a read, or an assessment of the time."""

import re
from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass
from dataclasses import fields as dataclass_fields
from typing import Any, ClassVar

from audit.intake.checks import fields
from audit.intake.checks.rows import kept, needed_word
from audit.intake.door.remarks import Remarks
from audit.vocabulary import (
    ACCELERATIONS,
    BASELINE_RANGE_BPM,
    CONTRACTIONS_RANGE,
    DECELERATIONS,
    READ_CATEGORIES,
    VARIABILITY,
)

_RANGES = {"baseline_bpm": BASELINE_RANGE_BPM, "contractions_per_10_min": CONTRACTIONS_RANGE}


@dataclass(frozen=True)
class ClassedRow:
    """One checked row, under the column names of its table. `KEYS`: the columns that make two rows the same."""

    KEYS: ClassVar[tuple[str, ...]]

    case_id: str
    fetus: str
    _: KW_ONLY
    standard: str
    category: str
    baseline_bpm: float | None = None
    variability: str | None = None
    accelerations: str | None = None
    decelerations: str | None = None
    contractions_per_10_min: float | None = None
    row_number: int = 0

    @classmethod
    def columns(cls) -> tuple[str, ...]:
        """The columns of its table that a file fills."""
        return tuple(each.name for each in dataclass_fields(cls) if each.name != "row_number")

    @property
    def key(self) -> tuple[Any, ...]:
        """What makes two rows the same."""
        return tuple(getattr(self, name) for name in self.KEYS)

    def content(self) -> dict[str, Any]:
        """Its columns."""
        return {name: getattr(self, name) for name in self.columns()}


def classed(values: dict[str, Any]) -> dict[str, Any]:
    """Standard and category. Raises BadRow where either is none of the known."""
    standard = needed_word("standard", values["standard"], tuple(READ_CATEGORIES))
    return {
        "standard": standard,
        "category": needed_word("category", values["category"], READ_CATEGORIES[standard]),
    }


def features(values: dict[str, Any], number: int, remarks: Remarks) -> dict[str, Any]:
    """What is said of the tracing beside its category."""

    def in_range(name: str) -> Callable[[Any], float | None]:
        def checked(value: Any) -> float | None:
            found = fields.as_number(value)
            if found is not None:
                fields.check_range(name, found, *_RANGES[name])
            return found

        return checked

    checks: dict[str, Callable[[Any], Any]] = {
        "baseline_bpm": in_range("baseline_bpm"),
        "variability": lambda value: fields.as_one_of(value, VARIABILITY),
        "accelerations": lambda value: fields.as_one_of(value, ACCELERATIONS),
        "decelerations": kinds,
        "contractions_per_10_min": in_range("contractions_per_10_min"),
    }
    return {name: kept(name, checked, values, number, remarks) for name, checked in checks.items()}


def kinds(value: Any) -> str | None:
    """The kinds of decelerations that are named, in their own order. Raises BadValue for any other word."""
    if fields.is_none(value):
        return None
    text = fields.as_text(value).casefold()
    named = [each for each in re.split(r"[\s,;/+&]+|\band\b", text) if each]
    return " ".join(fields.as_one_of(each, DECELERATIONS) or "" for each in named)

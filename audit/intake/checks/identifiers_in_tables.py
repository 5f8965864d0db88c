"""Look through a small table's values for identifiers and calendar times before any of it is used."""

from typing import Any

from audit.intake.checks import fields
from audit.intake.checks.fields import BadValue
from audit.intake.door import deidentify
from audit.intake.formats.tables import CASE_FIELDS, OUTCOME_FIELDS, SmallTable

_CODES = ("case_id", "fetus", "reader", "rec_id", "expert_id")
# Whole numbers in these columns are measurements, not numbers that stand for a person.
_MEASURED = frozenset(
    {*CASE_FIELDS, *OUTCOME_FIELDS, "at_s", "start_s", "end_s", "baseline_bpm", "contractions_per_10_min", "occasion"}
)


def refuse_identifiers(table: SmallTable, calendar_from_s: float) -> None:
    """Raise FileRefused for the first value that looks like an identifier, in any column, stored or not."""
    for name, values in table.columns.items():
        distinct: dict[str, int] = {}
        for value, row in zip(values, table.row_numbers, strict=True):
            if name.endswith("_s") and _calendar(value, calendar_from_s):
                raise deidentify.refusal("a calendar date", row, name, str(value))
            if isinstance(value, str) and not (name in _MEASURED and _plain_number(value)):
                distinct.setdefault(value, row)
            elif isinstance(value, int) and not isinstance(value, bool) and name not in _MEASURED:
                distinct.setdefault(str(value), row)
        deidentify.refuse_content(name, ((row, value) for value, row in distinct.items()), code=name in _CODES)


def _calendar(value: Any, calendar_from_s: float) -> bool:
    try:
        number = fields.as_number(value)
    except BadValue:
        return False
    return number is not None and abs(number) >= calendar_from_s


def _plain_number(value: str) -> bool:
    return len(value) < 12 and value.replace(".", "", 1).lstrip("-").isdigit()

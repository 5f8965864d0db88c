"""One value of a cases, events or reads row: text or typed value in, checked value or a reason out."""

import math
import re
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

import numpy as np

from audit.intake.door.remarks import FileRefused
from audit.intake.door.shape import shape
from audit.intake.formats.numbers_in_text import NONE_WORDS, Unclear, why_not_a_number
from audit.intake.formats.tables import BETWEEN_SEVERAL, SmallTable
from audit.measures.cord_gas import MMHG_PER_KPA

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_URGENCY = re.compile(r"(?:category|cat|urgency|grade|class)?[\s._-]*([1-4])", re.IGNORECASE)
_FAR_LONGER = 4  # figures
CALENDAR = "found what looks like a calendar date, expected times as seconds from the case's first sample"
# 39+4, 39 + 4/7, 39 4/7, 39w4d: completed weeks and days
_WEEKS_AND_DAYS = re.compile(
    r"(\d{2})\s*(?:\+\s*(\d)(?:\s*/\s*7)?|\s(\d)\s*/\s*7|(?:w|wk|wks|weeks?)[\s+]*(\d)\s*(?:d|days?)?)", re.IGNORECASE
)
_YES = frozenset({"true", "yes", "y", "1", "t"})
_NO = frozenset({"false", "no", "n", "0", "f"})


class BadValue(Exception):
    """The value cannot be stored; the message says what was found and what was expected."""


def is_none(value: Any) -> bool:
    """Nothing was given."""
    if value is None:
        return True
    if isinstance(value, float):
        return math.isnan(value)
    return isinstance(value, str) and value.strip() in NONE_WORDS


def as_text(value: Any) -> str:
    """The value as the file shows it, trimmed."""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()


def as_number(value: Any) -> float | None:
    """A finite number, or None when nothing was given. Raises BadValue."""
    if is_none(value):
        return None
    if isinstance(value, bool):
        raise BadValue("found a yes or no, expected a number")
    if isinstance(value, int | float | Decimal):
        number = float(value)
    else:
        if isinstance(value, Unclear):
            raise BadValue(value.reason)
        text = str(value).strip()
        if not _NUMBER.fullmatch(text):
            raise BadValue(why_not_a_number(text))
        number = float(text)
    if not math.isfinite(number):
        raise BadValue("found a number that is not finite, expected a finite number")
    return as_printed(number)


def as_printed(number: float) -> float:
    """The number as it was printed, when it went through 32 bits on its way: 7.0999999046 was 7.1.

    A number that 32 bits hold exactly and that is far longer in 64 bits than in 32 came from there.
    """
    if abs(number) >= 1e30:  # beyond 32 bits, or nearly
        return number
    narrow = np.float32(number)
    short = str(narrow)
    return float(short) if float(narrow) == number and len(short) + _FAR_LONGER <= len(repr(number)) else number


def is_weeks_and_days(value: Any) -> bool:
    """Whether weeks of gestation are written as completed weeks and days."""
    return isinstance(value, str) and _WEEKS_AND_DAYS.fullmatch(value.strip()) is not None


def as_weeks(value: Any) -> float | None:
    """Weeks of gestation, also written as completed weeks and days (39+4); None when nothing was given.

    Raises BadValue.
    """
    found = _WEEKS_AND_DAYS.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is None:
        return as_number(value)
    days = int(found[2] or found[3] or found[4])
    if days > 6:
        raise BadValue(f"found weeks and {days} days, expected 0 to 6 days")
    return int(found[1]) + days / 7


def as_whole(value: Any) -> int | None:
    """A whole number, or None when nothing was given. Raises BadValue."""
    number = as_number(value)
    if number is None:
        return None
    if number != int(number):
        raise BadValue("found a number with decimals, expected a whole number")
    return int(number)


def as_yes_or_no(value: Any) -> bool | None:
    """True, False, or None when nothing was given. Raises BadValue."""
    if is_none(value):
        return None
    text = as_text(value).casefold()
    if text in _YES:
        return True
    if text in _NO:
        return False
    raise BadValue(f"found {shape(text)}, expected true or false")


def as_urgency(value: Any) -> int | None:
    """The urgency, 1 to 4, also as 'category 2' or 'cat. 3'; None when nothing was given. Raises BadValue."""
    if is_none(value):
        return None
    found = _URGENCY.fullmatch(as_text(value))
    if found is None:
        raise BadValue(f"found {shape(value)}, expected an urgency of 1 to 4")
    return int(found.group(1))


def as_one_of(value: Any, allowed: Sequence[str]) -> str | None:
    """One of the allowed words whatever its case, or None when nothing was given. Raises BadValue."""
    if is_none(value):
        return None
    text = " ".join(as_text(value).split())
    for word in allowed:
        if word.casefold() == text.casefold():
            return word
    raise BadValue(f"found {shape(text)}, expected {', '.join(allowed)}")


def underscored(value: Any) -> Any:
    """A text with blanks and hyphens as one of our coded names is written; anything else as it is."""
    return "_".join(re.split(r"[\s_-]+", value.strip())) if isinstance(value, str) and not is_none(value) else value


def as_several_of(value: Any, allowed: Sequence[str]) -> str | None:
    """Allowed words, whatever of `BETWEEN_SEVERAL` is between, in the order of `allowed`; "" where 'none' is said.

    None when nothing was given. Raises BadValue for any other word.
    """
    if is_none(value):
        return None
    text = as_text(value)
    if text.casefold() in ("none", "no", "0"):
        return ""
    pieces = [piece for piece in re.split(BETWEEN_SEVERAL, text) if piece.strip()]
    if len(pieces) == 1 and underscored(text).casefold() not in allowed:
        pieces = text.split()  # several coded names with blanks between them
    found = {as_one_of(underscored(piece), allowed) for piece in pieces}
    return " ".join(word for word in allowed if word in found)


def refuse_calendar_times(table: SmallTable, calendar_from_s: float) -> None:
    """Raise FileRefused for the first time that is a calendar clock: the whole column will be."""
    for name in (column for column in table.columns if column.endswith("_s")):
        for value, row in zip(table.columns[name], table.row_numbers, strict=True):
            try:
                number = as_number(value)
            except BadValue:
                continue
            if number is not None and abs(number) >= calendar_from_s:
                raise FileRefused(CALENDAR, row=row, column=name, value=number)


def check_range(name: str, number: float, low: float, high: float) -> None:
    """Raise BadValue, with a hint where another unit is likely, when the number is outside."""
    if low <= number <= high:
        return
    reason = f"found {shape(number)}, expected {low:g} to {high:g}"
    hint = _hint(name, number)
    raise BadValue(f"{reason}: {hint}" if hint else reason)


def _hint(name: str, number: float) -> str | None:
    if name.endswith("_s") and number > 604_800:
        return "this looks like milliseconds, expected seconds" if number <= 604_800_000 else None
    if name.endswith("_pco2_kpa") and number > 25:
        return f"this looks like mmHg ({MMHG_PER_KPA:.1f} mmHg are 1 kPa)"
    if name.endswith("_ph"):
        if 63 <= number <= 77 or 630 <= number <= 770:
            return "a decimal point is missing"
        if 10 <= number <= 200:
            return "this looks like a hydrogen ion concentration in nmol/L, expected pH"
    if name == "cord_artery_base_deficit_mmol_l" and number < 0:
        return "this looks like base excess, change its sign"
    if name == "gestation_weeks" and 140 <= number <= 315:
        return "this looks like days (divide by 7)"
    if name == "birth_weight_g" and 0.25 <= number <= 7:
        return "this looks like kilograms (1 kg is 1000 g)"
    if name.startswith("apgar") and number > 10:
        return "an Apgar score is at most 10"
    return None

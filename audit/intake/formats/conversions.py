"""Values of a unit's own export in our units."""

import math
import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from audit.intake.door.remarks import Remarks
from audit.intake.door.shape import shape
from audit.intake.formats.habits import with_point
from audit.intake.formats.numbers_in_text import Unclear, numbers_told, unclear
from audit.intake.formats.workbook_apart import length_s
from audit.measures.cord_gas import MMHG_PER_KPA

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)")
_WEEKS_DAYS = re.compile(r"(\d{2})\s*[.,+/w ]\s*([0-6])\s*(?:/\s*7|d)?")
_WEEKS_DECIMALS = re.compile(r"\d{2}[.,]\d+")
_NO_OUNCES = "found one number in a column of pounds and ounces, expected both, as 7 lb 4 oz"
_DAYS_OR_PARTS = "found weeks with decimals in a column of weeks and days: is it 39.4 weeks or 39+4? Expected 39+4"
_LB_OZ = re.compile(
    r"(\d{1,2})\s*(?:lbs?|pounds?|-|:)\.?,?\s*(?:(\d{1,2}(?:[.,]\d+)?)\s*(?:oz|ounces?)?\.?)?", re.IGNORECASE
)
_G_PER_LB = 453.59237  # exactly (NIST Special Publication 811, appendix B.8: avoirdupois pound; 16 ounces)
_MG_DL_PER_MMOL_L = 9.008  # lactate: molar mass of lactic acid 90.08 g/mol (IUPAC atomic weights) / 10
SECONDS = {"seconds": 1.0, "milliseconds": 0.001, "minutes": 60.0, "hours": 3600.0, "duration": 1.0}
_HOURS = re.compile(r"(\d{1,3}):([0-5]\d):([0-5]\d(?:[.,]\d{1,9})?)")
_NO_DURATION = "expected hours, minutes and seconds since the case's first sample, as 1:05:30"


def value(cell: str, name: str, unit: str | None, decimal: str) -> Any:
    """One cell as the checks of our own files take it; what is no number stays as it is, for them to say so."""
    text = cell.strip()
    if name == "gestation_weeks" and unit == "weeks+days":
        found = _WEEKS_DAYS.fullmatch(text)
        return f"{found[1]}+{found[2]}" if found else text
    if unit == "lb+oz":
        return in_grams(text)
    if text and name.endswith("_s") and (unit == "duration" or text.startswith("PT")):
        seconds = duration_s(text)
        return unclear(text, f"found {shape(text)}, {_NO_DURATION}") if seconds is None else seconds
    pointed = with_point(text, decimal)
    if unit is None or isinstance(pointed, Unclear) or not _NUMBER.fullmatch(pointed):
        return pointed
    return converted(float(pointed), name, unit)


def duration_s(text: str) -> float | None:
    """The seconds of a length: 1:05:30, or PT1H05M30S as a spreadsheet's cell gives it. None for any other text."""
    found = _HOURS.fullmatch(text)
    if found is None:
        return length_s(text)
    return round(int(found[1]) * 3600 + int(found[2]) * 60 + float(found[3].replace(",", ".")), 6)


def durations(column: pa.Array, lines: NDArray[np.int64], remarks: Remarks) -> NDArray[np.float64]:
    """The times of a tracing that are given as lengths; NaN for none, -inf for what is no length: its row is told."""
    seconds = np.full(len(column), np.nan)
    for k, cell in enumerate(column.to_pylist()):
        found = value(cell or "", "t_s", "duration", ".")
        if isinstance(found, Unclear):
            seconds[k] = -np.inf
            remarks.reject_row(int(lines[k]), found.reason, "t_s", found)
        elif isinstance(found, float):
            seconds[k] = found
    return seconds


def in_grams(text: str) -> Any:
    """A weight in pounds and ounces (7 lb 4 oz, 7-4) in g; any other text, and 16 ounces or more, as it is."""
    found = _LB_OZ.fullmatch(text)
    ounces = float((found[2] or "0").replace(",", ".")) if found else 16.0
    if found is None or ounces >= 16:
        return text if not _NUMBER.fullmatch(text) else unclear(text, _NO_OUNCES)
    return round((int(found[1]) + ounces / 16) * _G_PER_LB, 3)


def weeks_and_days(cells: list[str]) -> list[str]:
    """A column of weeks and days. `39.4` is 39+4 there, unless a decimal that is no day says that all may be parts."""
    text = [cell.strip() for cell in cells]
    parts = {cell for cell in text if _WEEKS_DECIMALS.fullmatch(cell)}
    doubtful = parts if any(not _WEEKS_DAYS.fullmatch(cell) for cell in parts) else ()
    return [
        unclear(cell, _DAYS_OR_PARTS) if cell in doubtful else value(cell, "gestation_weeks", "weeks+days", ".")
        for cell in text
    ]


# to our unit; pH is the negative decimal logarithm of the hydrogen ion concentration in mol/L (IUPAC)
_FROM: dict[str, Callable[[float], float]] = {
    "mmHg": lambda number: number / MMHG_PER_KPA,
    "base excess": lambda number: -number,
    "mg/dL": lambda number: number / _MG_DL_PER_MMOL_L,
    "kg": lambda number: round(number * 1000, 3),
    "lb": lambda number: round(number * _G_PER_LB, 3),
    "oz": lambda number: round(number * _G_PER_LB / 16, 3),
    "days": lambda number: number / 7,
    "nmol/L": lambda number: 9 - math.log10(number) if number > 0 else number,
}


def converted(number: float, name: str, unit: str) -> float:
    """A number in our unit."""
    if name.endswith("_s"):
        return number * SECONDS.get(unit, 1.0)
    return _FROM[unit](number) if unit in _FROM else number


def channel(
    column: pa.Array, name: str, decimal: str, no_signal: tuple[str, ...], lines: NDArray[np.int64], remarks: Remarks
) -> NDArray[np.float64]:
    """A channel's numbers; NaN for no signal. Times that cannot be read are -inf, and their rows told."""
    text = pc.utf8_trim_whitespace(column)
    if no_signal and name != "t_s":
        text = pc.if_else(pc.is_in(text, value_set=pa.array(no_signal)), "", text)
    numbers = numbers_told(text, name, decimal, lines, remarks)
    for marker in no_signal if name != "t_s" else ():
        if _NUMBER.fullmatch(marker):
            numbers[numbers == float(marker)] = np.nan
    return numbers

"""Text columns to numbers, many at once: what is a number, what stands for 'none', and what is neither."""

import re
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from audit.intake.door.remarks import Remarks
from audit.intake.door.shape import shape

# Texts that stand for 'no value' in any column.
NONE_WORDS = ("", "NaN", "nan", "NAN", "NA", "N/A", "n/a", "null", "NULL", "None")
UNCLEAR = "found a decimal point in a file with decimal commas, expected one of them throughout"


class Unclear(str):
    """A cell that looks like a value and must not be read as one, with the reason."""

    reason: str = UNCLEAR


def unclear(text: str, reason: str) -> Unclear:
    """A cell that is kept out for that reason."""
    cell = Unclear(text)
    cell.reason = reason
    return cell


_DATE = re.compile(r"(\d{4}-\d{1,2}-\d{1,2}|\d{1,2}[./-]\d{1,2}[./-]\d{4})(?![\d.,])")
_NUMBER = r"^[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?$"


@dataclass(frozen=True)
class Parsed:
    """Numbers with NaN where there was none, and where a text was no number."""

    numbers: NDArray[np.float64]
    bad_at: NDArray[np.int64]
    bad_text: list[str]


def parse(column: pa.Array | pa.ChunkedArray, decimal: str = ".") -> Parsed:
    """Read a column of text as numbers with that decimal mark. Spaces around are ignored; another mark is no number."""
    typed = pc.utf8_trim_whitespace(column.cast(pa.string()))
    text = typed
    if decimal == ",":  # a point becomes what no number has
        text = pc.replace_substring(pc.replace_substring(typed, ".", "?"), ",", ".")
    none = pc.or_(pc.is_null(text), pc.is_in(text, value_set=pa.array(NONE_WORDS)))
    number = pc.fill_null(pc.match_substring_regex(text, _NUMBER), False)
    bad = pc.and_(pc.invert(none), pc.invert(number))
    values = pc.if_else(number, text, pa.scalar(None, pa.string())).cast(pa.float64())
    bad_at = np.flatnonzero(bad.to_numpy(zero_copy_only=False))
    return Parsed(
        np.array(values.to_numpy(zero_copy_only=False), dtype=np.float64),
        bad_at,
        pc.filter(typed, bad).to_pylist() if len(bad_at) else [],
    )


def numbers_told(
    column: pa.Array | pa.ChunkedArray, name: str, decimal: str, lines: NDArray[np.int64], remarks: Remarks
) -> NDArray[np.float64]:
    """A channel's numbers, NaN for none; what is no number is told. A time that is none is -inf, its row rejected."""
    found = parse(column, decimal)
    for k, text in zip(found.bad_at, found.bad_text, strict=True):
        if name == "t_s":
            found.numbers[k] = -np.inf
            remarks.reject_row(int(lines[k]), why_not_a_number(text, decimal), name, text)
        else:
            remarks.reject_value(int(lines[k]), name, text, why_not_a_number(text, decimal))
    return found.numbers


def why_not_a_number(text: str, decimal: str = ".") -> str:
    """The reason for a text that is no number, with a hint where the cause is plain."""
    if isinstance(text, Unclear):
        return text.reason
    if decimal == "," and re.fullmatch(_NUMBER, text):
        return UNCLEAR
    reason = f"found {shape(text)}, expected a number"
    if re.fullmatch(r"\d{1,3}:\d{2}(:\d{2}([.,]\d+)?)?", text):
        return f"{reason}: a time of the clock, or hours:minutes:seconds, needs a mapping that says so"
    if _DATE.match(text):
        return f"{reason}: a date, with a time of the clock or without, needs a mapping that says so"
    squeezed = text.replace(" ", "")
    if squeezed.count(",") == 1 and squeezed.replace(",", "").lstrip("+-").isdigit():
        return f"{reason} with a decimal point, not a comma"
    if squeezed[:1] in "<>" and squeezed[1:].replace(".", "").isdigit():
        return f"{reason}, not a bound"
    return reason

"""Tables as CSV that a spreadsheet opens as text, never as a formula. Every exporter goes through here."""

import csv
import io
import math
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

# Source: OWASP, 'CSV injection': cells that begin with one of these are read as formulas.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_LIST_SEPARATOR = "; "


def safe_cell(value: Any) -> Any:
    """A cell that no spreadsheet runs as a formula.

    Numbers, booleans and None pass (NaN becomes None: unknown is an empty cell). A list becomes text. Text that starts
    like a formula, also after blanks, gets a leading apostrophe.
    """
    if value is None or isinstance(value, bool | int | Decimal):
        return value
    if isinstance(value, float):
        return None if math.isnan(value) else value
    if hasattr(value, "tolist") and not isinstance(value, str | bytes):  # numpy scalars and arrays
        return safe_cell(value.tolist())
    if isinstance(value, list | tuple):
        value = _LIST_SEPARATOR.join("" if item is None else str(item) for item in value)
    text = str(value)
    if text in ("NaT", "<NA>"):
        return None
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA_STARTS) else text


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[Any]], *, decimal: str = ".") -> str:
    """Rows as CSV text (comma, header row, CRLF as RFC 4180 has it), every cell through `safe_cell`.

    With a decimal comma the columns are parted by semicolons, as spreadsheets of such places read them.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=";" if decimal == "," else ",")
    writer.writerow([safe_cell(name) for name in columns])
    for row in rows:
        writer.writerow([_with_mark(safe_cell(cell), decimal) for cell in row])
    return out.getvalue()


def _with_mark(cell: Any, decimal: str) -> Any:
    return str(cell).replace(".", decimal) if decimal != "." and isinstance(cell, float | Decimal) else cell

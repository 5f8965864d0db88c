"""A program of its own, run by `workbook.py`: a workbook on standard input, its sheets as JSON on standard output.

A workbook of one kilobyte may ask for more memory than any machine has, and the library then ends the process. So it
is read in a process whose memory and time are limited. Nothing else of the package is imported: it starts quickly.
"""

import contextlib
import csv
import io
import json
import math
import re
import sys
from datetime import date, datetime, time, timedelta
from io import BytesIO
from typing import Any

from python_calamine import CalamineError, CalamineWorkbook

MOST_SHEETS = 100
MOST_COLUMNS = 2000
MOST_BYTES = 2 * 1024**3  # of memory
LONGEST_S = 60
_TITLE_LINES = 10  # above the header at most, as in csv_file.py
_SPACES = re.compile(r"\s+")


class Refused(Exception):
    """The message says what was found and expected, and repeats nothing of the workbook."""


def sheets(data: bytes, most_rows: int) -> list[dict[str, Any]]:
    """Number, first row and CSV text of each sheet that holds anything, in the workbook's order. Raises Refused."""
    try:
        workbook = CalamineWorkbook.from_filelike(BytesIO(data))
        names = workbook.sheet_names
    except (CalamineError, OSError, ValueError) as error:
        raise Refused("the workbook is damaged or of an unknown kind; save the table as CSV UTF-8") from error
    if len(names) > MOST_SHEETS:
        raise Refused(f"found {len(names):,} sheets in the workbook, expected at most {MOST_SHEETS}")
    found = [_sheet(workbook, number, most_rows) for number in range(1, len(names) + 1)]
    parts = [part for part in found if part is not None]
    if not parts:
        raise Refused("found no sheet with anything in it, expected a header row and rows of data")
    return parts


def _sheet(workbook: CalamineWorkbook, number: int, most_rows: int) -> dict[str, Any] | None:
    try:
        sheet = workbook.get_sheet_by_index(number - 1)
        height, width = sheet.total_height, sheet.total_width
        if height > most_rows or width > MOST_COLUMNS:
            raise Refused(
                f"sheet {number} has {height:,} rows and {width:,} columns, expected at most {most_rows:,}"
                f" and {MOST_COLUMNS:,}: long tracings belong into CSV, Parquet, EDF or WFDB"
            )
        rows: list[list[Any]] = sheet.to_python(skip_empty_area=False)
    except (CalamineError, OSError, ValueError, IndexError) as error:
        raise Refused(f"sheet {number} of the workbook is damaged; save it as CSV UTF-8") from error
    first = next((k for k, row in enumerate(rows) if any(cell != "" for cell in row)), None)
    if first is None:
        return None
    used = [k for k in range(max(map(len, rows))) if any(k < len(row) and row[k] != "" for row in rows)]
    top = rows[first : first + 1 + _TITLE_LINES]
    months = [any(k < len(row) and str(row[k]).strip().casefold() == "period" for row in top) for k in used]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    for row in rows[first:]:
        cells = [_cell(row[k] if k < len(row) else "", month) for k, month in zip(used, months, strict=True)]
        if any(cells):
            writer.writerow(cells)
        else:
            text.write("\n")  # rows keep their numbers
    return {"number": number, "first_row": first + 1, "csv": text.getvalue()}


def _cell(value: Any, month: bool) -> str:
    """A cell as CSV would hold it. In a column of months one that the spreadsheet made a date of is a month again."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        if not math.isfinite(value):
            return ""
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime | date) and month:
        return f"{value:%Y-%m}"
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, timedelta):
        return _cell(value.total_seconds(), month)
    return _SPACES.sub(" ", str(value)).strip()


def _within_bounds() -> None:
    with contextlib.suppress(ImportError, ValueError, OSError):  # where a system has no such limits
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
        resource.setrlimit(resource.RLIMIT_CPU, (LONGEST_S, LONGEST_S))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def main() -> None:
    """Answer on standard output: the sheets, or why there are none."""
    _within_bounds()
    try:
        answer: dict[str, Any] = {"sheets": sheets(sys.stdin.buffer.read(), int(sys.argv[1]))}
    except Refused as refused:
        answer = {"refused": str(refused)}
    sys.stdout.write(json.dumps(answer))


if __name__ == "__main__":
    main()

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
import zipfile
import zlib
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
# a length as ISO 8601 writes it and as an ods holds it: hours, minutes and seconds, with days where there are any
_LENGTH = re.compile(r"P(?:(\d{1,4})D)?T(?:(\d{1,5})H)?(?:(\d{1,5})M)?(?:(\d{1,9}(?:[.,]\d{1,9})?)S)?")
# cells that the library gives as empty: an error (#N/A), in an xlsx a formula that nobody worked out; one whose result
# is no text at all (t="str") is empty by itself
_LOST = re.compile(
    rb'<c\b[^>]*\bt="e"|<c\b(?![^>]*\bt="str")[^>]*><f\b[^>]*(?:/>|>[^<]*</f>)\s*(?:<v\s*/>|<v>\s*</v>)?</c>'
    rb'|calcext:value-type="error"'
)
_TABLES = re.compile(r"xl/worksheets/[^/]+\.xml|content\.xml")
_BITE = 1 << 24


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


def lost_cells(data: bytes) -> int:
    """How many cells hold an error, or a formula without a result: the library gives them as empty."""
    with zipfile.ZipFile(BytesIO(data)) as parts:
        return sum(_lost_in(parts, name) for name in parts.namelist() if _TABLES.fullmatch(name))


def _lost_in(parts: zipfile.ZipFile, name: str) -> int:
    count, rest = 0, b""
    with parts.open(name) as text:
        while bite := text.read(_BITE):
            whole, mark, rest = (rest + bite).rpartition(b"<c ")
            count += len(_LOST.findall(whole))
            rest = mark + rest
    return count + len(_LOST.findall(rest))


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
    columns = [[row[k] if k < len(row) else "" for row in rows[first:]] for k in used]
    kinds = [_kind([str(row[k]).strip().casefold() if k < len(row) else "" for row in top]) for k in used]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    both = zip(columns, kinds, strict=True)
    for cells in zip(*(_cells(column, kind) for column, kind in both), strict=True):
        if any(cells):
            writer.writerow(cells)
        else:
            text.write("\n")  # rows keep their numbers
    return {"number": number, "first_row": first + 1, "csv": text.getvalue()}


def _kind(top: list[str]) -> str:
    """What a column holds where its heading is one of ours: months, seconds or anything else."""
    if "period" in top:
        return "month"
    return "seconds" if any(name.endswith("_s") and " " not in name for name in top) else ""


def _cells(column: list[Any], kind: str) -> list[str]:
    """A column's cells as CSV would hold them.

    An ods does not say whether a cell is a time of day or a length: below one of a day or more, all are lengths.
    """
    if kind == "seconds" and any(isinstance(cell, str) and length_s(cell) is not None for cell in column):
        column = [_since_midnight(cell) if isinstance(cell, time) else cell for cell in column]
    return [_cell(cell, kind) for cell in column]


def _since_midnight(at: time) -> timedelta:
    return timedelta(hours=at.hour, minutes=at.minute, seconds=at.second, microseconds=at.microsecond)


def length_s(text: str) -> float | None:
    """The seconds of a length such as PT1H05M30S; None for any other text."""
    found = _LENGTH.fullmatch(text.strip())
    if found is None or not any(found.groups()):
        return None
    days, hours, minutes, seconds = (float((part or "0").replace(",", ".")) for part in found.groups())
    return round(days * 86_400 + hours * 3600 + minutes * 60 + seconds, 6)


def _cell(value: Any, kind: str) -> str:
    """A cell as CSV would hold it.

    In our column of months one that the spreadsheet made a date of is a month again, in ours of seconds a length is
    seconds; elsewhere it is written as a length, which no number is.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        if not math.isfinite(value):
            return ""
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime | date) and kind == "month":
        return f"{value:%Y-%m}"
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, timedelta):
        seconds = _cell(value.total_seconds(), kind)
        return seconds if kind == "seconds" or seconds.startswith("-") else f"PT{seconds}S"
    if kind == "seconds" and (length := length_s(str(value))) is not None:
        return _cell(length, kind)
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
        data = sys.stdin.buffer.read()
        answer: dict[str, Any] = {"sheets": sheets(data, int(sys.argv[1])), "lost": lost_cells(data)}
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, zlib.error):
        answer = {"refused": "the workbook is damaged; save the table as CSV UTF-8"}
    except Refused as refused:
        answer = {"refused": str(refused)}
    sys.stdout.write(json.dumps(answer))


if __name__ == "__main__":
    main()

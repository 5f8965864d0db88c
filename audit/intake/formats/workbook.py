"""Spreadsheets (xlsx, ods): each sheet with something in it becomes a CSV text, read further as any CSV is.

Cells are taken as the file holds them, not as they are shown: 7.1 shown as '7' is 7.1, a formula is its last result.
"""

import csv
import io
import math
import re
from datetime import date, datetime, time, timedelta
from io import BytesIO
from typing import Any

from python_calamine import CalamineError, CalamineWorkbook

from audit.intake.door.remarks import FileRefused
from audit.intake.formats.parts import Part
from audit.setting_tables.intake import ImportOptions

_MOST_SHEETS = 100
_MOST_COLUMNS = 2000
_SPACES = re.compile(r"\s+")


def sheets(data: bytes, options: ImportOptions) -> list[Part]:
    """The sheets that hold anything, in the workbook's order, by their number. Raises FileRefused."""
    try:
        workbook = CalamineWorkbook.from_filelike(BytesIO(data))
        names = workbook.sheet_names
    except (CalamineError, OSError, ValueError) as error:
        raise FileRefused("the workbook is damaged or of an unknown kind; save the table as CSV UTF-8") from error
    if len(names) > _MOST_SHEETS:
        raise FileRefused(f"found {len(names):,} sheets in the workbook, expected at most {_MOST_SHEETS}")
    found = [_sheet(workbook, number, options) for number in range(1, len(names) + 1)]
    parts = [part for part in found if part is not None]
    if not parts:
        raise FileRefused("found no sheet with anything in it, expected a header row and rows of data")
    return parts


def _sheet(workbook: CalamineWorkbook, number: int, options: ImportOptions) -> Part | None:
    try:
        sheet = workbook.get_sheet_by_index(number - 1)
        height, width = sheet.total_height, sheet.total_width
        if height > options.max_table_rows or width > _MOST_COLUMNS:
            raise FileRefused(
                f"sheet {number} has {height:,} rows and {width:,} columns, expected at most {options.max_table_rows:,}"
                f" and {_MOST_COLUMNS:,}: long tracings belong into CSV, Parquet, EDF or WFDB"
            )
        rows: list[list[Any]] = sheet.to_python(skip_empty_area=False)
    except (CalamineError, OSError, ValueError, IndexError) as error:
        raise FileRefused(f"sheet {number} of the workbook is damaged; save it as CSV UTF-8") from error
    first = next((k for k, row in enumerate(rows) if any(cell != "" for cell in row)), None)
    if first is None:
        return None
    used = [k for k in range(max(map(len, rows))) if any(k < len(row) and row[k] != "" for row in rows)]
    header = [str(rows[first][k] if k < len(rows[first]) else "") for k in used]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    for row in rows[first:]:
        cells = [_cell(row[k] if k < len(row) else "", name) for k, name in zip(used, header, strict=True)]
        if any(cells):
            writer.writerow(cells)
        else:
            text.write("\n")  # rows keep their numbers
    said = (f"the header stands in row {first + 1} of the sheet: rows are counted from there",) if first else ()
    return Part(f"sheet {number}", ".csv", text.getvalue().encode("utf-8"), said)


def _cell(value: Any, column: str) -> str:
    """A cell as CSV would hold it. A month that the spreadsheet made a date of is a month again."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        if not math.isfinite(value):
            return ""
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime | date) and column.strip().casefold() == "period":
        return f"{value:%Y-%m}"
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, timedelta):
        return f"{value.total_seconds():g}"
    return _SPACES.sub(" ", str(value)).strip()

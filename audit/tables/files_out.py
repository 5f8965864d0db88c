"""Tables to files for work elsewhere: CSV, Parquet and one workbook; no cell of them is ever run as a formula."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import xlsxwriter

from audit import paths
from audit.csv_cells import csv_text, safe_cell
from audit.errors import AuditError
from audit.house_style import OURS, HouseStyle
from audit.questions.export import DICTIONARY, Out

FORMATS = ("csv", "parquet", "xlsx")
_WORKBOOK = "export.xlsx"
_DICTIONARY = "dictionary"
# of a sheet, the header among them; a limit of the format
_MOST_ROWS = 1_048_576
# columns whose cells are names that somebody gave: never a date or a word of ours
_NAMES = frozenset({"case_id", "fetus", "reader", "unit", "event_id"})
_SENTENCES = frozenset({"reasons", "note", "meaning"})  # columns in words of ours, with figures in them
_PAPER = {"us-letter": 1, "a4": 9}  # as a workbook names it (ECMA-376, 18.3.1.63, from memory)


def write(out: Out, folder: Path, kind: str, *, style: HouseStyle = OURS, paper: str = "a4") -> list[Path]:
    """Write the tables and the dictionary; the files, whose owner alone may read them.

    CSV and the workbook have the house's dates and words, CSV its decimal mark too, the workbook's sheets its paper;
    Parquet keeps what is stored.

    Raises AuditError where a file is there already, or a table is longer than a sheet may be.
    """
    folder.mkdir(parents=True, exist_ok=True)
    words = pa.table({name: [row[k] for row in out.dictionary] for k, name in enumerate(DICTIONARY)})
    tables = {**out.tables, _DICTIONARY: words}
    rows = {} if kind == "parquet" else {name: _rows(table, style) for name, table in tables.items()}
    names = [folder / _WORKBOOK] if kind == "xlsx" else [folder / f"{name}.{kind}" for name in tables]
    there = next((file for file in names if file.exists()), None)
    if there is not None:
        raise AuditError(f"{there}: there is a file of this name; give another folder")
    if kind == "xlsx":
        _workbook(tables, rows, names[0], _PAPER[paper])
    for file, (name, table) in zip(names, tables.items(), strict=True) if kind != "xlsx" else ():
        if kind == "csv":
            text = csv_text(table.column_names, rows[name], decimal=style.decimal)
            # with a byte order mark where it matters, so that spreadsheets read accents right
            file.write_text(text, encoding="utf-8" if text.isascii() else "utf-8-sig", newline="")
        else:
            pq.write_table(table, file, compression="zstd")
    for file in names:
        paths.owner_only(file)
    return names


def _rows(table: pa.Table, style: HouseStyle) -> list[Sequence[Any]]:
    columns = []
    for name, column in zip(table.column_names, table.columns, strict=True):
        cells = column.to_pylist()
        plain = style.is_ours or name in _NAMES
        columns.append(cells if plain else [_as_house(cell, style, name in _SENTENCES) for cell in cells])
    return list(zip(*columns, strict=True)) if columns else []


def _as_house(cell: Any, style: HouseStyle, sentence: bool) -> Any:
    if isinstance(cell, datetime):
        return style.cell(cell.isoformat(sep=" ", timespec="minutes"))
    if isinstance(cell, date):
        return style.cell(cell.isoformat())
    if isinstance(cell, list):
        return [_as_house(each, style, sentence) for each in cell]
    if not isinstance(cell, str):
        return cell
    return style.text(style.cell(cell)) if sentence else style.cell(cell)


def _workbook(tables: Mapping[str, pa.Table], rows: Mapping[str, list[Sequence[Any]]], file: Path, paper: int) -> None:
    long = next((name for name, table in tables.items() if len(table) >= _MOST_ROWS), None)
    if long is not None:
        raise AuditError(f"{long}: more rows than a sheet holds ({_MOST_ROWS:,}); take CSV or Parquet, or one month")
    # what looks like a formula or an address stays text
    plain = {"strings_to_formulas": False, "strings_to_urls": False, "nan_inf_to_errors": True, "constant_memory": True}
    with xlsxwriter.Workbook(str(file), plain) as book:
        for name, table in tables.items():
            sheet = book.add_worksheet(name[:31])
            sheet.set_paper(paper)
            for row, cells in enumerate([table.column_names, *rows[name]]):
                for column, cell in enumerate(cells):
                    value = safe_cell(cell.isoformat(sep=" ") if isinstance(cell, datetime) else cell)
                    if value is not None:
                        sheet.write(row, column, value.isoformat() if isinstance(value, date) else value)

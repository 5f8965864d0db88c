"""Spreadsheets (xlsx, ods): each sheet with something in it becomes a CSV text, read further as any CSV is.

Cells are taken as the file holds them, not as they are shown: 7.1 shown as '7' is 7.1, a formula is its last result.
"""

import json
import subprocess
import sys
from dataclasses import replace

from audit.intake.door.remarks import FileRefused
from audit.intake.formats import workbook_apart
from audit.intake.formats.parts import Part
from audit.setting_tables.intake import ImportOptions
from audit.words import number_of


def sheets(data: bytes, options: ImportOptions) -> list[Part]:
    """The sheets that hold anything, in the workbook's order, by their number. Raises FileRefused.

    They are read by a process of its own, so that a workbook that ends it, or asks for too much, is refused.
    """
    command = [sys.executable, "-P", workbook_apart.__file__, str(options.max_table_rows)]
    try:
        done = subprocess.run(
            command, input=data, capture_output=True, timeout=2 * workbook_apart.LONGEST_S, check=False
        )
    except subprocess.TimeoutExpired as error:
        raise FileRefused(_too_much()) from error
    if done.returncode != 0:
        raise FileRefused(_too_much())
    answer = json.loads(done.stdout)
    if "refused" in answer:
        raise FileRefused(answer["refused"])
    first, *others = [_part(**sheet) for sheet in answer["sheets"]]
    if answer["lost"]:
        said = (
            f"{number_of(answer['lost'], 'cell')} of the workbook with an error (such as #N/A) or a formula without a"
            " result, taken as empty"
        )
        first = replace(first, said=(*first.said, said))
    return [first, *others]


def _part(number: int, first_row: int, csv: str) -> Part:
    said = (f"the header stands in row {first_row} of the sheet: rows are counted from there",)
    return Part(f"sheet {number}", ".csv", csv.encode("utf-8"), said if first_row > 1 else ())


def _too_much() -> str:
    return (
        f"the workbook is damaged, or wants more than {workbook_apart.MOST_BYTES // 1024**2:,} MiB of memory or"
        f" {workbook_apart.LONGEST_S} s to be read (a cell far from the others?); save the table as CSV UTF-8"
    )

"""A batch on paper or in a mailbox: an empty form with strip numbers instead of cases, and reading it back in."""

import csv
import io
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from audit.csv_cells import csv_text
from audit.errors import AuditError
from audit.intake.door.shape import shape
from audit.people import batches, permissions, reads
from audit.people.permissions import MACHINE, Deed
from audit.people.reads import Read
from audit.words import counted

COLUMNS = (
    "batch",
    "strip",
    "reader",
    "category",
    "baseline_bpm",
    "variability",
    "accelerations",
    "decelerations",
    "recurrent",
    "contractions_per_10_min",
    "would_act",
    "confidence",
)
LONGEST_FORM = 1_000_000  # characters; a form of a thousand strips has a tenth; our choice
_NUMBER = re.compile(r"[+-]?(?:[0-9]{1,6}(?:\.[0-9]{0,6})?|\.[0-9]{1,6})")
_YES, _NO = ("yes", "true", "1"), ("no", "false", "0")


@dataclass(frozen=True)
class TakenBack:
    """How many reads were stored, and one sentence for each row that was not."""

    stored: int
    problems: tuple[str, ...]


def empty_form(db: Path, batch_id: int, reader: str) -> str:
    """A CSV with one row per strip in this reader's order, to be filled in."""
    rows = [
        [batch_id, row["strip_number"], reader, *[""] * (len(COLUMNS) - 3)]
        for row in batches.strips(db, batch_id, reader)
    ]
    return csv_text(COLUMNS, rows)


def take_back(db: Path, batch_id: int, text: str, *, file_name: str, who: str = MACHINE) -> TakenBack:
    """Store the filled rows of a form. A row that cannot be stored is reported by line; rows left empty are skipped.

    `who` takes the form back: the log names it, with the reader of each row.

    Raises AuditError when the file is not such a form at all, NotAllowedError where `who` does not keep batches. Taking
    the same form in twice adds nothing.
    """
    permissions.required(who, Deed.KEEP_BATCHES)
    stored, problems = 0, []
    for number, row in _rows(text, file_name):
        try:
            stored += _store(db, batch_id, row, who)
        except AuditError as error:
            problems.append(f"{file_name}: row {number}: {error}; this row was not stored")
    return TakenBack(stored, tuple(problems))


def _rows(text: str, file_name: str) -> list[tuple[int, dict[str | None, Any]]]:
    """The rows of the form with their lines. Raises AuditError for what is no such form."""
    if len(text) > LONGEST_FORM:
        raise AuditError(f"{file_name}: found {len(text):,} characters, expected a form of at most {LONGEST_FORM:,}")
    text = text.removeprefix("\ufeff")
    first = text.partition("\n")[0]
    between = ";" if ";" in first and "," not in first else ","  # as spreadsheets with decimal commas save it
    try:
        reader = csv.DictReader(io.StringIO(text), delimiter=between, strict=True)
        missing = [name for name in ("strip", "reader", "category") if name not in (reader.fieldnames or [])]
        if missing:
            raise AuditError(
                f"{file_name}: column {', '.join(missing)} is missing; expected the form that was handed out,"
                f" with the columns {', '.join(COLUMNS)}"
            )
        return [(reader.line_num, dict(row)) for row in reader]
    except csv.Error as error:
        raise AuditError(f"{file_name}: not well-formed CSV, expected the form that was handed out") from error


def _store(db: Path, batch_id: int, row: dict[str | None, Any], who: str) -> int:
    cells = {name: (value or "").strip() for name, value in row.items() if name is not None}
    if None in row:
        raise AuditError(
            f"found {counted(len(row[None]), 'value')} more than columns, expected one for each (a decimal comma wants"
            " quotes)"
        )
    if not cells["category"]:
        return 0
    if cells.get("batch") and cells["batch"] != str(batch_id):
        raise AuditError(f"batch: found {shape(cells['batch'])}, expected {batch_id}")
    strip = _whole(cells, "strip")
    if strip is None:
        raise AuditError("strip: found nothing, expected the number of a strip")
    found = Read(
        category=cells["category"],
        baseline_bpm=_number(cells, "baseline_bpm"),
        variability=cells.get("variability") or None,
        accelerations=cells.get("accelerations") or None,
        decelerations=tuple(_kinds(cells.get("decelerations", ""))),
        recurrent=_yes_no(cells, "recurrent"),
        contractions_per_10_min=_number(cells, "contractions_per_10_min"),
        would_act=_yes_no(cells, "would_act"),
        confidence=_whole(cells, "confidence"),
    )
    if reads.latest(db, batch_id, strip, cells["reader"]) == found:
        return 0
    reads.save(db, batch_id, strip, cells["reader"], found, source="file", who=who)
    return 1


def _number(cells: dict[str, str], name: str) -> float | None:
    text = cells.get(name, "").replace(",", ".")
    if not text:
        return None
    if not _NUMBER.fullmatch(text):
        raise AuditError(f"{name}: found {shape(text)}, expected a number")
    return float(text)


def _whole(cells: dict[str, str], name: str) -> int | None:
    number = _number(cells, name)
    if number is None:
        return None
    if not number.is_integer():
        raise AuditError(f"{name}: found a number with decimals, expected a whole number")
    return int(number)


def _yes_no(cells: dict[str, str], name: str) -> bool | None:
    text = cells.get(name, "").lower()
    if not text:
        return None
    if text in _YES + _NO:
        return text in _YES
    raise AuditError(f"{name}: found {shape(text)}, expected yes or no")


def _kinds(text: str) -> Iterable[str]:
    return sorted({part.strip() for part in text.replace("|", ";").replace(",", ";").split(";") if part.strip()})

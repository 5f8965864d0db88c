"""A batch on paper or in a mailbox: an empty form with strip numbers instead of cases, and reading it back in."""

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from audit.csv_cells import csv_text
from audit.errors import AuditError
from audit.people import batches, reads
from audit.people.reads import Read

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


def take_back(db: Path, batch_id: int, text: str, *, file_name: str) -> TakenBack:
    """Store the filled rows of a form. A row that cannot be stored is reported by line; rows left empty are skipped.

    Raises AuditError when the file is not such a form at all. Taking the same form in twice adds nothing.
    """
    reader = csv.DictReader(io.StringIO(text.removeprefix("\ufeff")))
    missing = [name for name in ("strip", "reader", "category") if name not in (reader.fieldnames or [])]
    if missing:
        raise AuditError(
            f"{file_name}: column {', '.join(missing)} is missing; expected the form that was handed out,"
            f" with the columns {', '.join(COLUMNS)}"
        )
    stored, problems = 0, []
    for number, row in enumerate(reader, start=2):
        try:
            stored += _store(db, batch_id, row)
        except (AuditError, ValueError) as error:
            problems.append(f"{file_name}: row {number}: {error}; this row was not stored")
    return TakenBack(stored, tuple(problems))


def _store(db: Path, batch_id: int, row: dict[str, str | None]) -> int:
    cells = {name: (value or "").strip() for name, value in row.items() if isinstance(name, str)}
    if not cells["category"]:
        return 0
    if cells.get("batch") and cells["batch"] != str(batch_id):
        raise AuditError(f"batch: found {cells['batch']}, expected {batch_id}")
    strip = int(_number(cells, "strip") or 0)
    found = Read(
        category=cells["category"],
        baseline_bpm=_number(cells, "baseline_bpm"),
        variability=cells.get("variability") or None,
        accelerations=cells.get("accelerations") or None,
        decelerations=tuple(_kinds(cells.get("decelerations", ""))),
        recurrent=_yes_no(cells, "recurrent"),
        contractions_per_10_min=_number(cells, "contractions_per_10_min"),
        would_act=_yes_no(cells, "would_act"),
        confidence=None if _number(cells, "confidence") is None else int(_number(cells, "confidence") or 0),
    )
    if reads.latest(db, batch_id, strip, cells["reader"]) == found:
        return 0
    reads.save(db, batch_id, strip, cells["reader"], found, source="file")
    return 1


def _number(cells: dict[str, str], name: str) -> float | None:
    text = cells.get(name, "").replace(",", ".")
    if not text:
        return None
    try:
        return float(text)
    except ValueError as error:
        raise AuditError(f"{name}: found {text!r}, expected a number") from error


def _yes_no(cells: dict[str, str], name: str) -> bool | None:
    text = cells.get(name, "").lower()
    if not text:
        return None
    if text in _YES + _NO:
        return text in _YES
    raise AuditError(f"{name}: found {text!r}, expected yes or no")


def _kinds(text: str) -> Iterable[str]:
    return sorted({part.strip() for part in text.replace("|", ";").replace(",", ";").split(";") if part.strip()})

"""What kind of file this is, told by its content: first bytes, then the header's columns or the record line."""

import re
import zlib
from collections.abc import Sequence
from typing import Literal

from audit.intake.door.remarks import FileRefused
from audit.intake.formats.tables import COLUMNS, EXPERT_COLUMNS, OPTIONAL, REQUIRED

Container = Literal["parquet", "gzip", "wfdb", "text", "signal", "foreign"]

FIRST_BYTES = 65536
_RECORD_LINE = re.compile(rb"^[\w./\\-]+(?:/\d+)?[ \t]+\d+(?:[ \t]+[\d.]+|\s*$)")
_MAGIC: tuple[tuple[bytes, str], ...] = (
    (b"PK\x03\x04", "a zip archive inside another; unpack it first"),
    (b"\xd0\xcf\x11\xe0", "an old Excel or Word file; save the table as CSV (UTF-8, comma)"),
    (b"%PDF", "a PDF document; export the table behind it as CSV"),
    (b"\x89PNG", "a picture; a tracing is imported from its samples, not from a picture"),
    (b"\xff\xd8\xff", "a picture; a tracing is imported from its samples, not from a picture"),
    (b"SQLite format 3", "a SQLite database; export its table as CSV or Parquet"),
    (b"BZh", "compressed with bzip2; unpack it, or compress with gzip"),
    (b"\xfd7zXZ", "compressed with xz; unpack it, or compress with gzip"),
    (b"\x28\xb5\x2f\xfd", "compressed with zstandard; unpack it, or compress with gzip"),
    (b"7z\xbc\xaf", "a 7z archive; unpack it first"),
    (b"0       ", "an EDF recording that is packed or damaged; unpack it, or export it again"),
)
GZIP = b"\x1f\x8b"
_DUCKDB = b"DUCK"
_CONTROL = bytes([*range(9), *range(14, 32)])
MOST_CONTROL = 0.02  # share of control bytes in what still counts as text; our choice


def container(head: bytes) -> Container:
    """The outer format from a file's first bytes."""
    if head.startswith(b"PAR1"):
        return "parquet"
    if head.startswith(GZIP):
        return "gzip"
    if foreign_format(head) is not None:
        return "foreign"
    if looks_like_record(head):
        return "wfdb"
    return "text" if _mostly_text(head) else "signal"


def peek(head: bytes) -> bytes:
    """The first bytes of what a gzip file holds; none where it cannot be told."""
    try:
        return zlib.decompressobj(wbits=31).decompress(head, FIRST_BYTES)
    except zlib.error:
        return b""


def foreign_format(head: bytes) -> str | None:
    """A sentence about a well-known format that is not imported, or None."""
    if head[8:12] == _DUCKDB:
        return "a DuckDB database; name it with --db instead of importing it"
    if head.lstrip()[:5].lower() in (b"<?xml", b"<html", b"<!doc"):
        return "an XML or HTML document; export the table as CSV (UTF-8, comma)"
    if head.lstrip()[:1] in (b"{", b"["):
        return "a JSON document that is packed or no FHIR resource; unpack it, or export the table as CSV or Parquet"
    return next((sentence for magic, sentence in _MAGIC if head.startswith(magic)), None)


def looks_like_record(head: bytes) -> bool:
    """Does it begin like a WFDB header: comments, then a record line without commas?"""
    for line in head.splitlines()[:50]:
        stripped = line.strip()
        if stripped and not stripped.startswith(b"#"):
            return b"," not in stripped and bool(_RECORD_LINE.match(stripped))
    return False


def table_kind(columns: Sequence[str]) -> str:
    """The kind of a table from its header: tracing, care_events, reads, assessments, cases, unit_months or
    expert_readings.

    Raises FileRefused naming what is missing, or that it is none of ours.
    """
    have = set(columns)
    if not columns or have <= {""}:
        raise FileRefused("found no header row, expected column names in the first row", row=1)
    if set(EXPERT_COLUMNS[:3]) <= have:
        return "expert_readings"
    full = [kind for kind, needed in REQUIRED.items() if set(needed) <= have]
    if "case_id" in have and "unit_months" in full:
        full.remove("unit_months")  # rows of cases are no counts of a month
    if len(full) > 1 and "cases" in full:
        full.remove("cases")
    if len(full) > 1:
        raise FileRefused(f"found the columns of {' and '.join(full)} in one table, expected one kind per file", row=1)
    if full:
        return full[0]
    raise _missing(columns)


def ours(columns: Sequence[str]) -> bool:
    """Does the header look like one of ours at all, complete or not?"""
    have = set(columns)
    return "case_id" in have or any(len(have & set(needed)) >= 2 for needed in REQUIRED.values())


def unknown_columns(kind: str, columns: Sequence[str]) -> list[int]:
    """Columns that are reported and not stored, by their place from 1: their names may say whose file it is."""
    known = set(EXPERT_COLUMNS) if kind == "expert_readings" else {*REQUIRED[kind], *OPTIONAL[kind]}
    return [k for k, column in enumerate(columns, start=1) if column not in known]


def _missing(columns: Sequence[str]) -> FileRefused:
    have = set(columns)
    if not ours(columns):
        shown = ", ".join(column for column in columns if column in COLUMNS) or "that are none of ours"
        expected = "; ".join(f"{kind}: {', '.join(needed)}" for kind, needed in REQUIRED.items())
        return FileRefused(f"none of the known kinds: found the columns {shown}; expected {expected}", row=1)

    def closeness(kind: str) -> tuple[float, int]:
        telling = set(REQUIRED[kind]) - {"case_id"}
        return len(have & telling) / len(telling), len(have & set(OPTIONAL[kind]))

    kind = max(REQUIRED, key=closeness)
    lacking = [column for column in REQUIRED[kind] if column not in have]
    named = f"column {lacking[0]} is" if len(lacking) == 1 else f"columns {', '.join(lacking)} are"
    reason = f"looks like {kind.replace('_', ' ')}, but the {named} missing; expected {', '.join(REQUIRED[kind])}"
    return FileRefused(reason, row=1, column=lacking[0])


def _mostly_text(head: bytes) -> bool:
    """Text by the share of control bytes; wide encodings count as text so that their refusal can say so."""
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return True
    sample = head[:4096]
    if not sample:
        return True
    return len(sample) - len(sample.translate(None, _CONTROL)) <= MOST_CONTROL * len(sample)

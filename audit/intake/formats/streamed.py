"""Large tracing files, read in blocks so that memory does not grow with the file.

A block ends at a line end; a case that is cut by it is carried over to the next. So the rows of a case must lie
together in a large file; in a smaller one, which is read at once, they may be interleaved.
"""

from collections.abc import Iterator
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.formats import csv_file
from audit.intake.formats.compressed import first_bytes
from audit.intake.formats.habits import Habits
from audit.intake.formats.tables import CODES, SampleTable, in_one_piece, some_of

_MIB = 1024 * 1024
LARGE_BYTES = 64 * _MIB  # a larger file is read in blocks; our choice
LARGE_ROWS = 4_000_000  # rows of a Parquet file; our choice
_BLOCK_BYTES = 32 * _MIB
BLOCK_ROWS = 1_000_000
MOST_ROWS_OF_A_CASE = 8_000_000  # 7 days at 10 Hz and more


def csv_columns(path: Path) -> list[str]:
    """The header's columns of a large CSV file."""
    with path.open("rb") as stream:
        return csv_file.header_of(csv_file.checked_text(_header(stream.readline(2 * csv_file.HEADER_CHARACTERS))))


def wide_encoding(path: Path) -> bool:
    """Two bytes a letter: such a file is read at once, whatever its size."""
    return first_bytes(path, 2) in (b"\xff\xfe", b"\xfe\xff")


def read_at_once(path: Path) -> bool:
    """A file of our columns that is not read in blocks, whatever its size: of wide letters, or with titles above."""
    head = first_bytes(path, _MIB)
    return wide_encoding(path) or csv_file.lines_before_header(head[: head.rfind(b"\n") + 1]) > 0


def csv_habits(path: Path, columns: list[str]) -> Habits:
    """How a large CSV file is written, from its first MiB. Raises FileRefused."""
    head = first_bytes(path, _MIB)
    head = head[: head.rfind(b"\n") + 1]
    return csv_file.habits_in(head, csv_file.checked_text(head), columns)


def csv_rows(path: Path, size: int) -> int:
    """About how many rows a large CSV file has, from its first MiB."""
    head = first_bytes(path, _MIB)
    return head.count(b"\n") * size // max(len(head), 1)


def csv_tables(path: Path, columns: list[str], remarks: Remarks) -> Iterator[SampleTable]:
    """The samples of a large CSV file, block by block, with the file's own line numbers."""
    written = csv_habits(path, columns)
    remarks.message(written.sentence())
    with path.open("rb") as stream:
        line = stream.readline(2 * csv_file.HEADER_CHARACTERS)
    header = _header(line)
    for block, before in line_blocks(path, len(line), 1, _BLOCK_BYTES, _BLOCK_BYTES):
        if block.strip():
            yield _csv_block(header + block, columns, remarks, before - 1, written)


def line_blocks(path: Path, start: int, lines: int, block_bytes: int, longest: int) -> Iterator[tuple[bytes, int]]:
    """Blocks of whole rows from a place in a file on, each with the number of lines before it.

    `lines`: before that place. Raises FileRefused for a row of so many bytes.
    """
    rest = b""
    with path.open("rb") as stream:
        stream.seek(start)
        while data := stream.read(block_bytes):
            block = rest + data
            cut = block.rfind(b"\n") + 1
            if not cut and len(block) >= longest:
                raise FileRefused("found a row of more than 32 MiB, expected one row a line", row=lines + 1)
            if cut:
                yield block[:cut], lines
            lines += block.count(b"\n", 0, cut)
            rest = block[cut:]
    if rest:
        yield rest, lines


def whole_cases(tables: Iterator[SampleTable]) -> Iterator[SampleTable]:
    """Cut and join blocks so that no case lies in two of them. Raises FileRefused when one comes back later."""
    carried: SampleTable | None = None
    closed: set[tuple[str, str]] = set()
    for block in tables:
        table, nameless = _without_nameless(block)
        if nameless is not None:
            yield nameless
        if not len(table):
            continue
        here = table if carried is None else _joined(carried, table)
        start = _start_of_last_case(here)
        if len(here) - start > MOST_ROWS_OF_A_CASE:
            raise FileRefused(
                f"found more than {MOST_ROWS_OF_A_CASE:,} rows of one case, expected fewer",
                row=int(here.row_numbers[start]),
                column="case_id",
            )
        done, carried = some_of(here, slice(0, start)), some_of(here, slice(start, len(here)))
        if len(done):
            _close(done, closed)
            yield done
    if carried is not None and len(carried):
        _close(carried, closed)
        yield carried


def _header(line: bytes) -> bytes:
    if not line.endswith(b"\n"):
        raise FileRefused("found a very long first row, expected a header row of column names", row=1)
    return line[3:] if line.startswith(b"\xef\xbb\xbf") else line


def _csv_block(text: bytes, columns: list[str], remarks: Remarks, lines_before: int, written: Habits) -> SampleTable:
    mine = Remarks(remarks.limit, remarks.names)
    try:
        table = csv_file.read_samples(csv_file.checked_text(text), columns, mine, written)
    except FileRefused as error:
        error.move(0 if error.remark.row_number == 1 else lines_before)
        raise
    remarks.absorb(mine, lines_before)
    return replace(table, row_numbers=table.row_numbers + lines_before)


def _keys(table: SampleTable) -> tuple[np.ndarray, int]:
    """One number for each row's case and fetus, and how many fetuses there are."""
    fetuses = 1 if table.fetus is None else max(1, len(table.fetus.dictionary))
    key = table.case_id.indices.to_numpy(zero_copy_only=False).astype(np.int64) * fetuses
    return (key if table.fetus is None else key + table.fetus.indices.to_numpy(zero_copy_only=False)), fetuses


def _start_of_last_case(table: SampleTable) -> int:
    key, _ = _keys(table)
    changes = np.flatnonzero(np.diff(key))
    return int(changes[-1]) + 1 if len(changes) else 0


def _close(table: SampleTable, closed: set[tuple[str, str]]) -> None:
    key, fetuses = _keys(table)
    cases = table.case_id.dictionary.to_pylist()
    names = ["A"] if table.fetus is None else table.fetus.dictionary.to_pylist()
    found = {(cases[k // fetuses] or "", names[k % fetuses] or "A"): k for k in np.unique(key).tolist()}
    for name in sorted(found.keys() & closed):
        if name[0].strip():
            raise FileRefused(
                "found a case in two places of a large file, expected its rows together: sort the file by case",
                row=int(table.row_numbers[int(np.argmax(key == found[name]))]),
                column="case_id",
            )
    closed.update(found)


def _without_nameless(table: SampleTable) -> tuple[SampleTable, SampleTable | None]:
    """Set rows without a case id apart (blank lines and rejects), so that they do not part the rows of a case."""
    blank = [k for k, name in enumerate(table.case_id.dictionary.to_pylist()) if not (name or "").strip()]
    nameless = np.isin(table.case_id.indices.to_numpy(zero_copy_only=False), blank)
    if not nameless.any():
        return table, None
    return some_of(table, np.flatnonzero(~nameless)), some_of(table, np.flatnonzero(nameless))


def _joined(a: SampleTable, b: SampleTable) -> SampleTable:
    def both(name: str) -> Any:
        one, other = getattr(a, name), getattr(b, name)
        if one is None or other is None:
            return None
        if isinstance(one, np.ndarray):
            return np.concatenate([one, other])
        return in_one_piece(pa.chunked_array([one, other], CODES))

    return SampleTable(*(both(each.name) for each in fields(SampleTable)))

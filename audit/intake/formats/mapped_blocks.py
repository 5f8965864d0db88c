"""A large tracing file under a mapping, read in blocks of whole cases so that memory does not grow with the file.

A first look goes through the file for what only the whole of it tells: its encoding, its decimal mark, how many samples
its cells hold, and whether the rows of each case lie together. So the samples are those of a file that is read at once.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.formats import csv_file, mapped, mapped_parquet, parquet_file, streamed
from audit.intake.formats.compressed import first_bytes
from audit.intake.formats.habits import EncodingOfBlocks, Habits, MarkOfBlocks
from audit.intake.formats.several import counts_in_cells
from audit.setting_tables.mapping import CHANNELS, Mapping

_BLOCK_BYTES = 8 * 1024 * 1024
_BLOCK_VALUES = 500_000  # of a Parquet file
_HEAD_BYTES = 1024 * 1024
_CODECS = {"UTF-8": "utf-8", "Windows-1252": "cp1252"}
APART = "found a case in two places of a large file, expected its rows together: sort the file by case"

Columns = dict[str, pa.Array]
Block = tuple[Columns, NDArray[np.int64]]


@dataclass
class LargeFile:
    """One file, its mapping, and what the first look told of the whole.

    apart : a row that lies apart from the others of its case; None = each case's rows lie together.
    in_a_cell : samples of a channel that a cell holds.
    """

    path: Path
    mapping: Mapping
    max_mib: int
    parquet: bool
    names: list[str]  # the file's columns as they are spelled
    theirs: list[str]  # and as they are compared
    head: bytes  # of a CSV file: what stands before its rows
    written: Habits
    rows: int = 0
    apart: int | None = None
    in_a_cell: dict[str, int] = field(default_factory=dict)

    def tables(self, file_name: str, remarks: Remarks) -> Iterator[mapped.MappedTable]:
        """The rows under our names, whole cases at a time. Raises FileRefused, also between two of them."""
        mapped.say_unread(self.theirs, self.mapping, remarks)
        remarks.message(None if self.parquet else self.written.sentence())
        for columns, lines in whole_cases(_blocks(self, remarks, None), _case_column(self.mapping)):
            found = mapped.under_our_names(columns, lines, file_name, self.mapping, self.written)
            yield replace(found, in_a_cell=self.in_a_cell)


def looked_through(path: Path, mapping: Mapping, max_mib: int) -> LargeFile | None:
    """The file after the first look; None where it can be read at once only. Raises FileRefused.

    That is text with two bytes a letter, or with other line ends than those that a block can end at.
    """
    first = first_bytes(path, _HEAD_BYTES)
    parquet = first.startswith(mapped_parquet.MAGIC)
    if not parquet and (mapping.encoding == "UTF-16" or streamed.wide_encoding(path) or b"\n" not in first):
        return None
    found = _parquet_file(path, mapping, max_mib) if parquet else _text_file(path, first, mapping, max_mib)
    _look(found)
    return found


def whole_cases(blocks: Iterator[Block], column: str | None) -> Iterator[Block]:
    """Cut and join blocks so that the rows of a case lie in one of them, nameless ones with those before them.

    `column`: theirs, with the case; None = the file is one case. Raises FileRefused for too many rows of one.
    """
    carried: list[Block] = []
    last: str | None = None
    for columns, lines in blocks:
        starts, names = _runs(columns, column, last)
        cut = int(starts[-1])
        if len(names) > 1 or (carried and names[0] != last):
            before = [*carried, *([_part(columns, lines, 0, cut)] if cut else [])]
            yield _joined(before)
            carried = []
        carried.append(_part(columns, lines, cut, len(lines)))
        last = names[-1]
        rows = sum(len(each) for _, each in carried)
        if rows > streamed.MOST_ROWS_OF_A_CASE:
            reason = f"found more than {streamed.MOST_ROWS_OF_A_CASE:,} rows of one case, expected fewer"
            raise FileRefused(reason, row=int(carried[0][1][0]), column="case_id")
    if carried:
        yield _joined(carried)


def _parquet_file(path: Path, mapping: Mapping, max_mib: int) -> LargeFile:
    names = parquet_file.column_names(pa.memory_map(str(path)))
    theirs = [mapped.plain(name) for name in names]
    mapped.refuse_lacking(theirs, mapping)
    written = Habits(decimal="," if mapping.decimal == "," else ".")
    return LargeFile(path, mapping, max_mib, True, names, theirs, b"", written)


def _text_file(path: Path, first: bytes, mapping: Mapping, max_mib: int) -> LargeFile:
    end = 0
    for _ in range(mapping.lines_before_header + 1):
        end = first.find(b"\n", end) + 1
        if not end:
            raise FileRefused(
                "found a very long first row, expected a header row of column names",
                row=mapping.lines_before_header + 1,
            )
    found = LargeFile(path, mapping, max_mib, False, [], [], first[:end], Habits())
    encoding = EncodingOfBlocks()
    mark: MarkOfBlocks | None = None
    for text, before in _text_blocks(found):
        csv_file.refuse_zero_bytes(text, before)
        if mapping.encoding == "auto":
            encoding.look(text, before)
        if not before:  # what stands before the rows
            continue
        if mark is None:  # the first rows: the header can be read as soon as it is known how it is written
            found.written = Habits(encoding=encoding.encoding if mapping.encoding == "auto" else mapping.encoding)
            found.theirs, delimiter = mapped.header_of(_header(found), mapping)
            mapped.refuse_lacking(found.theirs, mapping)
            mark = MarkOfBlocks(mapped.with_a_mark(found.theirs, mapping), delimiter)
        if mapping.decimal == "auto":
            now = encoding.encoding if mapping.encoding == "auto" else mapping.encoding
            mark.look(_as_utf8(text, now), before + 1)
    if mark is None:
        raise FileRefused("found a header and no rows, expected at least one row of data")
    found.written = Habits(
        mark.delimiter,
        mark.mark if mapping.decimal == "auto" else mapping.decimal,
        encoding.encoding if mapping.encoding == "auto" else mapping.encoding,
    )
    found.theirs, _ = mapped.header_of(_header(found), mapping)
    return found


def _look(found: LargeFile) -> None:
    """Go through the columns that tell of the whole file."""
    mapping, column = found.mapping, _case_column(found.mapping)
    cells = {name: mapped.plain(mapping.columns[name]) for name in CHANNELS if name in mapping.columns}
    cells = cells if mapping.samples_between else {}
    counts: dict[str, NDArray[np.int64]] = {}
    wanted = list(dict.fromkeys([*cells.values(), *([] if column is None else [column])]))
    wanted = wanted or [mapped.needed(mapping)[0]]  # its rows are counted
    closed: set[str] = set()
    last: str | None = None
    for columns, lines in _blocks(found, Remarks(0), wanted):
        found.rows += len(lines)
        for name, theirs in cells.items():
            here = counts_in_cells(columns[theirs], mapping.samples_between)
            counts[name] = counts[name] + here if name in counts else here
        starts, names = _runs(columns, column, last)
        for start, name in zip(starts.tolist(), names, strict=True):
            if name == last:
                continue
            if name in closed and found.apart is None:
                found.apart = int(lines[start])
            closed |= {last} if last is not None else set()
            last = name
    found.in_a_cell = {name: int(np.argmax(each)) for name, each in counts.items()}


def _case_column(mapping: Mapping) -> str | None:
    """Theirs, with the case; None where all rows are of one."""
    name = mapping.columns.get("case_id")
    return None if name is None or mapping.case_id_from_file or "case_id" in mapping.constant else mapped.plain(name)


def _blocks(found: LargeFile, remarks: Remarks, wanted: list[str] | None) -> Iterator[Block]:
    """Their columns as text, or those that are wanted, with the line of each row."""
    mapping, read = found.mapping, mapped.needed(found.mapping) if wanted is None else wanted
    if found.parquet:
        places = [found.names[found.theirs.index(name)] for name in read]
        decimal, between, before = found.written.decimal, mapping.samples_between, 0
        for texts in mapped_parquet.text_blocks(found.path, places, decimal, between, found.max_mib, _BLOCK_VALUES):
            rows = len(texts[0])
            yield dict(zip(read, texts, strict=True)), np.arange(before + 2, before + rows + 2, dtype=np.int64)
            before += rows
        return
    header, head_lines = _header(found), mapping.lines_before_header + 1
    for text, before in _text_blocks(found):
        if not before or not text.strip():
            continue
        mine = Remarks(remarks.limit, remarks.names)
        body = header + _as_utf8(text, found.written.encoding)
        columns, lines = mapped.rows_in(body, found.theirs, found.written.delimiter, mapping, mine, read)
        remarks.absorb(mine, before - head_lines)
        if len(lines):
            yield columns, lines + (before - head_lines)


def _text_blocks(found: LargeFile) -> Iterator[tuple[bytes, int]]:
    """What stands before the rows, then blocks of whole rows; each with the number of lines before it."""
    yield found.head, 0
    lines = found.head.count(b"\n")
    yield from streamed.line_blocks(found.path, len(found.head), lines, _BLOCK_BYTES, 4 * _BLOCK_BYTES)


def _header(found: LargeFile) -> bytes:
    """The header row in UTF-8."""
    text = _as_utf8(found.head, found.written.encoding).removeprefix(b"\xef\xbb\xbf")
    return text.split(b"\n")[found.mapping.lines_before_header] + b"\n"


def _as_utf8(text: bytes, encoding: str) -> bytes:
    if encoding == "UTF-8" and text.isascii():
        return text
    try:
        return text.decode(_CODECS[encoding]).encode("utf-8")
    except UnicodeError as error:
        raise FileRefused(f"not {encoding}, as the mapping says", row=1) from error


def _runs(columns: Columns, column: str | None, last: str | None) -> tuple[NDArray[np.int64], list[str]]:
    """Where a case's rows begin in a block, and whose they are; rows without a case are the former one's."""
    if column is None:
        return np.zeros(1, np.int64), [""]
    coded = columns[column].dictionary_encode()
    typed = [(name or "").strip() for name in coded.dictionary.to_pylist()]
    codes = {name: k for k, name in enumerate(dict.fromkeys(typed))}
    key = np.array([codes[name] for name in typed], np.int64)[coded.indices.to_numpy(zero_copy_only=False)]
    named = np.flatnonzero(key != codes.get("", -1))
    if not len(named):
        return np.zeros(1, np.int64), [last or ""]
    changes = named[np.flatnonzero(np.diff(key[named])) + 1]
    names = list(codes)
    found = [names[key[named[0]]], *(names[key[k]] for k in changes.tolist())]
    starts = np.concatenate([[0], changes])
    if last and found[0] != last and named[0] > 0:  # rows without a case before the first one that has one
        return np.concatenate([[0, named[0]], changes]), [last, *found]
    return starts, found


def _part(columns: Columns, lines: NDArray[np.int64], first: int, last: int) -> Block:
    return {name: column.slice(first, last - first) for name, column in columns.items()}, lines[first:last]


def _joined(blocks: list[Block]) -> Block:
    if len(blocks) == 1:
        return blocks[0]
    columns = {name: pa.concat_arrays([each[name] for each, _ in blocks]) for name in blocks[0][0]}
    return columns, np.concatenate([lines for _, lines in blocks])

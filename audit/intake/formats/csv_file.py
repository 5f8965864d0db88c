"""CSV files with a header row, checked before they are parsed; how they are written is told by `habits.py`.

A tracing is parsed in bulk. Only when that fails is the file gone through as text, to say which rows and values were
wrong and to keep the others.
"""

import csv
import io
from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv
from numpy.typing import NDArray

from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.formats.habits import OURS, Habits, as_utf8, delimiter_of, encoding_of, habits_of, with_point
from audit.intake.formats.numbers_in_text import NONE_WORDS, numbers_told, parse, why_not_a_number
from audit.intake.formats.recognise import foreign_format, ours, table_kind
from audit.intake.formats.tables import CODES, COLUMNS, NUMBER_COLUMNS, SampleTable, SmallTable, in_one_piece
from audit.words import counted

_BLOCK = 4 * 1024 * 1024
NUMBERS = ("t_s", "fhr_bpm", "toco", "mhr_bpm")
_SAMPLE_COLUMNS = ("case_id", "fetus", *NUMBERS)
HEADER_CHARACTERS = 20_000
_TITLE_LINES = 10  # above the header at most; our choice
_NO_ROWS = "found a header and no rows, expected at least one row of data"
_EMPTY = "the file is empty, expected a header row and at least one row of data"


def checked_text(data: bytes) -> bytes:
    """The text in UTF-8 without a byte order mark. Raises FileRefused for what is empty, binary or neither."""
    if not data.strip(b"\xef\xbb\xbf \t\r\n"):
        raise FileRefused(_EMPTY)
    foreign = foreign_format(data[:64])
    if foreign is not None:
        raise FileRefused(f"found {foreign}")
    at = -1 if data.startswith((b"\xff\xfe", b"\xfe\xff")) else data.find(b"\0")
    text = as_utf8(data) if at < 0 else data
    refuse_zero_bytes(text)
    if not text.strip():
        raise FileRefused(_EMPTY)
    if b"\n" not in text and b"\r" in text:
        text = text.replace(b"\r", b"\n")
    return text


def refuse_zero_bytes(text: bytes, rows_before: int = 0) -> None:
    """Raise FileRefused where there is one."""
    at = text.find(b"\0")
    if at >= 0:
        row = _row(text, at) + rows_before
        raise FileRefused("found a zero byte, expected text: the file is binary or damaged", row=row)


def header_in(head: bytes) -> list[str]:
    """The columns of a file of which only the first bytes are at hand, below titles if any. Raises FileRefused."""
    try:
        columns = header_of(first_line(head))
        table_kind(columns)
        return columns
    except FileRefused as error:
        head = in_narrow_letters(head)
        text = checked_text(head[: head.rfind(b"\n") + 1] or head)
        lines = lines_before_header(text)
        if not lines:
            raise error
        return header_of(below_titles(text, lines))


def in_narrow_letters(head: bytes) -> bytes:
    """The first bytes of a file in UTF-8, where it has two bytes a letter."""
    if not head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return head
    return head[: len(head) // 2 * 2].decode("utf-16", "replace").encode("utf-8")


def first_line(head: bytes) -> bytes:
    """The first row of a file of which only the first bytes are at hand. Raises FileRefused as `checked_text`."""
    head = in_narrow_letters(head)
    text = head[3:] if head.startswith(b"\xef\xbb\xbf") else head
    cut_off = text[: text.find(b"\n") + 1] if b"\n" in text else text[: text.find(b"\r") + 1] if b"\r" in text else text
    return checked_text(cut_off)


def lines_before_header(text: bytes) -> int:
    """How many lines stand above the row of our own column names: titles; 0 where no such row is near the start."""
    start = 0
    for k in range(_TITLE_LINES + 1):
        end = text.find(b"\n", start)
        try:
            columns = header_of(text[start : end if end >= 0 else len(text)])
            if k == 0 and ours(columns):
                return 0  # what it lacks is told where it is read
            table_kind(columns)
            return k
        except (FileRefused, UnicodeDecodeError, csv.Error):
            pass
        if end < 0:
            break
        start = end + 1
    return 0


def below_titles(text: bytes, lines: int) -> bytes:
    """A file's text from its header on, after so many lines above it."""
    for _ in range(lines):
        text = text[text.find(b"\n") + 1 :]
    return text


def header_of(text: bytes, delimiter: str | None = None) -> list[str]:
    """Column names, trimmed and in lower case. Raises FileRefused for doubled or empty names, or open quotes."""
    line = text[: text.find(b"\n") if b"\n" in text else len(text)].rstrip(b"\r")
    if len(line) > HEADER_CHARACTERS:
        raise FileRefused(
            f"found a first row of {len(line):,} characters, expected a header row of column names", row=1
        )
    first = line.decode("utf-8")
    if "\r" in first:
        raise FileRefused("found line ends of several kinds, expected one kind: save it as 'CSV UTF-8'", row=1)
    if not first.strip():
        raise FileRefused("found an empty first row, expected the header row there", row=1)
    if first.count('"') % 2:
        raise FileRefused("found a quote that is not closed, expected closed quotes", row=1)
    names = [name.strip().casefold() for name in next(csv.reader([first], delimiter=delimiter or delimiter_of(first)))]
    for k, name in enumerate(names):
        if not name:
            raise FileRefused(f"column {k + 1} has no name, expected a name for each column", row=1)
        if names.index(name) != k:
            raise twice(names, k)
    return names


def habits_in(data: bytes, text: bytes, columns: Sequence[str]) -> Habits:
    """How a file is written, from its bytes and the text that `checked_text` made of them. Raises FileRefused."""
    first = text[: text.find(b"\n") if b"\n" in text else len(text)].decode("utf-8")
    return habits_of(text, columns, delimiter_of(first), encoding_of(data))


def twice(names: Sequence[str], at: int) -> FileRefused:
    """The refusal for a name that stands in the header before."""
    first, name = names.index(names[at]), names[at]
    called = f" ({name})" if name in COLUMNS else ""
    reason = f"columns {first + 1} and {at + 1} have the same name{called}: it stands twice, expected it once"
    return FileRefused(reason, row=1, column=name)


def refuse_long(value: str, most: int, row: int, column: str) -> None:
    """Raise FileRefused for a value of more characters than that."""
    if len(value) > most:
        reason = f"found a value of {len(value):,} characters, expected at most {most:,}"
        raise FileRefused(reason, row=row, column=column)


def read_small(
    text: bytes,
    columns: Sequence[str],
    remarks: Remarks,
    max_rows: int,
    max_characters: int,
    written: Habits = OURS,
) -> SmallTable:
    """All rows as text, for the tables that are small. Rows with too many or too few values are rejected."""
    reader = csv.reader(io.StringIO(text.decode("utf-8"), newline=""), delimiter=written.delimiter, strict=True)
    csv.field_size_limit(max(max_characters * 16, 131072))
    rows: list[list[str]] = []
    numbers: list[int] = []
    at = 2
    try:
        next(reader)
        at = reader.line_num + 1
        for row in reader:
            here, at = at, reader.line_num + 1
            if at - here > 1:
                raise FileRefused("found a quoted value over several lines, or a quote that is not closed", row=here)
            if not row or (len(row) == 1 and not row[0].strip()):
                continue
            if len(row) != len(columns):
                remarks.reject_row(here, wrong_length(len(row), len(columns)))
                continue
            long = max(row, key=len)
            refuse_long(long, max_characters, here, columns[row.index(long)])
            if len(rows) >= max_rows:
                raise FileRefused(f"found more than {max_rows:,} rows, expected fewer: split the file")
            rows.append(row)
            numbers.append(here)
    except csv.Error as error:
        raise FileRefused("not well-formed CSV, expected closed quotes and one row a line", row=at) from error
    if not rows and not remarks.rows_rejected:
        raise FileRefused(_NO_ROWS)
    # what is in columns that are not ours goes no further
    found: dict[str, list[Any]] = {name: [row[k] for row in rows] for k, name in enumerate(columns) if name in COLUMNS}
    for name in NUMBER_COLUMNS.intersection(found) if written.decimal != "." else ():
        found[name] = [with_point(cell, written.decimal) for cell in found[name]]
    return SmallTable(found, numbers)


def read_samples(text: bytes, columns: Sequence[str], remarks: Remarks, written: Habits = OURS) -> SampleTable:
    """The samples of a tracing file."""
    if b'"' in text:
        _refuse_open_quotes(text)
    if len(text.rstrip()) == len(text[: text.find(b"\n")].rstrip()) or b"\n" not in text:
        raise FileRefused(_NO_ROWS)
    wanted = [name for name in _SAMPLE_COLUMNS if name in columns]
    try:
        table = pacsv.read_csv(
            pa.BufferReader(_body(text)),
            read_options=pacsv.ReadOptions(column_names=list(columns), block_size=_BLOCK),
            parse_options=pacsv.ParseOptions(delimiter=written.delimiter, ignore_empty_lines=False),
            convert_options=pacsv.ConvertOptions(
                column_types={name: pa.float64() if name in NUMBERS else CODES for name in wanted},
                include_columns=wanted,
                null_values=list(NONE_WORDS),
                strings_can_be_null=False,
                check_utf8=False,
                decimal_point=written.decimal,
            ),
        )
    except pa.ArrowInvalid:
        return _read_samples_as_text(text, columns, wanted, remarks, written)
    numbers = {name: np.asarray(table[name].to_numpy(), np.float64) for name in wanted if name in NUMBERS}
    codes = {name: in_one_piece(table[name]) for name in wanted if name not in NUMBERS}
    return SampleTable.of(codes["case_id"], codes.get("fetus"), numbers, np.arange(2, len(table) + 2, dtype=np.int64))


def _read_samples_as_text(
    text: bytes, columns: Sequence[str], wanted: Sequence[str], remarks: Remarks, written: Habits
) -> SampleTable:
    table, lines = rows_as_text(text, columns, written.delimiter, remarks, wanted)
    parsed = {name: parse(table[name], written.decimal) for name in wanted if name in NUMBERS}
    without_time = set(parsed["t_s"].bad_at.tolist())
    for name, found in parsed.items():
        if name != "t_s":  # a row without a readable time is told of below, and its other values are not
            bad = [(k, cell) for k, cell in zip(found.bad_at, found.bad_text, strict=True) if k not in without_time]
            rows, cells = [int(lines[k]) for k, _ in bad], [cell for _, cell in bad]
            remarks.reject_values(rows, name, cells, (why_not_a_number(cell, written.decimal) for cell in cells))
    numbers = {name: found.numbers for name, found in parsed.items()}
    numbers["t_s"] = numbers_told(table["t_s"], "t_s", written.decimal, lines, remarks)
    codes = {name: table[name].dictionary_encode() for name in wanted if name not in NUMBERS}
    return SampleTable.of(codes["case_id"], codes.get("fetus"), numbers, lines)


def rows_as_text(
    text: bytes,
    columns: Sequence[str],
    delimiter: str,
    remarks: Remarks,
    wanted: Sequence[str],
    *,
    before: int = 0,
    blank: str | None = None,
) -> tuple[dict[str, pa.Array], NDArray[np.int64]]:
    """The rows below a header, the wanted columns as text, and the line of each; a row of another length is rejected.

    `before`: lines above the header. `blank`: what a row that is passed over consists of; None = white space. Raises
    FileRefused where there are none, or an open quote.
    """
    ragged: list[int] = []

    def on_ragged(row: pacsv.InvalidRow) -> str:
        number = row.number + 1 + before  # counted from 1 below the header
        ragged.append(number)
        if row.text.strip(blank):
            remarks.reject_row(number, wrong_length(row.actual_columns, len(columns)))
        return "skip"

    body = _body(text) if b"\n" in text else memoryview(b"")
    if not len(body):
        raise FileRefused(_NO_ROWS)
    places = {name: f"c{columns.index(name)}" for name in wanted}
    try:
        found = pacsv.read_csv(
            pa.BufferReader(body),
            read_options=pacsv.ReadOptions(
                column_names=[f"c{k}" for k in range(len(columns))], block_size=_BLOCK, use_threads=False
            ),
            parse_options=pacsv.ParseOptions(
                delimiter=delimiter, ignore_empty_lines=False, invalid_row_handler=on_ragged
            ),
            convert_options=pacsv.ConvertOptions(
                column_types=dict.fromkeys(places.values(), pa.string()),
                include_columns=list(places.values()),
                strings_can_be_null=False,
            ),
        )
    except pa.ArrowInvalid as error:
        reason = "not well-formed CSV, expected closed quotes and one row a line of less than 4 MiB"
        raise FileRefused(reason) from error
    every = np.arange(2 + before, len(found) + len(ragged) + 2 + before, dtype=np.int64)
    lines = every[~np.isin(every, ragged)]
    return {name: found[place].combine_chunks() for name, place in places.items()}, lines


def _body(text: bytes) -> memoryview:
    """What follows the header row, without empty lines at the end."""
    return memoryview(text)[text.find(b"\n") + 1 : end_of_rows(text)]


def end_of_rows(text: bytes) -> int:
    """Where the last row that is not blank ends; tabs at its end are cells of it."""
    end = len(text)
    while end and text[end - 1] in b"\r\n \t":
        end -= 1
    line_end = text.find(b"\n", end)
    end = len(text) if line_end < 0 else line_end
    return end - (text[end - 1 : end] == b"\r")


def _refuse_open_quotes(text: bytes) -> None:
    raw = np.frombuffer(text, dtype=np.uint8)
    ends = np.flatnonzero(raw == ord("\n"))
    line_of_quote = np.searchsorted(ends, np.flatnonzero(raw == ord('"')))
    lines, counts = np.unique(line_of_quote, return_counts=True)
    odd = lines[counts % 2 == 1]
    if len(odd):
        raise FileRefused(
            "found a quote that is not closed, expected closed quotes and one row a line", row=int(odd[0]) + 1
        )


def wrong_length(found: int, expected: int) -> str:
    """What is said of a row with another number of values than the header."""
    hint = " (a decimal comma makes two values of one)" if found > expected else ""
    return f"found {counted(found, 'value')} in the row, expected {expected} as in the header{hint}"


def _row(text: bytes, at: int) -> int:
    return text.count(b"\n", 0, at) + 1

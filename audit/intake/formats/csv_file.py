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

from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.formats.habits import OURS, Habits, as_utf8, delimiter_of, encoding_of, habits_of, with_point
from audit.intake.formats.numbers_in_text import NONE_WORDS, parse, why_not_a_number
from audit.intake.formats.recognise import foreign_format, ours, table_kind
from audit.intake.formats.tables import COLUMNS, NUMBER_COLUMNS, SampleTable, SmallTable
from audit.words import counted

_BLOCK = 4 * 1024 * 1024
_CODES = pa.dictionary(pa.int32(), pa.string())
_NUMBERS = ("t_s", "fhr_bpm", "toco", "mhr_bpm")
_SAMPLE_COLUMNS = ("case_id", "fetus", *_NUMBERS)
HEADER_CHARACTERS = 20_000
_TITLE_LINES = 10  # above the header at most; our choice
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
        if head.startswith((b"\xff\xfe", b"\xfe\xff")):
            head = head[: len(head) // 2 * 2].decode("utf-16", "replace").encode("utf-8")
        text = checked_text(head[: head.rfind(b"\n") + 1] or head)
        lines = lines_before_header(text)
        if not lines:
            raise error
        return header_of(below_titles(text, lines))


def first_line(head: bytes) -> bytes:
    """The first row of a file of which only the first bytes are at hand. Raises FileRefused as `checked_text`."""
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        head = head[: len(head) // 2 * 2].decode("utf-16", "replace").encode("utf-8")
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
            if len(long) > max_characters:
                column = columns[row.index(long)]
                reason = f"found a value of {len(long):,} characters, expected at most {max_characters:,}"
                raise FileRefused(reason, row=here, column=column)
            if len(rows) >= max_rows:
                raise FileRefused(f"found more than {max_rows:,} rows, expected fewer: split the file")
            rows.append(row)
            numbers.append(here)
    except csv.Error as error:
        raise FileRefused("not well-formed CSV, expected closed quotes and one row a line", row=at) from error
    if not rows and not remarks.rows_rejected:
        raise FileRefused("found a header and no rows, expected at least one row of data")
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
        raise FileRefused("found a header and no rows, expected at least one row of data")
    try:
        table = pacsv.read_csv(pa.BufferReader(_body(text)), **_options(columns, written, bulk=True))
    except pa.ArrowInvalid:
        return _read_samples_as_text(text, columns, remarks, written)
    return SampleTable(
        case_id=_one(table["case_id"]),
        fetus=_one(table["fetus"]) if "fetus" in columns else None,
        t_s=_floats(table["t_s"]),
        fhr_bpm=_floats(table["fhr_bpm"]),
        toco=_floats(table["toco"]),
        mhr_bpm=_floats(table["mhr_bpm"]) if "mhr_bpm" in columns else None,
        row_numbers=np.arange(2, len(table) + 2, dtype=np.int64),
    )


def _read_samples_as_text(text: bytes, columns: Sequence[str], remarks: Remarks, written: Habits) -> SampleTable:
    ragged: list[tuple[int, int, bool]] = []

    def on_ragged(row: pacsv.InvalidRow) -> str:
        ragged.append((row.number + 1, row.actual_columns, not row.text.strip()))  # counted from 1 below the header
        return "skip"

    parts: dict[str, list[pa.Array]] = {name: [] for name in _SAMPLE_COLUMNS if name in columns}
    parsed: dict[str, list[np.ndarray]] = {name: [] for name in columns if name in _NUMBERS}
    bad: dict[str, list[tuple[int, str]]] = {name: [] for name in columns if name in _NUMBERS}
    rows = 0
    try:
        with pacsv.open_csv(
            pa.BufferReader(_body(text)), **_options(columns, written, bulk=False, on_ragged=on_ragged)
        ) as stream:
            for batch in stream:
                for name in parts:
                    if name in parsed:
                        found = parse(batch.column(name), written.decimal)
                        parsed[name].append(found.numbers)
                        bad[name] += [(rows + int(k), t) for k, t in zip(found.bad_at, found.bad_text, strict=True)]
                    else:
                        parts[name].append(batch.column(name).dictionary_encode())
                rows += len(batch)
    except pa.ArrowInvalid as error:
        raise FileRefused("not well-formed CSV, expected one row a line of less than 4 MiB") from error
    lines = _line_numbers(rows, [number for number, _, _ in ragged])
    for number, count, blank in ragged:
        if not blank:
            remarks.reject_row(number, wrong_length(count, len(columns)))
    _say_bad_numbers(bad, parsed, lines, remarks, written.decimal)
    return _assembled(parts, parsed, lines)


def _say_bad_numbers(
    bad: dict[str, list[tuple[int, str]]],
    parsed: dict[str, list[np.ndarray]],
    lines: np.ndarray,
    remarks: Remarks,
    decimal: str,
) -> None:
    without_time = {k for k, _ in bad["t_s"]}
    for name, found in bad.items():
        if name != "t_s":
            left = [(int(lines[k]), text) for k, text in found if k not in without_time]
            rows, texts = [row for row, _ in left], [text for _, text in left]
            remarks.reject_values(rows, name, texts, (why_not_a_number(text, decimal) for text in texts))
    # A row without a readable time is rejected with it, here, where its text is known: the time is marked infinite.
    times = parsed["t_s"]
    starts = np.cumsum([0, *(len(part) for part in times)])
    for k, text in bad["t_s"]:
        piece = int(np.searchsorted(starts, k, side="right")) - 1
        times[piece][k - starts[piece]] = -np.inf
        remarks.reject_row(int(lines[k]), why_not_a_number(text, decimal), "t_s", text)


def _assembled(parts: dict[str, list[pa.Array]], parsed: dict[str, list[np.ndarray]], lines: np.ndarray) -> SampleTable:
    codes = {name: pa.chunked_array(found, _CODES) for name, found in parts.items() if name not in parsed}
    numbers = {name: np.concatenate(found) if found else np.empty(0) for name, found in parsed.items()}
    return SampleTable(
        case_id=_one(codes["case_id"]),
        fetus=_one(codes["fetus"]) if "fetus" in codes else None,
        t_s=numbers["t_s"],
        fhr_bpm=numbers["fhr_bpm"],
        toco=numbers["toco"],
        mhr_bpm=numbers.get("mhr_bpm"),
        row_numbers=lines,
    )


def _options(columns: Sequence[str], written: Habits, *, bulk: bool, on_ragged: object = None) -> dict[str, object]:
    numbers = pa.float64() if bulk else pa.string()
    codes = _CODES if bulk else pa.string()
    types = {name: numbers if name in _NUMBERS else codes for name in _SAMPLE_COLUMNS if name in columns}
    return {
        "read_options": pacsv.ReadOptions(column_names=list(columns), block_size=_BLOCK, use_threads=bulk),
        "parse_options": pacsv.ParseOptions(
            delimiter=written.delimiter, ignore_empty_lines=False, invalid_row_handler=on_ragged
        ),
        "convert_options": pacsv.ConvertOptions(
            column_types=types,
            include_columns=list(types),
            null_values=list(NONE_WORDS),
            strings_can_be_null=False,
            check_utf8=False,
            decimal_point=written.decimal,
        ),
    }


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


def _line_numbers(rows: int, skipped: list[int]) -> np.ndarray:
    """Lines of the rows that were kept; `skipped` are lines of the rows that were not."""
    every = np.arange(2, rows + len(skipped) + 2, dtype=np.int64)
    return every[~np.isin(every, np.array(skipped, dtype=np.int64))] if skipped else every


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


def _one(column: pa.ChunkedArray) -> pa.DictionaryArray:
    joined = column.unify_dictionaries().combine_chunks() if column.num_chunks else pa.array([], _CODES)
    return joined.chunk(0) if isinstance(joined, pa.ChunkedArray) else joined


def _floats(column: pa.ChunkedArray) -> np.ndarray:
    return np.asarray(column.to_numpy(), dtype=np.float64)


def _row(text: bytes, at: int) -> int:
    return text.count(b"\n", 0, at) + 1

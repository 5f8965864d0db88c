"""A unit's own export under its mapping: their columns become ours, still as text, with the line of each row."""

import csv
import re
from collections.abc import Mapping as Map
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from audit.errors import SettingsError
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.formats import csv_file, mapped_parquet, parquet_file
from audit.intake.formats.habits import DELIMITERS, Habits, encoding_of, habits_of
from audit.intake.formats.tables import BETWEEN_SEVERAL, OPTIONAL, REQUIRED, SEVERAL_COLUMNS
from audit.setting_tables.mapping import CHANNELS, EXTRA_COLUMNS, Mapping

_SIGNS = {"tab": "\t"}
_CODECS = {"UTF-8": "utf-8-sig", "UTF-16": "utf-16", "Windows-1252": "cp1252"}
_MAY_BE_ABSENT = ("toco",)  # a tracing without it is one without contractions


@dataclass(frozen=True)
class MappedTable:
    """The file's rows under our names (and `date`), each as text; a line stands several times in a wide file."""

    columns: dict[str, pa.Array]
    row_numbers: NDArray[np.int64]
    written: Habits
    in_a_cell: Map[str, int] = field(default_factory=dict)  # samples of a channel, told from a whole large file

    def taken(self, rows: NDArray[Any]) -> "MappedTable":
        """Some of the rows."""
        at = pa.array(rows)
        return replace(
            self,
            columns={name: column.take(at) for name, column in self.columns.items()},
            row_numbers=self.row_numbers[rows],
        )


def check_mapping(name: str, mapping: Mapping, file: str) -> None:
    """Raise SettingsError unless every column that a mapping names is one of its kind, and none that it needs lacks."""
    known = {*REQUIRED[mapping.kind], *OPTIONAL[mapping.kind], *EXTRA_COLUMNS}
    where = f"{file}: import.mapping.{name}"
    parts: list[tuple[str, Map[str, Any]]] = [("columns", mapping.columns), ("units", mapping.units)]
    parts += [("constant", mapping.constant), ("words", mapping.words)]
    parts += [("samples", mapping.samples)]
    parts += [(f"fetus.{fetus}", columns) for fetus, columns in mapping.fetus.items()]
    for part, keys in parts:
        for key in keys:
            if key not in known:
                raise SettingsError(
                    f"{where}.{part}.{key}: no column of {mapping.kind}, expected one of {', '.join(sorted(known))}"
                )
    have = {
        *mapping.columns,
        *mapping.constant,
        *mapping.samples,
        *(key for columns in mapping.fetus.values() for key in columns),
    }
    have |= {"case_id"} if mapping.case_id_from_file else set()
    lacking = [key for key in REQUIRED[mapping.kind] if key not in have and key not in _MAY_BE_ABSENT]
    if lacking:
        raise SettingsError(
            f"{where}.columns: missing {', '.join(lacking)}, expected {', '.join(REQUIRED[mapping.kind])}"
        )


def fits(first_row: bytes, mapping: Mapping) -> bool:
    """Whether a file's header row has the columns of a mapping."""
    first_row = csv_file.in_narrow_letters(first_row)
    try:
        theirs = header_of(_decoded(first_row[: first_row.rfind(b"\n") + 1] or first_row, mapping), mapping)[0]
    except (FileRefused, UnicodeError):
        return False
    return not [name for name in needed(mapping) if name not in theirs]


def fits_parquet(source: pa.NativeFile, mapping: Mapping) -> bool:
    """Whether a Parquet file has the columns of a mapping."""
    try:
        theirs = [plain(name) for name in parquet_file.column_names(source)]
    except FileRefused:
        return False
    return not [name for name in needed(mapping) if name not in theirs]


def read_mapped(data: bytes, file_name: str, mapping: Mapping, remarks: Remarks, max_mib: int) -> MappedTable:
    """Read a whole file. Rows with too many or too few values go to `remarks`. Raises FileRefused."""
    wanted = needed(mapping)
    if data.startswith(mapped_parquet.MAGIC):
        named = parquet_file.column_names(pa.BufferReader(data))
        theirs = [plain(name) for name in named]
        refuse_lacking(theirs, mapping)
        say_unread(theirs, mapping, remarks)
        written = Habits(decimal="," if mapping.decimal == "," else ".")
        places = [named[theirs.index(name)] for name in wanted]
        texts = mapped_parquet.text_columns(data, places, written.decimal, mapping.samples_between, max_mib)
        table, lines = dict(zip(wanted, texts, strict=True)), np.arange(2, len(texts[0]) + 2, dtype=np.int64)
    else:
        text = _decoded(data, mapping)
        theirs, delimiter = header_of(text, mapping)
        refuse_lacking(theirs, mapping)
        say_unread(theirs, mapping, remarks)
        table, lines = rows_in(text, theirs, delimiter, mapping, remarks, wanted)
        written = _habits(text, theirs, delimiter, mapping, data)
        remarks.message(written.sentence())
    return under_our_names(table, lines, file_name, mapping, written)


def refuse_lacking(theirs: list[str], mapping: Mapping) -> None:
    """Raise FileRefused unless the file has all columns that the mapping reads."""
    lacking = [k for k, name in enumerate(needed(mapping), start=1) if name not in theirs]
    if lacking:
        raise FileRefused(
            f"{len(lacking)} of the {len(needed(mapping))} columns that the mapping names are not in the file"
            f" (their places in it: {', '.join(map(str, lacking))}); expected all of them in the header",
            row=mapping.lines_before_header + 1,
        )


def say_unread(theirs: list[str], mapping: Mapping, remarks: Remarks) -> None:
    """Say how many columns are not stored."""
    unread = len(theirs) - len(set(needed(mapping)))
    if unread:
        remarks.message(f"columns that the mapping does not name are not stored: {unread} of {len(theirs)}")


def under_our_names(
    table: dict[str, pa.Array], lines: NDArray[np.int64], file_name: str, mapping: Mapping, written: Habits
) -> MappedTable:
    """Their columns, by their names as they are compared, as ours: words and fetuses as the mapping has them."""
    columns = {ours: table[plain(name)] for ours, name in mapping.columns.items()}
    for ours, names in mapping.samples.items():
        columns |= {f"{ours}.{k}": table[plain(name)] for k, name in enumerate(names)}
    if mapping.case_id_from_file:
        columns["case_id"] = _repeated(_case_id(file_name, mapping), len(lines))
    columns |= {ours: _repeated(value, len(lines)) for ours, value in mapping.constant.items()}
    found = _with_fetuses(columns, table, lines, mapping)
    for ours, words in mapping.words.items():
        if ours in found.columns:
            found.columns[ours] = _reworded(found.columns[ours], words, several=ours in SEVERAL_COLUMNS)
    return replace(found, written=written)


def _decoded(data: bytes, mapping: Mapping) -> bytes:
    if mapping.encoding == "auto":
        text = csv_file.checked_text(data)
    else:
        try:
            text = data.decode(_CODECS[mapping.encoding]).encode("utf-8")
        except UnicodeError as error:
            raise FileRefused(f"not {mapping.encoding}, as the mapping says", row=1) from error
    if text.count(b"\n") < mapping.lines_before_header:
        raise FileRefused(
            f"found fewer than the {mapping.lines_before_header} lines before the header that the mapping names"
        )
    return csv_file.below_titles(text, mapping.lines_before_header)


def header_of(text: bytes, mapping: Mapping) -> tuple[list[str], str]:
    """Their columns as they are compared, and the sign between them."""
    first = text[: text.find(b"\n") if b"\n" in text else len(text)].rstrip(b"\r")
    if len(first) > csv_file.HEADER_CHARACTERS:
        raise FileRefused("found a very long first row, expected a header row of column names", row=1)
    line = first.decode("utf-8")
    sign = _SIGNS.get(mapping.delimiter, mapping.delimiter)
    if sign == "auto":
        read = set(needed(mapping))
        sign = max(DELIMITERS, key=lambda each: len(read.intersection(_names(line, each))))
    names = _names(line, sign)
    for k, name in enumerate(names):
        if names.index(name) != k and name in needed(mapping):
            raise FileRefused(
                f"columns {names.index(name) + 1} and {k + 1} have the same name, expected it once", row=1
            )
    return names, sign


def _names(line: str, sign: str) -> list[str]:
    try:
        return [plain(name) for name in next(csv.reader([line], delimiter=sign), [])]
    except csv.Error:
        return []


def plain(name: str) -> str:
    """A name or word as it is compared."""
    return " ".join(name.casefold().split())


def needed(mapping: Mapping) -> list[str]:
    """Their columns that the mapping reads, each once."""
    named = [*mapping.columns.values(), *(name for names in mapping.samples.values() for name in names)]
    named += [*(name for columns in mapping.fetus.values() for name in columns.values())]
    return list(dict.fromkeys(plain(name) for name in named))


def rows_in(
    text: bytes, theirs: list[str], delimiter: str, mapping: Mapping, remarks: Remarks, wanted: Sequence[str]
) -> tuple[dict[str, pa.Array], NDArray[np.int64]]:
    """The rows below a header, by their names, each cell as text, with the line of each. Raises FileRefused."""
    blank, before = f"{delimiter} \r\n", mapping.lines_before_header
    return csv_file.rows_as_text(text, theirs, delimiter, remarks, wanted, before=before, blank=blank)


def _habits(text: bytes, theirs: list[str], delimiter: str, mapping: Mapping, data: bytes) -> Habits:
    encoding = encoding_of(data) if mapping.encoding == "auto" else mapping.encoding
    if mapping.decimal != "auto":
        return Habits(delimiter, mapping.decimal, encoding)
    try:
        return habits_of(text, with_a_mark(theirs, mapping), delimiter, encoding)
    except FileRefused as error:
        error.move(mapping.lines_before_header)
        raise


def with_a_mark(theirs: list[str], mapping: Mapping) -> list[str]:
    """The file's columns by our names, nameless where a comma or a point is no decimal mark."""
    ours = {plain(name): key for key, name in mapping.columns.items()}
    ours |= {plain(name): key for key, names in mapping.samples.items() for name in names}
    if mapping.samples_between:  # a cell of several numbers says nothing of the decimal mark
        ours = {name: key for name, key in ours.items() if key not in CHANNELS}
    ours |= {plain(name): key for columns in mapping.fetus.values() for key, name in columns.items()}
    without_mark = {
        key for key, unit in mapping.units.items() if unit in ("clock", "weeks+days", "lb+oz", "date", "duration")
    }
    return [ours.get(name, "") if ours.get(name, "") not in without_mark else "" for name in theirs]


def _case_id(file_name: str, mapping: Mapping) -> str:
    found = re.search(mapping.case_id_from_file, file_name)
    if found is None or not found[1]:
        raise FileRefused(
            "the file's name, with its ending, does not fit import.mapping.case_id_from_file, which gives the case id"
        )
    return found[1]


def _with_fetuses(
    columns: dict[str, pa.Array], table: dict[str, pa.Array], lines: NDArray[np.int64], mapping: Mapping
) -> MappedTable:
    """Each row once for every fetus that has something in its own columns; once where the file is not wide."""
    unwritten = Habits()
    if not mapping.fetus:
        return MappedTable(columns, lines, unwritten)
    parts: list[MappedTable] = []
    for fetus, theirs in sorted(mapping.fetus.items()):
        own = {key: table[plain(name)] for key, name in theirs.items()}
        given = np.zeros(len(lines), dtype=bool)
        for column in own.values():
            given |= np.asarray(pc.not_equal(pc.utf8_trim_whitespace(column), "").to_numpy(zero_copy_only=False))
        one = MappedTable({**columns, **own, "fetus": _repeated(fetus, len(lines))}, lines, unwritten)
        if mapping.kind == "tracing":  # a gap in a fetus's signal is part of its tracing
            case_id = columns["case_id"].to_pylist() if "case_id" in columns else [""] * len(lines)
            with_signal = {name for name, has in zip(case_id, given.tolist(), strict=True) if has}
            given = np.array([name in with_signal for name in case_id], dtype=bool)
        elif fetus == min(mapping.fetus):
            given[:] = True
        parts.append(one.taken(np.flatnonzero(given)))
    names = sorted({name for part in parts for name in part.columns})
    joined = {
        name: pa.concat_arrays([part.columns.get(name, _repeated("", len(part.row_numbers))) for part in parts])
        for name in names
    }
    return MappedTable(joined, np.concatenate([part.row_numbers for part in parts]), unwritten)


def _reworded(column: pa.Array, words: dict[str, str], *, several: bool) -> pa.Array:
    """Their words as ours: of whole cells, and where a cell may hold several also one by one."""
    coded = column.dictionary_encode()
    known = {plain(word): ours for word, ours in words.items()}

    def ours(text: str) -> str:
        whole = known.get(plain(text))
        if whole is not None or not several:
            return text if whole is None else whole
        return ",".join(known.get(plain(piece), piece) for piece in re.split(BETWEEN_SEVERAL, text))

    said = pa.array([None if text is None else ours(text) for text in coded.dictionary.to_pylist()], pa.string())
    return said.take(coded.indices)


def _repeated(text: str, count: int) -> pa.Array:
    return pa.repeat(pa.scalar(text, pa.string()), count)

"""Parquet files: the same columns as CSV, with types. Calendar types, nested and binary columns are refused."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.formats.csv_file import twice
from audit.intake.formats.numbers_in_text import parse, why_not_a_number
from audit.intake.formats.tables import COLUMNS, SampleTable, SmallTable

_CODES = pa.dictionary(pa.int32(), pa.string())
_NUMBERS = ("t_s", "fhr_bpm", "toco", "mhr_bpm")
_MIB = 1024 * 1024


def column_names(path: Path) -> list[str]:
    """The columns of a Parquet file in lower case. Raises FileRefused when it is damaged."""
    try:
        return [str(name).strip().casefold() for name in pq.read_schema(path).names]
    except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
        raise FileRefused(f"not a whole Parquet file ({type(error).__name__})") from error


def parquet_rows(path: Path) -> int:
    """Rows of a Parquet file, 0 when it is damaged (which is told when it is read)."""
    try:
        return int(pq.read_metadata(path).num_rows)
    except (pa.ArrowException, OSError):
        return 0


def parquet_values(path: Path) -> int:
    """Values of its fullest column, more than rows where a cell holds several; 0 when it is damaged."""
    try:
        file = pq.read_metadata(path)
    except (pa.ArrowException, OSError):
        return 0
    groups = [file.row_group(k) for k in range(file.num_row_groups)]
    return max((int(sum(group.column(k).num_values for group in groups)) for k in range(file.num_columns)), default=0)


class ParquetTable:
    """An opened Parquet file: `columns` in lower case, in the file's order."""

    def __init__(self, source: pa.NativeFile, max_mib: int) -> None:
        """Raises FileRefused for what is damaged, too large once unpacked, or has columns that cannot be ours."""
        try:
            self._file = pq.ParquetFile(source)
            schema = self._file.schema_arrow
            groups = [self._file.metadata.row_group(k) for k in range(self._file.num_row_groups)]
        except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
            raise FileRefused(f"not a whole Parquet file ({type(error).__name__}); export or copy it again") from error
        if sum(group.total_byte_size for group in groups) > max_mib * _MIB:
            raise FileRefused(f"unpacks to more than {max_mib:,} MiB, expected less: split it by case")
        self.columns = [str(name).strip().casefold() for name in schema.names]
        self._ours = {name: found for found, name in zip(schema.names, self.columns, strict=True) if name in COLUMNS}
        for k, name in enumerate(self.columns):
            if self.columns.index(name) != k:
                raise twice(self.columns, k)
        for field, name in zip(schema, self.columns, strict=True):
            if name in COLUMNS:
                _refuse_type(name, field.type)
        if self._file.metadata.num_rows == 0:
            raise FileRefused("found no rows, expected at least one row of data")

    def read_small(self, remarks: Remarks, max_rows: int, max_characters: int) -> SmallTable:
        """All rows as Python values."""
        if self._file.metadata.num_rows > max_rows:
            raise FileRefused(f"found more than {max_rows:,} rows, expected fewer: split the file")
        table = self._read()
        columns: dict[str, list[Any]] = {}
        for name, column in zip(table.column_names, table.columns, strict=True):
            columns[name] = _values(column)
            for k, value in enumerate(columns[name]):
                if isinstance(value, str) and len(value) > max_characters:
                    raise FileRefused(
                        f"found a value of {len(value):,} characters, expected at most {max_characters:,}",
                        row=k + 2,
                        column=name,
                    )
        return SmallTable(columns, list(range(2, len(table) + 2)))

    def read_samples(self, remarks: Remarks) -> SampleTable:
        """The samples of a tracing file."""
        return self._samples(self._read(), 0, remarks)

    def sample_blocks(self, remarks: Remarks, rows: int) -> Iterator[SampleTable]:
        """The samples of a tracing file, at most `rows` at a time."""
        before = 0
        try:
            for batch in self._file.iter_batches(batch_size=rows, columns=list(self._ours.values())):
                yield self._samples(self._named(pa.Table.from_batches([batch])), before, remarks)
                before += len(batch)
        except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
            raise FileRefused(f"not a whole Parquet file ({type(error).__name__}); export or copy it again") from error

    @property
    def rows(self) -> int:
        """Number of rows."""
        return int(self._file.metadata.num_rows)

    def _samples(self, table: pa.Table, before: int, remarks: Remarks) -> SampleTable:
        lines = np.arange(before + 2, before + len(table) + 2, dtype=np.int64)
        numbers = {name: _numbers(name, table[name], lines, remarks) for name in _NUMBERS if name in self._ours}
        case_id, fetus = (_codes(table[name]) if name in self._ours else None for name in ("case_id", "fetus"))
        assert case_id is not None
        return SampleTable(
            case_id, fetus, numbers["t_s"], numbers["fhr_bpm"], numbers["toco"], numbers.get("mhr_bpm"), lines
        )

    def _read(self) -> pa.Table:
        """The columns that are ours; no other one is looked at."""
        try:
            return self._named(self._file.read(columns=list(self._ours.values())))
        except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
            raise FileRefused(f"not a whole Parquet file ({type(error).__name__}); export or copy it again") from error

    def _named(self, table: pa.Table) -> pa.Table:
        names = {found: name for name, found in self._ours.items()}
        return table.rename_columns([names[found] for found in table.column_names])


def _values(column: pa.ChunkedArray) -> list[Any]:
    """Python values; of numbers kept in 16 or 32 bits what they print as, so that 7.10 stays 7.10."""
    if not (pa.types.is_float16(column.type) or pa.types.is_float32(column.type)):
        return list(column.to_pylist())
    narrow = np.float16 if pa.types.is_float16(column.type) else np.float32
    return [None if value is None else float(str(narrow(value))) for value in column.to_pylist()]


def _codes(column: pa.ChunkedArray) -> pa.DictionaryArray:
    text = column.cast(pa.string()) if not pa.types.is_dictionary(column.type) else column.cast(_CODES)
    joined = pc.fill_null(text.cast(pa.string()), "").dictionary_encode().unify_dictionaries().combine_chunks()
    return joined.chunk(0) if isinstance(joined, pa.ChunkedArray) else joined


def _refuse_type(name: str, kind: pa.DataType) -> None:
    if pa.types.is_temporal(kind):
        raise FileRefused(
            "found the type of a calendar, expected seconds from the case's first sample as a number",
            row=1,
            column=name,
        )
    if pa.types.is_binary(kind) or pa.types.is_large_binary(kind) or pa.types.is_fixed_size_binary(kind):
        raise FileRefused("found bytes, expected text or numbers", row=1, column=name)
    if pa.types.is_nested(kind):
        raise FileRefused("found the type of a list or record, expected one value in each row", row=1, column=name)


def _numbers(name: str, column: pa.ChunkedArray, lines: np.ndarray, remarks: Remarks) -> np.ndarray:
    kind = column.type
    if pa.types.is_boolean(kind):
        raise FileRefused("found yes and no, expected numbers", row=1, column=name)
    if pa.types.is_dictionary(kind):
        column = column.cast(kind.value_type)
        kind = kind.value_type
    if not (pa.types.is_string(kind) or pa.types.is_large_string(kind) or pa.types.is_string_view(kind)):
        return np.array(column.cast(pa.float64(), safe=False).to_numpy(), dtype=np.float64)
    found = parse(column)
    for k, text in zip(found.bad_at, found.bad_text, strict=True):
        if name == "t_s":
            found.numbers[k] = -np.inf
            remarks.reject_row(int(lines[k]), why_not_a_number(text), name, text)
        else:
            remarks.reject_value(int(lines[k]), name, text, why_not_a_number(text))
    return found.numbers

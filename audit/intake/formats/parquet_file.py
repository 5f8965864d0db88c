"""Parquet files: the same columns as CSV, with types. Calendar types, nested and binary columns are refused."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.formats.csv_file import NUMBERS, refuse_long, twice
from audit.intake.formats.numbers_in_text import numbers_told
from audit.intake.formats.tables import CODES, COLUMNS, SampleTable, SmallTable, in_one_piece

_MIB = 1024 * 1024


@contextmanager
def refused_if_damaged() -> Iterator[None]:
    """Raise FileRefused for what no whole Parquet file leads to."""
    try:
        yield
    except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
        raise FileRefused(f"not a whole Parquet file ({type(error).__name__}); export or copy it again") from error


def column_names(source: Path | pa.NativeFile) -> list[str]:
    """The columns as the file has them. Raises FileRefused when it is damaged."""
    with refused_if_damaged():
        return [str(name) for name in pq.read_schema(source).names]


def rows_and_values(path: Path) -> tuple[int, int]:
    """Rows of a file, and values of its fullest column, which are more where a cell holds several.

    0 when it is damaged, which is told when it is read.
    """
    try:
        file = pq.read_metadata(path)
    except (pa.ArrowException, OSError):
        return 0, 0
    groups = [file.row_group(k) for k in range(file.num_row_groups)]
    values = (int(sum(group.column(k).num_values for group in groups)) for k in range(file.num_columns))
    return int(file.num_rows), max(values, default=0)


def opened(source: pa.NativeFile, max_mib: int) -> pq.ParquetFile:
    """An open file. Raises FileRefused for one that is damaged, without rows or too large once unpacked."""
    with refused_if_damaged():
        file = pq.ParquetFile(source)
        groups = [file.metadata.row_group(k) for k in range(file.num_row_groups)]
    if sum(group.total_byte_size for group in groups) > max_mib * _MIB:
        raise FileRefused(f"unpacks to more than {max_mib:,} MiB, expected less: split it by case")
    if file.metadata.num_rows == 0:
        raise FileRefused("found no rows, expected at least one row of data")
    return file


class ParquetTable:
    """An opened Parquet file: `columns` in lower case, in the file's order."""

    def __init__(self, source: pa.NativeFile, max_mib: int) -> None:
        """Raises FileRefused for what is damaged, too large once unpacked, or has columns that cannot be ours."""
        self._file = opened(source, max_mib)
        with refused_if_damaged():
            schema = self._file.schema_arrow
        self.columns = [str(name).strip().casefold() for name in schema.names]
        self._ours = {name: found for found, name in zip(schema.names, self.columns, strict=True) if name in COLUMNS}
        for k, name in enumerate(self.columns):
            if self.columns.index(name) != k:
                raise twice(self.columns, k)
        for field, name in zip(schema, self.columns, strict=True):
            if name in COLUMNS:
                _refuse_type(name, field.type)

    def read_small(self, remarks: Remarks, max_rows: int, max_characters: int) -> SmallTable:
        """All rows as Python values."""
        if self._file.metadata.num_rows > max_rows:
            raise FileRefused(f"found more than {max_rows:,} rows, expected fewer: split the file")
        table = self._read()
        columns: dict[str, list[Any]] = {}
        for name, column in zip(table.column_names, table.columns, strict=True):
            columns[name] = _values(column)
            for k, value in enumerate(columns[name]):
                if isinstance(value, str):
                    refuse_long(value, max_characters, k + 2, name)
        return SmallTable(columns, list(range(2, len(table) + 2)))

    def read_samples(self, remarks: Remarks) -> SampleTable:
        """The samples of a tracing file."""
        return self._samples(self._read(), 0, remarks)

    def sample_blocks(self, remarks: Remarks, rows: int) -> Iterator[SampleTable]:
        """The samples of a tracing file, at most `rows` at a time."""
        before = 0
        with refused_if_damaged():
            for batch in self._file.iter_batches(batch_size=rows, columns=list(self._ours.values())):
                yield self._samples(self._named(pa.Table.from_batches([batch])), before, remarks)
                before += len(batch)

    @property
    def rows(self) -> int:
        """Number of rows."""
        return int(self._file.metadata.num_rows)

    def _samples(self, table: pa.Table, before: int, remarks: Remarks) -> SampleTable:
        lines = np.arange(before + 2, before + len(table) + 2, dtype=np.int64)
        numbers = {name: _numbers(name, table[name], lines, remarks) for name in NUMBERS if name in self._ours}
        case_id, fetus = (_codes(table[name]) if name in self._ours else None for name in ("case_id", "fetus"))
        assert case_id is not None
        return SampleTable.of(case_id, fetus, numbers, lines)

    def _read(self) -> pa.Table:
        """The columns that are ours; no other one is looked at."""
        with refused_if_damaged():
            return self._named(self._file.read(columns=list(self._ours.values())))

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
    text = column.cast(pa.string()) if not pa.types.is_dictionary(column.type) else column.cast(CODES)
    return in_one_piece(pc.fill_null(text.cast(pa.string()), "").dictionary_encode())


def _refuse_type(name: str, kind: pa.DataType) -> None:
    if pa.types.is_temporal(kind):
        found = "found the type of a calendar, expected seconds from the case's first sample as a number"
        raise FileRefused(found, row=1, column=name)
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
    return numbers_told(column, name, ".", lines, remarks)

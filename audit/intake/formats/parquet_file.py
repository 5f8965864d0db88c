"""Parquet files: the same columns as CSV, with types. Calendar types, nested and binary columns are refused."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from audit.intake.door import deidentify
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.formats.numbers_in_text import parse, why_not_a_number
from audit.intake.formats.tables import SampleTable, SmallTable

_CODES = pa.dictionary(pa.int32(), pa.string())
_NUMBERS = ("t_s", "fhr_bpm", "toco", "mhr_bpm")
_MIB = 1024 * 1024


def column_names(path: Path) -> list[str]:
    """The columns of a Parquet file in lower case. Raises FileRefused when it is damaged."""
    try:
        return [str(name).strip().casefold() for name in pq.read_schema(path).names]
    except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
        raise FileRefused(f"not a whole Parquet file ({_short(error)})") from error


def parquet_rows(path: Path) -> int:
    """Rows of a Parquet file, 0 when it is damaged (which is told when it is read)."""
    try:
        return int(pq.read_metadata(path).num_rows)
    except (pa.ArrowException, OSError):
        return 0


class ParquetTable:
    """An opened Parquet file: `columns` in lower case, in the file's order."""

    def __init__(self, source: pa.NativeFile, max_mib: int) -> None:
        """Raises FileRefused for what is damaged, too large once unpacked, or has columns that cannot be ours."""
        try:
            self._file = pq.ParquetFile(source)
            schema = self._file.schema_arrow
            groups = [self._file.metadata.row_group(k) for k in range(self._file.num_row_groups)]
        except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
            raise FileRefused(f"not a whole Parquet file ({_short(error)}); export or copy it again") from error
        if sum(group.total_byte_size for group in groups) > max_mib * _MIB:
            raise FileRefused(f"unpacks to more than {max_mib:,} MiB, expected less: split it by case")
        self._names = list(schema.names)
        self.columns = [str(name).strip().casefold() for name in self._names]
        for k, name in enumerate(self.columns):
            if self.columns.index(name) != k:
                raise FileRefused(f"the column {name[:40]} stands twice, expected it once", row=1, column=name)
        deidentify.refuse_column_names(self._names)
        for field, name in zip(schema, self.columns, strict=True):
            _refuse_type(name, field.type)
        if self._file.metadata.num_rows == 0:
            raise FileRefused("found no rows, expected at least one row of data")

    def read_small(self, remarks: Remarks, max_rows: int, max_characters: int) -> SmallTable:
        """All rows as Python values."""
        if self._file.metadata.num_rows > max_rows:
            raise FileRefused(f"found more than {max_rows:,} rows, expected fewer: split the file")
        table = self._read(self._names)
        columns: dict[str, list[Any]] = {}
        for name, column in zip(self.columns, table.columns, strict=True):
            columns[name] = column.to_pylist()
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
        return self._samples(self._read(self._names), 0, remarks)

    def sample_blocks(self, remarks: Remarks, rows: int) -> Iterator[SampleTable]:
        """The samples of a tracing file, at most `rows` at a time."""
        before = 0
        try:
            for batch in self._file.iter_batches(batch_size=rows):
                yield self._samples(pa.Table.from_batches([batch]), before, remarks)
                before += len(batch)
        except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
            raise FileRefused(f"not a whole Parquet file ({_short(error)}); export or copy it again") from error

    @property
    def rows(self) -> int:
        """Number of rows."""
        return int(self._file.metadata.num_rows)

    def _samples(self, table: pa.Table, before: int, remarks: Remarks) -> SampleTable:
        table = table.rename_columns(self.columns)
        for name in self.columns:
            if name not in _NUMBERS and name not in ("case_id", "fetus"):
                self._look_through(name, table[name])
        lines = np.arange(before + 2, before + len(table) + 2, dtype=np.int64)
        numbers = {name: _numbers(name, table[name], lines, remarks) for name in _NUMBERS if name in self.columns}
        case_id, fetus = (
            self._codes(name, table[name]) if name in self.columns else None for name in ("case_id", "fetus")
        )
        assert case_id is not None
        return SampleTable(
            case_id, fetus, numbers["t_s"], numbers["fhr_bpm"], numbers["toco"], numbers.get("mhr_bpm"), lines
        )

    def _read(self, names: Sequence[str]) -> pa.Table:
        try:
            return self._file.read(columns=list(names))
        except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
            raise FileRefused(f"not a whole Parquet file ({_short(error)}); export or copy it again") from error

    def _codes(self, name: str, column: pa.ChunkedArray) -> pa.DictionaryArray:
        text = column.cast(pa.string()) if not pa.types.is_dictionary(column.type) else column.cast(_CODES)
        joined = pc.fill_null(text.cast(pa.string()), "").dictionary_encode().unify_dictionaries().combine_chunks()
        codes = joined.chunk(0) if isinstance(joined, pa.ChunkedArray) else joined
        self._refuse_identifiers(name, codes)
        return codes

    def _look_through(self, name: str, column: pa.ChunkedArray) -> None:
        """Look for identifiers in a column that is reported and not stored."""
        kind = column.type
        if (
            pa.types.is_floating(kind)
            or pa.types.is_boolean(kind)
            or pa.types.is_null(kind)
            or pa.types.is_nested(kind)
        ):
            return
        self._codes(name, column)

    def _refuse_identifiers(self, name: str, codes: pa.DictionaryArray) -> None:
        first = codes.indices.to_numpy(zero_copy_only=False)
        for k, value in enumerate(codes.dictionary.to_pylist()):
            kind = deidentify.identifier_in(value or "", code=name in ("case_id", "fetus"))
            if kind is not None:
                raise deidentify.refusal(kind, int(np.argmax(first == k)) + 2, name, value)


def _refuse_type(name: str, kind: pa.DataType) -> None:
    if pa.types.is_temporal(kind):
        raise FileRefused(
            f"found the calendar type {kind}, expected seconds from the case's first sample as a number",
            row=1,
            column=name,
        )
    if pa.types.is_binary(kind) or pa.types.is_large_binary(kind) or pa.types.is_fixed_size_binary(kind):
        raise FileRefused(f"found the type {kind}, expected text or numbers", row=1, column=name)
    if pa.types.is_nested(kind):
        raise FileRefused(f"found the nested type {kind}, expected one value in each row", row=1, column=name)


def _numbers(name: str, column: pa.ChunkedArray, lines: np.ndarray, remarks: Remarks) -> np.ndarray:
    kind = column.type
    if pa.types.is_boolean(kind):
        raise FileRefused(f"found the type {kind}, expected numbers", row=1, column=name)
    if pa.types.is_dictionary(kind):
        column = column.cast(kind.value_type)
        kind = kind.value_type
    if not (pa.types.is_string(kind) or pa.types.is_large_string(kind) or pa.types.is_string_view(kind)):
        return np.array(column.cast(pa.float64(), safe=False).to_numpy(), dtype=np.float64)
    found = parse(column)
    for k, text in zip(found.bad_at, found.bad_text, strict=True):
        identifier = deidentify.identifier_in(text)
        if identifier is not None:
            raise deidentify.refusal(identifier, int(lines[k]), name, text)
        if name == "t_s":
            found.numbers[k] = -np.inf
            remarks.reject_row(int(lines[k]), why_not_a_number(text), name, text)
        else:
            remarks.reject_value(int(lines[k]), name, text, why_not_a_number(text))
    return found.numbers


def _short(error: Exception) -> str:
    text = str(error).strip().splitlines()
    return (text[0] if text else type(error).__name__)[:120]

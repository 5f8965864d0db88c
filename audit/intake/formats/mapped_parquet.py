"""A Parquet file that is read under a mapping: the columns that it names as the text that a CSV would hold."""

from collections.abc import Iterator
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc

from audit.intake.door.remarks import FileRefused
from audit.intake.formats.parquet_file import opened, refused_if_damaged

MAGIC = b"PAR1"


def text_columns(data: bytes, names: list[str], decimal: str, between: str, max_mib: int) -> list[pa.Array]:
    """Columns as text, empty where nothing is: numbers with the decimal mark, times as ISO 8601 has them, lists joined.

    Raises FileRefused for a damaged file, one that unpacks to more than `max_mib`, one without rows, and for types that
    no text stands for.
    """
    with refused_if_damaged():
        table = opened(pa.BufferReader(data), max_mib).read(columns=names)
        return [_as_text(table[name].combine_chunks(), decimal, between) for name in names]


def text_blocks(
    path: Path, names: list[str], decimal: str, between: str, max_mib: int, values: int
) -> Iterator[list[pa.Array]]:
    """The same of a large file, some rows at a time, about as many as hold `values`. Raises as `text_columns`."""
    with refused_if_damaged():
        file = opened(pa.memory_map(str(path)), max_mib)
        groups = [file.metadata.row_group(k) for k in range(file.num_row_groups)]
        most = max(group.column(k).num_values for group in groups for k in range(group.num_columns))
        in_a_row = max(1, most // max(1, max(group.num_rows for group in groups)))
        for batch in file.iter_batches(batch_size=max(1, values // in_a_row), columns=names):
            yield [_as_text(batch.column(name), decimal, between) for name in names]


def _as_text(column: pa.Array, decimal: str, between: str) -> pa.Array:
    kind = column.type
    if pa.types.is_dictionary(kind):
        column, kind = column.cast(kind.value_type), kind.value_type
    if pa.types.is_list(kind) or pa.types.is_large_list(kind):
        lists = column.cast(pa.list_(kind.value_type))
        values = _as_text(lists.values, decimal, "")
        values = pc.if_else(pc.equal(values, ""), pa.scalar("NaN", pa.string()), values)  # keeps its place in the cell
        texts = pc.binary_join(pa.ListArray.from_arrays(lists.offsets, values), pa.scalar(between or " ", pa.string()))
        return pc.if_else(lists.is_valid(), texts.fill_null(""), pa.scalar("", pa.string()))
    if pa.types.is_nested(kind) or pa.types.is_binary(kind) or pa.types.is_large_binary(kind):
        raise FileRefused("found bytes or records, expected text, numbers, times or lists of numbers", row=1)
    if pa.types.is_duration(kind):
        micro_s = column.cast(pa.duration("us"), safe=False).cast(pa.int64()).to_pylist()
        return pa.array(["" if each is None else f"PT{each / 1e6:.6f}S" for each in micro_s], pa.string())
    text = column.cast(pa.string())
    number = pa.types.is_floating(kind) or pa.types.is_decimal(kind)
    if number and decimal == ",":
        text = pc.replace_substring(text, ".", ",")
    if pa.types.is_floating(kind):
        text = pc.if_else(pc.is_nan(column), pa.scalar("", pa.string()), text)
    return pc.fill_null(text, "")

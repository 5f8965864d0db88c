"""A Parquet file that is read under a mapping: the columns that it names as the text that a CSV would hold."""

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from audit.intake.door.remarks import FileRefused

MAGIC = b"PAR1"
_MIB = 1024 * 1024


def column_names(data: pa.NativeFile) -> list[str]:
    """The columns as the file has them. Raises FileRefused when it is damaged."""
    try:
        return [str(name) for name in pq.read_schema(data).names]
    except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
        raise FileRefused(f"not a whole Parquet file ({type(error).__name__})") from error


def text_columns(data: bytes, names: list[str], decimal: str, between: str, max_mib: int) -> list[pa.Array]:
    """Columns as text, empty where nothing is: numbers with the decimal mark, times as ISO 8601 has them, lists joined.

    Raises FileRefused for a damaged file, one that unpacks to more than `max_mib`, one without rows, and for types that
    no text stands for.
    """
    try:
        file = pq.ParquetFile(pa.BufferReader(data))
        groups = [file.metadata.row_group(k) for k in range(file.num_row_groups)]
        if sum(group.total_byte_size for group in groups) > max_mib * _MIB:
            raise FileRefused(f"unpacks to more than {max_mib:,} MiB, expected less: split it by case")
        if file.metadata.num_rows == 0:
            raise FileRefused("found no rows, expected at least one row of data")
        table = file.read(columns=names)
        return [_as_text(table[name].combine_chunks(), decimal, between) for name in names]
    except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
        raise FileRefused(f"not a whole Parquet file ({type(error).__name__}); export or copy it again") from error


def _as_text(column: pa.Array, decimal: str, between: str) -> pa.Array:
    kind = column.type
    if pa.types.is_dictionary(kind):
        column, kind = column.cast(kind.value_type), kind.value_type
    if pa.types.is_list(kind) or pa.types.is_large_list(kind):
        lists = column.cast(pa.list_(kind.value_type))
        values = _as_text(lists.values, decimal, "")
        values = pc.if_else(pc.equal(values, ""), pa.scalar("NaN", pa.string()), values)  # keeps its place in the cell
        lists = pa.ListArray.from_arrays(lists.offsets, values, mask=lists.is_null())
        return pc.binary_join(lists, pa.scalar(between or " ", pa.string())).fill_null("")
    if pa.types.is_nested(kind) or pa.types.is_binary(kind) or pa.types.is_large_binary(kind):
        raise FileRefused("found bytes or records, expected text, numbers, times or lists of numbers", row=1)
    text = column.cast(pa.string())
    number = pa.types.is_floating(kind) or pa.types.is_decimal(kind)
    if number and decimal == ",":
        text = pc.replace_substring(text, ".", ",")
    if pa.types.is_floating(kind):
        text = pc.if_else(pc.is_nan(column), pa.scalar("", pa.string()), text)
    return pc.fill_null(text, "")

"""Several samples of a channel in one row of a file, in columns side by side or in one cell."""

from collections.abc import Mapping

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.formats.conversions import channel

FloatArray = NDArray[np.float64]
_MOST = 1000  # samples of a row


def side_by_side(
    columns: list[pa.Array],
    name: str,
    decimal: str,
    no_signal: tuple[str, ...],
    lines: NDArray[np.int64],
    remarks: Remarks,
) -> FloatArray:
    """The samples of a channel, row by row and in a row from left to right; NaN = no signal."""
    return np.stack([channel(each, name, decimal, no_signal, lines, remarks) for each in columns], axis=1).ravel()


def in_cells(
    column: pa.Array,
    between: str,
    name: str,
    decimal: str,
    no_signal: tuple[str, ...],
    lines: NDArray[np.int64],
    remarks: Remarks,
    usual: int | None = None,
) -> FloatArray:
    """The samples of a channel whose cells hold several; an empty cell is a row without signal.

    The usual count of a file's cells is that of every row: a cell with another count is kept out and told. `usual`: of
    the whole file, where the column is a part of it. Raises FileRefused for more than 1000 samples a row.
    """
    split, given, lengths = _split(column, between)
    count = int(np.argmax(_counts(given, lengths))) if usual is None else usual
    if not count:
        return np.full(len(column), np.nan)
    if count > _MOST:
        raise FileRefused(f"found more than {_MOST} samples in a cell, expected fewer", column=name)
    good = np.flatnonzero(given & (lengths == count))
    for k in np.flatnonzero(given & (lengths != count)).tolist():
        said = f"found {lengths[k]} samples in the cell, expected {count} as in most rows"
        remarks.reject_value(int(lines[k]), name, None, said)
    cells = split.take(pa.array(good)).flatten()
    found = np.full((len(column), count), np.nan)
    found[good] = channel(cells, name, decimal, no_signal, np.repeat(lines[good], count), remarks).reshape(-1, count)
    return found.ravel()


def counts_in_cells(column: pa.Array, between: str) -> NDArray[np.int64]:
    """How many cells have how many samples, by that number; parts of a file are added up."""
    _, given, lengths = _split(column, between)
    return _counts(given, lengths)


def _split(column: pa.Array, between: str) -> tuple[pa.Array, NDArray[np.bool_], NDArray[np.int64]]:
    """The cells' samples, which cells have some, and how many."""
    text = pc.utf8_trim_whitespace(column)
    given = np.asarray(pc.not_equal(text, "").to_numpy(zero_copy_only=False), dtype=bool)
    split = pc.split_pattern(text, between) if between.strip() else pc.utf8_split_whitespace(text)
    lengths = np.asarray(pc.list_value_length(split).to_numpy(zero_copy_only=False), dtype=np.int64)
    return split, given, lengths


def _counts(given: NDArray[np.bool_], lengths: NDArray[np.int64]) -> NDArray[np.int64]:
    return np.asarray(np.bincount(np.minimum(lengths[given], _MOST + 1), minlength=_MOST + 2), dtype=np.int64)


def alike(numbers: Mapping[str, FloatArray], rows: int) -> tuple[int, dict[str, FloatArray]]:
    """How many samples a row has, and every channel with so many: of a slower one each holds until the next.

    Raises FileRefused where one count is no multiple of another. All arrays have a whole number of samples a row.
    """
    most = max(len(values) for values in numbers.values())
    for name, values in numbers.items():
        if not rows or most % len(values):
            raise FileRefused(f"found samples that share no step with the other channels: {name}", column=name)
    return most // rows, {name: np.repeat(values, most // len(values)) for name, values in numbers.items()}

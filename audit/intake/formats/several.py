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
) -> FloatArray:
    """The samples of a channel whose cells hold several; an empty cell is a row without signal.

    The usual count of a file's cells is that of every row: a cell with another count is kept out and told. Raises
    FileRefused when there is no signal at all, and for more than 1000 samples a row.
    """
    text = pc.utf8_trim_whitespace(column)
    given = np.asarray(pc.not_equal(text, "").to_numpy(zero_copy_only=False), dtype=bool)
    split = pc.split_pattern(text, between) if between.strip() else pc.utf8_split_whitespace(text)
    lengths = np.asarray(pc.list_value_length(split).to_numpy(zero_copy_only=False), dtype=np.int64)
    if not given.any():
        return np.full(len(text), np.nan)
    counts = np.bincount(np.minimum(lengths[given], _MOST + 1))
    count = int(np.argmax(counts))
    if count > _MOST:
        raise FileRefused(f"found more than {_MOST} samples in a cell, expected fewer", column=name)
    good = np.flatnonzero(given & (lengths == count))
    for k in np.flatnonzero(given & (lengths != count)).tolist():
        said = f"found {lengths[k]} samples in the cell, expected {count} as in most rows"
        remarks.reject_value(int(lines[k]), name, None, said)
    cells = split.take(pa.array(good)).flatten()
    found = np.full((len(text), count), np.nan)
    found[good] = channel(cells, name, decimal, no_signal, np.repeat(lines[good], count), remarks).reshape(-1, count)
    return found.ravel()


def alike(numbers: Mapping[str, FloatArray], rows: int) -> tuple[int, dict[str, FloatArray]]:
    """How many samples a row has, and every channel with so many: of a slower one each holds until the next.

    Raises FileRefused where one count is no multiple of another. All arrays have a whole number of samples a row.
    """
    most = max(len(values) for values in numbers.values())
    for name, values in numbers.items():
        if not rows or most % len(values):
            raise FileRefused(f"found samples that share no step with the other channels: {name}", column=name)
    return most // rows, {name: np.repeat(values, most // len(values)) for name, values in numbers.items()}

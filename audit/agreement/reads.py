"""From a list of reads to a grid of windows by readers."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from audit.agreement.arrays import FloatArray, IntArray
from audit.agreement.scales import Scale, answer_text
from audit.errors import UsageError, one_of
from audit.vocabulary import NOT_ASSESSABLE

WindowKey = tuple[str, str, float, float]  # case_id, fetus, start_s, end_s
MISSING = -1


@dataclass(frozen=True)
class ReadsTable:
    """Reads as columns of one length, one entry per read, people only: the computed reading never stands here.

    A later entry for the same window, reader and occasion replaces an earlier one (corrections are new rows).
    """

    case_id: Sequence[str]
    fetus: Sequence[str]
    start_s: Sequence[float]
    end_s: Sequence[float]
    reader: Sequence[str]
    occasion: Sequence[int | None]  # 1 = first read, 2 = repeat; None counts as 1
    value: Sequence[Any]  # None or NaN = this item was not answered

    def __post_init__(self) -> None:
        lengths = {name: len(getattr(self, name)) for name in self.__dataclass_fields__}
        if len(set(lengths.values())) > 1:
            raise UsageError(f"columns of reads have different lengths: {lengths}")

    def __len__(self) -> int:
        return len(self.case_id)

    def rows(self, wanted: Sequence[int]) -> "ReadsTable":
        """The reads at the given positions."""
        return ReadsTable(*([getattr(self, name)[row] for row in wanted] for name in self.__dataclass_fields__))


def window_key(case_id: str, fetus: str, start_s: float, end_s: float) -> WindowKey:
    """The identity of a window; times to the millisecond, so that a round trip through text changes nothing."""
    return str(case_id), str(fetus), round(float(start_s), 3), round(float(end_s), 3)


@dataclass(frozen=True)
class RepeatReads:
    """One reader's first and second read of the same windows."""

    windows: IntArray  # positions in ReadGrid.windows
    first: FloatArray  # codes or numbers, as in ReadGrid.values
    second: FloatArray


@dataclass(frozen=True)
class ReadGrid:
    """First reads as a grid. For categories a value is a code, `len(scale.categories)` being 'not assessable'."""

    scale: Scale
    windows: tuple[WindowKey, ...]
    readers: tuple[str, ...]
    cases: tuple[str, ...]
    case_index: IntArray  # (n_windows,) position in cases
    values: FloatArray  # (n_windows, n_readers), NaN = no read
    repeats: Mapping[str, RepeatReads] = field(default_factory=dict)

    @property
    def codes(self) -> IntArray:
        """Values as whole codes, MISSING where there is no read; for categories only."""
        return np.where(np.isnan(self.values), MISSING, self.values).astype(np.int64)

    @property
    def used_not_assessable(self) -> bool:
        """Whether any first read says 'not assessable'."""
        return bool((self.values == len(self.scale.categories)).any())


def arrange(reads: ReadsTable, scale: Scale) -> ReadGrid:
    """Lay reads out as windows by readers.

    `reads`: the reads of one item and standard. `scale`: the item's scale.
    Gives ReadGrid. A reader's earliest occasion fills the grid and the next one is the repeat; windows and readers
    without any answer are left out.
    Raises UsageError: an answer that is not on the scale.
    """
    answers: dict[tuple[WindowKey, str], dict[int, float]] = {}
    columns = (reads.case_id, reads.fetus, reads.start_s, reads.end_s, reads.reader, reads.occasion, reads.value)
    for case_id, fetus, start_s, end_s, reader, occasion, value in zip(*columns, strict=True):
        code = code_of(value, scale)
        if code is not None:
            place = (window_key(case_id, fetus, start_s, end_s), str(reader))
            answers.setdefault(place, {})[1 if occasion is None else int(occasion)] = code
    windows = tuple(sorted({key for key, _ in answers}))
    readers = tuple(sorted({reader for _, reader in answers}))
    cases = tuple(sorted({key[0] for key in windows}))
    row = {key: position for position, key in enumerate(windows)}
    column = {reader: position for position, reader in enumerate(readers)}
    case = {case_id: position for position, case_id in enumerate(cases)}
    values = np.full((len(windows), len(readers)), np.nan)
    again: dict[str, list[tuple[int, float, float]]] = {}
    for (key, reader), by_occasion in answers.items():
        first, *later = sorted(by_occasion)
        values[row[key], column[reader]] = by_occasion[first]
        if later:
            again.setdefault(reader, []).append((row[key], by_occasion[first], by_occasion[later[0]]))
    index = np.array([case[key[0]] for key in windows], dtype=np.int64)
    return ReadGrid(scale, windows, readers, cases, index, values, {r: _repeats(again[r]) for r in sorted(again)})


def _repeats(found: list[tuple[int, float, float]]) -> RepeatReads:
    table = np.array(sorted(found), float)
    return RepeatReads(table[:, 0].astype(np.int64), table[:, 1], table[:, 2])


def code_of(value: Any, scale: Scale) -> float | None:
    """An answer as code or number; None when there is no answer. 'not assessable' is no number.

    Raises UsageError for an answer that is not on the scale.
    """
    if scale.kind == "number":
        text = answer_text(scale.item, value)
        if text is None or text == NOT_ASSESSABLE:
            return None
        try:
            number = float(text)
        except ValueError as error:
            raise UsageError(f"{scale.item}: found {value!r}, expected a number") from error
        if not np.isfinite(number):
            raise UsageError(f"{scale.item}: found {value!r}, expected a finite number")
        return number
    text = answer_text(scale.item, value)
    if text is None:
        return None
    if text == NOT_ASSESSABLE:
        return float(len(scale.categories))
    one_of(scale.item, text, scale.categories)
    return float(scale.categories.index(text))


def codes_of(computed: Mapping[WindowKey, Any], grid: ReadGrid) -> FloatArray:
    """The computed answer to each window of a grid, as `code_of` has it; NaN where there is none."""
    answers = [code_of(computed.get(key), grid.scale) for key in grid.windows]
    return np.array([np.nan if code is None else code for code in answers], float)


def category_counts(codes: IntArray, categories: int) -> FloatArray:
    """How many readers chose each category in each window.

    `codes`: shape (n_windows, n_readers); codes outside 0 to categories - 1 count as no read. `categories`: number of
    categories.
    Gives an array of shape (n_windows, categories).
    """
    counts = np.zeros((len(codes), categories))
    for category in range(categories):
        counts[:, category] = (codes == category).sum(axis=1)
    return counts

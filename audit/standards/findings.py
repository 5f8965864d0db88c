"""Collect which criteria were met at each mark and say so in words that carry the measured value."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from audit.standards.types import BoolArray, FloatArray, IntArray


@dataclass(frozen=True)
class Criterion:
    """One criterion at n marks: where it was met, how severe it is, its words, and when its pattern began."""

    level: int
    met: BoolArray  # (n,)
    text: Callable[..., str]
    values: tuple[FloatArray, ...]  # (n,) each, rounded to what is printed
    start_s: FloatArray | None  # (n,) NaN = unknown
    feature: str


@dataclass
class Findings:
    """The criteria met at n marks, in the order in which the guideline lists them."""

    count: int
    criteria: list[Criterion] = field(default_factory=list)

    def add(
        self,
        level: int,
        met: BoolArray,
        text: Callable[..., str],
        *values: FloatArray,
        start_s: FloatArray | None = None,
        feature: str = "",
    ) -> None:
        """Add a criterion; `text` is called with the values, in order, once per distinct set of them."""
        if met.any():
            self.criteria.append(Criterion(level, met, text, values, start_s, feature))

    def worst(self) -> IntArray:
        """The highest level met at each mark, 0 where none is."""
        result = np.zeros(self.count, dtype=np.int64)
        for criterion in self.criteria:
            np.maximum(result, criterion.level * criterion.met, out=result)
        return result

    def features_at(self, level: int) -> IntArray:
        """How many distinct features have a criterion of exactly this level at each mark."""
        result = np.zeros(self.count, dtype=np.int64)
        for feature in {c.feature for c in self.criteria}:
            met = np.zeros(self.count, dtype=bool)
            for criterion in self.criteria:
                if criterion.feature == feature and criterion.level == level:
                    met |= criterion.met
            result += met
        return result

    def start_s(self, level: int) -> FloatArray:
        """Earliest known start of the patterns that met this level or a higher one, NaN where none did."""
        result = np.full(self.count, np.inf)
        for criterion in self.criteria:
            if criterion.level >= level and criterion.start_s is not None:
                usable = criterion.met & np.isfinite(criterion.start_s)
                result[usable] = np.minimum(result[usable], criterion.start_s[usable])
        return np.where(np.isfinite(result), result, np.nan)

    def reasons(self, marks: Sequence[int]) -> list[list[str]]:
        """The words of the criteria met at each of the marks (by index), most severe first."""
        ordered = sorted(self.criteria, key=lambda c: -c.level)
        if len(marks) == 1:
            (mark,) = marks
            return [[c.text(*(value.item(mark) for value in c.values)) for c in ordered if c.met[mark]]]
        result: list[list[str]] = [[] for _ in range(self.count)]
        for criterion in ordered:
            rows = np.flatnonzero(criterion.met).tolist()
            columns = [value[criterion.met].tolist() for value in criterion.values]
            made: dict[tuple[float, ...], str] = {}
            for row, key in zip(rows, zip(*columns) if columns else [()] * len(rows)):
                words = made.get(key)
                if words is None:
                    words = made[key] = criterion.text(*key)
                result[row].append(words)
        return [result[mark] for mark in marks]

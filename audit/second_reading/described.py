"""Windows as the second reading sees them: their numbers, those of the hour that ends with them, convolutions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from audit.second_reading.convolutions import Kernels, shares_above
from audit.second_reading.numbers import window_numbers
from audit.second_reading.stretch import BEFORE_S, Labour
from audit.standards.registry import FORMER_STANDARDS, STANDARDS
from audit.standards.seen import Seen
from audit.standards.settings import StandardSettings
from audit.standards.types import FloatArray, MinuteCategories
from audit.tracing.types import Reading

Span = tuple[float, float]


@dataclass(frozen=True)
class Described:
    """n windows in three blocks; NaN = cannot say."""

    names: tuple[str, ...]  # of the numbers
    window: FloatArray  # (n, n_numbers)
    hour: FloatArray  # (n, n_numbers), the half hour before and the window
    shapes: FloatArray  # (n, n_kernels), convolutions of the same hour

    @property
    def blocks(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """The three blocks in their order."""
        return self.window, self.hour, self.shapes

    def chosen(self, rows: Sequence[int]) -> "Described":
        """Some of the windows."""
        at = list(rows)
        return Described(self.names, self.window[at], self.hour[at], self.shapes[at])


def labour_of(
    reading: Reading,
    tables: Mapping[str, StandardSettings],
    *,
    seen: Seen,
    minutes: Mapping[str, MinuteCategories] | None = None,
) -> Labour:
    """A reading with the minute categories of every standard, of those of the past too; `minutes` are those known."""
    found = dict(minutes or {})
    for name, standard in {**STANDARDS, **FORMER_STANDARDS}.items():
        if name not in found:
            found[name] = standard.minute_categories(reading, tables[name], seen=seen)
    return Labour(reading, {name: found[name] for name in sorted(found)}, seen.second_stage_s)


def numbers_of(labour: Labour, spans: Sequence[Span]) -> tuple[tuple[str, ...], FloatArray, FloatArray]:
    """Names of the numbers, the numbers of each window, and those of the hour that ends with it."""
    window = [window_numbers(labour, start_s, end_s) for start_s, end_s in spans]
    hour = [window_numbers(labour, *hour_of(span)) for span in spans]
    names = tuple(window[0]) if window else ()
    return names, _rows(window), _rows(hour)


def described(labour: Labour, spans: Sequence[Span], kernels: Kernels, limits: FloatArray) -> Described:
    """The windows of one labour.

    `spans`: [start_s, end_s) of each window, s from the first sample. `kernels`, `limits`: those of the fitted reading.
    """
    names, window, hour = numbers_of(labour, spans)
    shapes = shares_above(labour.away_1hz, kernels, limits, [hour_of(span) for span in spans])
    return Described(names, window, hour, shapes)


def hour_of(span: Span) -> Span:
    """The half hour before a window, as far as there is one, and the window."""
    return max(span[0] - BEFORE_S, 0.0), span[1]


def _rows(found: list[dict[str, float]]) -> FloatArray:
    return np.array([list(one.values()) for one in found], dtype=np.float64)

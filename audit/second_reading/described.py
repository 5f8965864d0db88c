"""Windows as the second reading sees them: their numbers, those of the hour that ends with them, convolutions.

Each is the mean over the readings of a tracing's phases (`audit.second_reading.phases`).
"""

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from audit.second_reading.convolutions import Kernels, shares_above
from audit.second_reading.numbers import window_numbers
from audit.second_reading.phases import phases_of
from audit.second_reading.stretch import BEFORE_S, Labour
from audit.standards.registry import FORMER_STANDARDS, STANDARDS
from audit.standards.seen import Seen
from audit.standards.settings import StandardSettings
from audit.standards.types import FloatArray
from audit.tracing.read import TracingSettings, read_tracing
from audit.tracing.types import Reading, Tracing

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


def labour_of(reading: Reading, tables: Mapping[str, StandardSettings], *, seen: Seen) -> Labour:
    """A reading with the minute categories of every standard, of those of the past too."""
    every = {**STANDARDS, **FORMER_STANDARDS}
    minutes = {name: every[name].minute_categories(reading, tables[name], seen=seen) for name in sorted(every)}
    return Labour(reading, minutes, seen.second_stage_s)


def labours_of(
    tracing: Tracing, settings: TracingSettings, tables: Mapping[str, StandardSettings], *, like: Seen
) -> tuple[Labour, ...]:
    """Each phase of a tracing read by itself; `like` is the reading of the whole, whose facts they share."""
    found = []
    for phase in phases_of(tracing):
        reading = read_tracing(phase, settings)
        seen = Seen(
            reading,
            gestation_weeks=like.gestation_weeks,
            second_stage_s=like.second_stage_s,
            gradual_s=settings.gradual_s,
        )
        found.append(labour_of(reading, tables, seen=seen))
    return tuple(found)


def numbers_of(labours: Sequence[Labour], spans: Sequence[Span]) -> tuple[tuple[str, ...], FloatArray, FloatArray]:
    """Names of the numbers, the numbers of each window, and those of the hour that ends with it: means of the phases.

    `spans`: [start_s, end_s) of each window, s from the first sample.
    """
    window = [[window_numbers(labour, start_s, end_s) for start_s, end_s in spans] for labour in labours]
    hour = [[window_numbers(labour, *hour_of(span)) for span in spans] for labour in labours]
    names = tuple(window[0][0]) if spans else ()
    return names, mean_of_known([_rows(one) for one in window]), mean_of_known([_rows(one) for one in hour])


def shapes_of(
    aways_1hz: Sequence[FloatArray], spans: Sequence[Span], kernels: Kernels, limits: FloatArray
) -> FloatArray:
    """The convolutions of the hour that ends with each window, means of the phases, shape (n, n_kernels).

    `aways_1hz`: of each phase, the rate minus the drawn baseline, bpm. `kernels`, `limits`: of the fitted reading.
    """
    hours = [hour_of(span) for span in spans]
    return mean_of_known([shares_above(away_1hz, kernels, limits, hours) for away_1hz in aways_1hz])


def mean_of_known(phases: Sequence[FloatArray]) -> FloatArray:
    """Mean of equally shaped arrays, without what is NaN; NaN where all are."""
    if len(phases) == 1:
        return phases[0]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # said of what no phase knows, which stays unknown
        result: FloatArray = np.nanmean(np.stack(phases), axis=0)
    return result


def hour_of(span: Span) -> Span:
    """The half hour before a window, as far as there is one, and the window."""
    return max(span[0] - BEFORE_S, 0.0), span[1]


def _rows(found: list[dict[str, float]]) -> FloatArray:
    return np.array([list(one.values()) for one in found], dtype=np.float64)

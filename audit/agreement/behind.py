"""The windows behind a figure of two columns of answers, so that each can be followed to its strips. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audit.agreement.arrays import FloatArray
from audit.agreement.consensus import consensus_values, others_consensus
from audit.agreement.options import AgreementOptions
from audit.agreement.readers import by_place
from audit.agreement.reads import MISSING, ReadGrid, WindowKey
from audit.vocabulary import NOT_ASSESSABLE

Answer = str | float


@dataclass(frozen=True)
class TwoAnswers:
    """One window with the two answers that a figure compares."""

    window: WindowKey
    first: Answer
    second: Answer


def of_pair(grid: ReadGrid, first: str, second: str) -> list[TwoAnswers]:
    """The windows that two readers both answered."""
    a, b = grid.readers.index(first), grid.readers.index(second)
    return _both(grid, grid.values[:, a], grid.values[:, b])


def of_repeats(grid: ReadGrid, reader: str) -> list[TwoAnswers]:
    """The windows that a reader answered twice, the first answer first."""
    found = grid.repeats[reader]
    first, second = (np.full(len(grid.windows), np.nan) for _ in range(2))
    first[found.windows], second[found.windows] = found.first, found.second
    return _both(grid, first, second)


def of_computed(grid: ReadGrid, answers: FloatArray, options: AgreementOptions) -> list[TwoAnswers]:
    """The windows with a consensus of the readers and a computed answer, the consensus first."""
    joint = consensus_values(grid, **options.consensus())
    return _both(grid, joint, answers)


def of_reader(grid: ReadGrid, reader: str, options: AgreementOptions) -> list[TwoAnswers]:
    """The windows that a reader answered and that have a consensus of the others, the reader's answer first."""
    place = grid.readers.index(reader)
    found = others_consensus(grid, **options.consensus(len(grid.readers) - 1))
    windows, joint = list(found)[place]
    others = np.full(len(grid.windows), np.nan)
    others[windows] = np.where(joint == MISSING, np.nan, joint)
    return _both(grid, grid.values[:, place], others)


def of_disclosure(hidden: ReadGrid, known: ReadGrid) -> list[TwoAnswers]:
    """The reads made both ways, one row per window and reader, the answer without the outcome first."""
    before, after = by_place(hidden), by_place(known)
    both = sorted(before.keys() & after.keys(), key=lambda place: (-abs(before[place] - after[place]), place))
    names, kind = hidden.scale.categories, hidden.scale.kind
    return [TwoAnswers(place[0], *_words((before[place], after[place]), names, kind)) for place in both]


def _both(grid: ReadGrid, first: FloatArray, second: FloatArray) -> list[TwoAnswers]:
    """The windows with both answers, those that differ most first."""
    names = [*grid.scale.categories, NOT_ASSESSABLE]
    there = np.flatnonzero(np.isfinite(first) & np.isfinite(second))
    order = sorted(there.tolist(), key=lambda k: (-abs(first[k] - second[k]), grid.windows[k]))
    return [TwoAnswers(grid.windows[k], *_words((first[k], second[k]), names, grid.scale.kind)) for k in order]


def _words(values: tuple[float, float], names: Sequence[str], kind: str) -> tuple[Answer, Answer]:
    first, second = values
    return (first, second) if kind == "number" else (names[int(first)], names[int(second)])

"""Does a piece of one tracing stand in another: cut elsewhere, begun later, kept at another whole rate?

Every minute of a heart rate, at one sample a second, has a number; of 64 such numbers about one is kept, chosen by
itself, so that two tracings that share ten minutes keep some of the same ones wherever each begins and ends. A tracing
of 4 Hz has four such series, and a file of 2 Hz or of 1 Hz is some of them. Fingerprints chosen by their own value:
Manber, Finding similar files in a large file system, USENIX Winter 1994, from memory. Rates that are no whole number,
and values that were averaged or rounded anew, are not found.
"""

from collections import Counter
from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.store.tracings import NO_SIGNAL, Stretch

Key = tuple[str, str]
Marks = NDArray[np.uint64]
_WINDOW_S = 60
_ONE_IN = np.uint64(64)
_LEAST_CHANGES = 10  # within a window, or a flat minute would be like every other; our choice
_LEAST_GIVEN = 30  # seconds of a window with a heart rate; our choice
_LEAST_SHARED = 3  # numbers in common; one alone already is 60 equal samples; our choice
_BASE, _MIX = 0x9E3779B97F4A7C15, np.uint64(0xD6E8FEB86659FD93)
# a mark and whose it is lie in one number, so that those of a year take half the memory: the upper bits of a number
# choose it, the lower ones are the mark
_CHOSEN_BY, _WHOSE = np.uint64(40), np.uint64(24)
_MARK, _OWNER = np.uint64(2**40 - 1), np.uint64(2**24 - 1)


def marks(stretch: Stretch) -> Marks:
    """The numbers that are kept of a stretch, in rising order; empty for a short one or a rate that is no whole one."""
    step = round(stretch.sample_rate_hz)
    if step < 1 or abs(step - stretch.sample_rate_hz) > 1e-9:
        return np.empty(0, np.uint64)
    seconds = len(stretch.fhr_cbpm) // step
    if seconds < _WINDOW_S:
        return np.empty(0, np.uint64)
    series = np.ascontiguousarray(stretch.fhr_cbpm[: seconds * step].reshape(seconds, step).T)
    powers = np.cumprod(np.full(seconds, _BASE, np.uint64))
    back = np.cumprod(np.full(seconds, pow(_BASE, -1, 2**64), np.uint64))
    numbers = _sums(series.astype(np.int64).astype(np.uint64) * powers) * back[: seconds - _WINDOW_S + 1]
    numbers ^= numbers >> np.uint64(32)
    numbers *= _MIX
    changes = _sums(np.diff(series, axis=1, prepend=series[:, :1]) != 0)
    given = _sums(series != NO_SIGNAL)
    kept = ((numbers >> _CHOSEN_BY) % _ONE_IN == 0) & (changes >= _LEAST_CHANGES) & (given >= _LEAST_GIVEN)
    found: Marks = np.unique(numbers[kept] & _MARK)
    return found


def _sums(values: NDArray[Any]) -> NDArray[Any]:
    """Sums over each window of the rows, wrapping around where the kind does."""
    ends = np.cumsum(values, axis=1, dtype=np.uint64 if values.dtype == np.uint64 else np.int64)
    before = np.zeros((len(ends), 1), ends.dtype)
    found: NDArray[Any] = ends[:, _WINDOW_S - 1 :] - np.concatenate([before, ends[:, :-_WINDOW_S]], axis=1)
    return found


class SharedPieces:
    """The marks of many tracings, and whose they are."""

    def __init__(self) -> None:
        self._keys: list[Key] = []
        self._number: dict[Key, int] = {}
        self._parts: list[Marks] = []  # marks with whose they are, each part sorted, the larger ones first

    def add(self, key: Key, found: Iterable[Marks]) -> None:
        """Keep a tracing's marks in mind."""
        number = self._number.setdefault(key, len(self._keys))
        if number == len(self._keys):
            self._keys.append(key)
        self._parts.extend((new << _WHOSE) | np.uint64(number) for new in found if len(new))
        while len(self._parts) > 1 and len(self._parts[-2]) < 2 * len(self._parts[-1]):
            together = np.concatenate([self._parts.pop(), self._parts.pop()])
            together.sort(kind="stable")  # two rising runs: this kind merges them
            self._parts.append(together)

    def like(self, found: Marks) -> list[Key]:
        """Whose tracings share a piece with these marks."""
        shared: Counter[int] = Counter()
        for known in self._parts:
            at = np.searchsorted(known, found << _WHOSE)
            there = found[known[np.minimum(at, len(known) - 1)] >> _WHOSE == found] << _WHOSE
            ends = np.searchsorted(known, there), np.searchsorted(known, there | _OWNER, "right")
            for first, end in zip(*(each.tolist() for each in ends), strict=True):
                shared.update(set((known[first:end] & _OWNER).tolist()))
        return [self._keys[number] for number, count in shared.items() if count >= _LEAST_SHARED]

"""Decelerations that come back: the share of contractions that have one, and since when."""

from dataclasses import dataclass, replace
from itertools import count

import numpy as np

from audit.setting_types import Limit
from audit.standards.basics import Basics, share
from audit.standards.falls import Falls
from audit.standards.types import BoolArray, FloatArray, IntArray
from audit.tracing.types import Contraction

LOOK_BACK_S = 10_800.0  # the longest pattern that is looked for; our choice


@dataclass(frozen=True)
class Contractions:
    """Contractions in order of time, as arrays of shape (n_contractions,)."""

    onset_s: FloatArray
    peak_s: FloatArray
    end_s: FloatArray


@dataclass(frozen=True)
class Accompanied:
    """Which contractions have a deceleration of a given sort, and when that was known."""

    end_s: FloatArray  # (n_contractions,) ends of all contractions, ascending
    index: IntArray  # (k,) the accompanied ones, ascending
    known_s: FloatArray  # (k,) when both the contraction and the deceleration's kind had been seen
    onset_s: FloatArray  # (k,) onset of the deceleration
    fall_end_s: FloatArray  # (k,) its end
    another: BoolArray  # (k,) another deceleration than that of the accompanied contraction before it


@dataclass(frozen=True)
class Recurrence:
    """How a pattern of decelerations stands at each mark. All arrays (n_marks,)."""

    contractions: FloatArray  # in the trailing window
    accompanied: FloatArray  # of these, with such a deceleration
    fraction: FloatArray  # NaN = too few contractions, or toco not usable
    met: BoolArray  # the fraction meets the limit
    start_s: FloatArray  # onset of the first deceleration of the pattern, NaN where it is not met
    until_s: FloatArray  # the mark while the pattern goes on, else the end of its last deceleration; NaN likewise

    @property
    def minutes(self) -> FloatArray:
        """How long the pattern had lasted at each mark, min; 0 where it is not met."""
        return np.where(self.met, (self.until_s - self.start_s) / 60.0, 0.0)

    def only(self, here: BoolArray) -> "Recurrence":
        """The same, not met outside `here`."""
        met = self.met & here
        start, until = np.where(met, self.start_s, np.nan), np.where(met, self.until_s, np.nan)
        return replace(self, met=met, start_s=start, until_s=until)


def contraction_arrays(contractions: tuple[Contraction, ...]) -> Contractions:
    """The contractions as arrays."""
    return Contractions(
        np.array([c.onset_s for c in contractions], dtype=np.float64),
        np.array([c.peak_s for c in contractions], dtype=np.float64),
        np.array([c.end_s for c in contractions], dtype=np.float64),
    )


def together(contractions: Contractions, falls: Falls) -> BoolArray:
    """Whether each contraction goes with each fall, or has its peak inside it, shape (n_contractions, n_falls)."""
    inside = (contractions.peak_s[:, None] >= falls.onset_s) & (contractions.peak_s[:, None] < falls.end_s)
    inside |= np.arange(contractions.peak_s.size)[:, None] == falls.contraction
    result: BoolArray = inside
    return result


def accompanied_by(
    contractions: Contractions, falls: Falls, pairs: BoolArray, chosen: BoolArray, known_s: FloatArray
) -> Accompanied:
    """Contractions that go with a chosen fall, or whose peak lies inside one.

    `pairs` is what `together` gives; `known_s` is when each fall could be recognised as one of the chosen sort.
    """
    inside = pairs & chosen
    index = np.flatnonzero(inside.any(axis=1))
    if index.size == 0:
        none = known_s[index]
        return Accompanied(contractions.end_s, index, none, none, none, chosen[index])
    first = np.argmin(np.where(inside[index], known_s, np.inf), axis=1)
    known = np.maximum(known_s[first], contractions.end_s[index])
    another = np.diff(first, prepend=-1) != 0
    return Accompanied(contractions.end_s, index, known, falls.onset_s[first], falls.end_s[first], another)


def recurrence(
    accompanied: Accompanied,
    basics: Basics,
    *,
    limit: Limit,
    window_min: float,
    minimum: Limit,
    toco_usable: Limit,
) -> Recurrence:
    """Whether decelerations recur at each mark, and since when.

    Parameters
    ----------
    accompanied : contractions with a deceleration of the sort in question.
    basics : the marks, and where windows of events begin.
    limit : share of contractions that makes decelerations recurrent or repetitive, with the operator of the standard.
    window_min : min, the trailing window in which contractions are counted (a contraction counts once it has ended).
    minimum : number of contractions that the window must hold, else too few to say.
    toco_usable : share of the window with usable toco, else its contractions are unknown.

    Notes
    -----
    The pattern's start is the onset of the earliest deceleration from which, up to the mark, the share of contractions
    still meets the limit. So a pattern that pauses and comes back within the window is one pattern. One deceleration
    is no pattern, however many contractions fall into it: the texts speak of decelerations. A pattern goes on to the
    mark until the next deceleration is overdue by the spacing of the window's contractions; from then on its length
    ends with its last deceleration (our choice).
    """
    at_s = basics.at_s
    start = np.maximum(at_s - window_min * 60.0, basics.floor_s)
    ended = np.searchsorted(accompanied.end_s, at_s, side="right")
    before = np.searchsorted(accompanied.end_s, start, side="right")
    number = (ended - before).astype(np.float64)
    usable = minimum.met(number) & toco_usable.met(share(basics.summed.toco_s, start, at_s))
    if not accompanied.index.size:
        none, never = np.zeros(at_s.size), np.full(at_s.size, np.nan)
        return Recurrence(number, none, _share(none, number, usable), none > 0, never, never)
    known = np.searchsorted(np.sort(accompanied.known_s), at_s, side="right")
    known_before = np.searchsorted(accompanied.end_s[accompanied.index], start, side="right")
    hits = np.maximum(known - known_before, 0).astype(np.float64)
    fraction = _share(hits, number, usable)
    met = limit.met(fraction) & _several(accompanied, known_before, known)
    begun = _pattern_start(accompanied, at_s, met, ended, known_before, known, limit, minimum)
    ends = np.append(np.maximum.accumulate(accompanied.fall_end_s), np.nan)
    last = np.minimum(ends[known - 1], at_s)
    until = np.where(at_s - last <= _spacing_s(accompanied.end_s, before, ended), at_s, last)
    return Recurrence(number, hits, fraction, met, np.where(met, begun, np.nan), np.where(met, until, np.nan))


def _share(hits: FloatArray, number: FloatArray, usable: BoolArray) -> FloatArray:
    """Hits of so many contractions; NaN where no share can be given."""
    with np.errstate(divide="ignore", invalid="ignore"):  # a unit may have set that none are enough
        return hits / np.where(usable, number, np.nan)


def _spacing_s(end_s: FloatArray, first: IntArray, stop: IntArray) -> FloatArray:
    """Mean time between the ends of the contractions [first, stop); 0 of one alone."""
    padded = np.append(end_s, 0.0)
    result: FloatArray = (padded[stop - 1] - padded[first]) / np.maximum(stop - first - 1, 1)
    return result


def _several(accompanied: Accompanied, first: IntArray, stop: IntArray) -> BoolArray:
    """Whether the accompanied contractions [first, stop) have more than one deceleration."""
    changes = np.append(0, np.cumsum(accompanied.another))
    inside = np.minimum(first + 1, accompanied.index.size)
    result: BoolArray = changes[np.maximum(stop, inside)] > changes[inside]
    return result


def in_number(limit: Limit, minimum: float) -> int:
    """How many decelerations would meet the limit with the fewest contractions that a share is given for."""
    return next(k for k in count(1) if limit.met_by(k / max(minimum, 1.0)))


def unplaced(
    pattern: Recurrence,
    falls: Falls,
    here: BoolArray,
    *,
    limit: Limit,
    minimum: float,
) -> FloatArray:
    """How many decelerations could make a pattern that the toco does not allow to see; 0 where none could.

    `pattern`: how the same decelerations recur as far as the toco shows it. `here`: shape (n_marks, n_falls), the
    chosen decelerations that each window shows. `limit`, `minimum`: as in `recurrence`.

    Where no share can be given, all of them; elsewhere those during which the toco could not be used, if each of them
    with a contraction of its own would bring the share to the limit.
    """
    if not here.any():
        return np.zeros(len(here))
    blind = here & (~np.isfinite(pattern.fraction)[:, None] | ~falls.toco_usable)
    number = blind.sum(axis=1).astype(np.float64)
    highest = (pattern.accompanied + number) / np.maximum(pattern.contractions + number, 1.0)
    possible = ~np.isfinite(pattern.fraction) | limit.met(highest)
    return np.where(~pattern.met & possible & (number >= in_number(limit, minimum)), number, 0.0)


def _pattern_start(
    accompanied: Accompanied,
    at_s: FloatArray,
    met: BoolArray,
    ended: IntArray,
    known_before: IntArray,
    known: IntArray,
    limit: Limit,
    minimum: Limit,
) -> FloatArray:
    result = np.full(at_s.size, np.nan)
    rows = np.flatnonzero(met)
    if rows.size == 0:
        return result
    order = np.arange(accompanied.index.size)
    number = (ended[rows, None] - accompanied.index[None, :]).astype(np.float64)
    hits = (known[rows, None] - order[None, :]).astype(np.float64)
    holds = limit.met(_share(hits, number, minimum.met(number)))
    holds &= accompanied.onset_s[None, :] > at_s[rows, None] - LOOK_BACK_S
    first = np.argmax(holds, axis=1)
    # The window meets the limit, so some pattern does; where only the window as a whole does, it starts with the
    # first accompanied contraction that the window holds.
    chosen = np.where(holds.any(axis=1), first, known_before[rows])
    result[rows] = accompanied.onset_s[chosen]
    return result

"""Small numbers in tables that share sums: which counts are hidden so that no sum that can be known tells one."""

from collections.abc import Collection, Hashable, Mapping, Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

Key = TypeVar("Key", bound=Hashable)
_DRAWN_AIMS = 8
_NEAR = 1e-6  # of a linear program's numbers


def hide_with_sums(
    counts: Mapping[Key, int],
    sums: Sequence[Mapping[Key, int]],
    *,
    hidden: Collection[Key],
    least: int,
    last: Collection[Key] = (),
) -> set[Key]:
    """Which counts are hidden so that no sum that can be known gives one of `hidden` away.

    Parameters
    ----------
    counts : every count of all the tables that can be laid side by side: of each month, and of all months together.
    sums : each a sum that is known, as the factor of each count in it; a total that is a count itself has -1, and the
        sum is 0. hidden : those hidden for themselves. least : as everywhere here. last : those that are only hidden
        where no other would do, such as of all months together.

    Returns
    -------
    `hidden` and more, the smallest first, until each of `hidden` above 0 can have several values for all that the sums
    say, and the hidden parts of each sum add up to `least` or more, as long as it has others to hide.

    Notes
    -----
    Complementary suppression in tables with common margins: Hundepool et al., Statistical Disclosure Control, 2012,
    ch. 4 (from memory).
    """
    gone = set(hidden)
    while True:
        more = _behind_small_sums(counts, sums, gone, least, last)
        for key in () if more else told(counts, sums, gone, [key for key in hidden if counts[key]]):
            more |= _nearest(counts, sums, gone, key, last)
        if not more:
            return gone
        gone |= more


def _behind_small_sums(
    counts: Mapping[Key, int], sums: Sequence[Mapping[Key, int]], gone: set[Key], least: int, last: Collection[Key]
) -> set[Key]:
    """One more of each sum whose hidden parts are alone or so few that their sum tells them nearly."""
    more = set()
    for one in sums:
        own, rest = one.keys() & gone, one.keys() - gone
        if own and rest and (len(own) == 1 or (sum(counts[key] for key in own) < least)):
            more.add(_smallest(counts, rest, last))
    return more


def _nearest(
    counts: Mapping[Key, int], sums: Sequence[Mapping[Key, int]], gone: set[Key], key: Key, last: Collection[Key]
) -> set[Key]:
    """The smallest shown count of the sums that a hidden one is in, or else of those that these lead to; or none."""
    reached, before = {key}, 0
    while len(reached) > before:
        before = len(reached)
        reached = reached.union(*(one for one in sums if one.keys() & reached))
        if rest := reached - gone - set(last):
            return {_smallest(counts, rest, last)}
    rest = reached - gone
    return {_smallest(counts, rest, last)} if rest else set()


def _smallest(counts: Mapping[Key, int], of: Collection[Key], last: Collection[Key]) -> Key:
    return min(of, key=lambda key: (key in last, counts[key] == 0, counts[key], str(key)))


def told(
    counts: Mapping[Key, int], sums: Sequence[Mapping[Key, int]], gone: Collection[Key], of: Sequence[Key]
) -> list[Key]:
    """Which of some hidden counts can have one value only, no count being below 0: linear programs over the sums.

    `counts`, `sums`: as in `hide_with_sums`. `gone`: every hidden count. `of`: those that are asked for.

    Some drawn aims show that most counts can differ by one or more; the others are asked for one by one.
    """
    gone = set(gone)
    known = [one for one in sums if one.keys() & gone]
    keys = sorted({key for one in known for key in one if key in gone}, key=str)
    place = {key: k for k, key in enumerate(keys)}
    asked = [key for key in of if key in place]
    if not asked:
        return []
    equations = np.zeros((len(known), len(keys)))
    for k, one in enumerate(known):
        for key in one.keys() & gone:
            equations[k, place[key]] = one[key]
    values = equations @ np.array([counts[key] for key in keys], dtype=float)

    def end(aim: NDArray[np.float64]) -> NDArray[np.float64]:
        # bounded, so that a count without an upper end has one too
        found = linprog(aim, A_eq=equations, b_eq=values, bounds=(0, 10 * max(counts.values()) + 10), method="highs")
        return np.asarray(found.x, dtype=float)

    draw = np.random.default_rng(0)
    seen = np.array([end(draw.standard_normal(len(keys))) for _ in range(_DRAWN_AIMS)])
    low, high = seen.min(axis=0), seen.max(axis=0)
    found = []
    for key in asked:
        k = place[key]
        for sign in (1.0, -1.0):
            if high[k] - low[k] < 1 - _NEAR:
                aim = np.zeros(len(keys))
                aim[k] = sign
                solution = end(aim)
                low, high = np.minimum(low, solution), np.maximum(high, solution)
        if high[k] - low[k] < 1 - _NEAR:
            found.append(key)
    return found

"""Small numbers in what leaves the unit: a count that could point at a person is hidden, and so is what gives it away.

A count from 1 to `least - 1` is hidden; 0 is shown. When one count of a total is hidden, the next smallest is hidden
too, because the total less the others would tell it. A minimum of 5 is common practice, no source.
"""

import math
from collections.abc import Collection, Hashable, Mapping, Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

Count = int | None
Key = TypeVar("Key", bound=Hashable)
_DRAWN_AIMS = 8
_NEAR = 1e-6  # of a linear program's numbers


def is_small(count: Count, least: int) -> bool:
    """A count that is hidden by itself."""
    return count is not None and 0 < count < least


def hide_parts(counts: Sequence[int], *, least: int) -> list[Count]:
    """The parts of one shown total, with None where hidden: never exactly one, or the total would give it away.

    Zeros are shown, unless a zero is all there is to hide a lone small part behind.
    """
    hidden = {index for index, count in enumerate(counts) if is_small(count, least)}
    if len(hidden) == 1 or (hidden and sum(counts[index] for index in hidden) < least):
        others = sorted((index for index in range(len(counts)) if index not in hidden), key=lambda i: (counts[i], i))
        behind = [index for index in others if counts[index] > 0] or others
        hidden |= set(behind[:1])
    return [None if index in hidden else count for index, count in enumerate(counts)]


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
        for key in () if more else _told(counts, sums, gone, [key for key in hidden if counts[key]]):
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


def _told(counts: Mapping[Key, int], sums: Sequence[Mapping[Key, int]], gone: set[Key], of: Sequence[Key]) -> list[Key]:
    """Which hidden counts can have one value only, no count being below 0: linear programs over the sums.

    Some drawn aims show that most counts can differ by one or more; the others are asked for one by one.
    """
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
    told = []
    for key in asked:
        k = place[key]
        for sign in (1.0, -1.0):
            if high[k] - low[k] < 1 - _NEAR:
                aim = np.zeros(len(keys))
                aim[k] = sign
                solution = end(aim)
                low, high = np.minimum(low, solution), np.maximum(high, solution)
        if high[k] - low[k] < 1 - _NEAR:
            told.append(key)
    return told


def told_together(counts: Sequence[Sequence[int]], small: Sequence[bool], *, least: int) -> list[list[int]]:
    """Months in order as the stretches whose sums may leave the unit: a month that is told by itself, or several that
    are not, as soon as there are two and they add up to `least` in each column.

    A sum over months may be told when it is a sum of such stretches. They do not change when months are added, so no
    two reports differ by less than one of them. Hidden months at the end that are not yet enough are in none.
    """
    found: list[list[int]] = []
    waiting: list[int] = []
    for place, row in enumerate(counts):
        if not small[place]:
            found.append([place])
            continue
        waiting.append(place)
        if len(waiting) > 1 and all(sum(counts[k][c] for k in waiting) >= least for c in range(len(row))):
            found.append(waiting)
            waiting = []
    return found


def hides_share(numerator: Count, denominator: Count, *, least: int) -> bool:
    """Whether a share must be hidden: its numerator, the rest, or the denominator is small."""
    if numerator is None or denominator is None:
        return False
    return is_small(numerator, least) or is_small(denominator - numerator, least) or is_small(denominator, least)


def hidden_rows(rows: Sequence[Sequence[int]], *, least: int, already: Collection[int] = ()) -> set[int]:
    """Which rows of a table are hidden whole, so that none can be worked out from the others and the table's sums.

    Parameters
    ----------
    rows : counts of each row in the same columns, which add up to sums that may be known from elsewhere (in time, not
        in time). least : as everywhere here. already : rows that are hidden for another reason, such as in a table of
        the same births, from which they could be told again.

    Returns
    -------
    places of the hidden rows: none, or at least two whose counts add up to `least` or more in each column, or all.

    Notes
    -----
    Primary and complementary suppression as in Hundepool et al., Statistical Disclosure Control, 2012, ch. 4 (from
    memory); whole rows go, the smallest first.
    """
    hidden = set(already) | {place for place, counts in enumerate(rows) if any(is_small(n, least) for n in counts)}
    shown = sorted((place for place in range(len(rows)) if place not in hidden), key=lambda place: (sum(rows[place]),))
    for place in shown:
        sums = [sum(rows[k][column] for k in hidden) for column in range(len(rows[0]))]
        if not hidden or (len(hidden) > 1 and min(sums) >= least):
            break
        hidden.add(place)
    return hidden


def in_groups(values: Sequence[float], of: Sequence[Hashable], *, least: int) -> list[float] | None:
    """Each value as the mean of the neighbours it is grouped with, so that none is a single one's.

    Parameters
    ----------
    values : in any order. of : whose each is (labours). least : of how many different ones a group is at least; with 1
        the values stay as they are.

    Returns
    -------
    values in the order given, with the same sum; None where all together are of too few.

    Notes
    -----
    Micro-aggregation by the order of one variable: Defays & Nanopoulos 1993; Hundepool et al., Statistical Disclosure
    Control, 2012, ch. 3 (from memory); Glossary of Statistical Disclosure Control, UNECE/Eurostat, 2005.
    """
    if least <= 1:
        return list(values)
    groups: list[list[int]] = []
    begun: list[int] = []
    for place in sorted(range(len(values)), key=lambda k: values[k]):
        begun.append(place)
        if len({of[k] for k in begun}) >= least:
            groups.append(begun)
            begun = []
    if begun:
        if not groups:
            return None
        groups[-1] += begun
    found = [0.0] * len(values)
    for own in groups:
        mean = math.fsum(values[k] for k in own) / len(own)
        for k in own:
            # no rounding may take a mean past a limit that all its values keep
            found[k] = min(max(mean, values[own[0]]), values[own[-1]])
    return found

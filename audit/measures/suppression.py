"""Small numbers in what leaves the unit: a count that could point at a person is hidden, and so is what gives it away.

A count from 1 to `least - 1` is hidden; 0 is shown. When one count of a total is hidden, the next smallest is hidden
too, because the total less the others would tell it. A minimum of 5 is common practice, no source.
"""

import math
from collections.abc import Collection, Hashable, Sequence

Count = int | None


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


def hide_cells(rows: Sequence[Sequence[int]], *, least: int) -> list[list[Count]]:
    """A table whose row and column totals are known, with None where hidden, so that no total gives a small count away.

    Returns
    -------
    the cells: in a row or column with a hidden one at least two are hidden, and they add up to `least` or more, as long
    as it has others to hide.

    Notes
    -----
    Complementary suppression in both directions: Hundepool et al., Statistical Disclosure Control, 2012, ch. 4 (from
    memory).
    """
    places = {(r, c): count for r, row in enumerate(rows) for c, count in enumerate(row)}
    lines = [[p for p in places if p[way] == k] for way in (0, 1) for k in sorted({p[way] for p in places})]
    hidden = {place for place, count in places.items() if is_small(count, least)}
    again = True
    while again:
        again = False
        for line in lines:
            own = [place for place in line if place in hidden]
            rest = sorted((p for p in line if p not in hidden), key=lambda p: (places[p] == 0, places[p], p))
            if own and rest and (len(own) == 1 or sum(places[p] for p in own) < least):
                hidden.add(rest[0])
                again = True
    return [[None if (r, c) in hidden else count for c, count in enumerate(row)] for r, row in enumerate(rows)]


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

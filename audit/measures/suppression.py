"""Small numbers in what leaves the unit: a count that could point at a person is hidden, and so is what gives it away.

A count from 1 to `least - 1` is hidden; 0 is shown. When one count of a total is hidden, the next smallest is hidden
too, because the total less the others would tell it. A minimum of 5 is common practice, no source. Counts that stand in
several sums: `linked_sums`; times and areas: `grouped_values`.
"""

from collections.abc import Collection, Sequence

Count = int | None


def is_small(count: Count, least: int) -> bool:
    """A count that is hidden by itself."""
    return count is not None and 0 < count < least


def hide_parts(counts: Sequence[int], *, least: int, already: Collection[int] = ()) -> list[Count]:
    """The parts of one shown total, with None where hidden: never exactly one, or the total would give it away.

    Zeros are shown, unless a zero is all there is to hide a lone small part behind. `already`: places that are hidden
    for another reason.
    """
    hidden = set(already) | {index for index, count in enumerate(counts) if is_small(count, least)}
    if len(hidden) == 1 or (hidden and sum(counts[index] for index in hidden) < least):
        others = sorted((index for index in range(len(counts)) if index not in hidden), key=lambda i: (counts[i], i))
        behind = [index for index in others if counts[index] > 0] or others
        hidden |= set(behind[:1])
    return [None if index in hidden else count for index, count in enumerate(counts)]


def hides_share(numerator: Count, denominator: Count, *, least: int) -> bool:
    """Whether a share must be hidden: its numerator, the rest, or the denominator is small."""
    if numerator is None or denominator is None:
        return False
    return is_small(numerator, least) or is_small(denominator - numerator, least) or is_small(denominator, least)


def hidden_rows(rows: Sequence[Sequence[int]], *, least: int, already: Collection[int] = ()) -> set[int]:
    """Which rows of a table are hidden whole, so that none can be worked out from the others and the table's sums.

    `rows`: counts of each row in the same columns, which add up to sums that may be known from elsewhere (in time, not
    in time). `least`: as everywhere here. `already`: rows that are hidden for another reason, such as in a table of the
    same births, from which they could be told again.
    Gives places of the hidden rows: none, or at least two whose counts add up to `least` or more in each column, or
    all.

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


def sum_is_told(counts: Sequence[Sequence[int]], small: Sequence[bool], asked: Collection[int], *, least: int) -> bool:
    """Whether the sum over some of the months, in order, may leave the unit: it must be one of stretches of
    `told_together`. What a month alone hides is settled by its own counts.
    """
    if len(asked) == 1:
        return True
    together = told_together(counts, small, least=least)
    return set(asked) <= {place for stretch in together if set(asked).issuperset(stretch) for place in stretch}


def months_add_up(counts: Sequence[Sequence[int]], small: Sequence[bool], *, least: int) -> bool:
    """Whether the sum over all of some months, less those that are told month by month, tells none that is hidden.

    It does not where none is hidden, or where two or more are whose counts together are not small in any column. Sums
    over other months, some of them the same, are not thought of: `sum_is_told`.
    """
    gone = [row for row, hidden in zip(counts, small, strict=True) if hidden]
    return len(counts) == 1 or not gone or (len(gone) > 1 and not any(is_small(sum(c), least) for c in zip(*gone)))


def parts_of_months(months: Sequence[Sequence[int]], *, least: int) -> list[Count]:
    """The parts of one total, of a month or of several added up, with None where hidden.

    `months`: the parts in each month.
    Gives parts: as `hide_parts` of one month; of several a part that any of them hides only where `months_add_up`. All
    hidden where the total is small.
    """
    own = [hide_parts(month, least=least, already=_all_if_few(month, least)) for month in months]
    columns = list(zip(*months, strict=True))
    sums = [sum(column) for column in columns]
    untold = {
        place
        for place, column in enumerate(columns)
        if not months_add_up([(n,) for n in column], [shown[place] is None for shown in own], least=least)
    }
    return hide_parts(sums, least=least, already=untold | _all_if_few(sums, least))


def _all_if_few(parts: Sequence[int], least: int) -> set[int]:
    return set(range(len(parts))) if is_small(sum(parts), least) else set()

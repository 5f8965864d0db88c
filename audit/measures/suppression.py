"""Small numbers in what leaves the unit: a count that could point at a person is hidden, and so is what gives it away.

A count from 1 to `least - 1` is hidden; 0 is shown. When one count of a total is hidden, the next smallest is hidden
too, because the total less the others would tell it. A minimum of 5 is common practice, no source.
"""

from collections.abc import Sequence

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


def hides_share(numerator: Count, denominator: Count, *, least: int) -> bool:
    """Whether a share must be hidden: its numerator, the rest, or the denominator is small."""
    if numerator is None or denominator is None:
        return False
    return is_small(numerator, least) or is_small(denominator - numerator, least) or is_small(denominator, least)

"""Intervals for shares and for their difference. Source: Newcombe, Stat Med 1998;17:857-72 and 873-90."""

from math import sqrt

from scipy import stats

Interval = tuple[float, float]
# of intervals whose table in the settings names none: what is printed everywhere, so that a figure can be compared
LEVEL = 0.95


def _checked(events: int, total: int) -> None:
    if not 0 <= events <= total or total == 0:
        raise ValueError(f"{events} of {total}: expected 0 <= events <= total, and a total above 0")


def _z(level: float) -> float:
    return float(stats.norm.ppf(0.5 + level / 2.0))


def wilson_interval(events: int, total: int, level: float) -> Interval:
    """Wilson's score interval of a share.

    `events`, `total`: counts. `level`: level of the interval, for example 0.95.
    Gives low, high: 0 to 1.
    Raises ValueError: a total of 0, or events outside 0 to total.

    Newcombe 1998, method 3.
    """
    _checked(events, total)
    return wilson_of_share(events / total, total, level)


def wilson_of_share(share: float, size: float, level: float) -> Interval:
    """Wilson's interval of a share that is no count out of a total, from how many births it is worth.

    `share`: 0 to 1. `size`: effective number, share x (1 - share) / variance; above 0, whole or not. `level`: level of
    the interval, for example 0.95.
    Gives low, high: 0 to 1.
    Raises ValueError: a share or size outside its range.

    Newcombe 1998, method 3; the effective number in place of the counted one as Korn & Graubard, Surv Methodol
    1998;24:193-201 (from memory).
    """
    if not 0.0 <= share <= 1.0 or size <= 0.0:
        raise ValueError(f"share {share}, size {size}: expected 0 <= share <= 1 and a size above 0")
    z = _z(level)
    middle = 2.0 * share * size + z**2
    reach = z * sqrt(z**2 + 4.0 * size * share * (1.0 - share))
    scale = 2.0 * (size + z**2)
    low = 0.0 if share == 0.0 else (middle - reach) / scale
    high = 1.0 if share == 1.0 else (middle + reach) / scale
    return low, high


def difference_interval(share_a: float, around_a: Interval, share_b: float, around_b: Interval) -> Interval:
    """Interval of share a less share b of two groups of different births, from the interval of each.

    `share_a`, `share_b`: 0 to 1. `around_a`, `around_b`: low and high of each, of one level.
    Gives low, high: -1 to 1.

    With Wilson's intervals this is method 10 of Newcombe, Stat Med 1998;17:873-90; with other ones the method of
    variance estimates recovery (Zou & Donner, Stat Med 2008;27:1693-702, from memory).
    """
    difference = share_a - share_b
    down = sqrt((share_a - around_a[0]) ** 2 + (around_b[1] - share_b) ** 2)
    up = sqrt((around_a[1] - share_a) ** 2 + (share_b - around_b[0]) ** 2)
    return difference - down, difference + up

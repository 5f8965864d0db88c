"""Intervals for shares. Source: Newcombe, Stat Med 1998;17:857-72."""

from math import sqrt

from scipy import stats

Interval = tuple[float, float]


def _checked(events: int, total: int) -> None:
    if not 0 <= events <= total or total == 0:
        raise ValueError(f"{events} of {total}: expected 0 <= events <= total, and a total above 0")


def _z(level: float) -> float:
    return float(stats.norm.ppf(0.5 + level / 2.0))


def wilson_interval(events: int, total: int, level: float) -> Interval:
    """Wilson's score interval of a share.

    Parameters
    ----------
    events, total : counts.
    level : level of the interval, for example 0.95.

    Returns
    -------
    low, high : 0 to 1.

    Raises
    ------
    ValueError : a total of 0, or events outside 0 to total.

    Notes
    -----
    Newcombe 1998, method 3.
    """
    _checked(events, total)
    z = _z(level)
    middle = 2.0 * events + z**2
    reach = z * sqrt(z**2 + 4.0 * events * (total - events) / total)
    scale = 2.0 * (total + z**2)
    low = 0.0 if events == 0 else (middle - reach) / scale
    high = 1.0 if events == total else (middle + reach) / scale
    return low, high

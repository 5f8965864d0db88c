"""The exponentially weighted moving average: for small lasting shifts that single points do not show."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def ewma(values: ArrayLike, *, weight: float, start: float) -> FloatArray:
    """Smooth a series, the newest point with the given weight.

    Parameters
    ----------
    values : array, shape (n_points,), any unit; NaN = no point, and the average stays where it was.
    weight : 0 to 1, of the newest point.
    start : value before the first point (the target or the baseline's mean), the values' unit.

    Returns
    -------
    averages : array, shape (n_points,), the values' unit.

    Raises
    ------
    ValueError : a weight outside 0 to 1.

    Notes
    -----
    NIST/SEMATECH e-Handbook 6.3.2.4.
    """
    if not 0.0 < weight <= 1.0:
        raise ValueError(f"weight {weight}: expected above 0 and at most 1")
    averages = []
    level = start
    for value in np.asarray(values, float):
        level = level if np.isnan(value) else weight * float(value) + (1.0 - weight) * level
        averages.append(level)
    return np.asarray(averages, float)


def ewma_limits(target: float, sigma: float, *, weight: float, width: float) -> tuple[float, float]:
    """Limits of the average after many points.

    Parameters
    ----------
    target : centre, the values' unit.
    sigma : standard deviation of single values, the values' unit.
    weight : as in `ewma`.
    width : standard deviations of the average each side, usually 3.

    Returns
    -------
    low, high : the values' unit.

    Notes
    -----
    target +/- width * sigma * sqrt(weight / (2 - weight)). NIST/SEMATECH e-Handbook 6.3.2.4.
    """
    reach = width * sigma * (weight / (2.0 - weight)) ** 0.5
    return target - reach, target + reach

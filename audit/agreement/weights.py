"""Agreement weights between the categories of a scale: 1 for the same, less the further apart."""

from typing import Literal

import numpy as np

from audit.agreement.arrays import FloatArray

WeightName = Literal["identity", "linear", "quadratic"]


def agreement_weights(name: WeightName, categories: int) -> FloatArray:
    """The weight of each pair of categories.

    Parameters
    ----------
    name : `identity` (1 on the diagonal, else 0), `linear` or `quadratic`.
    categories : number of categories k of the scale, at least 1, in order.

    Returns
    -------
    weights : array, shape (k, k), 0 to 1.

    Raises
    ------
    ValueError : another name.

    Notes
    -----
    Linear 1 - |i-j|/(k-1), quadratic 1 - (i-j)^2/(k-1)^2. Source: Cicchetti & Allison 1971 (linear), Fleiss & Cohen
    1973 (quadratic), both from memory.
    """
    steps = np.abs(np.subtract.outer(np.arange(categories), np.arange(categories))).astype(float)
    widest = max(categories - 1, 1)
    if name == "identity":
        return np.eye(categories)
    if name == "linear":
        return np.asarray(1.0 - steps / widest)
    if name == "quadratic":
        return np.asarray(1.0 - (steps / widest) ** 2)
    raise ValueError(f"weights {name!r}: expected identity, linear or quadratic")

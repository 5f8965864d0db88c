"""The array types and the one division that the agreement figures share."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

# A chance-corrected figure divides by 1 - chance agreement; below this the difference is rounding, not information.
SMALLEST_DENOMINATOR = 1e-12


def ratio(numerator: ArrayLike, denominator: ArrayLike) -> FloatArray:
    """Divide elementwise; NaN where the denominator is zero to within rounding.

    `numerator`, `denominator`: arrays of one broadcastable shape, any unit.
    Gives quotient: array of the broadcast shape. NaN = not defined.
    """
    top, bottom = np.broadcast_arrays(np.asarray(numerator, float), np.asarray(denominator, float))
    quotient = np.full(top.shape, np.nan)
    np.divide(top, bottom, out=quotient, where=np.abs(bottom) > SMALLEST_DENOMINATOR)
    return quotient

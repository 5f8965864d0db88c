"""Shapes of rises and falls, in several families, so that no reading is tested on one outline only.

An edge runs from 0 to 1; a departure is an edge out, an optional plateau and an edge back. The families are our own
choice of smooth outlines that look like what is seen on paper; none is meant as a model of physiology.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

VISIBLE = 1.0
"""A drawn departure starts and ends where it reaches this height, in the channel's unit (bpm)."""

AT_NADIR = 2.0
"""The nadir begins where the drawn departure is within this of its deepest, bpm."""

_GAUSSIAN_WIDTH = 2.5
_EXPONENTIAL_RATE = 3.2
_RAMP = 0.25


@lru_cache(maxsize=4096)
def edge(family: str, n: int) -> FloatArray:
    """One way out, from near 0 to near 1; the same array each time, which nobody may write to.

    `family`: 'cosine', 'gaussian' (half a bell), 'rounded' (straight flank with rounded corners), 'sigmoid' or
    'exponential' (fast first, then slower). `n`: number of samples; 0 gives an empty array.
    Gives array, shape (n,), monotone, between 0 and 1.
    Raises ValueError for an unknown family.
    """
    drawn = _drawn(family, (np.arange(n) + 0.5) / max(n, 1))
    drawn.flags.writeable = False
    return drawn


def _drawn(family: str, x: FloatArray) -> FloatArray:
    if family == "cosine":
        return np.asarray(0.5 - 0.5 * np.cos(np.pi * x))
    if family == "gaussian":
        foot = np.exp(-(_GAUSSIAN_WIDTH**2) / 2)
        return np.asarray((np.exp(-((_GAUSSIAN_WIDTH * (1 - x)) ** 2) / 2) - foot) / (1 - foot))
    if family == "rounded":
        return _rounded(x)
    if family == "sigmoid":
        raw = 1 / (1 + np.exp(-9 * (x - 0.5)))
        low, high = 1 / (1 + np.exp(4.5)), 1 / (1 + np.exp(-4.5))
        return np.asarray((raw - low) / (high - low))
    if family == "exponential":
        return np.asarray((1 - np.exp(-_EXPONENTIAL_RATE * x)) / (1 - np.exp(-_EXPONENTIAL_RATE)))
    raise ValueError(f"unknown shape family: {family}")


def _rounded(x: FloatArray) -> FloatArray:
    """Position under a speed that ramps up over a quarter, holds, and ramps down over a quarter."""
    speed = 1 / (1 - _RAMP)
    rise = speed * x**2 / (2 * _RAMP)
    middle = speed * (x - _RAMP / 2)
    fall = 1 - speed * (1 - x) ** 2 / (2 * _RAMP)
    return np.where(x < _RAMP, rise, np.where(x <= 1 - _RAMP, middle, fall))


def departure(out: str, back: str, n_out: int, n_plateau: int, n_back: int, notch: float = 0.0) -> FloatArray:
    """A unit departure from the line and back.

    Parameters
    ----------
    out, back : shape families of the two edges.
    n_out, n_plateau, n_back : samples of each part.
    notch : share of the height by which the plateau comes back in its middle (a W shape), 0 to below 1.

    Returns
    -------
    array, shape (n_out + n_plateau + n_back,), 0 to 1.
    """
    plateau = np.ones(n_plateau)
    if notch > 0 and n_plateau > 0:
        x = (np.arange(n_plateau) + 0.5) / n_plateau
        plateau = 1 - notch * np.sin(np.pi * x) ** 2
    # The way back from an exponential edge is quick at first and then slow; the others mirror the way out.
    returning = 1 - edge(back, n_back) if back == "exponential" else edge(back, n_back)[::-1]
    return np.concatenate([edge(out, n_out), plateau, returning])


@lru_cache(maxsize=4096)
def visible_share(family: str, depth: int) -> float:
    """Share of an edge's length that lies between first being visible and the beginning of the nadir.

    `depth` in whole bpm. Lets a builder ask for a fall of so many seconds as a reader would measure it.
    """
    height = edge(family, 400) * depth
    first = int(np.argmax(height >= VISIBLE))
    bottom = int(np.argmax(height >= depth - AT_NADIR)) if height[-1] >= depth - AT_NADIR else 399
    return max((bottom - first) / 400, 0.05)

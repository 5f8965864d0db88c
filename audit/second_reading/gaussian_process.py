"""A Gaussian process as a regression: one solve, a mean that follows what is alike."""

from dataclasses import dataclass

import numpy as np

from audit.standards.types import FloatArray

CLIP = 3.0  # standard deviations: one number far out decides nothing


@dataclass(frozen=True)
class Scaling:
    """How a block of numbers is standardised: an unknown number stands at the middle."""

    middle: FloatArray  # (n_numbers,)
    spread: FloatArray  # (n_numbers,), never 0

    def __call__(self, numbers: FloatArray) -> FloatArray:
        """Standardised and clipped numbers, shape as given; NaN becomes 0."""
        scaled = (numbers - self.middle) / self.spread
        return np.clip(np.where(np.isfinite(scaled), scaled, 0.0), -CLIP, CLIP)


def scaling_of(numbers: FloatArray) -> Scaling:
    """Mean and standard deviation of each column's known numbers, shape (n, n_numbers); 0 and 1 where none vary."""
    known = np.isfinite(numbers)
    count = np.maximum(known.sum(axis=0), 1)
    filled = np.where(known, numbers, 0.0)
    middle = filled.sum(axis=0) / count
    spread = np.sqrt((np.where(known, numbers - middle, 0.0) ** 2).sum(axis=0) / count)
    return Scaling(middle, np.where(spread > 1e-9, spread, 1.0))


def likeness(left: FloatArray, right: FloatArray, width: float) -> FloatArray:
    """Radial basis function of the mean squared difference, shape (n_left, n_right), 0 to 1.

    exp(-d / (2 width^2)) with d the mean over the numbers of the squared difference (Rasmussen & Williams 2006,
    equation 4.9, with the length scale width times the root of the number of numbers).
    """
    squares = (left**2).mean(axis=1)[:, None] + (right**2).mean(axis=1)[None, :]
    apart = np.maximum(squares - 2.0 * (left @ right.T) / left.shape[1], 0.0)
    result: FloatArray = np.exp(-apart / (2.0 * width**2))
    return result


def solve(kernel: FloatArray, target: FloatArray, noise: FloatArray) -> FloatArray:
    """The weights of the fitted points, shape (n,): (K + diag(noise))^-1 target.

    Rasmussen & Williams 2006, algorithm 2.1.
    """
    from scipy.linalg import cho_factor, cho_solve  # large, and a worker that reads solves nothing

    result: FloatArray = cho_solve(cho_factor(kernel + np.diag(noise), lower=True), target)
    return result

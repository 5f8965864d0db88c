"""From a score to the share of experts who would give each class."""

from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from audit.standards.types import FloatArray, IntArray

_SMALLEST = 1e-9


@dataclass(frozen=True)
class Calibration:
    """Cumulative logits with one slope: the share beyond a cut is expit(slope * score - cut)."""

    slope: float
    low: float  # between normal and suspicious
    high: float  # between suspicious and pathological

    def probabilities(self, score: FloatArray) -> FloatArray:
        """Probability of each class, mildest first, shape (n, 3)."""
        return _probabilities(score, np.array([self.slope, self.low, self.high]))


def middle_class(probabilities: FloatArray) -> IntArray:
    """The class of the middle expert, shape (n,): the lowest that at least half would not go beyond."""
    result: IntArray = (probabilities.cumsum(axis=1)[:, :2] < 0.5).sum(axis=1)
    return result


def calibrated(score: FloatArray, shares: FloatArray, weight: FloatArray) -> Calibration:
    """Fit the slope and both cuts.

    `score`: shape (n,), of windows that the score was not fitted on. `shares`: shape (n, 3), share of the experts who
    gave each class; rows add up to 1. `weight`: shape (n,), how much each window counts.

    Proportional odds model with one predictor (McCullagh 1980), maximum likelihood.
    """

    from scipy.optimize import minimize  # large, and a worker that reads fits nothing

    def loss(point: FloatArray) -> float:
        slope, low, step = point
        chance = _probabilities(score, np.array([np.exp(slope), low, low + np.exp(step)]))
        return float(-(weight[:, None] * shares * np.log(np.clip(chance, _SMALLEST, 1.0))).sum() / weight.sum())

    best = minimize(loss, np.array([1.0, 1.0, 1.0]), method="L-BFGS-B", options={"maxiter": 500}).x
    return Calibration(float(np.exp(best[0])), float(best[1]), float(best[1] + np.exp(best[2])))


def _probabilities(score: FloatArray, point: FloatArray) -> FloatArray:
    slope, low, high = point
    at_most_normal, at_most_suspicious = expit(low - slope * score), expit(high - slope * score)
    return np.column_stack([at_most_normal, at_most_suspicious - at_most_normal, 1.0 - at_most_suspicious])

"""A learned second reading: what the experts of a folder would most likely have said of a window.

An ordinal (cumulative) logistic regression on the numbers of `features`, fitted to the shares of experts who gave each
class, so that windows on which they were split count as split. It is fitted on a folder that the user has, written to a
file, and shown beside the reading by rules, never instead of it. Nothing fitted is part of the program.
"""

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from msgspec import structs
from scipy.optimize import minimize
from scipy.special import expit

from audit.analysis.second_reading_features import NAMES, window_features
from audit.errors import AuditError
from audit.setting_tables.validate import FittedModel
from audit.setting_types import plain
from audit.standards.types import FloatArray, IntArray
from audit.tracing.types import Reading

FORMAT = "intrapartum-audit learned reading 1"
CLASS_NAMES = ("normal", "suspicious", "pathological")
_SMALLEST = 1e-9


class LearnedReading(FittedModel, frozen=True):
    """A fitted model that reads windows."""

    format: str = FORMAT

    def probabilities(self, features: FloatArray) -> FloatArray:
        """Probability of each class, shape (n, 3), for features of shape (n, n_features); NaN = unknown."""
        score = _basis(features, self) @ np.array(self.weights)
        return _class_probabilities(score, self.cuts[0], self.cuts[1])

    def classes(self, features: FloatArray) -> IntArray:
        """The middle expert's class, shape (n,): the lowest that at least half would not go beyond."""
        result: IntArray = (self.probabilities(features).cumsum(axis=1) < 0.5).sum(axis=1)
        return result

    def read_window(
        self, reading: Reading, start_s: float, end_s: float, *, second_stage: bool
    ) -> tuple[str, tuple[float, float, float]]:
        """The class of one window and the probability of each, mildest first."""
        numbers = np.array([window_features(reading, start_s, end_s, second_stage=second_stage)])
        normal, suspicious, pathological = self.probabilities(numbers)[0].tolist()
        return CLASS_NAMES[int(self.classes(numbers)[0])], (normal, suspicious, pathological)

    def write(self, path: Path) -> None:
        """Write the model as JSON."""
        path.write_text(json.dumps(plain(self), indent=1, allow_nan=False) + "\n", encoding="utf-8")


def learned_from(model: FittedModel, name: str) -> LearnedReading:
    """A fitted model as a reader of windows. Raises AuditError when it was fitted on other features."""
    found = LearnedReading(**structs.asdict(model))
    if found.format != FORMAT or tuple(found.features) != NAMES:
        raise AuditError(f"{name}: fitted by another version; fit it again")
    return found


def fit_learned(
    features: FloatArray,
    shares: FloatArray,
    recordings: Sequence[str],
    *,
    penalty: float,
    settings_sha256: str = "",
) -> LearnedReading:
    """Fit the model.

    Parameters
    ----------
    features : array, shape (n, n_features), in the order of `features.NAMES`; NaN = unknown. Not modified.
    shares : array, shape (n, 3), share of the experts who gave each class; rows add up to 1.
    recordings : n names, only to say how many there were.
    penalty : weight of the squared size of the weights (ridge); features are scaled by their spread.

    Raises
    ------
    ValueError : fewer than 20 windows, or no two classes among them.

    Notes
    -----
    Proportional odds model (McCullagh 1980), penalised likelihood by L-BFGS. Each feature enters with its value and,
    where it takes more than four values, with a hinge at its median: one change of slope.
    """
    if len(features) < 20 or (shares.sum(axis=0) > 0).sum() < 2:
        raise ValueError(f"{len(features)} windows: expected at least 20, of two classes or more")
    middle = np.array(
        [float(np.median(known)) if (known := column[np.isfinite(column)]).size else 0.0 for column in features.T]
    )
    filled = np.where(np.isfinite(features), features, middle)
    spread = filled.std(axis=0)
    scale = np.where(spread > 0, spread, 1.0)
    several = [len(np.unique(column)) > 4 for column in filled.T]
    knot = [float(m) if more else None for m, more in zip(middle, several, strict=True)]
    model = LearnedReading(
        features=list(NAMES),
        middle=middle.tolist(),
        scale=scale.tolist(),
        knot=knot,
        weights=[],
        cuts=[],
        windows=len(features),
        recordings=len(set(recordings)),
        settings_sha256=settings_sha256,
    )
    basis = _basis(features, model)
    count = basis.shape[1]
    start = np.concatenate([np.zeros(count), [-0.5, 0.5]])
    best = minimize(
        _loss, start, args=(basis, shares, penalty), jac=True, method="L-BFGS-B", options={"maxiter": 2000}
    ).x
    cuts = [float(best[count]), float(best[count] + np.exp(best[count + 1]))]
    return structs.replace(model, weights=best[:count].tolist(), cuts=cuts)


def _basis(features: FloatArray, model: LearnedReading) -> FloatArray:
    middle, scale = np.array(model.middle), np.array(model.scale)
    filled = np.where(np.isfinite(features), features, middle)
    hinges = [np.maximum(filled[:, k] - at, 0.0) / scale[k] for k, at in enumerate(model.knot) if at is not None]
    return np.column_stack([(filled - middle) / scale, *hinges])


def _class_probabilities(score: FloatArray, low: float, high: float) -> FloatArray:
    at_most_normal, at_most_suspicious = expit(low - score), expit(high - score)
    return np.column_stack([at_most_normal, at_most_suspicious - at_most_normal, 1.0 - at_most_suspicious])


def _loss(point: FloatArray, basis: FloatArray, shares: FloatArray, penalty: float) -> tuple[float, FloatArray]:
    """Penalised negative log-likelihood and its gradient; the second cut is the first plus an exponential."""
    count = basis.shape[1]
    weights, low, step = point[:count], point[count], np.exp(point[count + 1])
    score = basis @ weights
    first, second = expit(low - score), expit(low + step - score)
    chance = np.clip(np.column_stack([first, second - first, 1.0 - second]), _SMALLEST, 1.0)
    value = float(-(shares * np.log(chance)).sum() + penalty * (weights @ weights))
    towards = -shares / chance
    by_first = (towards[:, 0] - towards[:, 1]) * first * (1.0 - first)
    by_second = (towards[:, 1] - towards[:, 2]) * second * (1.0 - second)
    gradient = np.concatenate(
        [
            basis.T @ -(by_first + by_second) + 2.0 * penalty * weights,
            [(by_first + by_second).sum(), by_second.sum() * step],
        ]
    )
    return value, gradient

"""Shares of groups beside what their own case mix would have given everywhere: indirect standardisation."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, special

FloatArray = NDArray[np.float64]
_MOST_STEPS = 50
_CLOSE = 1e-10


class NotFitted(ValueError):
    """The events cannot be explained by the columns: none, all, or a column that parts them without a remainder."""


@dataclass(frozen=True)
class Standardised:
    """One group: what happened, what its case mix would have given everywhere, and where chance leaves the count."""

    observed: int
    expected: float
    births: int

    @property
    def ratio(self) -> float | None:
        """Observed over expected; None where nothing was expected."""
        return self.observed / self.expected if self.expected > 0 else None


def logistic_probabilities(columns: FloatArray, events: NDArray[np.bool_]) -> FloatArray:
    """Each row's probability of the event from a logistic regression on all rows.

    `columns`: shape (n, k), finite; an intercept is added. `events`: shape (n,).
    Gives an array of shape (n,), 0 to 1; their sum is the number of events.
    Raises NotFitted: events none or all, columns that say the same, or no finite maximum; ValueError: unequal lengths,
    values that are not finite.

    Maximum likelihood by iteratively reweighted least squares (McCullagh & Nelder, Generalized Linear Models, 1989,
    chapter 4; from memory).
    """
    x, y = np.asarray(columns, float), np.asarray(events, bool)
    if x.ndim != 2 or len(x) != len(y) or not np.isfinite(x).all():
        raise ValueError(f"columns {x.shape} and events {y.shape}: expected rows of finite numbers, one per event")
    if not y.any() or y.all():
        raise NotFitted("the event never or always happened")
    x = np.column_stack([np.ones(len(x)), x])
    beta = np.zeros(x.shape[1])
    beta[0] = special.logit(y.mean())
    for _ in range(_MOST_STEPS):
        p = special.expit(x @ beta)
        information = x.T @ (x * (p * (1.0 - p))[:, None])
        try:
            step = linalg.solve(information, x.T @ (y - p), assume_a="pos")
        except (linalg.LinAlgError, linalg.LinAlgWarning) as error:
            raise NotFitted("two columns say the same, or one parts the events without a remainder") from error
        beta = beta + step
        if np.abs(step).max() < _CLOSE:
            return np.asarray(special.expit(x @ beta), float)
    raise NotFitted("no finite maximum: a column parts the events without a remainder")


def standardised(observed: NDArray[np.bool_], probabilities: FloatArray) -> Standardised:
    """One group's count beside the count that the probabilities of its members give.

    `observed`, `probabilities`: shape (n,), of the group's members.
    Raises ValueError: unequal lengths, or a probability outside 0 to 1.
    """
    p = _checked(probabilities)
    if len(p) != len(observed):
        raise ValueError(f"{len(observed)} events for {len(p)} probabilities")
    return Standardised(int(np.sum(observed)), float(p.sum()), len(p))


def count_limits(probabilities: FloatArray, *, tail: float) -> tuple[int, int]:
    """The counts between which chance leaves a group, exactly: the smallest with P(R <= r) >= tail, and 1 - tail.

    `probabilities`: shape (n,), of single births. `tail`: chance beyond each limit, 0 to 0.5 exclusive.
    Raises ValueError: a tail or a probability outside its range.

    The number of events of unlike births is Poisson-binomial; its distribution by convolving one birth after another
    (Wang, Statistica Sinica 1993;3:295-312; from memory).
    """
    if not 0.0 < tail < 0.5:
        raise ValueError(f"tail {tail}: expected 0 to 0.5, both exclusive")
    chance = np.zeros(len(probabilities) + 1)
    chance[0] = 1.0
    for k, p in enumerate(_checked(probabilities), start=1):
        chance[1 : k + 1] = chance[1 : k + 1] * (1.0 - p) + chance[:k] * p
        chance[0] *= 1.0 - p
    reached = np.cumsum(chance)
    # what rounding takes from the sum must not cost a count
    low, high = (int(np.searchsorted(reached, share - 1e-12)) for share in (tail, 1.0 - tail))
    return low, min(high, len(chance) - 1)


def _checked(probabilities: FloatArray) -> FloatArray:
    p = np.asarray(probabilities, float)
    if not ((p >= 0.0) & (p <= 1.0)).all():
        raise ValueError("probabilities: expected 0 to 1")
    return p

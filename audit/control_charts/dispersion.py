"""Overdispersion between groups: shares that differ more than chance allows, for reasons nobody has put into words."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from audit.control_charts.funnel import FunnelLimits

FEWEST_GROUPS = 10  # a spread estimated on fewer is little more than chance; our choice
WINSORISED = 0.1  # at each end; Spiegelhalter 2005 (from memory)
FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Dispersion:
    """How far the groups spread, in multiples of the variance that chance alone gives."""

    phi: float
    groups: int
    beyond_chance: bool


def dispersion(standardised: FloatArray) -> Dispersion | None:
    """The multiplicative overdispersion of groups; None with fewer than FEWEST_GROUPS.

    `standardised`: shape (n_groups,), (share - target) / its standard error under chance. NaN is refused.
    Gives dispersion; `beyond_chance` when phi exceeds 1 by more than two of its standard errors.
    Raises ValueError: a value that is not finite.

    Spiegelhalter, Stat Med 2005;24:1185-202 (from memory): scores below the lower and above the upper tenth take the
    value there, so that a few outlying groups do not hide themselves; phi is the mean of their squares; without
    overdispersion its standard error is sqrt(2 / groups).
    """
    scores = np.asarray(standardised, float)
    if not np.isfinite(scores).all():
        raise ValueError("standardised: expected finite numbers")
    if len(scores) < FEWEST_GROUPS:
        return None
    low, high = np.quantile(scores, (WINSORISED, 1.0 - WINSORISED))
    phi = float(np.mean(np.clip(scores, low, high) ** 2))
    return Dispersion(phi, len(scores), phi > 1.0 + 2.0 * math.sqrt(2.0 / len(scores)))


def widened_limits(target: float, total: int, *, tail: float, phi: float) -> FunnelLimits:
    """Limits of a share around the target when the variance of chance is multiplied by phi; cut at 0 and 1.

    `target`: 0 to 1 exclusive. `total`: number behind the share. `tail`: chance beyond each limit. `phi`: 1 or more.
    Gives FunnelLimits; none for a total of 0.
    Raises ValueError: a target, tail or phi outside its range, or a negative total.

    target ± z sqrt(phi target (1 - target) / n): Spiegelhalter 2005 (from memory), approximate control limits.
    """
    if not 0.0 < target < 1.0 or not 0.0 < tail < 0.5 or total < 0 or not phi >= 1.0:
        raise ValueError(f"target {target}, tail {tail}, total {total}, phi {phi}: outside their ranges")
    if total == 0:
        return FunnelLimits(0, None, None)
    reach = float(stats.norm.isf(tail)) * math.sqrt(phi * target * (1.0 - target) / total)
    return FunnelLimits(total, max(0.0, target - reach), min(1.0, target + reach))

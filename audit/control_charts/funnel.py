"""Funnel limits: how far a shift's or site's share may lie from the target by chance, given its number of births."""

from dataclasses import dataclass

from scipy import stats


@dataclass(frozen=True)
class FunnelLimits:
    """Limits of a share for one number of births; None = there is no such limit with so few."""

    total: int
    low: float | None
    high: float | None


def funnel_limits(target: float, total: int, *, tail: float) -> FunnelLimits:
    """Exact binomial limits, interpolated between counts so that the funnel is smooth.

    `target`: the share expected everywhere, 0 to 1 exclusive. `total`: number of births. `tail`: chance beyond each
    limit, 0.025 for 95 % and 0.001 for 99.8 %.
    Gives FunnelLimits, cut at 0 and 1; none for a total of 0.
    Raises ValueError: a target or tail outside its range, or a negative total.

    Spiegelhalter, Stat Med 2005;24:1185-202 (formula from memory): r the smallest count with P(R <= r) >= p,
    a = (P(R <= r) - p) / P(R = r), limit (r - a) / n.
    """
    if not 0.0 < target < 1.0 or not 0.0 < tail < 0.5 or total < 0:
        raise ValueError(
            f"target {target}, tail {tail}, total {total}: expected 0 < target < 1, 0 < tail < 0.5, total >= 0"
        )
    if total == 0:
        return FunnelLimits(0, None, None)
    low, high = (_interpolated(target, total, p) for p in (tail, 1.0 - tail))
    return FunnelLimits(total, max(0.0, low), min(1.0, high))


def _interpolated(target: float, total: int, p: float) -> float:
    r = int(stats.binom.ppf(p, total, target))
    reached = float(stats.binom.cdf(r, total, target))
    return (r - (reached - p) / float(stats.binom.pmf(r, total, target))) / total

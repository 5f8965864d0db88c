"""A share whose parts come in clusters: hours or minutes of labours, where one labour's are alike."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from audit.measures.proportions import Interval, wilson_of_share


@dataclass(frozen=True)
class ClusteredShare:
    """Sum over sum, with its interval. None = nothing to divide by, or too few clusters for an interval."""

    share: float | None
    interval: Interval | None


def share_of_sums(parts: Sequence[float], wholes: Sequence[float], *, level: float) -> ClusteredShare:
    """The share of all, over clusters, with an interval that lets the parts of one cluster be alike.

    `parts`, `wholes`: shape (clusters,), of one unit; 0 <= part <= whole. Clusters with a whole of 0 are left out.
    `level`: level of the interval.
    Gives ClusteredShare; with one cluster there is a share and no interval.
    Raises ValueError: unequal lengths, or a part outside its whole.

    Ratio estimator and its linearised variance: Cochran, Sampling Techniques, 3rd ed. 1977, section 6.4 (from
    memory); interval: Wilson's on the effective number, share x (1 - share) / variance (Korn & Graubard 1998, from
    memory).
    """
    if len(parts) != len(wholes):
        raise ValueError(f"{len(parts)} parts and {len(wholes)} wholes: expected as many")
    if any(not 0.0 <= part <= whole + 1e-9 for part, whole in zip(parts, wholes, strict=True)):
        raise ValueError("expected 0 <= part <= whole")
    pairs = [(part, whole) for part, whole in zip(parts, wholes, strict=True) if whole > 0]
    n, total = len(pairs), sum(whole for _, whole in pairs)
    if not total:
        return ClusteredShare(None, None)
    share = min(1.0, sum(part for part, _ in pairs) / total)
    if n < 2:
        return ClusteredShare(share, None)
    spread = sum((part - share * whole) ** 2 for part, whole in pairs)
    error = sqrt(n / (n - 1) * spread) / total
    # at 0 and 1 every cluster is alike: each then counts as one
    size = share * (1.0 - share) / error**2 if error > 0 and 0.0 < share < 1.0 else float(n)
    return ClusteredShare(share, wilson_of_share(share, size, level))

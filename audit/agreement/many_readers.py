"""Agreement of any number of readers, from how many chose each category in each window.

The figures are functions of sums over windows, so a bootstrap draw is a weighted sum of per-case totals and nothing is
recounted: `window_features` turns counts into one row of sums per window, `CategoryTotals` names their parts, and each
figure takes totals with any leading axes (none for the data, one for the draws). NaN = not defined.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import ArrayLike

from audit.agreement.arrays import FloatArray, ratio
from audit.agreement.scales import WeightName, agreement_weights

_WEIGHTS: tuple[WeightName, ...] = ("identity", "linear", "quadratic")


def window_features(counts: ArrayLike) -> FloatArray:
    """One row of additive sums per window.

    `counts`: shape (n_windows, k): how many readers chose each category. A window without reads is all 0.
    Gives an array of shape (n_windows, n_features); sums over windows of these determine every figure below.
    """
    chosen = np.asarray(counts, float)
    reads = chosen.sum(axis=1, keepdims=True)
    pairs = reads * (reads - 1.0)  # 0 of a window read once, as is all that is divided by it below
    parts = [
        pairs,
        chosen * (chosen - 1.0),
        chosen * (reads - 1.0),
        (reads > 0).astype(float),
        (reads > 1).astype(float),
    ]
    parts.append(chosen / np.maximum(reads, 1.0))
    divisor = np.maximum(pairs, 1.0)
    for name in _WEIGHTS:
        near = chosen @ agreement_weights(name, chosen.shape[1])
        parts.append((chosen * (near - 1.0)).sum(axis=1, keepdims=True) / divisor)
    together = chosen[:, :, None] * (chosen[:, None, :] - np.eye(chosen.shape[1]))
    coincidences = together / np.maximum(reads - 1.0, 1.0)[:, :, None]
    parts.append(coincidences.reshape(len(chosen), chosen.shape[1] ** 2))
    return np.hstack(parts)


@dataclass(frozen=True)
class CategoryTotals:
    """Sums of `window_features` over (resampled) windows; leading axes are free."""

    pairs: FloatArray  # (...) ordered pairs of reads of the same window
    agreeing: FloatArray  # (..., k) of these, both in the category
    possible: FloatArray  # (..., k) pairs of which the first is in the category
    windows: FloatArray  # (...) windows with a read
    windows_paired: FloatArray  # (...) windows with two reads or more
    shares: FloatArray  # (..., k) sum over windows of the share of reads in the category
    agreement: FloatArray  # (..., 3) sum over paired windows of the weighted agreement (identity, linear, quadratic)
    coincidences: FloatArray  # (..., k, k) Krippendorff's coincidence matrix

    @property
    def categories(self) -> int:
        """Number of categories of the scale."""
        return int(self.shares.shape[-1])


def category_totals(sums: FloatArray, categories: int) -> CategoryTotals:
    """Name the parts of summed features.

    `sums`: shape (..., n_features), sums over windows of `window_features`. `categories`: number of categories k.
    Gives CategoryTotals with the leading axes of `sums`.
    """
    k = categories
    edges = np.cumsum([1, k, k, 1, 1, k, len(_WEIGHTS)])
    pairs, agreeing, possible, windows, paired, shares, agreement, together = np.split(sums, edges, axis=-1)
    return CategoryTotals(
        pairs[..., 0], agreeing, possible, windows[..., 0], paired[..., 0], shares, agreement,
        together.reshape(*sums.shape[:-1], k, k),
    )  # fmt: skip


def proportion_of_agreement(totals: CategoryTotals) -> FloatArray:
    """Share of all pairs of reads of the same window that agree; pairs are pooled over windows.

    Gives an array of shape (...), 0 to 1; NaN without a window read twice.

    sum n_j (n_j - 1) / sum n (n - 1). Equals Fleiss' P when every window has the same number of reads.
    """
    return ratio(totals.agreeing.sum(axis=-1), totals.pairs)


def specific_agreement(totals: CategoryTotals) -> FloatArray:
    """Agreement on each category: if one reader chose it, how often a second reader of that window does too.

    Gives an array of shape (..., k), 0 to 1; NaN for a category that nobody used in a window read twice.

    sum n_j (n_j - 1) / sum n_j (n - 1). Two readers: Cicchetti & Feinstein, J Clin Epidemiol 1990;43:551-8.
    """
    return ratio(totals.agreeing, totals.possible)


def jaccard_agreement(totals: CategoryTotals) -> FloatArray:
    """Of the pairs in which at least one reader chose the category, the share in which both did.

    Gives an array of shape (..., k), 0 to 1; NaN for a category that nobody used.

    S / (2 - S) with S the specific agreement. Grant, Lancet 1991;337:215-8 (definition from memory).
    """
    return ratio(totals.agreeing, 2.0 * totals.possible - totals.agreeing)


def category_shares(totals: CategoryTotals) -> FloatArray:
    """Mean over windows of the share of reads in each category (every window counts alike).

    Gives an array of shape (..., k), summing to 1; NaN without reads.
    """
    return ratio(totals.shares, totals.windows[..., None])


def window_agreement(totals: CategoryTotals, weights: WeightName = "identity") -> FloatArray:
    """Mean over windows of the (weighted) share of agreeing pairs; every window read twice counts alike.

    Gives an array of shape (...), 0 to 1; NaN without a window read twice.
    """
    return ratio(totals.agreement[..., _WEIGHTS.index(weights)], totals.windows_paired)


def fleiss_kappa(totals: CategoryTotals) -> FloatArray:
    """Fleiss' kappa, in the form that allows windows with different numbers of reads.

    Gives an array of shape (...); NaN when all reads are in one category.

    Fleiss, Psychol Bull 1971;76:378-82; with missing reads as in Gwet's handbook (2014): windows with one read count
    for the category shares only.
    """
    chance = (category_shares(totals) ** 2).sum(axis=-1)
    return ratio(window_agreement(totals) - chance, 1.0 - chance)


def gwet_ac(totals: CategoryTotals, weights: WeightName = "identity") -> FloatArray:
    """Gwet's AC1 (identity weights) and AC2 (linear or quadratic weights).

    Gives an array of shape (...); NaN without a window read twice, or for a scale of one category.

    pe = Tw / (k (k - 1)) * sum p (1 - p), Tw the sum of all weights, k the number of categories of the scale.
    Gwet, Br J Math Stat Psychol 2008;61:29-48, and his handbook (2014) for missing reads.
    """
    k = totals.categories
    shares = category_shares(totals)
    spread = (shares * (1.0 - shares)).sum(axis=-1)
    chance = ratio(agreement_weights(weights, k).sum() * spread, k * (k - 1))
    return ratio(window_agreement(totals, weights) - chance, 1.0 - chance)


def brennan_prediger(totals: CategoryTotals, weights: WeightName = "identity") -> FloatArray:
    """Agreement corrected for chance as if every category were equally likely (free-marginal kappa).

    Gives an array of shape (...); NaN without a window read twice.

    pe = Tw / k^2, that is 1/k without weights. Brennan & Prediger 1981; Randolph 2005 (both from memory).
    """
    k = totals.categories
    chance = agreement_weights(weights, k).sum() / max(k, 1) ** 2
    return ratio(window_agreement(totals, weights) - chance, 1.0 - chance)


def krippendorff_alpha(totals: CategoryTotals, level: str) -> FloatArray:
    """Krippendorff's alpha for categories; windows with one read drop out by themselves.

    `totals`: sums over windows. `level`: `nominal`, `ordinal` or `interval`, which takes the categories as 1, 2, ...
    Gives an array of shape (...); NaN when all reads are in one category or no window was read twice.
    Raises ValueError: another level.

    1 - Do / De from the coincidence matrix. Krippendorff, Computing Krippendorff's Alpha-Reliability, 2011. The
    ordinal distance is built from how often each category occurs, so it is not the interval distance of ranks.
    """
    together = totals.coincidences
    margins = together.sum(axis=-1)
    reads = margins.sum(axis=-1)
    distance = _squared_distance(level, margins)
    seen = (together * distance).sum(axis=(-2, -1))
    expected = (margins[..., :, None] * margins[..., None, :] * distance).sum(axis=(-2, -1))
    return 1.0 - ratio((reads - 1.0) * seen, expected)


def _squared_distance(level: str, margins: FloatArray) -> FloatArray:
    numbers = np.arange(1.0, margins.shape[-1] + 1.0)
    if level == "nominal":
        return 1.0 - np.eye(numbers.size)
    if level == "interval":
        return np.asarray(np.subtract.outer(numbers, numbers) ** 2)
    if level == "ordinal":
        # ranks between two categories: all reads up to the one, less all up to the other, half of each end
        middle = np.cumsum(margins, axis=-1) - margins / 2.0
        return np.asarray((middle[..., :, None] - middle[..., None, :]) ** 2)
    raise ValueError(f"level {level!r}: expected nominal, ordinal or interval")


Formula = Callable[[CategoryTotals], FloatArray]
PROPORTION = "proportion_of_agreement"  # the one figure that is not corrected for chance
# Figures in which 'not assessable' is a category like any other, of all categories and of each.
WITHOUT_ORDER: dict[str, Formula] = {
    PROPORTION: proportion_of_agreement,
    "fleiss_kappa": fleiss_kappa,
    "krippendorff_alpha_nominal": partial(krippendorff_alpha, level="nominal"),
    "gwet_ac1": gwet_ac,
    "brennan_prediger": brennan_prediger,
}
BY_CATEGORY: dict[str, Formula] = {
    "specific_agreement": specific_agreement,
    "jaccard_agreement": jaccard_agreement,
    "category_share": category_shares,
}


def with_order(ac2_weights: WeightName) -> dict[str, Formula]:
    """Figures of categories that stand in an order, in which 'not assessable' has no place."""
    return {
        "krippendorff_alpha_ordinal": partial(krippendorff_alpha, level="ordinal"),
        "krippendorff_alpha_interval": partial(krippendorff_alpha, level="interval"),
        "gwet_ac2": partial(gwet_ac, weights=ac2_weights),
    }

"""Agreement of two readers on one table of counts: kappa, its standard errors, and what kappa hides.

Every function takes a table of shape (..., k, k): rows are the first reader's categories, columns the second's. Leading
axes are tables of their own (readers' pairs, bootstrap draws). NaN in a result means 'not defined' (no reads, or both
readers used one category only); it never means 0.
"""

import numpy as np
from numpy.typing import ArrayLike

from audit.agreement.arrays import FloatArray, ratio


def _proportions(table: ArrayLike) -> FloatArray:
    counts = np.asarray(table, float)
    return ratio(counts, counts.sum(axis=(-2, -1), keepdims=True))


def observed_agreement(table: ArrayLike, weights: FloatArray | None = None) -> FloatArray:
    """The (weighted) share of cases on which both readers agree.

    `table`: shape (..., k, k), counts. `weights`: shape (k, k), 0 to 1; None counts exact agreement only.
    Gives an array of shape (...), 0 to 1; NaN for an empty table.
    """
    shares = _proportions(table)
    if weights is None:
        return np.asarray(np.trace(shares, axis1=-2, axis2=-1))
    return np.asarray((shares * weights).sum(axis=(-2, -1)))


def chance_agreement(table: ArrayLike, weights: FloatArray | None = None) -> FloatArray:
    """The (weighted) agreement expected from the two readers' margins alone.

    `table`: shape (..., k, k), counts. `weights`: shape (k, k), 0 to 1; None counts exact agreement only.
    Gives an array of shape (...), 0 to 1; NaN for an empty table.
    """
    shares = _proportions(table)
    rows, columns = shares.sum(axis=-1), shares.sum(axis=-2)
    if weights is None:
        return np.asarray((rows * columns).sum(axis=-1))
    return np.asarray(np.einsum("...i,ij,...j->...", rows, weights, columns))


def cohen_kappa(table: ArrayLike, weights: FloatArray | None = None) -> FloatArray:
    """Cohen's kappa, weighted when weights are given.

    `table`: shape (..., k, k), counts. `weights`: shape (k, k), agreement weights with 1 for full agreement; need not
    be symmetric.
    Gives an array of shape (...); NaN where chance agreement is 1 or the table is empty.

    (po - pe) / (1 - pe). Source: Cohen 1960; weighted, Cohen, Psychol Bull 1968;70:213-20.
    """
    chance = chance_agreement(table, weights)
    return ratio(observed_agreement(table, weights) - chance, 1.0 - chance)


def kappa_standard_error(table: ArrayLike, weights: FloatArray | None = None) -> FloatArray:
    """Large-sample standard error of kappa, treating the cases as independent.

    `table`: shape (..., k, k), counts. `weights`: shape (k, k); None for plain kappa.
    Gives an array of shape (...); NaN where kappa is not defined.

    Source: Fleiss, Cohen & Everitt, Psychol Bull 1969;72:323-7.
    """
    shares = _proportions(table)
    cases = np.asarray(table, float).sum(axis=(-2, -1))
    agree = np.eye(shares.shape[-1]) if weights is None else weights
    rows, columns = shares.sum(axis=-1), shares.sum(axis=-2)
    row_means = np.einsum("ij,...j->...i", agree, columns)
    column_means = np.einsum("ij,...i->...j", agree, rows)
    margins = row_means[..., :, None] + column_means[..., None, :]
    chance = chance_agreement(table, agree)
    kappa = cohen_kappa(table, agree)
    missed = (1.0 - kappa)[..., None, None]
    spread = (shares * (agree - margins * missed) ** 2).sum(axis=(-2, -1)) - (kappa - chance * (1.0 - kappa)) ** 2
    return np.sqrt(ratio(np.maximum(spread, 0.0), cases * (1.0 - chance) ** 2))


def gwet_ac1_of_table(table: ArrayLike) -> FloatArray:
    """Gwet's AC1 for two readers.

    `table`: shape (..., k, k), counts; k is the number of categories of the scale.
    Gives an array of shape (...); NaN for an empty table or a scale of one category.

    pe = sum p (1 - p) / (k - 1) with p the mean margin. Source: Gwet, Br J Math Stat Psychol 2008;61:29-48.
    """
    shares = _proportions(table)
    pooled = (shares.sum(axis=-1) + shares.sum(axis=-2)) / 2.0
    chance = ratio((pooled * (1.0 - pooled)).sum(axis=-1), shares.shape[-1] - 1)
    return ratio(observed_agreement(table) - chance, 1.0 - chance)


def prevalence_adjusted_kappa(table: ArrayLike) -> FloatArray:
    """PABAK (two categories) and its Brennan-Prediger form for k categories.

    `table`: shape (..., k, k), counts.
    Gives an array of shape (...); 2 po - 1 for two categories; NaN for an empty table.

    (po - 1/k) / (1 - 1/k). Source: Byrt, Bishop & Carlin 1993; Brennan & Prediger 1981, both from memory.
    """
    chance = 1.0 / np.asarray(table).shape[-1]
    return ratio(observed_agreement(table) - chance, 1.0 - chance)


def prevalence_index(table: ArrayLike) -> FloatArray:
    """How unevenly the categories are used: 0 when all are used alike, 1 when only one is.

    `table`: shape (..., k, k), counts.
    Gives an array of shape (...), 0 to 1; NaN for an empty table.

    For two categories |a - d| / n (Byrt, Bishop & Carlin 1993, from memory). For k categories our own extension that
    agrees with it at k = 2: sqrt((k sum p^2 - 1) / (k - 1)), p the mean margins.
    """
    shares = _proportions(table)
    pooled = (shares.sum(axis=-1) + shares.sum(axis=-2)) / 2.0
    categories = shares.shape[-1]
    return np.sqrt(np.maximum(ratio(categories * (pooled**2).sum(axis=-1) - 1.0, categories - 1), 0.0))


def bias_index(table: ArrayLike) -> FloatArray:
    """How differently the two readers use the categories: 0 alike, 1 no category in common.

    `table`: shape (..., k, k), counts.
    Gives an array of shape (...), 0 to 1; NaN for an empty table.

    For two categories |b - c| / n (Byrt, Bishop & Carlin 1993, from memory). For k categories our own extension that
    agrees with it at k = 2: half the sum of the absolute differences of the margins.
    """
    shares = _proportions(table)
    return np.asarray(np.abs(shares.sum(axis=-1) - shares.sum(axis=-2)).sum(axis=-1) / 2.0)

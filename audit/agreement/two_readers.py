"""Agreement of two readers on one table of counts: kappa, its standard errors, and what kappa hides.

Every function takes a table of shape (..., k, k): rows are the first reader's categories, columns the second's. Leading
axes are tables of their own (readers' pairs, bootstrap draws). NaN in a result means 'not defined' (no reads, or both
readers used one category only); it never means 0.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from audit.agreement.arrays import FloatArray, ratio


def _proportions(table: ArrayLike) -> FloatArray:
    counts = np.asarray(table, float)
    return ratio(counts, counts.sum(axis=(-2, -1), keepdims=True))


def observed_agreement(table: ArrayLike, weights: FloatArray | None = None) -> FloatArray:
    """The (weighted) share of cases on which both readers agree.

    Parameters
    ----------
    table : array, shape (..., k, k), counts.
    weights : array, shape (k, k), 0 to 1; None counts exact agreement only.

    Returns
    -------
    agreement : array, shape (...), 0 to 1; NaN for an empty table.
    """
    shares = _proportions(table)
    if weights is None:
        return np.asarray(np.trace(shares, axis1=-2, axis2=-1))
    return np.asarray((shares * weights).sum(axis=(-2, -1)))


def chance_agreement(table: ArrayLike, weights: FloatArray | None = None) -> FloatArray:
    """The (weighted) agreement expected from the two readers' margins alone.

    Parameters
    ----------
    table : array, shape (..., k, k), counts.
    weights : array, shape (k, k), 0 to 1; None counts exact agreement only.

    Returns
    -------
    agreement : array, shape (...), 0 to 1; NaN for an empty table.
    """
    shares = _proportions(table)
    rows, columns = shares.sum(axis=-1), shares.sum(axis=-2)
    if weights is None:
        return np.asarray((rows * columns).sum(axis=-1))
    return np.asarray(np.einsum("...i,ij,...j->...", rows, weights, columns))


def cohen_kappa(table: ArrayLike, weights: FloatArray | None = None) -> FloatArray:
    """Cohen's kappa, weighted when weights are given.

    Parameters
    ----------
    table : array, shape (..., k, k), counts.
    weights : array, shape (k, k), agreement weights with 1 for full agreement; need not be symmetric.

    Returns
    -------
    kappa : array, shape (...); NaN where chance agreement is 1 or the table is empty.

    Notes
    -----
    (po - pe) / (1 - pe). Source: Cohen 1960; weighted, Cohen, Psychol Bull 1968;70:213-20.
    """
    chance = chance_agreement(table, weights)
    return ratio(observed_agreement(table, weights) - chance, 1.0 - chance)


def kappa_standard_error(table: ArrayLike, weights: FloatArray | None = None, *, null: bool = False) -> FloatArray:
    """Large-sample standard error of kappa, treating the cases as independent.

    Parameters
    ----------
    table : array, shape (..., k, k), counts.
    weights : array, shape (k, k); None for plain kappa.
    null : True gives the error under 'kappa is 0', for that test only; False the one for intervals.

    Returns
    -------
    standard_error : array, shape (...); NaN where kappa is not defined.

    Notes
    -----
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
    if null:
        cells = rows[..., :, None] * columns[..., None, :] * (agree - margins) ** 2
        spread = cells.sum(axis=(-2, -1)) - chance**2
    else:
        kappa = cohen_kappa(table, agree)
        missed = (1.0 - kappa)[..., None, None]
        spread = (shares * (agree - margins * missed) ** 2).sum(axis=(-2, -1)) - (kappa - chance * (1.0 - kappa)) ** 2
    return np.sqrt(ratio(np.maximum(spread, 0.0), cases * (1.0 - chance) ** 2))


def kappa_standard_error_cohen1960(table: ArrayLike) -> FloatArray:
    """Cohen's first, approximate standard error of kappa; kept for comparison with older papers.

    Parameters
    ----------
    table : array, shape (..., k, k), counts.

    Returns
    -------
    standard_error : array, shape (...); NaN where kappa is not defined.

    Notes
    -----
    sqrt(po (1 - po) / n) / (1 - pe). Source: Cohen 1960, from memory.
    """
    observed, chance = observed_agreement(table), chance_agreement(table)
    cases = np.asarray(table, float).sum(axis=(-2, -1))
    return ratio(np.sqrt(ratio(observed * (1.0 - observed), cases)), 1.0 - chance)


def scott_pi(table: ArrayLike) -> FloatArray:
    """Scott's pi: chance agreement from the mean of the two readers' margins.

    Parameters
    ----------
    table : array, shape (..., k, k), counts.

    Returns
    -------
    pi : array, shape (...); NaN where not defined.

    Notes
    -----
    Source: Scott 1955, from memory.
    """
    shares = _proportions(table)
    pooled = (shares.sum(axis=-1) + shares.sum(axis=-2)) / 2.0
    chance = (pooled**2).sum(axis=-1)
    return ratio(observed_agreement(table) - chance, 1.0 - chance)


def gwet_ac1_of_table(table: ArrayLike) -> FloatArray:
    """Gwet's AC1 for two readers.

    Parameters
    ----------
    table : array, shape (..., k, k), counts; k is the number of categories of the scale.

    Returns
    -------
    ac1 : array, shape (...); NaN for an empty table or a scale of one category.

    Notes
    -----
    pe = sum p (1 - p) / (k - 1) with p the mean margin. Source: Gwet, Br J Math Stat Psychol 2008;61:29-48.
    """
    shares = _proportions(table)
    pooled = (shares.sum(axis=-1) + shares.sum(axis=-2)) / 2.0
    chance = ratio((pooled * (1.0 - pooled)).sum(axis=-1), shares.shape[-1] - 1)
    return ratio(observed_agreement(table) - chance, 1.0 - chance)


def prevalence_adjusted_kappa(table: ArrayLike) -> FloatArray:
    """PABAK (two categories) and its Brennan-Prediger form for k categories.

    Parameters
    ----------
    table : array, shape (..., k, k), counts.

    Returns
    -------
    kappa : array, shape (...); 2 po - 1 for two categories; NaN for an empty table.

    Notes
    -----
    (po - 1/k) / (1 - 1/k). Source: Byrt, Bishop & Carlin 1993; Brennan & Prediger 1981, both from memory.
    """
    chance = 1.0 / np.asarray(table).shape[-1]
    return ratio(observed_agreement(table) - chance, 1.0 - chance)


@dataclass(frozen=True)
class SpecificAgreement:
    """Agreement on each category, arrays of shape (..., k), NaN for a category that neither reader used."""

    proportion: FloatArray  # 2 n_jj / (row_j + column_j)
    jaccard: FloatArray  # n_jj / (row_j + column_j - n_jj): of the cases where at least one chose it


def specific_agreement_of_table(table: ArrayLike) -> SpecificAgreement:
    """Agreement of two readers on each category, in both forms found in the literature.

    Parameters
    ----------
    table : array, shape (..., k, k), counts.

    Returns
    -------
    SpecificAgreement with arrays of shape (..., k), 0 to 1.

    Notes
    -----
    For two categories the first form is Cicchetti & Feinstein's ppos and pneg (J Clin Epidemiol 1990;43:551-8). The
    second is the 'proportion of agreement' of much of the obstetric literature (Grant 1991, definition from memory);
    S = 2 J / (1 + J). Compare like with like.
    """
    counts = np.asarray(table, float)
    both = np.diagonal(counts, axis1=-2, axis2=-1)
    used = counts.sum(axis=-1) + counts.sum(axis=-2)
    return SpecificAgreement(ratio(2.0 * both, used), ratio(both, used - both))


def prevalence_index(table: ArrayLike) -> FloatArray:
    """How unevenly the categories are used: 0 when all are used alike, 1 when only one is.

    Parameters
    ----------
    table : array, shape (..., k, k), counts.

    Returns
    -------
    index : array, shape (...), 0 to 1; NaN for an empty table.

    Notes
    -----
    For two categories |a - d| / n (Byrt, Bishop & Carlin 1993, from memory). For k categories our own extension that
    agrees with it at k = 2: sqrt((k sum p^2 - 1) / (k - 1)), p the mean margins.
    """
    shares = _proportions(table)
    pooled = (shares.sum(axis=-1) + shares.sum(axis=-2)) / 2.0
    categories = shares.shape[-1]
    return np.sqrt(np.maximum(ratio(categories * (pooled**2).sum(axis=-1) - 1.0, categories - 1), 0.0))


def bias_index(table: ArrayLike) -> FloatArray:
    """How differently the two readers use the categories: 0 alike, 1 no category in common.

    Parameters
    ----------
    table : array, shape (..., k, k), counts.

    Returns
    -------
    index : array, shape (...), 0 to 1; NaN for an empty table.

    Notes
    -----
    For two categories |b - c| / n (Byrt, Bishop & Carlin 1993, from memory). For k categories our own extension that
    agrees with it at k = 2: half the sum of the absolute differences of the margins.
    """
    shares = _proportions(table)
    return np.asarray(np.abs(shares.sum(axis=-1) - shares.sum(axis=-2)).sum(axis=-1) / 2.0)


def cases_for_half_width(table: ArrayLike, half_width: float, z: float) -> int:
    """How many cases would give kappa an interval of the given half-width, at the table's proportions.

    Parameters
    ----------
    table : array, shape (k, k), counts of a pilot.
    half_width : half the width of the interval wanted, in units of kappa.
    z : normal quantile of the interval, 1.96 for 95 %.

    Returns
    -------
    cases : smallest whole number of cases.

    Raises
    ------
    ValueError : kappa is not defined for the table.
    """
    error = float(kappa_standard_error(table))
    if not np.isfinite(error):
        raise ValueError("kappa is not defined for this table, so no number of cases can be given")
    return int(np.ceil(np.asarray(table, float).sum() * (z * error / half_width) ** 2))

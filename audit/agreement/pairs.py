"""Two columns of answers beside each other: readers' pairs, repeat reads, and the computed reading."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audit.agreement import two_readers
from audit.agreement.arrays import FloatArray, IntArray, number_or_none
from audit.agreement.options import AgreementOptions
from audit.agreement.resampling import Estimate, estimate, resample, sums_by_case
from audit.agreement.scales import Scale, agreement_weights

KAPPA_UNDEFINED = "Not defined: both used one category only, so agreement beyond chance cannot be judged."
NO_COMMON_WINDOW = "No window was read by both."
NO_ORDER = "Not given: the answers have no order."


@dataclass(frozen=True)
class PairAgreement:
    """Agreement of two columns of categories over the windows that both answered."""

    table: IntArray  # (k, k) counts, 'not assessable' last when it was used; rows are the first column's answers
    windows: int
    agreement: Estimate
    kappa: Estimate
    weighted_kappa_linear: Estimate
    weighted_kappa_quadratic: Estimate
    kappa_standard_error: float | None
    weighted_kappa_linear_standard_error: float | None
    weighted_kappa_quadratic_standard_error: float | None
    pabak: float | None
    gwet_ac1: float | None
    prevalence_index: float | None
    bias_index: float | None


def pair_agreements(
    columns: Sequence[tuple[IntArray, IntArray]], scale: Scale, case_index: IntArray, cases: int,
    options: AgreementOptions, *, with_not_assessable: bool,
) -> list[PairAgreement]:  # fmt: skip
    """Compare several pairs of columns on the same resamples of cases.

    Parameters
    ----------
    columns : pairs of arrays, each of shape (n_windows,): codes 0 to k - 1, k for 'not assessable', other = no answer.
    scale : the scale, k categories.
    case_index : array, shape (n_windows,), the case of each window.
    cases : number of cases.
    options : draws, seed and interval rule.
    with_not_assessable : whether that answer is a category of its own; else it counts as no answer.

    Returns
    -------
    agreements : one PairAgreement per pair, in order. Weighted kappas leave 'not assessable' out, because it has no
        place in the order.
    """
    if not columns:
        return []
    k = max(len(scale.categories) + int(with_not_assessable), 1)  # nobody answered: one empty cell
    cells = np.stack([_cells(first, second, k) for first, second in columns], axis=1)  # (n_windows, pairs, k*k)
    flat = cells.reshape(len(case_index), len(columns) * k * k)
    (drawn,) = resample([sums_by_case(flat, case_index, cases)], options.draws, options.seed) if cases else (flat[:0],)
    tables = flat.sum(axis=0).reshape(len(columns), k, k)
    draws = drawn.reshape(-1, len(columns), k, k)
    read = [_cases_read(cells[:, p], case_index) for p in range(len(columns))]
    return [_pair(tables[p], draws[:, p], read[p], scale, options) for p in range(len(columns))]


def _cells(first: IntArray, second: IntArray, k: int) -> FloatArray:
    both = (first >= 0) & (first < k) & (second >= 0) & (second < k)
    cells = np.zeros((len(first), k * k))
    cells[np.flatnonzero(both), first[both] * k + second[both]] = 1.0
    return cells


def _cases_read(cells: FloatArray, case_index: IntArray) -> int:
    return len(np.unique(case_index[cells.any(axis=1)]))


def _pair(table: FloatArray, drawn: FloatArray, cases: int, scale: Scale, options: AgreementOptions) -> PairAgreement:
    windows = int(table.sum())
    ordered = len(scale.categories)
    inner, inner_drawn = table[:ordered, :ordered], drawn[:, :ordered, :ordered]
    undefined = KAPPA_UNDEFINED if windows else NO_COMMON_WINDOW

    def figure(value: FloatArray, draws: FloatArray, n: int) -> Estimate:
        return estimate(float(value), draws, n=n, cases=cases, rule=options.interval, undefined=undefined)

    weighted: dict[str, Estimate] = {}
    errors: dict[str, float | None] = {}
    for name in ("linear", "quadratic"):
        if scale.kind != "ordinal":
            weighted[name], errors[name] = Estimate(None, note=NO_ORDER), None
            continue
        weights = agreement_weights("linear" if name == "linear" else "quadratic", ordered)
        n = int(inner.sum())
        weighted[name] = figure(
            two_readers.cohen_kappa(inner, weights), two_readers.cohen_kappa(inner_drawn, weights), n
        )
        errors[name] = number_or_none(two_readers.kappa_standard_error(inner, weights))
    one_category = bool(((table.sum(axis=0) + table.sum(axis=1)) > 0).sum() < 2)
    return PairAgreement(
        table=table.astype(np.int64),
        windows=windows,
        agreement=figure(two_readers.observed_agreement(table), two_readers.observed_agreement(drawn), windows),
        kappa=figure(two_readers.cohen_kappa(table), two_readers.cohen_kappa(drawn), windows),
        weighted_kappa_linear=weighted["linear"],
        weighted_kappa_quadratic=weighted["quadratic"],
        kappa_standard_error=number_or_none(two_readers.kappa_standard_error(table)),
        weighted_kappa_linear_standard_error=errors["linear"],
        weighted_kappa_quadratic_standard_error=errors["quadratic"],
        pabak=None if one_category else number_or_none(two_readers.prevalence_adjusted_kappa(table)),
        gwet_ac1=None if one_category else number_or_none(two_readers.gwet_ac1_of_table(table)),
        prevalence_index=number_or_none(two_readers.prevalence_index(table)),
        bias_index=number_or_none(two_readers.bias_index(table)),
    )

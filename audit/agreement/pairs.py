"""Two columns of answers beside each other: readers' pairs, repeat reads, and the computed reading."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import islice

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from audit.agreement import two_readers
from audit.agreement.arrays import BoolArray, FloatArray, IntArray
from audit.agreement.options import AgreementOptions
from audit.agreement.resampling import Estimate, drawn_cases, estimate, resample
from audit.agreement.scales import Scale, agreement_weights
from audit.figures import number_or_none

KAPPA_UNDEFINED = "Not defined: both used one category only, so agreement beyond chance cannot be judged."
NO_COMMON_WINDOW = "No window was read by both."
NO_ORDER = "Not given: the answers have no order."
# More pairs than of 64 readers each beside each are not worked out: 5 ms each, and nobody reads them. Our choice.
MOST_PAIRS = 2016
# Pairs are compared in blocks, so that their resampled tables (8 bytes for each draw and cell) stay under this, however
# many pairs there are; the product that makes them holds them twice for a moment.
_BLOCK_BYTES = 16 * 2**20


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


def pairs_in_common(answered: BoolArray, most: int = MOST_PAIRS) -> tuple[list[tuple[int, int]], int]:
    """The pairs of readers who answered at least one window both.

    `answered`: shape (n_windows, n_readers), whether the reader answered the window. `most`: how many pairs to give at
    most: of more those with the most common windows, then by position.
    Gives pairs: positions of the readers, the lower first, in order. Memory grows with the pairs found, not with all
    pairs. found: how many pairs have a common window.
    """
    seen = sparse.csr_matrix(answered, dtype=np.int64)
    both = sparse.triu(seen.T @ seen, k=1).tocoo()
    chosen = np.lexsort((both.col, both.row, -both.data))[:most]
    return sorted(zip(both.row[chosen].tolist(), both.col[chosen].tolist(), strict=True)), int(both.nnz)


def pair_agreements(
    columns: Iterable[tuple[IntArray, IntArray]], scale: Scale, case_index: IntArray, cases: int,
    options: AgreementOptions, *, with_not_assessable: bool,
) -> Iterator[PairAgreement]:  # fmt: skip
    """Compare several pairs of columns on the same resamples of cases.

    Parameters
    ----------
    columns : pairs of arrays, each of shape (n_windows,): codes 0 to k - 1, k for 'not assessable', other = no answer.
    scale : the scale, k categories.
    case_index : array, shape (n_windows,), the case of each window.
    cases : number of cases.
    options : draws, seed and interval rule.
    with_not_assessable : whether that answer is a category of its own; else it counts as no answer.

    Yields
    ------
    agreements : one PairAgreement per pair, in order. Weighted kappas leave 'not assessable' out, because it has no
        place in the order. All blocks of pairs see the same draws, so a pair's figures do not depend on the pairs
        beside it.
    """
    k = max(len(scale.categories) + int(with_not_assessable), 1)  # nobody answered: one empty cell
    size = max(1, _BLOCK_BYTES // (8 * options.draws * k * k))
    rest = iter(columns)
    times = drawn_cases(cases, options.draws, options.seed) if cases else []
    while block := list(islice(rest, size)):
        yield from _block(block, k, scale, case_index, cases, options, times)


def _block(
    columns: list[tuple[IntArray, IntArray]], k: int, scale: Scale, case_index: IntArray, cases: int,
    options: AgreementOptions, times: list[NDArray[np.uint16]],
) -> Iterator[PairAgreement]:  # fmt: skip
    answered = [_cells(first, second, k) for first, second in columns]
    cell = np.concatenate([pair * k * k + cells for pair, (_, cells) in enumerate(answered)])
    case = np.concatenate([case_index[windows] for windows, _ in answered])
    shape = (cases, len(columns) * k * k)
    sums = sparse.csr_matrix((np.ones(len(cell)), (case, cell)), shape=shape)  # answers of the same cell are added up
    drawn = resample([sums], options.draws, options.seed, times)[0] if cases else np.zeros((0, shape[1]))
    tables = np.bincount(cell, minlength=shape[1]).astype(float).reshape(len(columns), k, k)
    draws = drawn.reshape(-1, len(columns), k, k)
    for pair, (windows, _) in enumerate(answered):
        yield _pair(tables[pair], draws[:, pair], len(np.unique(case_index[windows])), scale, options)


def _cells(first: IntArray, second: IntArray, k: int) -> tuple[IntArray, IntArray]:
    """The windows that both answered, and the cell of the pair's table that each falls into."""
    windows = np.flatnonzero((first >= 0) & (first < k) & (second >= 0) & (second < k))
    return windows, first[windows] * k + second[windows]


def _pair(table: FloatArray, drawn: FloatArray, cases: int, scale: Scale, options: AgreementOptions) -> PairAgreement:
    windows = int(table.sum())
    ordered = len(scale.categories)
    inner, inner_drawn = table[:ordered, :ordered], drawn[:, :ordered, :ordered]
    undefined = KAPPA_UNDEFINED if windows else NO_COMMON_WINDOW

    def figure(formula: Callable[[FloatArray], FloatArray], counts: FloatArray, draws: FloatArray) -> Estimate:
        value = float(formula(counts))
        has_interval = np.isfinite(value) and cases >= options.interval.cases_min
        return estimate(
            value, formula(draws) if has_interval else draws[:0, 0, 0], n=int(counts.sum()), cases=cases,
            rule=options.interval, undefined=undefined,
        )  # fmt: skip

    weighted: dict[str, Estimate] = {}
    errors: dict[str, float | None] = {}
    for name in ("linear", "quadratic"):
        if scale.kind != "ordinal":
            weighted[name], errors[name] = Estimate(None, note=NO_ORDER), None
            continue
        weights = agreement_weights("linear" if name == "linear" else "quadratic", ordered)
        weighted[name] = figure(partial(two_readers.cohen_kappa, weights=weights), inner, inner_drawn)
        errors[name] = number_or_none(two_readers.kappa_standard_error(inner, weights))
    one_category = bool(((table.sum(axis=0) + table.sum(axis=1)) > 0).sum() < 2)
    return PairAgreement(
        table=table.astype(np.int64),
        windows=windows,
        agreement=figure(two_readers.observed_agreement, table, drawn),
        kappa=figure(two_readers.cohen_kappa, table, drawn),
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

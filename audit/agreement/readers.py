"""Each reader's leaning, the windows on which readers differ most, months, and reads before and after disclosure."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy import stats

from audit.agreement.arrays import FloatArray, IntArray
from audit.agreement.consensus import others_consensus
from audit.agreement.measures import all_measures
from audit.agreement.options import AgreementOptions
from audit.agreement.pairs import PairAgreement, pair_agreements
from audit.agreement.reads import MISSING, ReadGrid, ReadsTable, WindowKey, arrange
from audit.agreement.resampling import Estimate
from audit.agreement.scales import scale_for
from audit.figures import number_or_none
from audit.vocabulary import NOT_ASSESSABLE


@dataclass(frozen=True)
class Leaning:
    """How one reader uses the categories beside the consensus of the others, on the same windows."""

    reader: str
    windows: int  # read by this reader and with a consensus of the others
    shares: dict[str, float]  # category -> this reader's share; empty without such windows
    consensus_shares: dict[str, float]
    more_severe: int  # windows on which this reader is above the others' consensus; 0 for answers without order
    less_severe: int
    agreement: PairAgreement


def leanings(grid: ReadGrid, options: AgreementOptions) -> list[Leaning]:
    """Every reader beside the consensus of the other readers, so that nobody is compared with themselves.

    `grid`: first reads of a categorical item. `options`: consensus rule, draws, seed and interval rule.
    Gives leanings: one per reader, in the grid's order.
    Raises ValueError: an item of measured numbers.
    """
    if grid.scale.kind == "number":
        raise ValueError("leanings are for categories; for numbers use the limits of agreement")
    k = len(grid.scale.categories)
    refused = any(bool((column == k).any()) for pair in _beside_others(grid, options) for column in pair)
    names = [*grid.scale.categories, *([NOT_ASSESSABLE] if refused else [])]
    columns, again = _beside_others(grid, options), _beside_others(grid, options)  # not all of them at once in memory
    pairs = pair_agreements(columns, grid.scale, grid.case_index, len(grid.cases), options, with_not_assessable=refused)
    found = []
    for reader, (own, joint), pair in zip(grid.readers, again, pairs, strict=True):
        ordered = (own < k) & (joint < k) & (grid.scale.kind == "ordinal")  # what is MISSING is so in both
        found.append(
            Leaning(
                reader=reader,
                windows=pair.windows,
                shares=_shares(pair.table.sum(axis=1), names),
                consensus_shares=_shares(pair.table.sum(axis=0), names),
                more_severe=int((own > joint)[ordered].sum()),
                less_severe=int((own < joint)[ordered].sum()),
                agreement=pair,
            )
        )
    return found


def _beside_others(grid: ReadGrid, options: AgreementOptions) -> Iterator[tuple[IntArray, IntArray]]:
    """Each reader's codes and the others' consensus, where both exist; MISSING elsewhere."""
    found = others_consensus(grid, **options.consensus(len(grid.readers) - 1))
    for own, (windows, joint) in zip(grid.values.T, found, strict=True):
        first, second = (np.full(len(grid.windows), MISSING, dtype=np.int64) for _ in range(2))
        both = joint != MISSING
        first[windows[both]], second[windows[both]] = own[windows[both]].astype(np.int64), joint[both]
        yield first, second


def _shares(counts: IntArray, names: list[str]) -> dict[str, float]:
    total = counts.sum()
    return {name: float(count / total) for name, count in zip(names, counts, strict=True)} if total else {}


@dataclass(frozen=True)
class WindowDisagreement:
    """How far readers are apart on one window."""

    window: WindowKey
    reads: int
    score: float  # 0 all alike to 1 as far apart as the scale allows; numbers: mean absolute difference, item's unit
    answers: dict[str, str | float]  # reader -> answer


def disagreements(grid: ReadGrid) -> list[WindowDisagreement]:
    """The windows read by two readers or more, those furthest apart first.

    `grid`: first reads of one item.
    Gives windows: sorted by falling score, then by window.

    The score is the mean over pairs of reads of the distance between their categories divided by the widest distance
    of the scale (1 for any difference without order, or against 'not assessable'). Our choice.
    """
    names = [*grid.scale.categories, NOT_ASSESSABLE]
    k = len(grid.scale.categories)
    found = []
    for window, row in zip(grid.windows, grid.values, strict=True):
        seen = np.flatnonzero(np.isfinite(row))
        if len(seen) < 2:
            continue
        values = row[seen]
        distance = np.abs(values[:, None] - values[None, :])
        if grid.scale.kind == "ordinal":
            refused = (values == k)[:, None] ^ (values == k)[None, :]
            distance = np.where(refused, 1.0, distance / (k - 1))
        elif grid.scale.kind == "nominal":
            distance = (distance > 0).astype(float)
        score = float(distance.sum() / (len(seen) * (len(seen) - 1)))
        is_number = grid.scale.kind == "number"
        answers = {grid.readers[r]: float(row[r]) if is_number else names[int(row[r])] for r in seen}
        found.append(WindowDisagreement(window, len(seen), score, answers))
    return sorted(found, key=lambda w: (-w.score, w.window))


@dataclass(frozen=True)
class MonthlyAgreement:
    """One figure in one month."""

    period: str
    name: str
    category: str | None
    windows: int
    readers: int
    estimate: Estimate


def monthly_agreement(
    reads: ReadsTable, period_of_case: Mapping[str, str], *, item: str, standard: str, options: AgreementOptions
) -> list[MonthlyAgreement]:
    """Every figure over all readers, month by month.

    Parameters
    ----------
    reads : reads of one item and standard, all months.
    period_of_case : case_id to YYYY-MM; reads of a case without a month are left out.
    item, standard : as in `agreement_document`.
    options : draws, seed and interval rule.

    Returns
    -------
    figures : in order of month. Months without reads do not occur.

    Raises
    ------
    UsageError : as in `agreement_document`.
    """
    scale = scale_for(item, standard, reads.value)
    rows_of: dict[str, list[int]] = {}
    for row, case_id in enumerate(reads.case_id):
        if case_id in period_of_case:
            rows_of.setdefault(period_of_case[case_id], []).append(row)
    found = []
    for period in sorted(rows_of):
        grid = arrange(reads.rows(rows_of[period]), scale)
        if not grid.windows:
            continue
        found += [
            MonthlyAgreement(period, name, category, len(grid.windows), len(grid.readers), figure)
            for name, category, figure in all_measures(grid, options)
        ]
    return found


@dataclass(frozen=True)
class DisclosureShift:
    """The same readers' reads of the same windows with the outcome hidden and then known."""

    pairs: int  # window and reader, read both ways
    windows: int
    same: int
    more_severe: int  # after disclosure
    less_severe: int
    p_two_sided: float | None  # sign test of 'more' against 'less'; None without a change
    note: str | None


def disclosure_shift(hidden: ReadsTable, known: ReadsTable, *, item: str, standard: str) -> DisclosureShift:
    """Whether knowing the outcome moves the reads (hindsight).

    `hidden`: reads made without the outcome. `known`: reads made knowing it. `item`, `standard`: an item with ordered
    answers.
    Gives DisclosureShift over reads with a place in the order; 'not assessable' is left out.
    Raises UsageError: as in `agreement_document`.

    Exact sign test, which treats reads as independent; several reads of one case are not, so its p is too small then.
    """
    scale = scale_for(item, standard, [*hidden.value, *known.value])
    nothing = DisclosureShift(0, 0, 0, 0, 0, None, "No read was made both without and with the outcome.")
    if scale.kind != "ordinal":
        return replace(nothing, note="Not given: the answers have no order.")
    before, after = by_place(arrange(hidden, scale)), by_place(arrange(known, scale))
    both = sorted(before.keys() & after.keys())
    if not both:
        return nothing
    change = np.array([after[place] - before[place] for place in both])
    more, less = int((change > 0).sum()), int((change < 0).sum())
    p = number_or_none(stats.binomtest(more, more + less).pvalue) if more + less else None
    note = None if more + less else "No read changed."
    windows = len({window for window, _ in both})
    return DisclosureShift(len(both), windows, int((change == 0).sum()), more, less, p, note)


def by_place(grid: ReadGrid) -> dict[tuple[WindowKey, str], float]:
    """The answers that have a place in the order, by window and reader; 'not assessable' has none."""
    values: FloatArray = grid.values
    return {
        (window, reader): float(values[w, r])
        for w, window in enumerate(grid.windows)
        for r, reader in enumerate(grid.readers)
        if np.isfinite(values[w, r]) and values[w, r] < len(grid.scale.categories)
    }

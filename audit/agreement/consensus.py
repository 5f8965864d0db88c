"""The readers' joint answer per window, by a stated rule."""

from collections.abc import Iterator
from typing import Literal

import numpy as np

from audit.agreement.arrays import FloatArray, IntArray
from audit.agreement.reads import MISSING, ReadGrid, category_counts

ConsensusRule = Literal["majority", "median"]
TieRule = Literal["more_severe", "less_severe", "none"]


def consensus_codes(
    codes: IntArray, categories: int, *, rule: ConsensusRule, ties: TieRule, readers_min: int
) -> IntArray:
    """One category per window from several readers' categories.

    Parameters
    ----------
    codes : array, shape (n_windows, n_readers): 0 to categories - 1 from mildest to most severe, `categories` for
        'not assessable', MISSING for no read.
    categories : number of categories without 'not assessable'.
    rule : `majority` = the most frequent answer; `median` = the middle one of the ordered answers (for an even
        number the tie rule decides between the two middle ones).
    ties : `more_severe`, `less_severe`, or `none` for no consensus on that window.
    readers_min : fewer reads of a window give no consensus; at least 1.

    Returns
    -------
    consensus : array, shape (n_windows,), codes as above. A window is 'not assessable' when more than half of its
        readers say so; otherwise those reads are set aside and the others decide.

    Raises
    ------
    ValueError : an unknown rule.

    Notes
    -----
    Rules are our choice; the experts of the open database were pooled by majority (Hruban 2015, abstract).
    """
    counts = category_counts(codes, categories + 1)
    return _of_counts(counts, rule=rule, ties=ties, readers_min=readers_min)


def _of_counts(counts: FloatArray, *, rule: ConsensusRule, ties: TieRule, readers_min: int) -> IntArray:
    """The consensus from how often each category was chosen, 'not assessable' last."""
    categories = counts.shape[1] - 1
    counts, refused = counts[:, :-1], counts[:, -1]
    assessed = counts.sum(axis=1)
    if rule == "majority":
        low, high = _most_frequent(counts)
    elif rule == "median":
        low, high = _middle(counts)
    else:
        raise ValueError(f"consensus rule {rule!r}: expected majority or median")
    if ties == "none":
        chosen = np.where(low == high, low, MISSING)
    else:
        chosen = high if ties == "more_severe" else low
    chosen = np.where(refused > assessed, categories, chosen)
    return np.where(assessed + refused >= readers_min, chosen, MISSING).astype(np.int64)


def _most_frequent(counts: FloatArray) -> tuple[IntArray, IntArray]:
    """The mildest and the most severe of the most frequent categories."""
    if counts.shape[1] == 0:
        none = np.full(len(counts), MISSING, dtype=np.int64)
        return none, none
    top = counts == counts.max(axis=1, keepdims=True)
    return np.argmax(top, axis=1), counts.shape[1] - 1 - np.argmax(top[:, ::-1], axis=1)


def _middle(counts: FloatArray) -> tuple[IntArray, IntArray]:
    """The lower and the upper median category; without any answer whatever stands there is not used."""
    below = np.cumsum(counts, axis=1)
    total = counts.sum(axis=1, keepdims=True)
    lower = (below < np.ceil(total / 2.0)).sum(axis=1)
    upper = (below < np.floor(total / 2.0) + 1.0).sum(axis=1)
    return lower, upper


def consensus_values(grid: ReadGrid, *, rule: ConsensusRule, ties: TieRule, readers_min: int) -> FloatArray:
    """The readers' joint answer per window of a grid.

    `grid`: the first reads. `rule`, `ties`, `readers_min`: as in `consensus_codes`; numbers take the median whatever
    the rule. Answers without an order have no more and no less severe, so a tie between them is no consensus.
    Gives an array of shape (n_windows,), codes or numbers as in `grid.values`; NaN = no consensus.
    """
    if grid.scale.kind == "number":
        seen = np.isfinite(grid.values).sum(axis=1)
        middle = np.full(len(grid.windows), np.nan)
        enough = seen >= readers_min
        middle[enough] = np.nanmedian(grid.values[enough], axis=1)
        return middle
    rule, ties = _without_order(grid, rule, ties)
    codes = consensus_codes(grid.codes, len(grid.scale.categories), rule=rule, ties=ties, readers_min=readers_min)
    return np.where(codes == MISSING, np.nan, codes).astype(float)


def others_consensus(
    grid: ReadGrid, *, rule: ConsensusRule, ties: TieRule, readers_min: int
) -> Iterator[tuple[IntArray, IntArray]]:
    """For each reader of a categorical grid in turn, the joint answer of all others where that reader answered.

    `grid`: the first reads. `rule`, `ties`, `readers_min`: as in `consensus_values`.
    Gives windows, consensus: arrays of one length, the windows that the reader answered and codes as in
    `consensus_codes`. The others' counts are those of all less the reader's own, so that the work grows with the reads,
    not with readers by readers.
    """
    rule, ties = _without_order(grid, rule, ties)
    counts = category_counts(grid.codes, len(grid.scale.categories) + 1)
    for own in grid.values.T:
        windows = np.flatnonzero(np.isfinite(own))
        others = counts[windows]
        others[np.arange(windows.size), own[windows].astype(np.int64)] -= 1.0
        yield windows, _of_counts(others, rule=rule, ties=ties, readers_min=readers_min)


def _without_order(grid: ReadGrid, rule: ConsensusRule, ties: TieRule) -> tuple[ConsensusRule, TieRule]:
    return ("majority", "none") if grid.scale.kind == "nominal" else (rule, ties)

"""Agreement from counts of pairs of answers alone, so that the tables of several units add up to the figures of all.

No interval follows from them: that is drawn over cases, and a count of pairs does not know its cases.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from audit.agreement import many_readers, two_readers
from audit.agreement.arrays import FloatArray
from audit.agreement.consensus import consensus_values
from audit.agreement.many_readers import CategoryTotals
from audit.agreement.options import AgreementOptions
from audit.agreement.reads import ReadGrid, ReadsTable, WindowKey, arrange, category_counts, codes_of
from audit.agreement.scales import CATEGORIES, agreement_weights, scale_for
from audit.figures import number_or_none
from audit.vocabulary import NOT_ASSESSABLE

ITEM = "category"
NOMINAL, ORDERED, COMPUTED = "nominal", "ordered", "computed"
BESIDE = "beside not assessable"
ALPHA = "krippendorff_alpha_ordinal"
NO_INTERVAL = "Counts of pairs of several units: no interval, which would need the cases."


@dataclass(frozen=True)
class Pair:
    """Which pairs of answers are counted together."""

    family: str  # NOMINAL: 'not assessable' is a category; ORDERED: it is no read; COMPUTED: consensus, computed
    reads: int  # of the window, from 1; 0 for COMPUTED
    first: str
    second: str | None  # None: the only read of its window


PairCounts = Mapping[Pair, int]


def pair_counts(
    reads: ReadsTable, computed: Mapping[WindowKey, Any], *, standard: str, options: AgreementOptions
) -> Counter[Pair]:
    """Count the pairs of categories that a table of reads holds.

    `reads`: people's reads of the category under the standard. `computed`: the computed reading by window. `options`:
    how the consensus is made.
    Gives counts: unordered pairs of reads of one window, by how many reads it has; and windows by consensus and
    computed answer, where both are there. Empty without reads.
    Raises UsageError: an unknown standard, or an answer that it does not have.
    """
    found: Counter[Pair] = Counter()
    for _, pair, count in _pairs(reads, computed, standard, options):
        found[pair] += count
    return found


def labours_behind(
    reads: ReadsTable, computed: Mapping[WindowKey, Any], *, standard: str, options: AgreementOptions
) -> Counter[Pair]:
    """How many labours are behind each count of `pair_counts`, and behind what one family tells beside the other.

    The last are pairs under BESIDE: of windows where somebody chose 'not assessable', which are in both families by
    different numbers of reads. Parameters as there. Labours of different months add up.
    """
    cases: dict[Pair, set[str]] = defaultdict(set)
    for case_id, pair, _ in _pairs(reads, computed, standard, options, beside=True):
        cases[pair].add(case_id)
    return Counter({pair: len(own) for pair, own in cases.items()})


def _pairs(
    reads: ReadsTable,
    computed: Mapping[WindowKey, Any],
    standard: str,
    options: AgreementOptions,
    *,
    beside: bool = False,
) -> Iterator[tuple[str, Pair, int]]:
    """The case, kind and number of the pairs of each window."""
    scale = scale_for(ITEM, standard, [*reads.value, *computed.values()])
    grid, names = arrange(reads, scale), (*scale.categories, NOT_ASSESSABLE)
    counts = category_counts(grid.codes, len(names)).astype(int).tolist()
    for (case_id, *_), chosen in zip(grid.windows, counts, strict=True):
        named = list(chosen[:-1])
        for family, own in ((NOMINAL, chosen), (ORDERED, named)):
            yield from ((case_id, *each) for each in _of_window(family, own, names))
        if beside and chosen[-1]:
            # by how many reads are in the one family and how many in the other
            apart = f"{BESIDE} {chosen[-1]}"
            yield from (
                (case_id, Pair(apart, sum(chosen), pair.first, pair.second), n)
                for pair, n in _of_window(ORDERED, named, names)
            )
    for key, consensus, ours in _beside(grid, computed, options):
        yield key[0], Pair(COMPUTED, 0, names[consensus], names[ours]), 1


def _of_window(family: str, chosen: Sequence[int], names: Sequence[str]) -> list[tuple[Pair, int]]:
    reads = sum(chosen)
    if not reads:
        return []
    if reads == 1:
        return [(Pair(family, 1, names[list(chosen).index(1)], None), 1)]
    counts = [
        (Pair(family, reads, names[a], names[b]), n * (n - 1) // 2 if a == b else n * chosen[b])
        for a, n in enumerate(chosen)
        for b in range(a, len(chosen))
    ]
    return [(pair, count) for pair, count in counts if count]


def _beside(
    grid: ReadGrid, computed: Mapping[WindowKey, Any], options: AgreementOptions
) -> list[tuple[WindowKey, int, int]]:
    consensus = consensus_values(grid, **options.consensus())
    answers = codes_of(computed, grid)
    return [
        (grid.windows[k], int(consensus[k]), int(answers[k])) for k in np.flatnonzero(~np.isnan(consensus + answers))
    ]


def totals(counts: PairCounts, family: str, names: Sequence[str]) -> CategoryTotals:
    """The sums over windows from which every figure of many readers follows.

    `counts`: of any units. `family`: NOMINAL or ORDERED. `names`: categories from mildest to most severe.
    Gives CategoryTotals of the windows behind the counts. In a window of n reads each read has n - 1 others beside it,
    so the reads of a category are its ordered pairs over n - 1.
    """
    place, k = {name: position for position, name in enumerate(names)}, len(names)
    tables: dict[int, FloatArray] = defaultdict(lambda: np.zeros((k, k)))
    alone = np.zeros(k)
    for pair, count in counts.items():
        if pair.family != family:
            continue
        a = place[pair.first]
        if pair.second is None:
            alone[a] += count
            continue
        # unordered pairs counted both ways
        tables[pair.reads][a, place[pair.second]] += count
        tables[pair.reads][place[pair.second], a] += count
    paired = sum((table.sum() / (n * (n - 1)) for n, table in tables.items()), 0.0)
    zero = np.zeros((k, k))
    by_read = sum((table / (n - 1) for n, table in tables.items()), zero)
    by_window = sum((table / (n * (n - 1)) for n, table in tables.items()), zero)
    every = sum(tables.values(), zero)
    weights = [agreement_weights(name, k) for name in ("identity", "linear", "quadratic")]
    return CategoryTotals(
        pairs=np.asarray(every.sum()),
        agreeing=np.diag(every),
        possible=every.sum(axis=1),
        windows=np.asarray(paired + alone.sum()),
        windows_paired=np.asarray(paired),
        shares=by_window.sum(axis=1) + alone,
        agreement=np.array([(by_window * weight).sum() for weight in weights]),
        coincidences=by_read,
    )


def figures(counts: PairCounts, *, standard: str, options: AgreementOptions) -> dict[str, Any]:
    """The figures of agreement that counts of pairs hold.

    `counts`: of any units. `standard`: whose categories. `options`: weights of AC2.
    Gives `windows` with a read, `measures` (name, category, estimate, low and high (None), n: windows read by two or
    more, note) and `computed` (the consensus beside the computed reading: windows, agreement and the kappas, None where
    not defined).
    """
    ordered = CATEGORIES[standard]
    used = any(NOT_ASSESSABLE in (pair.first, pair.second) for pair in counts if pair.family == NOMINAL)
    nominal_names = (*ordered, NOT_ASSESSABLE) if used else ordered
    nominal, ordinal = totals(counts, NOMINAL, nominal_names), totals(counts, ORDERED, ordered)
    families = ((nominal, many_readers.WITHOUT_ORDER), (ordinal, many_readers.with_order(options.ac2_weights)))
    measures = [_row(name, None, formula(of), of) for of, named in families for name, formula in named.items()]
    for name, by_category in many_readers.BY_CATEGORY.items():
        values = by_category(nominal)
        measures += [_row(name, category, values[k], nominal) for k, category in enumerate(nominal_names)]
    windows = round(float(nominal.windows))
    return {"windows": windows, "measures": measures, "computed": _computed(counts, ordered)}


def _row(name: str, category: str | None, value: Any, of: CategoryTotals) -> dict[str, Any]:
    # chance-corrected figures are not defined where all reads are in one category
    corrected = name not in (many_readers.PROPORTION, *many_readers.BY_CATEGORY)
    one_category = int((of.shares > 0).sum()) < 2
    return {
        "name": name, "category": category,
        "estimate": None if corrected and one_category else number_or_none(value), "low": None, "high": None,
        "n": round(float(of.windows_paired)), "note": NO_INTERVAL,
    }  # fmt: skip


def _computed(counts: PairCounts, ordered: Sequence[str]) -> dict[str, Any]:
    names = (*ordered, NOT_ASSESSABLE)
    table = np.zeros((len(names), len(names)))
    for pair, count in counts.items():
        if pair.family == COMPUTED and pair.second is not None:
            table[names.index(pair.first), names.index(pair.second)] += count
    inner = table[: len(ordered), : len(ordered)]
    found: dict[str, Any] = {
        "windows": int(table.sum()),
        "agreement": number_or_none(two_readers.observed_agreement(table)),
        "kappa": number_or_none(two_readers.cohen_kappa(table)),
    }
    for name in ("linear", "quadratic"):
        weights = agreement_weights("linear" if name == "linear" else "quadratic", len(ordered))
        found[f"weighted_kappa_{name}"] = number_or_none(two_readers.cohen_kappa(inner, weights))
    return found

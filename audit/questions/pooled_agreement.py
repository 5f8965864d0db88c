"""The agreement of several units, from the counts of pairs that merged summaries told and the reads that are here."""

from collections import Counter, defaultdict
from typing import Any

from audit.agreement import pooled
from audit.agreement.options import AgreementOptions
from audit.agreement.pooled import Pair
from audit.questions.agreement import Question, reads_and_computed
from audit.store import database
from audit.store.database import records


def own(con: database.Connection, standard: str, options: AgreementOptions, period: str | None) -> Counter[Pair]:
    """The pairs of the reads that are here; `period` a month of birth, None = all."""
    reads, computed = reads_and_computed(con, Question(standard, pooled.ITEM, period))
    return pooled.pair_counts(reads, computed, standard=standard, options=options)


def told(con: database.Connection, standard: str, period: str | None) -> dict[str | None, Counter[Pair]]:
    """The pairs of merged summaries by month; None = what was told of several months together."""
    found: dict[str | None, Counter[Pair]] = defaultdict(Counter)
    for row in records(con, "summaries/agreement", {"standard": standard, "period": period}):
        pair = Pair(row["family"], row["reads"], row["category_a"], row["category_b"])
        found[row["period"]][pair] += row["pairs"]
    return dict(found)


def document(con: database.Connection, asked: Question, options: AgreementOptions) -> dict[str, Any] | None:
    """The figures of all units, without intervals; None where no summary told of this.

    `asked`: the category's; of other items no summary tells. `options`: how agreement is counted.
    Gives `windows`, `measures`, `computed` as `audit.agreement.pooled.figures`, and `merged_pairs`: pairs of reads from
    summaries.
    """
    if asked.item != pooled.ITEM:
        return None
    merged = sum(told(con, asked.standard, asked.period).values(), Counter[Pair]())
    if not merged:
        return None
    counts = merged + own(con, asked.standard, options, asked.period)
    pairs = sum(n for pair, n in merged.items() if pair.family == pooled.NOMINAL and pair.second is not None)
    return {**pooled.figures(counts, standard=asked.standard, options=options), "merged_pairs": pairs}


def alpha_by_month(
    con: database.Connection, standard: str, options: AgreementOptions, periods: list[str]
) -> dict[str, tuple[float | None, int]] | None:
    """Krippendorff's alpha (ordinal) and the windows with a read, of each month; None where no summary told of it."""
    merged = told(con, standard, None)
    if not merged:
        return None
    found = {}
    for period in periods:
        counts = merged.get(period, Counter[Pair]()) + own(con, standard, options, period)
        if counts:
            figures = pooled.figures(counts, standard=standard, options=options)
            alpha = next(row["estimate"] for row in figures["measures"] if row["name"] == pooled.ALPHA)
            found[period] = (alpha, figures["windows"])
    return found

"""How much of the unit's births the review rests on, and shares of the births rather than of what was exported."""

from collections.abc import Mapping, Sequence
from typing import Any

from audit.measures.proportions import wilson_interval
from audit.measures.suppression import hide_parts, hides_share, is_small
from audit.questions.waits import LEVEL
from audit.store import database
from audit.store.database import Record, records
from audit.words import words

_PARTS = {
    "continuously_monitored": "monitored continuously",
    "auscultated": "auscultated only",
    "caesareans": "caesareans",
    "caesareans_category_1": "caesareans of urgency 1",
    "caesareans_category_2": "caesareans of urgency 2",
    "caesareans_category_3": "caesareans of urgency 3",
    "caesareans_category_4": "caesareans of urgency 4",
    "neonatal_unit_admissions": "newborns admitted to a neonatal unit",
    "deaths": "deaths",
}
HIDDEN = "hidden"


def document(con: database.Connection, period: str | None, *, with_outcome: bool = True) -> Record:
    """What the unit counted, beside what was imported.

    Parameters
    ----------
    period : month of birth, YYYY-MM; None = every month that the unit counted.
    with_outcome : False leaves out what tells of outcomes.

    Returns
    -------
    document : `months`, `births`, `sentence` (coverage; None where the unit counted nothing), `switched` (reason and
        labours in which auscultation gave way to continuous monitoring; reason None = not given) and `shares`, rows of
        what, count, births, share, low, high (0 to 1; Wilson 95 %, Newcombe 1998). What one month lacks has no row.
    """
    rows = records(con, "month/coverage", {"period": period})
    names = [name for name in _PARTS if with_outcome or name not in ("neonatal_unit_admissions", "deaths")]
    births = sum(row["births"] for row in rows)
    shares = []
    for name in names:
        if rows and births and all(row[name] is not None for row in rows):
            shares.append(_share(_PARTS[name], sum(row[name] for row in rows), births))
    switched = records(con, "month/switched", {"period": period})
    return {
        "months": len(rows), "births": births, "sentence": _sentence(rows), "switched": switched, "shares": shares
    }  # fmt: skip


def switched_words(found: Mapping[str, Any]) -> str | None:
    """In how many labours auscultation gave way to continuous monitoring, and why; None where nobody says."""
    rows = found["switched"]
    if not rows:
        return None
    reasons = [
        f"{'no reason given' if row['reason'] is None else words(row['reason'])} {row['labours']}" for row in rows
    ]
    counts = [row["labours"] for row in rows]
    many = "labours" if HIDDEN in counts else f"{sum(counts)} labours"
    return f"Auscultation gave way to continuous monitoring in {many}: {', '.join(reasons)}."


def suppressed(found: Record, *, least: int) -> Record:
    """The same for outside the unit, small counts hidden."""
    shares = [
        {"what": row["what"], "count": HIDDEN, "births": row["births"]}
        if hides_share(row["count"], row["births"], least=least)
        else row
        for row in found["shares"]
    ]
    counts = [row["labours"] for row in found["switched"]]
    told = [None] * len(counts) if is_small(sum(counts), least) else hide_parts(counts, least=least)
    switched = [
        {**row, "labours": HIDDEN if count is None else count}
        for row, count in zip(found["switched"], told, strict=True)
    ]
    return {**found, "shares": shares, "switched": switched if any(count is not None for count in told) else []}


def _share(what: str, count: int, births: int) -> dict[str, Any]:
    # newborns can be more than births where there are twins
    low, high = wilson_interval(count, births, LEVEL) if count <= births else (None, None)
    return {"what": what, "count": count, "births": births, "share": count / births, "low": low, "high": high}


def _sentence(rows: Sequence[Record]) -> str | None:
    if not rows:
        return None
    births, traced = sum(row["births"] for row in rows), sum(row["with_tracing"] for row in rows)
    if all(row["continuously_monitored"] is not None for row in rows):
        monitored = sum(row["continuously_monitored"] for row in rows)
        more = "; more than the unit counted, so one of the two is wrong" if traced > monitored else ""
        return f"{traced} of {monitored} monitored labours imported, {births} births in all{more}."
    return f"{traced} labours with a tracing imported, {births} births in all."

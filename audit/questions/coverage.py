"""How much of the unit's births the review rests on, and shares of the births rather than of what was exported."""

from collections.abc import Mapping, Sequence
from typing import Any

from audit.measures.proportions import LEVEL, wilson_interval
from audit.measures.suppression import hides_share, is_small, parts_of_months, sum_is_told
from audit.months import NO_MONTH, within
from audit.store import database
from audit.store.database import Record, records
from audit.words import number_of, words

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
_URGENCIES = tuple(name for name in _PARTS if name.startswith("caesareans_"))
HIDDEN = "hidden"


def document(con: database.Connection, period: str | None, *, with_outcome: bool = True) -> Record:
    """What the unit counted, beside what was imported.

    `period`: month of birth, YYYY-MM; None = every month that the unit counted. `with_outcome`: False leaves out what
    tells of outcomes.
    Gives document: `months`, `births`, `sentence` (coverage; None where the unit counted nothing), `switched` (reason
    and labours in which auscultation gave way to continuous monitoring; reason None = not given) and `shares`, rows of
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
    many = "labours" if HIDDEN in counts else f"{sum(counts)} labour{'' if sum(counts) == 1 else 's'}"
    return f"Auscultation gave way to continuous monitoring in {many}: {', '.join(reasons)}."


def suppressed(con: database.Connection, found: Record, period: str | None, *, least: int) -> Record:
    """The same for outside the unit, small counts hidden, and what a month's or a year's report tells of the other.

    Where births themselves are few nothing is said of them; the sentence names no count that is hidden elsewhere.
    """
    months = records(con, "month/coverage", {"period": None})
    switched = _switched_outside(con, period, least)
    if not _births_told(months, period, least):
        return {**found, "births": HIDDEN, "sentence": None, "shares": [], "switched": switched}
    names = {words_: name for name, words_ in _PARTS.items()}
    counts = {names[row["what"]]: row["count"] for row in found["shares"]}
    hidden = _hidden(counts, found["births"], least)
    of_month = [_hidden({name: row[name] for name in _PARTS}, row["births"], least) for row in months]
    hidden |= {name for name in counts if not _sum_told(name, months, of_month, period, least)}
    hidden |= _of_parts(counts, hidden)
    shares = [
        {"what": row["what"], "count": HIDDEN, "births": row["births"]} if names[row["what"]] in hidden else row
        for row in found["shares"]
    ]
    sentence = _sentence(
        [row for row in months if within(row["period"], period)],
        traced=_traced_told(con, months, period, least),
        monitored="continuously_monitored" not in hidden,
    )
    return {**found, "sentence": sentence, "shares": shares, "switched": switched}


def _births_told(months: Sequence[Record], period: str | None, least: int) -> bool:
    asked = {k for k, row in enumerate(months) if within(row["period"], period)}
    small = [is_small(row["births"], least) for row in months]
    births = [(row["births"],) for row in months]
    return not is_small(sum(births[k][0] for k in asked), least) and sum_is_told(births, small, asked, least=least)


def _traced_told(con: database.Connection, months: Sequence[Record], period: str | None, least: int) -> bool:
    """Labours with a tracing of the months that the unit counted, which other sums tell unless it counted every one."""
    asked = {k for k, row in enumerate(months) if within(row["period"], period)}
    there = {row["period"] for row in records(con, "month/months") if within(row["period"], period)}
    if there - {months[k]["period"] for k in asked}:
        return False
    pairs = [(row["with_tracing"], row["labours"] - row["with_tracing"]) for row in months]
    small = [hides_share(row["with_tracing"], row["labours"], least=least) for row in months]
    part, rest = (sum(pairs[k][way] for k in asked) for way in (0, 1))
    return not hides_share(part, part + rest, least=least) and sum_is_told(pairs, small, asked, least=least)


def _switched_outside(con: database.Connection, period: str | None, least: int) -> list[Record]:
    """Labours by reason; those that are hidden come last, in the order of their names."""
    periods = sorted({row["period"] for row in records(con, "month/months") if within(row["period"], period)}, key=str)
    months = [
        {row["reason"]: row["labours"] for row in records(con, "month/switched", {"period": name or NO_MONTH})}
        for name in periods
    ]
    reasons = sorted({reason for month in months for reason in month}, key=str)
    shown = parts_of_months([[month.get(reason, 0) for reason in reasons] for month in months], least=least)
    told = [(reason, count) for reason, count in zip(reasons, shown, strict=bool(months)) if count is not None]
    rows = [{"reason": reason, "labours": count} for reason, count in sorted(told, key=lambda row: -row[1])]
    hidden = [reason for reason in reasons if reason not in dict(told)]
    return [*rows, *({"reason": reason, "labours": HIDDEN} for reason in hidden)] if rows else []


def _hidden(counts: Mapping[str, int | None], births: int, least: int) -> set[str]:
    small = {name for name, count in counts.items() if hides_share(count, births, least=least)}
    return small | _of_parts(counts, small)


def _of_parts(counts: Mapping[str, int | None], hidden: set[str]) -> set[str]:
    """One more urgency where a single one is hidden: all caesareans less the others would tell it."""
    parts = {name: counts[name] for name in _URGENCIES if counts.get(name) is not None}
    lone = parts.keys() & hidden
    if len(lone) != 1 or len(parts) < 2:
        return set()
    return {min(parts.keys() - lone, key=lambda name: (parts[name] == 0, parts[name] or 0))}


def _sum_told(name: str, months: Sequence[Record], hidden: Sequence[set[str]], period: str | None, least: int) -> bool:
    """Whether the sum of what was asked for tells no month that a report of its own hides."""
    given = [(row, name in gone) for row, gone in zip(months, hidden, strict=True) if row[name] is not None]
    pairs = [(row[name], max(0, row["births"] - row[name])) for row, _ in given]
    asked = {k for k, (row, _) in enumerate(given) if within(row["period"], period)}
    return sum_is_told(pairs, [small for _, small in given], asked, least=least)


def _share(what: str, count: int, births: int) -> dict[str, Any]:
    # newborns can be more than births where there are twins
    low, high = wilson_interval(count, births, LEVEL) if count <= births else (None, None)
    return {"what": what, "count": count, "births": births, "share": count / births, "low": low, "high": high}


def _sentence(rows: Sequence[Record], *, traced: bool = True, monitored: bool = True) -> str | None:
    """Coverage in words; `traced` and `monitored` say whether these counts may stand in it."""
    if not rows:
        return None
    births, imported = sum(row["births"] for row in rows), sum(row["with_tracing"] for row in rows)
    if not traced:
        return f"{number_of(births, 'birth')} in all."
    if monitored and all(row["continuously_monitored"] is not None for row in rows):
        counted = sum(row["continuously_monitored"] for row in rows)
        more = "; more than the unit counted, so one of the two is wrong" if imported > counted else ""
        return f"{imported} of {counted} monitored labours imported, {number_of(births, 'birth')} in all{more}."
    return f"{number_of(imported, 'labour')} with a tracing imported, {number_of(births, 'birth')} in all."

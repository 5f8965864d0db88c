"""A unit's months without a labour in them: what a regional office needs for the same pooled figures.

A share whose parts are small is left out with all its parts; so is a month of few births, and the waits of a month in
which a count of the share in time is small. Two summaries side by side may tell what one hides: see DEVELOPERS.md.
"""

from collections import Counter
from collections.abc import Sequence
from typing import Any

from audit import months
from audit.errors import UsageError
from audit.measures.suppression import hides_share, is_small
from audit.questions import waits
from audit.settings import Settings
from audit.store import database
from audit.store.database import Record, records
from audit.version import __version__

VERSION = 1
# share of a month -> its parts, all hidden with it
_TOGETHER = (
    ("with_concern", "seen", ("analysed", "seen", "with_concern")),
    ("cord_gases", "newborns", ("newborns", "cord_gases")),
    ("complete", "complete_of", ("complete_of", "complete")),
)
_WAIT = ("period", "standard", "trigger", "target_minutes", "status", "wait_minutes", "ended_by")


def document(
    con: database.Connection, settings: Settings, *, unit: str, first: str, last: str, least: int
) -> dict[str, Any]:
    """What the unit tells of the months from `first` to `last`.

    Parameters
    ----------
    con : a connection that sees the unit's rows only. unit : its code.
    least : counts from 1 to `least - 1` are small; 1 hides nothing.

    Returns
    -------
    `version`, `program_version`, `settings_sha256`, `unit`, `first_period`, `last_period`, `least`, `months` (a row
        per month and standard), `waits` (how many concerns waited so long and how it ended) and `hidden`: period, what.

    Raises
    ------
    UsageError : a month that is none, or a span that ends before it begins.
    """
    months.checked_period(first)
    months.checked_period(last)
    if last < first:
        raise UsageError(f"period: found {first} to {last}, expected the earlier month first")
    standards = sorted({rule.standard for rule in settings.response.rules.values()})
    hidden: list[dict[str, str]] = []
    monthly: list[Record] = []
    times: list[Record] = []
    for standard in standards:
        seen = {
            "least_seen_fraction": settings.trends.least_seen_fraction,
            "least_seen_minutes": settings.trends.least_seen_minutes,
        }
        rows = [row for row in records(con, "trends/months", {"standard": standard, **seen})
                if first <= row["period"] <= last]  # fmt: skip
        small = {row["period"] for row in rows if is_small(row["births"], least)}
        hidden += [{"period": period, "what": f"{standard}: the whole month"} for period in sorted(small)]
        monthly += [_month(row, standard, least, hidden) for row in rows if row["period"] not in small]
        found = records(con, "response/times", {"period": None, "standard": standard})
        for period in sorted({row["period"] for row in rows} - small):
            own = [row for row in found if row["period"] == period]
            if own and _is_told(own, least):
                times += own
            elif own:
                hidden.append({"period": period, "what": f"{standard}: waits"})
    counted = Counter(tuple(row[name] for name in _WAIT) for row in times)
    ordered = sorted(counted.items(), key=lambda item: [str(value) for value in item[0]])
    return {
        "version": VERSION,
        "program_version": __version__,
        "settings_sha256": settings.sha256,
        "unit": unit,
        "first_period": first,
        "last_period": last,
        "least": least,
        "months": monthly,
        "waits": [{**dict(zip(_WAIT, key, strict=True)), "episodes": n} for key, n in ordered],
        "hidden": hidden,
    }


def _month(row: Record, standard: str, least: int, hidden: list[dict[str, str]]) -> Record:
    names = ("births", "analysed", "seen", "with_concern", "newborns", "cord_gases", "complete_of", "complete")
    told: Record = {"period": row["period"], "standard": standard, **{name: row[name] for name in names}}
    for part, whole, together in _TOGETHER:
        if hides_share(row[part], row[whole], least=least):
            hidden.append({"period": row["period"], "what": f"{standard}: {part} of {whole}"})
            told |= dict.fromkeys(together)
    return told


def _is_told(rows: Sequence[Record], least: int) -> bool:
    """Whether a month's waits may go out: none of the counts behind its share in time is small."""
    group = waits.wait_groups(rows, None)[0]
    kinds = Counter(row["status"] for row in rows)
    return not hides_share(group.within, group.assessed, least=least) and not any(
        is_small(count, least) for count in (len(rows), kinds["late"] + kinds["none_recorded"])
    )

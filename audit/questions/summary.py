"""A unit's months without a labour in them: what a regional office needs for the same pooled figures.

A share whose parts are small is left out with all its parts; so is a month of few births; `summary_parts` says how of
the rest. Two summaries side by side may tell
what one hides: see DEVELOPERS.md.
"""

from collections import Counter
from collections.abc import Mapping
from typing import Any

from audit import months
from audit.errors import UsageError
from audit.measures.suppression import hides_share, is_small
from audit.questions import merged_labours, summary_parts, units
from audit.settings import Settings
from audit.store import database
from audit.store.database import Record, records
from audit.version import __version__

VERSION = 2
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

    `con`: a connection that sees the unit's rows only. `unit`: its code. `least`: counts from 1 to `least - 1` are
    small; 1 hides nothing.
    Gives `version`, `program_version`, `settings_sha256`, `unit`, `first_period`, `last_period`, `least`, `months` (a
    row per month and standard), `waits` (how many concerns waited so long and how it ended), `chance` (the same under
    shifts of the acts), `agreement` (counts of pairs of categories), `areas`, `oxytocin`, `oxytocin_waits`,
    `births_decided`, `hours` (assessed), `case_mix` (counts by what labours brought with them) and `hidden`: period,
    what. The columns are those of the tables in `queries/schema/023_more_of_summaries.sql`.
    Raises UsageError: a month that is none, a span that ends before it begins, or labours that a summary told of.
    """
    months.checked_period(first)
    months.checked_period(last)
    if last < first:
        raise UsageError(f"period: found {first} to {last}, expected the earlier month first")
    if told_before := merged_labours.sentence(con, f"{first}/{last}"):
        raise UsageError(f"unit {unit}: a summary tells of labours that are here; {told_before}")
    standards = sorted({rule.standard for rule in settings.response.rules.values()})
    seen = settings.trends.seen_enough
    hidden: list[dict[str, str]] = []
    monthly: list[Record] = []
    times: list[Record] = []
    more: dict[str, list[Record]] = {name: [] for name in ("chance", "oxytocin", "oxytocin_waits", "case_mix")}
    told: set[str] = set()
    for standard in standards:
        rows = [row for row in records(con, "trends/months", {"standard": standard, **seen})
                if first <= row["period"] <= last]  # fmt: skip
        small = {row["period"] for row in rows if is_small(row["births"], least)}
        told = {row["period"] for row in rows} - small
        hidden += [{"period": period, "what": f"{standard}: the whole month"} for period in sorted(small)]
        own_months = [_month(row, standard, least, hidden) for row in rows if row["period"] in told]
        monthly += own_months
        found = records(con, "response/times", {"period": None, "standard": standard})
        with_waits = set()
        for period in sorted(told):
            own = summary_parts.waits_in_groups([row for row in found if row["period"] == period], least)
            if own is None:
                hidden.append({"period": period, "what": f"{standard}: waits"})
            elif own:
                times += own
                with_waits.add(period)
        more["chance"] += summary_parts.shares_by_chance(con, standard, with_waits)
        used, lasted = summary_parts.oxytocin_used(con, settings, standard, told, least, hidden)
        more["oxytocin"] += used
        more["oxytocin_waits"] += lasted
        labours = units.labours(con, settings.trends, standard, f"{first}/{last}")
        shares = {"concern": ("with_concern", "seen"), "acidosis": ("cord_gases", "newborns")}
        for measure in units.SHARES if standard == standards[0] else ("concern",):
            among = told_together(rows, own_months, *shares[measure], least) if measure in shares else told
            if told and not among:
                hidden.append({"period": summary_parts.TOGETHER, "what": f"{standard}: {measure} by case mix"})
            known = [row for row in labours if row["period"] in among and row[measure] is not None]
            more["case_mix"] += summary_parts.by_case_mix(
                known, measure, standard if measure == "concern" else None, least, hidden
            )
    agreed = summary_parts.agreement(con, settings.agreement, told, least, hidden)
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
        **more,
        "agreement": agreed,
        "areas": summary_parts.areas(con, settings, told, least, hidden),
        "births_decided": summary_parts.decisions(con, told, least, hidden),
        "hours": summary_parts.hours(con, told, least, hidden),
        "hidden": hidden,
    }


def told_together(rows: list[Record], own_months: list[Record], part: str, whole: str, least: int) -> set[str]:
    """The months of which a share may be told in one sum: all, or none.

    Months that hide theirs hide it for being small, so a sum of the others alone would lean to none or to all. Their
    own sum, which follows from that of all, must not be small either.
    """
    told = {row["period"] for row in own_months}
    hiding = {row["period"] for row in own_months if row[part] is None}
    sums = [sum(row[name] for row in rows if row["period"] in hiding) for name in (part, whole)]
    return set() if hiding and hides_share(*sums, least=least) else told


def in_words(told: Mapping[str, Any]) -> list[str]:
    """What the limit did to a summary, and whether it tells of anything at all, in sentences."""
    least, found = told["least"], []
    if told["hidden"]:
        found.append(
            f"Hidden is what 1 to {least - 1} labours stood behind, and what would tell that by a difference. Each"
            " month is held to the limit by itself; agreement, decisions and case mix of small months are told"
            " together."
        )
    if not told["months"]:
        why = f"each of its months had fewer than {least} labours" if told["hidden"] else "it has no labour in them"
        found.append(
            f"This summary tells nothing of unit {told['unit']} from {told['first_period']} to {told['last_period']}:"
            f" {why}."
        )
    elif least > 1:
        found.append(
            f"Times and areas are means of groups of at least {least} labours: counts within a target or limit stay"
            " exact, medians and curves come near."
        )
    return found


def _month(row: Record, standard: str, least: int, hidden: list[dict[str, str]]) -> Record:
    names = ("births", "analysed", "seen", "with_concern", "newborns", "cord_gases", "complete_of", "complete")
    told: Record = {"period": row["period"], "standard": standard, **{name: row[name] for name in names}}
    for part, whole, together in _TOGETHER:
        if hides_share(row[part], row[whole], least=least):
            hidden.append({"period": row["period"], "what": f"{standard}: {part} of {whole}"})
            told |= dict.fromkeys(together)
    return told

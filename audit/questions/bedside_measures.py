"""Monthly measures of assessments and oxytocin; what is not recorded has no chart."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from audit.questions import agreed, oxytocin
from audit.questions.bedside import roles_told
from audit.questions.waits import NOT_GIVEN
from audit.response.hourly import hourly_audit
from audit.settings import Settings
from audit.store import database
from audit.store.database import records

CLUSTERED = "Hours of one labour are not independent of each other, so the true limits and intervals are wider."

CLUSTERED_NOTES = "Assessments of one labour are not independent of each other, so the true limits are wider."


def measures(
    con: database.Connection, settings: Settings, standard: str, periods: list[str], db: Path | None
) -> list[dict[str, Any]]:
    """The measures of `trends` for which something was recorded.

    `standard`: whose concerns count. `periods`: months with cases, in order. `db`: the database's own path, for what
    meetings agreed; None = not asked.
    Gives measures: arguments of `control_charts.trend_measure`, with what each measures in words (`says`).
    """
    return [
        *_hours(con, periods),
        *_calling(con, settings, standard, periods),
        *_oxytocin(con, settings, standard, periods),
        *_agreed(con, settings, standard, periods, db),
    ]


def hours_of_months(con: database.Connection, periods: Sequence[str]) -> dict[str, list[int]]:
    """Of labours with an assessment, by month: whole hours of monitoring, those with one, those with one by a second
    person, and how many labours these are.
    """
    totals = {period: [0, 0, 0, 0] for period in periods}
    for row in records(con, "bedside/hours", {"period": None}):
        if row["times_s"] and row["period"] in totals:
            found = hourly_audit(row["times_s"], row["roles"], start_s=row["start_s"], end_s=row["end_s"])
            for k, count in enumerate((found.hours, found.assessed, found.second_person, 1)):
                totals[row["period"]][k] += count
    return totals


def _hours(con: database.Connection, periods: list[str]) -> list[dict[str, Any]]:
    totals = hours_of_months(con, periods)
    for row in records(con, "summaries/hours"):
        if row["period"] in totals:
            for k, name in enumerate(("hours", "assessed", "second_person")):
                totals[row["period"]][k] += row[name]
    if not any(total[1] for total in totals.values()):
        return []
    about = {1: ("hours_assessed", "with an assessment written down"),
             2: ("hours_assessed_by_two", "with an assessment by a second person")}  # fmt: skip
    return [
        {"name": name, "chart": "p", "unit": "share", "periods": periods, "clustered": CLUSTERED,
         "numerators": [totals[period][k] for period in periods],
         "denominators": [totals[period][0] for period in periods],
         "says": f"Whole hours of monitoring {words}, of labours with at least one; NICE NG229 asks for every hour"
                 " (from memory)."}
        for k, (name, words) in about.items()
    ]  # fmt: skip


def _calling(con: database.Connection, settings: Settings, standard: str, periods: list[str]) -> list[dict[str, Any]]:
    noted = records(con, "bedside/categories", {"period": None})
    told = roles_told(noted, standard, settings.pack.min_cell)
    steps = {period: told.get(period, []) for period in periods}
    if not any(steps.values()):
        return []
    return [
        {"name": name, "chart": "p", "unit": "share", "periods": periods, "clustered": CLUSTERED_NOTES,
         "numerators": [sum(worse * sign > 0 for worse in steps[period]) for period in periods],
         "denominators": [len(steps[period]) for period in periods],
         "says": f"Bedside categories {words} than the one computed for their minute, all roles together but those in"
                 " few labours, of those that can be compared. Neither is the truth, and staff know what the tracing"
                 " does not show."}
        for name, words, sign in (("bedside_milder", "milder", -1), ("bedside_worse", "worse", 1))
    ]  # fmt: skip


def _oxytocin(con: database.Connection, settings: Settings, standard: str, periods: list[str]) -> list[dict[str, Any]]:
    used = oxytocin.labours(con, settings, period=None, standard=standard)
    every = oxytocin.by_month(used, oxytocin.told(con, period=None, standard=standard))
    rows = {row["group"]: row for row in every if row["group"] not in ("all", NOT_GIVEN)}
    if not rows:
        return []
    own = [rows.get(period) for period in periods]
    return [
        {"name": "oxytocin_reduced_in_concern", "chart": "p", "unit": "share", "periods": periods,
         "numerators": [row["concern_reduced"] if row else 0 for row in own],
         "denominators": [row["concern_waits"] if row else 0 for row in own],
         "says": "Concerns that began on oxytocin and in which it was reduced or stopped before they ended, from their"
                 " pattern's start on."},
        {"name": "tachysystole_of_oxytocin_hours", "chart": "run", "unit": "share", "periods": periods, "lowest": 0.0,
         "values": [row["share_tachysystole"] if row else None for row in own],
         "denominators": [row["labours"] if row else 0 for row in own],
         "says": "Share of the hours on oxytocin with more than 5 contractions in 10 minutes, averaged over 30 (NICHD"
                 " 2008)."},
    ]  # fmt: skip


def _agreed(
    con: database.Connection, settings: Settings, standard: str, periods: list[str], db: Path | None
) -> list[dict[str, Any]]:
    if db is None:
        return []
    late, decided = agreed.by_month(agreed.document(con, db, settings, standard=standard)["clocks"], periods)
    if not any(decided):
        return []
    return [
        {"name": "delayed_as_agreed", "chart": "p", "unit": "share", "periods": periods, "numerators": late,
         "denominators": decided,
         "says": "Clocks that the meeting agreed to be late or unanswered, of those it decided; cases come to it"
                 " because they stand out, so this is no share of all labours; those drawn at random are left out,"
                 " unless every case was."}
    ]  # fmt: skip

"""Monthly measures of a unit as one document: points, control limits, signals and phases.

A month is a month of birth. Shares are given with numerator and denominator; a month with too few births behind it has
no point and says so; what cannot be estimated is None with a note.
"""

from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from msgspec.structs import replace

from audit.control_charts import Phase, TrendOptions, funnel_limits, trend_measure
from audit.errors import UsageError
from audit.people import phases as people_phases
from audit.questions import waits
from audit.questions.agreement import Question, by_month
from audit.questions.birth_times import CAESAREAN, birth_times
from audit.settings import Settings
from audit.store import database
from audit.store.database import Record, records

AGREEMENT = "krippendorff_alpha_ordinal"
FEWEST_DRAWS = 2
FUNNEL_TAILS = (0.025, 0.001)


def document(
    con: database.Connection, settings: Settings, *, db: Path | None = None, standard: str | None = None
) -> dict[str, Any]:
    """The document of `trends --json`.

    Parameters
    ----------
    con : a connection for reading. db : the database's own path, for the changes of practice the lead entered; None =
        no phases.
    standard : whose triggers count as a concern; None = the one in the settings.

    Returns
    -------
    `standard`, `measures` (each with `points`, `phases`, `rules`, `note` and in words what it measures), `funnel` over
    shifts, and `note`, which says why there is nothing.

    Raises
    ------
    UsageError : an unknown standard.
    """
    chosen = standard or settings.trends.standard
    known = sorted({rule.standard for rule in settings.response.rules.values()})
    if chosen not in known:
        raise UsageError(f"standard: found {chosen!r}, expected one of {', '.join(known)}")
    months = records(con, "trends/months", {"standard": chosen})
    rows = [row for row in records(con, "response/times", {"period": None, "standard": chosen}) if row["period"]]
    changes = _changes(db)
    measures = [
        {**_charted(measure, settings.trends, changes), "says": measure["says"]}
        for measure in _measures(con, settings, chosen, months, rows)
    ]
    note = None if months else "There are no cases with a month of birth, so there is nothing to chart."
    return {"standard": chosen, "measures": measures, "funnel": funnel(rows, "shift"), "note": note}


def _changes(db: Path | None) -> dict[str, list[Phase]]:
    """The lead's changes of practice by measure."""
    found: dict[str, list[Phase]] = defaultdict(list)
    for row in people_phases.everything(db) if db is not None else []:
        found[str(row["measure"])].append(Phase(str(row["from_period"]), str(row["label"])))
    return found


def _charted(measure: dict[str, Any], options: TrendOptions, changes: dict[str, list[Phase]]) -> dict[str, Any]:
    arguments = {name: value for name, value in measure.items() if name not in ("says",)}
    own = {phase.start: phase for phase in changes.get(people_phases.EVERY_MEASURE, [])}
    own |= {phase.start: phase for phase in changes.get(measure["name"], [])}
    return trend_measure(**arguments, options=options, phases=[own[start] for start in sorted(own)])


def _measures(
    con: database.Connection, settings: Settings, standard: str, months: Sequence[Record], rows: Sequence[Record]
) -> list[dict[str, Any]]:
    periods = [str(row["period"]) for row in months]
    answered = _answered(rows, periods)
    return [
        _values("births_reviewed", "run", "labours", periods, [row["births"] for row in months],
                "Labours of the month in the database."),
        _share("cases_with_concern", periods, months, "with_concern", "analysed",
               "Analysed labours with at least one concern episode under the standard."),
        {"name": "answered_within_target", "chart": "p", "unit": "share", "periods": periods,
         "numerators": [group.within if group else 0 for group in answered],
         "denominators": [group.within + group.late if group else 0 for group in answered],
         "says": "Concern episodes answered within their target, of those whose answer is known; birth or the"
                 " pattern's own end first is left out."},
        {"name": "half_answered_minutes", "chart": "run", "unit": "min", "periods": periods, "lowest": 0.0,
         "values": [group.half_answered_min if group else None for group in answered],
         "denominators": [group.episodes - group.not_assessable if group else 0 for group in answered],
         "says": "Minutes by which half of the month's concerns had an answer, birth and the pattern's own end"
                 " competing; no point where half never had one."},
        _births(con, periods),
        {"name": "area_last_hour_bpm_s_per_h", "chart": "xmr", "unit": "bpm·s/h", "periods": periods, "lowest": 0.0,
         "values": [row["area_median_bpm_s"] for row in months],
         "denominators": [row["area_tracings"] for row in months],
         "says": "Median over tracings of the deceleration area per seen hour in the last 60 minutes."},
        _share("cord_gases_taken", periods, months, "cord_gases", "newborns",
               "Newborns with a pH of the umbilical artery."),
        _between_acidosis(con, settings.trends.acidosis_ph_below),
        _agreement(con, settings, standard, periods),
        _share("record_complete", periods, months, "complete", "births",
               "Labours with a tracing that was read, an outcome, care events and a time of birth."),
    ]  # fmt: skip


def _share(name: str, periods: list[str], months: Sequence[Record], part: str, whole: str, says: str) -> dict[str, Any]:
    return {
        "name": name,
        "chart": "p",
        "unit": "share",
        "periods": periods,
        # a newborn known from a gas but not from a tracing must not make a share above 1
        "numerators": [min(row[part], row[whole]) for row in months],
        "denominators": [row[whole] for row in months],
        "says": says,
    }


def _values(name: str, chart: str, unit: str, periods: list[str], values: list[Any], says: str) -> dict[str, Any]:
    return {"name": name, "chart": chart, "unit": unit, "periods": periods, "values": values, "says": says}


def _answered(rows: Sequence[Record], periods: Sequence[str]) -> list[waits.WaitGroup | None]:
    groups = {group.name: group for group in waits.wait_groups(rows, "period")}
    return [groups.get(period) for period in periods]


def _births(con: database.Connection, periods: list[str]) -> dict[str, Any]:
    """Decision to birth within 30 minutes, of the caesareans decided on with the highest urgency.

    The published 30 minutes are for caesareans (NICE NG192, from memory), so births of another kind are left out.
    """
    within, total = dict.fromkeys(periods, 0), dict.fromkeys(periods, 0)
    for labour in birth_times(records(con, "response/birth_events", {"period": None, "case_id": None})):
        period = labour["period"]
        judged = labour["mode_of_birth"] == CAESAREAN and labour["urgency"] == 1 and labour["within_30"] is not None
        if period in total and judged:
            total[period] += 1
            within[period] += labour["within_30"]
    return {
        "name": "decision_to_birth_within_30_min", "chart": "p", "unit": "share", "periods": periods,
        "numerators": [within[period] for period in periods], "denominators": [total[period] for period in periods],
        "says": "Caesareans decided on with urgency category 1 that followed within 30 minutes; births of another kind"
                " or without a recorded category are left out.",
    }  # fmt: skip


def _between_acidosis(con: database.Connection, ph_below: float) -> dict[str, Any]:
    """Newborns between one with acidosis and the next: for an event too rare for a monthly share."""
    periods, gaps = gaps_between_events(records(con, "trends/newborns"), ph_below)
    return {
        "name": "newborns_between_acidosis", "chart": "g", "unit": "newborns", "periods": periods, "values": gaps,
        "says": f"Newborns with a cord gas between one with an arterial pH below {ph_below:.2f} and the next; high is"
                " good. Within a month the order is that of the case id.",
    }  # fmt: skip


def gaps_between_events(newborns: Sequence[Record], ph_below: float) -> tuple[list[str], list[float | None]]:
    """For each event but the first, its period and how many newborns without the event lie between it and the last.

    What lies before the first event is left out: nobody knows when the one before it was.
    """
    periods: list[str] = []
    gaps: list[float | None] = []
    since: int | None = None
    for row in newborns:
        if row["cord_artery_ph"] < ph_below:
            if since is not None:
                periods.append(str(row["period"]))
                gaps.append(float(since))
            since = 0
        elif since is not None:
            since += 1
    return periods, gaps


def _agreement(con: database.Connection, settings: Settings, standard: str, periods: list[str]) -> dict[str, Any]:
    # the chart has no room for an interval, and drawing samples for one is nearly all of the work
    without_interval = replace(settings.agreement, draws=FEWEST_DRAWS)
    rows = by_month(con, Question(standard), without_interval)
    found = {row.period: row for row in rows if row.name == AGREEMENT}
    return {
        "name": "reader_agreement", "chart": "run", "unit": "alpha", "periods": periods,
        "values": [found[period].estimate.value if period in found else None for period in periods],
        "denominators": [found[period].windows if period in found else 0 for period in periods],
        "says": "Agreement of readers on the category (Krippendorff's alpha, ordinal; 1 = perfect, 0 = chance);"
                " denominators are windows.",
    }  # fmt: skip


def funnel(rows: Sequence[Record], by: str) -> dict[str, Any]:
    """Share answered within target per shift beside the whole unit's share, with limits for that many episodes."""
    every = waits.wait_groups(rows, None)[0] if rows else None
    if every is None or every.share is None or not 0 < every.share < 1:
        return {"by": by, "target": None, "points": [], "note": "No funnel: the unit's share is 0, 1 or not known."}
    points: list[dict[str, Any]] = []
    for group in waits.wait_groups(rows, by):
        total = group.within + group.late
        limits = [funnel_limits(every.share, total, tail=tail) for tail in FUNNEL_TAILS]
        row: dict[str, Any] = {
            "group": group.name,
            "numerator": group.within,
            "denominator": total,
            "share": group.share,
        }
        row |= {"share": group.share, "low_95": limits[0].low, "high_95": limits[0].high}
        points.append(row | {"low_998": limits[1].low, "high_998": limits[1].high})
    return {"by": by, "target": every.share, "points": points, "note": None}

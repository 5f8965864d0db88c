"""Monthly measures of a unit as one document: points, control limits, signals and phases.

A month is a month of birth. Shares are given with numerator and denominator; a month with too few births behind it has
no point and says so; what cannot be estimated is None with a note.
"""

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from msgspec.structs import replace

from audit.control_charts.luck import luck_of_page
from audit.control_charts.measure import Phase, trend_measure
from audit.control_charts.options import TrendOptions
from audit.errors import one_of
from audit.people import phases as people_phases
from audit.questions import bedside_measures, chance, funnels, pooled_agreement, stale, waits
from audit.questions.agreement import Question, by_month
from audit.questions.birth_times import CAESAREAN, births_decided
from audit.settings import Settings
from audit.store import database
from audit.store.database import Record, records
from audit.words import number_of

AGREEMENT = "krippendorff_alpha_ordinal"
FEWEST_DRAWS = 2
# tells that a newborn of a month did badly
OF_OUTCOME = ("newborns_between_acidosis",)
ONE_BY_ONE = "decision_to_birth_over_interval"
ANSWERED = "answered_within_target"
# a point is one birth
SINGLE_BIRTHS = ("newborns_between_acidosis", ONE_BY_ONE)
FEWER_THAN_HALF = "Fewer than half answered."
EPISODES_CLUSTERED = (
    "Episodes of one labour are not independent of each other, so the true limits and intervals are wider than these."
)


def document(
    con: database.Connection,
    settings: Settings,
    *,
    db: Path | None = None,
    standard: str | None = None,
    out_of_date: Record | None = None,
) -> dict[str, Any]:
    """The document of `trends --json`.

    `con`: a connection for reading. `db`: the database's own path, for the changes of practice the lead entered; None =
    no phases. `standard`: whose triggers count as a concern; None = the one in the settings. `out_of_date`: the
    document of `stale` of all months, where it is known already.
    Gives `standard`, `measures` (each with `points`, `phases`, `rules`, `note` and in words what it measures), `funnel`
    over shifts, `luck` (how often as many charts flag something by chance), and `note`, which says why there is
    nothing.
    Raises UsageError: an unknown standard.
    """
    chosen = standard or settings.trends.standard
    known = sorted({rule.standard for rule in settings.response.rules.values()})
    one_of("standard", chosen, known)
    options = settings.trends
    months = records(con, "trends/months", {"standard": chosen, **options.seen_enough})
    rows = [row for row in records(con, "response/times", {"period": None, "standard": chosen}) if row["period"]]
    changes = _changes(db)
    measures = [
        {
            **_charted(measure, settings.trends, changes),
            "says": measure["says"],
            "of_outcome": measure["name"] in OF_OUTCOME,
            "single_births": measure["name"] in SINGLE_BIRTHS,
        }
        for measure in _measures(con, settings, chosen, months, rows, db)
    ]
    out_of_date = out_of_date or stale.document(con, settings)
    _beside_chance(con, chosen, next(measure for measure in measures if measure["name"] == ANSWERED))
    for measure in measures:
        stale.marked(measure["points"], out_of_date)
    note = None if months else "There are no cases with a month of birth, so there is nothing to chart."
    return {
        "standard": chosen,
        "measures": measures,
        "funnel": funnel(rows, "shift", groups_min=options.funnel_groups_min),
        "luck": luck(measures, options),
        "note": note,
        "stale": out_of_date,
    }


def _beside_chance(con: database.Connection, standard: str, measure: dict[str, Any]) -> None:
    """Put the share that chance gives beside each month's share in time, and beside that of all months in words."""
    asked = {"period": None, "standard": standard, "case_id": None}
    episodes = [row for row in records(con, "response/delays", asked) if row["period"]]
    merged = chance.told(con, None, standard)
    for point in measure["points"]:
        found = chance.of(*([row for row in rows if row["period"] == point["period"]] for rows in (episodes, merged)))
        point |= {"chance": found.share, "chance_low": found.low, "chance_high": found.high}
    measure["says"] = f"{measure['says']} All months: {chance.sentence(chance.of(episodes, merged))}."


def without_outcomes(found: Mapping[str, Any], options: TrendOptions) -> dict[str, Any]:
    """The document for somebody who must not learn how any newborn was."""
    measures = [measure for measure in found["measures"] if not measure["of_outcome"]]
    return {**found, "measures": measures, "luck": luck(measures, options)}


def luck(measures: Sequence[Mapping[str, Any]], options: TrendOptions) -> dict[str, Any]:
    """The chance that at least one of the charts shown flags something by luck alone, and that in words (`says`)."""
    shown = [
        (str(one["chart"]), sum(point["value"] is not None or point["beyond_scale"] for point in one["points"]))
        for one in measures
    ]
    found = luck_of_page(shown, options.rules, options)
    if not found.charts:
        words = "No chart has enough points for a verdict yet, so none can flag anything by luck."
    elif found.anywhere is None or found.newest is None:
        words = f"How often {found.charts} charts flag something by luck is not worked out for the rules in force."
    else:
        which = "the one chart that can" if found.charts == 1 else f"at least one chart of the {found.charts} that can"
        words = (
            f"If nothing had changed, {which} would still flag some month"
            f" with a chance of {100 * found.anywhere:.0f} %, and the newest month with one of"
            f" {100 * found.newest:.0f} % (their limits and rules as they are; the charts counted as independent of"
            " each other)."
        )
    return {"charts": found.charts, "chance_anywhere": found.anywhere, "chance_newest": found.newest, "says": words}


def _changes(db: Path | None) -> dict[str, list[Phase]]:
    """The lead's changes of practice by measure."""
    found: dict[str, list[Phase]] = defaultdict(list)
    for row in people_phases.everything(db) if db is not None else []:
        found[str(row["measure"])].append(Phase(str(row["from_period"]), str(row["label"])))
    return found


def _charted(measure: dict[str, Any], options: TrendOptions, changes: dict[str, list[Phase]]) -> dict[str, Any]:
    arguments = {name: value for name, value in measure.items() if name != "says"}
    own = {phase.start: phase for phase in changes.get(people_phases.EVERY_MEASURE, [])}
    own |= {phase.start: phase for phase in changes.get(measure["name"], [])}
    return trend_measure(**arguments, options=options, phases=[own[start] for start in sorted(own)])


def _measures(
    con: database.Connection,
    settings: Settings,
    standard: str,
    months: Sequence[Record],
    rows: Sequence[Record],
    db: Path | None,
) -> list[dict[str, Any]]:
    periods = [str(row["period"]) for row in months]
    answered = _answered(rows, periods)
    decided = births_decided(con, None)
    return [
        _values("births_reviewed", "run", "labours", periods, [row["births"] for row in months],
                "Labours of the month in the database."),
        _share("cases_with_concern", periods, months, "with_concern", "seen", "units_hiding_concern",
               "Labours with at least one concern episode under the standard, of those seen enough to tell."
               + _hardly_seen(months, settings.trends)),
        {"name": ANSWERED, "chart": "p", "unit": "share", "periods": periods,
         "numerators": [group.within if group else 0 for group in answered],
         "denominators": [group.assessed if group else 0 for group in answered],
         "values": [group.share if group else None for group in answered],
         "values_low": [group.share_low if group else None for group in answered],
         "values_high": [group.share_high if group else None for group in answered],
         "clustered": EPISODES_CLUSTERED,
         "says": "Concern episodes answered by their target, of all that can be assessed: cumulative incidence at the"
                 " target, birth and the pattern's own end competing."},
        {"name": "half_answered_minutes", "chart": "run", "unit": "min", "periods": periods, "lowest": 0.0,
         "values": [_half(group) for group in answered], "beyond_words": FEWER_THAN_HALF,
         "denominators": [group.assessed if group else 0 for group in answered],
         "says": "Minutes by which half of the month's concerns had an answer, birth and the pattern's own end"
                 " competing; at the top of the scale where fewer than half had one."},
        _births(decided, periods),
        _births_one_by_one(decided),
        {"name": "area_last_hour_bpm_s_per_h", "chart": "xmr", "unit": "bpm·s/h", "periods": periods, "lowest": 0.0,
         "values": [row["area_median_bpm_s"] for row in months],
         "denominators": [row["area_tracings"] for row in months],
         "says": "Median over tracings of the deceleration area per seen hour in the last 60 minutes, where enough of"
                 " that hour was seen."},
        _share("cord_gases_taken", periods, months, "cord_gases", "newborns", "units_hiding_cord_gases",
               "Newborns with a pH of the umbilical artery."),
        _between_acidosis(con, settings.trends.acidosis_ph_below),
        _agreement(con, settings, standard, periods),
        _share("record_complete", periods, months, "complete", "complete_of", "units_hiding_complete",
               "Labours with a tracing that was seen enough, an outcome, care events and a time of birth."),
        *bedside_measures.measures(con, settings, standard, periods, db),
    ]  # fmt: skip


def _share(
    name: str, periods: list[str], months: Sequence[Record], part: str, whole: str, hiding: str, says: str
) -> dict[str, Any]:
    hidden = [str(row["period"]) for row in months if row[hiding]]
    if hidden:
        says += (
            f" No share in {number_of(len(hidden), 'month')} in which a merged unit hid its own: the small ones are"
            " hidden, so the others' would lean to none or all."
        )
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


def _hardly_seen(months: Sequence[Record], options: TrendOptions) -> str:
    left_out = sum(row["analysed"] - row["seen"] for row in months)
    if not left_out:
        return ""
    return (
        f" {left_out} left out: seen less than {100 * options.least_seen_fraction:.0f} % of their tracing or under"
        f" {options.least_seen_minutes:.0f} min."
    )


def _half(group: waits.WaitGroup | None) -> float | None:
    """Minutes by which half were answered; infinite where fewer than half ever were."""
    if group is None or not group.assessed:
        return None
    return math.inf if group.half_answered_min is None else group.half_answered_min


def _answered(rows: Sequence[Record], periods: Sequence[str]) -> list[waits.WaitGroup | None]:
    groups = {group.name: group for group in waits.wait_groups(rows, "period")}
    return [groups.get(period) for period in periods]


def _births(decided: Sequence[Record], periods: list[str]) -> dict[str, Any]:
    """Decision to birth within 30 minutes, of the caesareans decided on with the highest urgency.

    The published 30 minutes are for caesareans (NICE NG192, from memory), so births of another kind are left out.
    """
    within, total = dict.fromkeys(periods, 0), dict.fromkeys(periods, 0)
    for labour in decided:
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


def _births_one_by_one(decided: Sequence[Record]) -> dict[str, Any]:
    """Decision to birth of each caesarean with a published interval: a small unit has too few for a monthly share.

    Those of merged summaries are left out: nobody knows their order, on which the rules of the chart rest.
    """
    judged = [
        row
        for row in decided
        if row["case_id"] and row["period"] and row["mode_of_birth"] == CAESAREAN
        and row["standard_minutes"] is not None and row["decision_to_birth_minutes"] is not None
    ]  # fmt: skip
    judged.sort(key=lambda row: (row["period"], row["case_id"]))
    return {
        "name": ONE_BY_ONE, "chart": "run", "unit": "of the interval",
        "periods": [str(row["period"]) for row in judged],
        "values": [row["decision_to_birth_minutes"] / row["standard_minutes"] for row in judged], "lowest": 0.0,
        "says": "One point per caesarean of urgency 1 or 2, in order of month and then of case id: minutes from"
                " decision to birth over the published interval of its urgency (30 and 75 minutes); 1 is exactly at"
                " it.",
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
    pooled = pooled_agreement.alpha_by_month(con, standard, settings.agreement, periods)
    if pooled is not None:
        values = [pooled.get(period, (None, 0)) for period in periods]
        return _agreed(periods, [value for value, _ in values], [windows for _, windows in values])
    # the chart has no room for an interval, and drawing samples for one is nearly all of the work
    without_interval = replace(settings.agreement, draws=FEWEST_DRAWS)
    rows = by_month(con, Question(standard), without_interval)
    found = {row.period: row for row in rows if row.name == AGREEMENT}
    return _agreed(
        periods,
        [found[period].estimate.value if period in found else None for period in periods],
        [found[period].windows if period in found else 0 for period in periods],
    )


def _agreed(periods: list[str], values: list[float | None], windows: list[int]) -> dict[str, Any]:
    return {
        "name": "reader_agreement", "chart": "run", "unit": "alpha", "periods": periods, "values": values,
        "denominators": windows,
        "says": "Agreement of readers on the category (Krippendorff's alpha, ordinal; 1 = perfect, 0 = chance);"
                " denominators are windows.",
    }  # fmt: skip


def funnel(rows: Sequence[Record], by: str, *, groups_min: int) -> dict[str, Any]:
    """The share answered by the target per group beside the whole unit's.

    `rows`: records of the query `response/times`. `by`: one of `waits.GROUPINGS`. `groups_min`: with fewer groups
    `chart` is `table`: points with their intervals, and no limits.
    Gives `by`, `chart` (`funnel` or `table`), `target` (the unit's share), `points` and `note`.
    """
    every = waits.wait_groups(rows, None)[0] if rows else None
    groups = waits.wait_groups(rows, by)
    return funnels.document([waits_of(group) for group in groups], by, target=None if every is None else every.share,
                            groups_min=groups_min, clustered=EPISODES_CLUSTERED)  # fmt: skip


def waits_of(group: waits.WaitGroup) -> funnels.Group:
    """A group's share in time, as a funnel takes it."""
    return funnels.Group(group.name, group.within, group.assessed, group.share, group.share_low, group.share_high)

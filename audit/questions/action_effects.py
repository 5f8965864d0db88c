"""What became of an action: the measure that it should move, before and after; without effect it comes back."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from audit.control_charts.before_after import before_after, months_compared

AS_MEANT, OTHER_WAY = "moved as meant", "moved the other way"
NO_CHANGE, TOO_EARLY = "no change shown", "too early to say"
# measures that an action may name: monthly, and telling of no single newborn
MOVABLE = (
    "answered_within_target",
    "half_answered_minutes",
    "hours_assessed",
    "hours_assessed_by_two",
    "bedside_milder",
    "bedside_worse",
    "decision_to_birth_within_30_min",
    "oxytocin_reduced_in_concern",
    "tachysystole_of_oxytocin_hours",
    "cases_with_concern",
    "area_last_hour_bpm_s_per_h",
    "cord_gases_taken",
    "reader_agreement",
    "record_complete",
    "delayed_as_agreed",
)


def effects(
    measures: Sequence[Mapping[str, Any]], actions: Sequence[Mapping[str, Any]], period: str, *, level: float
) -> list[dict[str, Any]]:
    """One row per action that names a measure.

    `measures`: of the document of `trends`. `actions`: rows of `people.actions.with_measure`. `period`: month of the
    meeting, YYYY-MM; later months are left out. `level`: of the interval.
    Gives rows: action_id, action, issue (what it follows from; None = names none), measure, direction, from_period,
    state, unit, those of `BeforeAfter`, `verdict`, and `comes_back`: called done, and its measure did not move as
    meant.

    It moved as meant where the whole interval of the difference lies on the side meant. No change shown is not no
    change: few months show little.
    """
    by_name = {measure["name"]: measure for measure in measures}
    rows = []
    for action in actions:
        measure = by_name.get(action["measure"], {"points": [], "unit": ""})
        points = _until(measure, period)
        found = asdict(before_after(points, action["from_period"], level=level))
        verdict = _verdict(found, rise=action["direction"] == "rise")
        named = ("action_id", "action", "issue", "measure", "direction", "from_period", "state")
        rows.append(
            {name: action.get(name) for name in named}
            | {"unit": measure["unit"], **found, "verdict": verdict}
            | {"comes_back": action["state"] == "done" and verdict in (OTHER_WAY, NO_CHANGE)}
        )
    return rows


def said(action: Mapping[str, Any], verdict: str | None = None) -> str:
    """An action in one line: its number and words, the issue it follows from, the measure it should move, and whether
    that did (`verdict` of `effects`).
    """
    follows = f", follows from the issue '{action['issue']}'" if action["issue"] else ""
    moves = f", should move {action['measure'].replace('_', ' ')}" if action["measure"] else ""
    did = f": {verdict}" if verdict else ""
    return f"no. {action['action_id']}, {action['action']}{follows}{moves}{did}"


def _verdict(found: Mapping[str, Any], *, rise: bool) -> str:
    if found["low"] is None:
        return TOO_EARLY
    if found["low"] <= 0.0 <= found["high"]:
        return NO_CHANGE
    return AS_MEANT if (found["low"] > 0.0) == rise else OTHER_WAY


def marked(measure: Mapping[str, Any], action: Mapping[str, Any], period: str) -> dict[str, Any]:
    """The measure up to the meeting's month with a line where the action was to work, for its chart."""
    line = {"from": action["from_period"], "label": f"action no. {action['action_id']}"}
    return {**measure, "points": _until(measure, period), "phases": [*measure["phases"], line]}


def spans(measure: Mapping[str, Any], action: Mapping[str, Any], period: str) -> list[tuple[str, str]]:
    """First and last month of what the row of an action compares: before, and after; a side without months has none."""
    sides = months_compared(_until(measure, period), action["from_period"])
    return [(side[0]["period"], side[-1]["period"]) for side in sides if side]


def _until(measure: Mapping[str, Any], period: str) -> list[Mapping[str, Any]]:
    return [point for point in measure["points"] if point["period"] <= period]

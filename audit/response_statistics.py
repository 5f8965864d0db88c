"""Response times of many episodes: curves, ends that compete, medians, shares within target, group against group.

Frames in, frames out, ready to draw. The rows come from the query `response_times`. Nothing here averages times:
some of them are only known to be longer than what was seen.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.proportions import wilson_interval
from audit.response.birth_intervals import birth_interval
from audit.response.types import CareEvent
from audit.survival import cumulative_incidence, log_rank, median_time, survival_curve, value_at

RESPONSE, RESOLVED, BIRTH, CENSORED = 1, 2, 3, 0
CODES = {"response": RESPONSE, "resolved": RESOLVED, "birth": BIRTH, "end_of_tracing": CENSORED}
ENDS = {RESPONSE: "response", RESOLVED: "resolved", BIRTH: "birth"}
GROUPINGS = ("period", "shift", "stage", "trigger", "standard")
NOT_GIVEN = "not given"
LEVEL = 0.95


def waiting_curves(waits: pd.DataFrame, by: str, *, level: float = LEVEL) -> pd.DataFrame:
    """Share still without a response, by group (Kaplan-Meier).

    Parameters
    ----------
    waits : rows of the query `response_times`; those that cannot be assessed are left out.
    by : one of GROUPINGS. level : of the pointwise interval.

    Returns
    -------
    frame : group, minutes, at_risk, responses, waiting_fraction, low, high; a right-continuous step curve per group
        from 0 min on, groups in order. Empty for no rows.

    Raises
    ------
    ValueError : an unknown grouping.

    Notes
    -----
    Resolution, birth and the end of the tracing censor the wait here: the curve speaks of episodes that go on. What
    share was answered at all is in `ends_over_time`.
    """
    parts = []
    for group, rows in _grouped(waits, by):
        curve = survival_curve(rows["wait_minutes"], rows["cause"] == RESPONSE, level=level)
        parts.append(
            pd.DataFrame(
                {
                    "group": group,
                    "minutes": curve.time,
                    "at_risk": curve.at_risk.astype(int),
                    "responses": curve.events.astype(int),
                    "waiting_fraction": curve.survival,
                    "low": curve.low,
                    "high": curve.high,
                }
            )
        )
    columns = ["group", "minutes", "at_risk", "responses", "waiting_fraction", "low", "high"]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=columns)


def ends_over_time(waits: pd.DataFrame, by: str, *, level: float = LEVEL) -> pd.DataFrame:
    """Share ended by response, by resolution and by birth, each by its time, by group (Aalen-Johansen).

    Parameters
    ----------
    waits, by, level : as for `waiting_curves`.

    Returns
    -------
    frame : group, minutes, ended_by, fraction, low, high; per group and end a step curve from 0 min on. The fractions
        of one group at one time add up to the share that has ended. Empty for no rows.

    Raises
    ------
    ValueError : an unknown grouping.
    """
    parts = []
    for group, rows in _grouped(waits, by):
        found = cumulative_incidence(rows["wait_minutes"], rows["cause"], level=level)
        for k, cause in enumerate(found.causes):
            parts.append(
                pd.DataFrame(
                    {
                        "group": group,
                        "minutes": found.time,
                        "ended_by": ENDS[cause],
                        "fraction": found.incidence[k],
                        "low": found.low[k],
                        "high": found.high[k],
                    }
                )
            )
    columns = ["group", "minutes", "ended_by", "fraction", "low", "high"]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=columns)


def summary(waits: pd.DataFrame, by: str, *, level: float = LEVEL) -> pd.DataFrame:
    """Median wait and share within target, by group, with every count behind them.

    Parameters
    ----------
    waits, by, level : as for `waiting_curves`; targets may differ from row to row.

    Returns
    -------
    frame, one row per group: group, episodes, in_time, late, none_recorded, resolved, born_first, not_assessable;
        median_minutes with median_low and median_high (NaN = not reached or no upper end) and median_note;
        within_fraction = in_time / (in_time + late + none_recorded) with within_low, within_high (Wilson; NaN = nobody
        was followed to the target); answered_by_target_fraction, of all episodes, with resolution and birth competing.

    Raises
    ------
    ValueError : an unknown grouping.
    """
    rows_of_groups = []
    labelled = _labelled(waits, by)
    for group in _order(labelled["group"]):
        every = labelled[labelled["group"] == group]
        known = every[every["wait_minutes"].notna()]
        counts = {status: int((every["status"] == status).sum()) for status in _STATUSES}
        row: dict[str, object] = {"group": group, "episodes": len(every), **counts}
        row |= _median(known, level) | _within(counts, level)
        row["answered_by_target_fraction"] = _answered_by_target(known, level)
        rows_of_groups.append(row)
    return pd.DataFrame(rows_of_groups, columns=list(_SUMMARY_COLUMNS))


_STATUSES = ("in_time", "late", "none_recorded", "resolved", "born_first", "not_assessable")
_SUMMARY_COLUMNS = (
    "group",
    "episodes",
    *_STATUSES,
    "median_minutes",
    "median_low",
    "median_high",
    "median_note",
    "within_of",
    "within_fraction",
    "within_low",
    "within_high",
    "answered_by_target_fraction",
)


@dataclass(frozen=True)
class Comparison:
    """Whether the groups' waits differ; None with a note where that cannot be tested."""

    groups: tuple[str, ...]
    chi_square: float | None
    degrees_of_freedom: int
    p: float | None
    note: str | None


def comparison(waits: pd.DataFrame, by: str) -> Comparison:
    """The log-rank test of the groups' waiting curves; parameters and errors as for `waiting_curves`.

    Notes
    -----
    It takes episodes as independent. Several episodes of one labour are not quite that, so p is a little too small.
    """
    groups = _grouped(waits, by)
    names = tuple(group for group, _ in groups)
    if len(groups) < 2:
        return Comparison(names, None, 0, None, "Not tested: there is only one group.")
    found = log_rank([(rows["wait_minutes"], rows["cause"] == RESPONSE) for _, rows in groups])
    return Comparison(names, found.chi_square, found.degrees_of_freedom, found.p, found.note)


def birth_intervals(events: pd.DataFrame) -> pd.DataFrame:
    """Decision to incision and to birth, one row per labour with a noted decision.

    Parameters
    ----------
    events : rows of the query `response_birth_events`.

    Returns
    -------
    frame : case_id, period, shift, mode_of_birth, decision_s, decision_to_incision_minutes,
        decision_to_birth_minutes, urgency, standard_minutes, within_30, within_75, within_standard, note. Unknown is
        None or NaN.
    """
    found = []
    for case_id, rows in events.groupby("case_id", sort=True):
        first = rows.iloc[0]
        acts = [
            CareEvent(float(at_s), str(event), detail if isinstance(detail, str) else None)
            for at_s, event, detail in zip(rows["at_s"], rows["event"], rows["detail"])
        ]
        birth_s = None if pd.isna(first["birth_s"]) else float(first["birth_s"])
        interval = birth_interval(acts, birth_s=birth_s)
        if interval is not None:
            head = {name: first[name] for name in ("period", "shift", "mode_of_birth")}
            found.append({"case_id": case_id, **head, **vars(interval)})
    return pd.DataFrame(found, columns=list(_BIRTH_COLUMNS))


_BIRTH_COLUMNS = (
    "case_id",
    "period",
    "shift",
    "mode_of_birth",
    "decision_s",
    "decision_to_incision_minutes",
    "decision_to_birth_minutes",
    "urgency",
    "standard_minutes",
    "within_30",
    "within_75",
    "within_standard",
    "note",
)


def _labelled(waits: pd.DataFrame, by: str) -> pd.DataFrame:
    if by not in GROUPINGS:
        raise ValueError(f"grouping {by!r}: expected one of {', '.join(GROUPINGS)}")
    group = waits[by].astype(object).where(waits[by].notna(), NOT_GIVEN)
    cause = waits["ended_by"].map(CODES)
    return waits.assign(group=group, cause=cause)


def _order(groups: pd.Series) -> list[str]:
    return sorted(set(groups), key=lambda name: (name == NOT_GIVEN, name))


def _grouped(waits: pd.DataFrame, by: str) -> list[tuple[str, pd.DataFrame]]:
    labelled = _labelled(waits, by)
    known = labelled[labelled["wait_minutes"].notna()].astype({"cause": int, "wait_minutes": float})
    return [(group, known[known["group"] == group]) for group in _order(known["group"])]


def _median(known: pd.DataFrame, level: float) -> dict[str, object]:
    found = median_time(survival_curve(known["wait_minutes"], known["cause"] == RESPONSE, level=level))
    return {
        "median_minutes": _or_nan(found.value),
        "median_low": _or_nan(found.low),
        "median_high": _or_nan(found.high),
        "median_note": found.note,
    }


def _within(counts: dict[str, int], level: float) -> dict[str, object]:
    of = counts["in_time"] + counts["late"] + counts["none_recorded"]
    low, high = wilson_interval(counts["in_time"], of, level) if of else (np.nan, np.nan)
    return {
        "within_of": of,
        "within_fraction": counts["in_time"] / of if of else np.nan,
        "within_low": low,
        "within_high": high,
    }


def _answered_by_target(known: pd.DataFrame, level: float) -> float:
    """Share answered by the target, whatever else can end the wait; times in units of each row's own target."""
    if known.empty or (known["target_minutes"] <= 0).any():
        return float("nan")
    found = cumulative_incidence(
        known["wait_minutes"] / known["target_minutes"], known["cause"].astype(int), level=level
    )
    if RESPONSE not in found.causes:
        return 0.0
    return value_at(found.time, found.incidence[found.causes.index(RESPONSE)], 1.0 + 1e-9)


def _or_nan(value: float | None) -> float:
    return float("nan") if value is None else value

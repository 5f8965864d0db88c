"""Where the time went: each concern's wait cut at its steps, and over many concerns which part is longest."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

import numpy as np
import pandas as pd

from audit.measures.clustered import share_of_sums
from audit.measures.proportions import LEVEL
from audit.questions.waits import first_at_half, grouped, step_points
from audit.response.parts import STEPS, Noted, Part, Point, Wait, longest, parts, points
from audit.response.rules import ResponseSettings
from audit.store import database
from audit.store.database import Record, records
from audit.survival import CENSORED, cumulative_incidence, share_within_target
from audit.vocabulary import STANDARDS

REACHED = 1
CODES: Mapping[str, int] = {"reached": REACHED, "passed_over": 2, "resolved": 3, "birth": 4, "end_of_tracing": CENSORED}
STEP_WORDS = {
    "pattern": "pattern begins",
    "recognisable": "recognisable",
    "recorded": "recorded as such",
    "escalated": "senior called",
    "senior_there": "senior there",
    "decision": "decision for birth",
    "theatre": "in theatre",
    "birth": "birth",
}
SOURCE = (
    "A chain of states with competing ends (Andersen & Keiding 2002; Aalen & Johansen 1978): of those who came to a"
    " step, the share that went on to the next, beside those who passed it over, whose pattern ended, or who were"
    " born first."
)


def waits_in_parts(
    con: database.Connection,
    settings: ResponseSettings,
    *,
    period: str | None = None,
    standard: str | None = None,
    case_id: str | None = None,
) -> list[Record]:
    """Every concern's wait with its points and parts.

    `period`: month of birth, YYYY-MM; None = all. `standard`, `case_id`: None = all.
    Gives records: episode_id, case_id, fetus, period, shift, standard, trigger, recognisable_s; `points` (step, at_s,
    minutes from recognition; None = not recorded or not reached), `parts` (until, since, from_s, to_s, minutes, end)
    and `longest` (the step waited for longest, None = no wait).
    """
    asked = {"period": period, "case_id": case_id}
    noted: dict[str, list[Record]] = {}
    for row in records(con, "response/noted", asked):
        noted.setdefault(row["case_id"], []).append(row)
    found = []
    for row in records(con, "response/waiting", {**asked, "standard": standard}):
        own = [
            Noted(each["at_s"], each["what"], each["standard"], each["category"])
            for each in noted.get(row["case_id"], [])
            if each["fetus"] in (None, row["fetus"])
        ]
        wait = _wait(row, settings)
        steps = points(wait, own)
        cut = parts(wait, steps)
        most = longest(cut)
        names = ("episode_id", "case_id", "fetus", "period", "shift", "standard", "trigger", "recognisable_s")
        found.append(
            {name: row[name] for name in names}
            | {"points": [_point(point, wait) for point in steps], "parts": [_part(part) for part in cut]}
            | {"longest": None if most is None else most.until}
        )
    return found


def summary(waits: Sequence[Record]) -> list[Record]:
    """Each part over many concerns, in order of the steps.

    `waits`: records of `waits_in_parts` under one standard.
    Gives rows: until, came (concerns that came to the step before), labours (of these), reached, passed_over, resolved,
    birth, not_followed; share, low, high (0 to 1: went on to the step, other ends competing; at the last time anybody
    was followed), half_min (minutes by which half had; None = not reached); minutes (spent waiting for it),
    share_of_time, time_low, time_high (of all minutes from recognition on; by labour), longest_in (concerns whose
    longest part it was). Parts that nobody came to are left out.
    """
    every = [(wait, part) for wait in waits for part in wait["parts"]]
    rows = []
    for step in STEPS[1:]:
        own = [(wait, part) for wait, part in every if part["until"] == step]
        if own:
            rows.append(_summary_row(step, own, waits))
    return rows


def _summary_row(step: str, own: Sequence[tuple[Record, Record]], waits: Sequence[Record]) -> Record:
    minutes = np.array([part["minutes"] for _, part in own], float)
    ends = np.array([CODES[part["end"]] for _, part in own], int)
    share = share_within_target(minutes, ends, float(minutes.max()), level=LEVEL, event=REACHED)
    counts = {name: int((ends == code).sum()) for name, code in CODES.items()}
    interval = share.interval or (None, None)
    row = {
        "until": step, "came": len(own), "reached": counts["reached"], "passed_over": counts["passed_over"],
        "resolved": counts["resolved"], "birth": counts["birth"], "not_followed": counts["end_of_tracing"],
        "share": share.share, "low": interval[0], "high": interval[1], "half_min": _half(minutes, ends),
        "minutes": float(minutes.sum()), "share_of_time": None, "time_low": None, "time_high": None,
        "longest_in": sum(wait["longest"] == step for wait in waits),
        "labours": len({wait["case_id"] for wait, _ in own}),
    }  # fmt: skip
    return row | ({} if step == "recognisable" else _share_of_time(step, waits))


def _share_of_time(step: str, waits: Sequence[Record]) -> Record:
    """Minutes waited for the step out of all from recognition on; concerns of one labour are one cluster."""
    spent: dict[str, float] = {}
    total: dict[str, float] = {}
    for wait in waits:
        for part in wait["parts"][1:]:
            case_id = wait["case_id"]
            total[case_id] = total.get(case_id, 0.0) + part["minutes"]
            spent[case_id] = spent.get(case_id, 0.0) + (part["minutes"] if part["until"] == step else 0.0)
    found = share_of_sums([spent[name] for name in total], list(total.values()), level=LEVEL)
    low, high = found.interval or (None, None)
    return {"share_of_time": found.share, "time_low": low, "time_high": high}


def _half(minutes: np.ndarray[Any, Any], ends: np.ndarray[Any, Any]) -> float | None:
    curve = cumulative_incidence(minutes, ends, level=LEVEL)
    if REACHED not in curve.causes:
        return None
    return first_at_half(curve.time, curve.incidence[curve.causes.index(REACHED)])


def curve_points(waits: Sequence[Record], step: str, by: str | None, *, longest_min: float) -> list[Record]:
    """Share that went on to a step by each minute, one step curve for each group.

    `waits`: records of `waits_in_parts`. `step`: one of STEPS after the first. `by`: field to group by; None = all.
    `longest_min`: where the drawing ends.
    Gives points: group, minutes, share, low, high (0 to 1; None = cannot be given).
    """
    found: list[Record] = []
    for name, group in grouped(waits, by):
        own = [part for wait in group for part in wait["parts"] if part["until"] == step]
        if any(part["end"] == "reached" for part in own):
            curve = cumulative_incidence(
                [part["minutes"] for part in own], [CODES[part["end"]] for part in own], level=LEVEL
            )
            found += step_points(curve, curve.causes.index(REACHED), longest_min, group=name)
    return found


def has_recorded(waits: Sequence[Record]) -> bool:
    """Whether staff's own assessments stand behind any of them; without there is nothing to add to the clock."""
    return any(point["step"] == "recorded" for wait in waits for point in wait["points"])


def to_draw(waits: Sequence[Record], clock: pd.DataFrame, fetus: str, standard: str) -> list[Record]:
    """The waits of one fetus in the order of its clock, the concern that weighs most first.

    Under the standard asked for, or where staff recorded nothing under it under one that they did record under; none
    where they recorded nothing that goes with a concern.

    `waits`: of `waits_in_parts`, of its case. `clock`: rows of the query `response/delays`, of that fetus.
    """
    names = ["standard", "trigger", "recognisable_s"]
    order = {key: place for place, key in enumerate(clock[names].itertuples(index=False, name=None))}
    for name in (standard, *(other for other in STANDARDS if other != standard)):
        own = [row for row in waits if row["fetus"] == fetus and row["standard"] == name]
        if has_recorded(own):
            return sorted(own, key=lambda row: order[tuple(row[name] for name in names)])
    return []


def _wait(row: Record, settings: ResponseSettings) -> Wait:
    return Wait(
        standard=row["standard"],
        trigger=row["trigger"],
        pattern_start_s=row["pattern_start_s"],
        recognisable_s=row["recognisable_s"],
        resolved_s=None if row["open_end"] else row["end_s"],
        first_act_s=row["pattern_start_s"] - 60.0 * settings.note_rounding_minutes,
        last_act_s=_last_act_s(row, settings),
        birth_s=row["birth_s"],
        tracing_end_s=row["tracing_end_s"],
    )


def _last_act_s(row: Record, settings: ResponseSettings) -> float:
    """As the clock has it (`response.acts.last_moment`), from the stored episode."""
    after_s = 60.0 * settings.after_end_minutes
    last_s = float("inf")
    if not row["open_end"]:
        last_s = max(row["recognisable_s"] + 60.0 * row["target_minutes"], row["end_s"] + after_s)
    if row["birth_s"] is not None:
        return float(min(last_s, row["birth_s"]))
    return float(row["tracing_end_s"] + after_s if row["open_end"] else last_s)


def _point(point: Point, wait: Wait) -> Record:
    minutes = None if point.at_s is None else (point.at_s - wait.recognisable_s) / 60.0
    return {"step": point.step, "at_s": point.at_s, "minutes": minutes}


def _part(part: Part) -> Record:
    return {**asdict(part), "minutes": part.minutes}

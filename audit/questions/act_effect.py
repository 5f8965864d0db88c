"""Did the act help? Each kind of act over the unit's labours, beside random moments that looked as bad."""

from collections.abc import Sequence
from dataclasses import asdict

import numpy as np

from audit.response.act_effect import LabourMinutes, effects, pools
from audit.response.parts import rank
from audit.settings import Settings
from audit.store import database
from audit.store.database import Record, records

CLASSES = ("conservative", "amnioinfusion", "escalation")
SOURCE = (
    "The half hour after each act less the half hour before it. Acts come when a tracing looks worst, so it looks"
    " better afterwards whatever was done (regression to the mean: Barnett et al. 2005): the figure beside it is the"
    " same for random moments that looked as bad, with no act near them. Only what goes beyond that can be the act's,"
    " and even that may be what else was done. A category looks back, so minutes of concern fall later than the tracing"
    " mends."
)


def by_act(con: database.Connection, settings: Settings, *, period: str | None, standard: str) -> list[Record]:
    """Each kind of act that answers a concern.

    Parameters
    ----------
    period : month of birth, YYYY-MM; None = all. standard : whose categories tell what looked bad.

    Returns
    -------
    rows : act, measure (concern_share 0 to 1, area_bpm_s in 30 minutes, contractions_per_10_min) and the fields of
        `Effect`. Acts that nothing can be said of have no row.
    """
    rows = records(con, "response/act_effect", {"period": period, "standard": standard})
    labours = [_minutes(row, standard) for row in rows]
    answers = {name for each in CLASSES for name in settings.response.events_of(each)}
    noted = [
        (act, k, _minute(at_s, row))
        for k, row in enumerate(rows)
        for at_s, act in zip(row["act_s"], row["acts"], strict=True)
        if act in answers
    ]
    inside = [(act, k, minute) for act, k, minute in noted if 0 <= minute < len(labours[k].rank)]
    every = [(k, minute) for _, k, minute in inside]
    chance, by_chance = settings.response.chance, pools(labours, every)
    found = []
    for act in sorted({act for act, _, _ in inside}):
        own = [(k, minute) for name, k, minute in inside if name == act]
        for measure, effect in effects(labours, own, by_chance, draws=chance.shifts, seed=chance.seed).items():
            if effect.acts:
                found.append({"act": act, "measure": measure, **asdict(effect)})
    return found


def _minutes(row: Record, standard: str) -> LabourMinutes:
    size = _minute(row["at_s"][-1], row) + 1
    ranks = np.full(size, -1, np.int64)
    for at_s, category in zip(row["at_s"], row["categories"], strict=True):
        found = rank(standard, category)
        ranks[_minute(at_s, row)] = -1 if found is None else found
    area, felt = np.zeros(size), np.full(size, np.nan)
    for start_s in row["epoch_start_s"]:
        first = _minute(start_s + 60.0, row)
        felt[max(first, 0) : max(first + 10, 0)] = 0.0
    _add(area, row["fall_s"], row["fall_area_bpm_s"], row)
    _add(felt, row["peak_s"], [1.0] * len(row["peak_s"]), row)
    return LabourMinutes(f"{row['case_id']}/{row['fetus']}", ranks, area, felt)


def _add(into: np.ndarray, times_s: Sequence[float], values: Sequence[float], row: Record) -> None:
    for at_s, value in zip(times_s, values, strict=True):
        minute = _minute(at_s + 60.0, row)
        if 0 <= minute < len(into):
            into[minute] += value


def _minute(at_s: float, row: Record) -> int:
    """The judged minute that ends at or after a time; the first judged one is 0."""
    return int(np.ceil((at_s - row["at_s"][0]) / 60.0 - 1e-9))

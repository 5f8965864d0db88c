"""Did the act help? Each kind of act over the unit's labours, beside random moments that looked as bad."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict

import numpy as np
from numpy.typing import NDArray

from audit.response.act_effect import FloatArray, LabourMinutes, effects, judged_in, pools
from audit.response.parts import rank
from audit.settings import Settings
from audit.store import database
from audit.store.database import Record, records

CLASSES = ("conservative", "amnioinfusion", "escalation")
MEASURE_WORDS = {
    "concern_share": "minutes of concern, share",
    "area_bpm_s": "deceleration area in 30 min, bpm·s",
    "contractions_per_10_min": "contractions per 10 min",
}
SOURCE = (
    "The half hour after each act less the half hour before it. Acts come when a tracing looks worst, so it looks"
    " better afterwards whatever was done (regression to the mean: Barnett et al. 2005): the figure beside it is the"
    " same for random moments that looked as bad, with no act near them. Only what goes beyond that can be the act's,"
    " and even that may be what else was done. A category looks back, so minutes of concern fall later than the tracing"
    " mends."
)


def by_act(con: database.Connection, settings: Settings, *, period: str | None, standard: str) -> list[Record]:
    """Each kind of act that answers a concern.

    `period`: month of birth, YYYY-MM; None = all. `standard`: whose categories tell what looked bad.
    Gives rows: act, measure (concern_share 0 to 1, area_bpm_s in 30 minutes, contractions_per_10_min) and the fields of
    `Effect`. Acts that nothing can be said of have no row.
    """
    labours, acts = _labours_and_acts(con, settings, period, standard)
    chance, by_chance = settings.response.chance, pools(labours, [place for own in acts.values() for place in own])
    found = []
    for act, own in acts.items():
        for measure, effect in effects(labours, own, by_chance, draws=chance.shifts, seed=chance.seed).items():
            if effect.acts:
                found.append({"act": act, "measure": measure, **asdict(effect)})
    return found


def labours_judged(
    con: database.Connection, settings: Settings, *, period: str | None, standard: str
) -> dict[tuple[str, str], list[str]]:
    """The labours behind each row of `by_act`, by its act and measure."""
    labours, acts = _labours_and_acts(con, settings, period, standard)
    return {
        (act, measure): names
        for act, own in acts.items()
        for measure, names in judged_in(labours, own).items()
        if names
    }


def _labours_and_acts(
    con: database.Connection, settings: Settings, period: str | None, standard: str
) -> tuple[list[LabourMinutes], dict[str, list[tuple[int, int]]]]:
    """The labours by the minute, and by kind the acts inside them as (place of the labour, minute)."""
    rows = records(con, "response/act_effect", {"period": period, "standard": standard})
    seen = {category for row in rows for category in row["categories"]}
    ranks = {category: rank(standard, category) for category in seen}
    tiers = {category: -1 if found is None else found for category, found in ranks.items()}
    labours = [_minutes(row, tiers) for row in rows]
    answers = {name for each in CLASSES for name in settings.response.events_of(each)}
    acts: dict[str, list[tuple[int, int]]] = {}
    for k, row in enumerate(rows):
        minutes = _minute(np.asarray(row["act_s"], np.float64), row).tolist()
        for minute, act in zip(minutes, row["acts"], strict=True):
            if act in answers and 0 <= minute < len(labours[k].rank):
                acts.setdefault(act, []).append((k, minute))
    return labours, dict(sorted(acts.items()))


def _minutes(row: Record, tiers: Mapping[str, int]) -> LabourMinutes:
    at_s = np.asarray(row["at_s"], np.float64)
    minute = _minute(at_s, row)
    size = int(minute[-1]) + 1
    ranks = np.full(size, -1, np.int64)
    ranks[minute] = [tiers[category] for category in row["categories"]]
    area, felt = np.zeros(size), np.full(size, np.nan)
    for first in _minute(np.asarray(row["epoch_start_s"], np.float64) + 60.0, row).tolist():
        felt[max(first, 0) : max(first + 10, 0)] = 0.0
    _add(area, row["fall_s"], np.asarray(row["fall_area_bpm_s"], np.float64), row)
    _add(felt, row["peak_s"], np.ones(len(row["peak_s"])), row)
    return LabourMinutes(row["case_id"], ranks, area, felt)


def _add(into: FloatArray, times_s: Sequence[float], values: FloatArray, row: Record) -> None:
    minute = _minute(np.asarray(times_s, np.float64) + 60.0, row)
    inside = (minute >= 0) & (minute < len(into))
    np.add.at(into, minute[inside], values[inside])


def _minute(at_s: FloatArray, row: Record) -> NDArray[np.int64]:
    """The judged minutes that end at or after some times; the first judged one is 0."""
    minute: NDArray[np.int64] = np.ceil((at_s - row["at_s"][0]) / 60.0 - 1e-9).astype(np.int64)
    return minute

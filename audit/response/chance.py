"""What the clock would say had each labour's acts come at other times: its share in time by chance. Pure.

The acts of a labour are moved together by one random time, and those that leave it at the end come in at its start, so
that their number, kinds and spacing stay and only their fit to the tracing is lost.
"""

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from audit.response.acts import DECISION, SLACK_S, Labour, from_moment, last_moment
from audit.response.responses import deadline_s, escalates, in_order, latest_to_stand, status_of
from audit.response.types import CareEvent, Episode, Status

# status -> its letter in `responses.chance_statuses`
LETTERS: dict[Status, str] = {
    "in_time": "i",
    "late": "l",
    "none_recorded": "n",
    "under_way": "u",
    "resolved": "r",
    "born_first": "b",
    "not_assessable": "-",
}
_COUNTED = "ilnrb"  # what a share in time is of: all that can be assessed and were not decided before


@dataclass(frozen=True)
class Chance:
    """Shares of answers in time, 0 to 1: as recorded, and with the acts moved. None = nothing to count."""

    in_time: float | None
    share: float | None
    low: float | None
    high: float | None
    episodes: int  # counted as recorded


def shifted_statuses(
    episodes: Sequence[Episode], labour: Labour, *, name: str, start_s: float, end_s: float, shifts: int, seed: int
) -> list[str]:
    """The status of each episode under each shift, as letters.

    Parameters
    ----------
    episodes, labour : as the clock judged them. name : of the labour; with `seed` it decides the shifts.
    start_s, end_s : the span inside which acts move, s; wider where acts lie outside.
    shifts : how many; spread evenly over the span, each placed at random within its part.

    Returns
    -------
    letters : one text of `shifts` letters per episode, in the episodes' order; the same for the same input.
    """
    moved = [event for event in labour.acts if event.event != "birth" and event.at_s <= end_s]
    stay = [event for event in labour.acts if event.event == "birth" or event.at_s > end_s]
    begin_s = min([start_s, *(event.at_s for event in moved)])
    length_s = end_s - begin_s
    if length_s <= 0 or not episodes:
        return ["" for _ in episodes]
    rng = np.random.default_rng([seed, zlib.crc32(name.encode())])
    by_s = rng.permutation((np.arange(shifts) + rng.random(shifts)) / shifts) * length_s
    own_s = np.array([event.at_s for event in moved], dtype=np.float64)
    inside_s = begin_s + (own_s - begin_s + by_s[:, None]) % length_s
    outside_s = np.tile(np.array([event.at_s for event in stay], dtype=np.float64), (shifts, 1))
    drawn = _Drawn([*moved, *stay], np.concatenate([inside_s, outside_s], axis=1), labour)
    return [drawn.letters(episode) for episode in episodes]


@dataclass(frozen=True)
class _Drawn:
    """The acts of a labour under each shift; `at_s` has shape (n_shifts, n_acts), s."""

    acts: list[CareEvent]
    at_s: NDArray[np.float64]
    labour: Labour

    def letters(self, episode: Episode) -> str:
        """The letter of each shift: the clock judges one of all shifts that are alike to it."""
        alike = self._alike(episode)
        found = np.empty(alike.size, dtype="<U1")
        for kind in np.unique(alike).tolist():
            same = alike == kind
            found[same] = LETTERS[status_of(episode, self._under(int(np.argmax(same))))]
        return "".join(found.tolist())

    def _alike(self, episode: Episode) -> NDArray[np.uint8]:
        """By shift, a number for all of the acts that a status can depend on, shape (n_shifts,).

        Is there a decision before the pattern; is it in force for long enough; does an act on the clock that decides
        count, by the target or later.
        """
        labour, settings = self.labour, self.labour.settings
        rule = settings.rule(episode.standard, episode.trigger)
        first_s = from_moment(episode, settings)
        before_s, urgency, in_force_s = self._last_decision(first_s)
        until_s = before_s + in_force_s
        least_s = latest_to_stand(episode, rule, labour)
        binds = (until_s >= episode.pattern_start_s - SLACK_S) & (least_s <= until_s + 2 * SLACK_S)
        inside = (self.at_s >= first_s) & (self.at_s <= last_moment(episode, rule, labour))
        names = rule.counts & settings.events_of("escalation", "decision") if escalates(rule) else rule.counts
        for k, event in enumerate(self.acts):
            inside[:, k] &= event.event in names
            if event.event == DECISION and event.urgency is not None:
                inside[:, k] &= ~(urgency < event.urgency)
        earliest_s = np.where(inside, self.at_s, np.inf).min(axis=1, initial=np.inf)
        by_target = earliest_s <= deadline_s(episode, rule)
        told = np.stack([np.isfinite(before_s), binds, np.isfinite(earliest_s), by_target])
        alike: NDArray[np.uint8] = np.packbits(told, axis=0)[0]
        return alike

    def _last_decision(self, first_s: float) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Of the last decision before a moment: its time (-inf = none), its urgency (NaN = not given), its force, s."""
        # of two at one time the last in order is the last
        decisions = (k for k, act in enumerate(self.acts) if act.event == DECISION)
        ranked = sorted(decisions, key=lambda k: in_order(self.acts[k]), reverse=True)
        shifts = len(self.at_s)
        if not ranked:
            return np.full(shifts, -np.inf), np.full(shifts, np.nan), np.zeros(shifts)
        at_s = np.where(self.at_s[:, ranked] < first_s, self.at_s[:, ranked], -np.inf)
        last = at_s.argmax(axis=1)
        before_s = at_s[np.arange(shifts), last]
        given = np.array([self.acts[k].urgency or np.nan for k in ranked])
        in_force = self.labour.settings.decision_in_force
        lasts_s = np.array([60.0 * in_force.minutes(self.acts[k].urgency) for k in ranked])
        return before_s, np.where(np.isfinite(before_s), given[last], np.nan), lasts_s[last]

    def _under(self, shift: int) -> Labour:
        at_s = self.at_s[shift].tolist()
        acts = [replace(event, at_s=at_s[k]) for k, event in enumerate(self.acts)]
        return replace(self.labour, acts=tuple(sorted(acts, key=in_order)))


@dataclass(frozen=True)
class Tally:
    """How many episodes were answered in time, of how many that count: these can be added up over units."""

    in_time: int
    counted: int
    shifts_in_time: NDArray[np.int64]  # (n_shifts,) the same under each shift; empty = none drawn
    shifts_counted: NDArray[np.int64]  # (n_shifts,)


def tally_of(statuses: Sequence[str], shifted: Sequence[str | None]) -> Tally:
    """Count these episodes.

    `statuses`: as recorded. `shifted`: the letters of each, in the same order; None or empty = none drawn.
    Gives tally: as many shifts as the shortest text has.
    """
    counted = [LETTERS[status] for status in statuses if status in LETTERS and LETTERS[status] in _COUNTED]
    drawn = [text for text in shifted if text]
    none = np.zeros(0, np.int64)
    if not drawn:
        return Tally(counted.count("i"), len(counted), none, none)
    width = min(len(text) for text in drawn)
    table: NDArray[np.str_] = np.array([list(text[:width]) for text in drawn])
    return Tally(
        counted.count("i"), len(counted), (table == "i").sum(axis=0), np.isin(table, list(_COUNTED)).sum(axis=0)
    )


def chance_of_tallies(tallies: Sequence[Tally]) -> Chance:
    """The share in time of the episodes behind these counts, beside what the shifts give.

    `tallies`: one or more; of those with shifts the first ones are added, as many as the shortest has.
    Gives chance: `share` over all shifts; `low` and `high` hold 95 % of the shifts.

    Of all episodes that can be assessed, those that resolved or were born first among them (the cumulative incidence of
    an answer at the target), without those that met a decision in force. Under a shift others may be among them than
    as recorded.
    """
    counted = sum(tally.counted for tally in tallies)
    in_time = sum(tally.in_time for tally in tallies) / counted if counted else None
    drawn = [tally for tally in tallies if len(tally.shifts_counted)]
    width = min((len(tally.shifts_counted) for tally in drawn), default=0)
    within, of = np.zeros(width, np.int64), np.zeros(width, np.int64)
    for tally in drawn:
        within, of = within + tally.shifts_in_time[:width], of + tally.shifts_counted[:width]
    if not of.sum():
        return Chance(in_time, None, None, None, counted)
    low, high = np.percentile(within[of > 0] / of[of > 0], [2.5, 97.5])
    return Chance(in_time, float(within.sum() / of.sum()), float(low), float(high), counted)

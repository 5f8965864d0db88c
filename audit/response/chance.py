"""What the clock would say had each labour's acts come at other times: its share in time by chance. Pure.

The acts of a labour are moved together by one random time, and those that leave it at the end come in at its start, so
that their number, kinds and spacing stay and only their fit to the tracing is lost.
"""

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from audit.response.acts import Labour
from audit.response.responses import status_of
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
    letters: list[list[str]] = [[] for _ in episodes]
    for shift_s in by_s.tolist():
        acts = [replace(event, at_s=begin_s + (event.at_s - begin_s + shift_s) % length_s) for event in moved]
        there = replace(labour, acts=tuple(sorted([*acts, *stay], key=_in_order)))
        for found, episode in zip(letters, episodes, strict=True):
            found.append(LETTERS[status_of(episode, there)])
    return ["".join(found) for found in letters]


def chance_of(statuses: Sequence[str], shifted: Sequence[str | None]) -> Chance:
    """The share in time of these episodes, beside what the shifts give.

    Parameters
    ----------
    statuses : as recorded. shifted : the letters of each, in the same order; None or empty = none drawn.

    Returns
    -------
    chance : `share` over all shifts; `low` and `high` hold 95 % of the shifts.

    Notes
    -----
    Of all episodes that can be assessed, those that resolved or were born first among them (the cumulative incidence of
    an answer at the target), without those that met a decision in force. Under a shift others may be among them than
    as recorded.
    """
    counted = [LETTERS[status] for status in statuses if status in LETTERS and LETTERS[status] in _COUNTED]
    in_time = counted.count("i") / len(counted) if counted else None
    drawn = [text for text in shifted if text]
    if not drawn:
        return Chance(in_time, None, None, None, len(counted))
    width = min(len(text) for text in drawn)
    table: NDArray[np.str_] = np.array([list(text[:width]) for text in drawn])
    within = (table == "i").sum(axis=0)
    of = np.isin(table, list(_COUNTED)).sum(axis=0)
    if not of.sum():
        return Chance(in_time, None, None, None, len(counted))
    shares = within[of > 0] / of[of > 0]
    low, high = np.percentile(shares, [2.5, 97.5])
    return Chance(in_time, float(within.sum() / of.sum()), float(low), float(high), len(counted))


def _in_order(event: CareEvent) -> tuple[float, str, int]:
    return event.at_s, event.event, event.urgency or 0

"""Clock times to seconds of a case: midnight and clock changes keep true lengths, and the date goes no further.

What is kept of a clock is the time of day that a case's second 0 shows, so that events that come later find their
place. PEP 495 decides what a wall time means that a clock change makes stand twice or never.
"""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from audit.intake.formats.clock_text import ClockTimes, Offsets, offsets

FloatArray = NDArray[np.float64]
_DAY_S = 86_400.0
_HALF_DAY_S = 43_200.0
_HOUR_S, _NEAR_S = 3600.0, 100.0  # a step back of about an hour is a clock change; our choice
_CONTINUES_S = 60.0  # rows nearer than this follow each other; our choice
_CLEARLY_S = 3600.0  # by which one day must fit better than another; our choice

TWICE = "found a time that the clock shows twice that night (it goes back), expected it with its offset, as 02:30+02:00"
NEVER = "found a time that the clock does not show that night (it goes forward), expected one that it shows"
NOT_A_TIME = "found what is no clock time, expected hours and minutes (and a date where the mapping has one)"
NO_CLOCK = "found a clock time of a case whose tracing came without one; import its tracing with clock times first"
NO_DAY = "found clock times that fit the tracing on more than one day, expected them with dates near the tracing"


@dataclass(frozen=True)
class CaseClock:
    """What the clock shows at a case's second 0: seconds since local midnight, and its offset from UTC if known."""

    local_s: float
    utc_offset_s: float | None

    def zero(self, dated: bool) -> float:
        """The time of day that seconds of that kind count from."""
        return self.local_s - self.utc_offset_s if dated and self.utc_offset_s is not None else self.local_s


@dataclass
class TrueSeconds:
    """Seconds that pass as time does, from any origin; NaN where a row cannot be placed, with the reason by row."""

    seconds: FloatArray
    reasons: dict[int, str]
    said: list[str]


def of_rows_that_follow(times: ClockTimes, zone: ZoneInfo) -> TrueSeconds:
    """The rows of one recording, in the order of the file."""
    wall = times.wall_s
    reasons = {int(k): NOT_A_TIME for k in np.flatnonzero(np.isnan(wall))}
    if not times.dated:
        return _undated(wall, reasons)
    if np.isfinite(times.explicit_s).any():
        return TrueSeconds(wall - times.explicit_s, reasons, [])
    found = offsets(wall, zone)
    said: list[str] = []
    offset = found.first_s.copy()
    known = np.flatnonzero(np.isfinite(wall))
    if len(known) and found.never.any():
        offset[:] = found.first_s[known[0]]
        said.append("the clock of the recording was not set forward; its own time was kept")
    elif found.twice.any():
        second = _second_time_round(wall, known, found)
        if second is None:
            offset[:] = found.first_s[known[0]]
            said.append("the clock of the recording was not set back; its own time was kept")
        else:
            offset[second] = found.second_s[second]
    return TrueSeconds(wall - offset, reasons, said)


def of_single_rows(times: ClockTimes, zone: ZoneInfo) -> TrueSeconds:
    """Times that do not follow each other in steps, such as a case's events, in the order of the file."""
    wall = times.wall_s
    reasons = {int(k): NOT_A_TIME for k in np.flatnonzero(np.isnan(wall))}
    if not times.dated:
        return TrueSeconds(wall.copy(), reasons, [])
    found = offsets(wall, zone)
    given = np.isfinite(times.explicit_s)
    offset = np.where(given, times.explicit_s, found.first_s)
    never, twice = found.never & ~given, found.twice & ~given
    second = _after_one_step_back(wall, found.twice) if twice.any() else None
    for k in np.flatnonzero(never | twice):
        if never[k]:
            reasons[int(k)] = NEVER
        elif second is None:
            reasons[int(k)] = TWICE
        elif second[k]:
            offset[k] = found.second_s[k]
    seconds = wall - offset
    seconds[list(reasons)] = np.nan
    return TrueSeconds(seconds, reasons, [])


def clock_at_zero(times: ClockTimes, seconds: FloatArray) -> CaseClock:
    """The clock at the earliest row."""
    k = int(np.nanargmin(seconds))
    wall = float(times.wall_s[k])
    return CaseClock(wall % _DAY_S, wall - float(seconds[k]) if times.dated else None)


def start_of_piece(times: ClockTimes, seconds: FloatArray, clock: CaseClock, end_s: float) -> float | None:
    """Where a recording begins on the axis of a case that has a clock; None when it does not follow what is stored."""
    k = int(np.nanargmin(seconds))
    dated = times.dated and clock.utc_offset_s is not None
    shown = float(seconds[k]) if dated else float(times.wall_s[k])
    start = round((shown - clock.zero(dated)) % _DAY_S, 6)
    start = 0.0 if start > _DAY_S - 0.001 else start
    return start if start <= end_s + _HALF_DAY_S else None


def placed(times: ClockTimes, true: TrueSeconds, clock: CaseClock, span_s: tuple[float, float]) -> FloatArray:
    """Seconds of a case's single rows on its axis, on the day on which they lie nearest to its tracing.

    Rows with dates stay as far apart as they are; rows without find their day each. NaN, with a reason in `true`, where
    two days fit.
    """
    dated = times.dated and clock.utc_offset_s is not None
    shown = true.seconds if dated else times.wall_s
    raw = np.where(np.isfinite(true.seconds), shown - clock.zero(dated), np.nan)
    groups = (
        [np.flatnonzero(np.isfinite(raw))] if times.dated else [np.array([k]) for k in np.flatnonzero(np.isfinite(raw))]
    )
    out = np.full(len(raw), np.nan)
    for rows in groups:
        if not len(rows):
            continue
        near = np.floor(np.median(raw[rows]) / _DAY_S)
        options = []
        for day in (near - 1, near, near + 1):
            at = raw[rows] - day * _DAY_S
            outside = np.maximum(0.0, np.maximum(span_s[0] - at, at - span_s[1]))
            options.append((float(np.mean(outside)), day))
        options.sort()
        if options[1][0] - options[0][0] < _CLEARLY_S:
            true.reasons.update(dict.fromkeys(rows.tolist(), NO_DAY))
        else:
            out[rows] = np.round(raw[rows] - options[0][1] * _DAY_S, 6)
    return out


def _undated(wall: FloatArray, reasons: dict[int, str]) -> TrueSeconds:
    seconds, said = wall.copy(), []
    known = np.flatnonzero(np.isfinite(wall))
    steps = np.diff(wall[known])
    shift = np.where(steps < -_HALF_DAY_S, _DAY_S, 0.0)
    back = np.abs(steps + _HOUR_S) < _NEAR_S
    shift[back] = _HOUR_S
    if back.any():
        said.append("the clock goes back by an hour within the recording: taken as a clock change, nothing is doubled")
    if (np.abs(steps - _HOUR_S) < _NEAR_S).any():
        said.append("an hour is missing within the recording: a clock change or a gap? Only dates would tell")
    seconds[known[1:]] += np.cumsum(shift)
    return TrueSeconds(seconds, reasons, said)


def _second_time_round(wall: FloatArray, known: NDArray[np.int64], found: Offsets) -> NDArray[np.int64] | None:
    """The rows of the second pass through an hour that stands twice; None = the clock was not set back."""
    twice = known[found.twice[known]]
    back = np.flatnonzero(np.diff(wall[known]) < -_CONTINUES_S)
    if len(back):
        later: NDArray[np.int64] = twice[twice >= known[back[0] + 1]]
        return later
    before, after = known[known < twice[0]], known[known > twice[-1]]
    follows = len(before) > 0 and wall[twice[0]] - wall[before[-1]] <= _CONTINUES_S
    goes_on = len(after) > 0 and wall[after[0]] - wall[twice[-1]] <= _CONTINUES_S
    if follows and goes_on:
        return None
    none: NDArray[np.int64] = twice[:0]
    return twice if goes_on else none


def _after_one_step_back(wall: FloatArray, twice: NDArray[np.bool_]) -> NDArray[np.bool_] | None:
    """Which rows lie after the clock went back, where the rows are in order but for that one step; else None."""
    known = np.flatnonzero(np.isfinite(wall))
    back = np.flatnonzero(np.diff(wall[known]) < 0)
    if len(back) != 1 or not (twice[known[back[0]]] and twice[known[back[0] + 1]]):
        return None
    later = np.zeros(len(wall), dtype=bool)
    later[known[back[0] + 1] :] = True
    return later

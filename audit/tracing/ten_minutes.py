"""Falls so near 10 minutes that they could be a deceleration or a level of their own: read once more the other way.

Ten minutes or more are a change of the baseline and no event (NICHD 2008). Where the line runs hangs on it as well, so
such a tracing is read again as a whole with the limit a little lower, or higher.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TypeVar

from msgspec import structs

from audit.tracing.parameters import TracingSettings
from audit.tracing.types import Deceleration, LevelChange, Reading

# How far the limit is moved. Of drawn falls of 9.5 to 10.1 min 50 were read the wrong way, 44 of them within this; a
# level is measured more coarsely than an event (our choice).
LONGER_BY_S, SHORTER_BY_S = 20.0, 40.0
# A level ends where the rate begins to leave it, its fall once the rate is back: up to this much later.
WAY_BACK_S = 60.0
# What is the same fall in another reading lies for so much of its length in the same place.
SAME_SHARE = 0.5
Fall = Deceleration | LevelChange
Own = TypeVar("Own", Deceleration, LevelChange)


def told_both_ways(
    reading: Reading, settings: TracingSettings, read_again: Callable[[TracingSettings], Reading]
) -> Reading:
    """The reading with its falls near 10 minutes marked, and what it would be were all of them longer, or shorter.

    `read_again`: reads the same tracing with other settings.
    """
    limit_s, changes = settings.baseline_change_s, _downwards(reading.level_changes)
    if any(_length_s(event) >= limit_s - LONGER_BY_S for event in reading.decelerations):
        longer = read_again(structs.replace(settings, baseline_change_s=limit_s - LONGER_BY_S))
        events = _turned(reading.decelerations, longer.decelerations, _downwards(longer.level_changes))
        if events:
            marked = [
                replace(d, kind_certain=False, other_kind="level_change") if d.onset_s in events else d
                for d in reading.decelerations
            ]
            began = {level.onset_s: onset_s for onset_s, level in events.items()}
            longer = replace(longer, level_changes=_begun(longer.level_changes, began))
            reading = replace(reading, decelerations=tuple(marked), if_longer=longer)
    if any(_length_s(c) < limit_s + WAY_BACK_S and c.end_s < reading.fhr_1hz.size for c in changes):
        shorter = read_again(structs.replace(settings, baseline_change_s=limit_s + SHORTER_BY_S))
        levels = _turned(changes, _downwards(shorter.level_changes), shorter.decelerations)
        if levels:
            both = [
                replace(c, kind_certain=False, other_kind=levels[c.onset_s].kind) if c.onset_s in levels else c
                for c in reading.level_changes
            ]
            began = {event.onset_s: onset_s for onset_s, event in levels.items()}
            shorter = replace(shorter, decelerations=_begun(shorter.decelerations, began))
            reading = replace(reading, level_changes=tuple(both), if_shorter=shorter)
    return reading


def _turned(falls: Iterable[Fall], same: Iterable[Fall], other: Iterable[Own]) -> dict[float, Own]:
    """By the onset of each fall what the other reading has in its place, where that is of the other sort."""
    same, other = list(same), list(other)
    found = {}
    for fall in falls:
        instead = next((one for one in other if _in_place_of(fall, one)), None)
        if instead is not None and not any(_in_place_of(fall, one) for one in same):
            found[fall.onset_s] = instead
    return found


def _begun(listed: tuple[Own, ...], began_s: dict[float, float]) -> tuple[Own, ...]:
    """The same with other onsets: until 10 minutes are over nobody can tell the one from the other."""
    return tuple(replace(one, onset_s=began_s.get(one.onset_s, one.onset_s)) for one in listed)


def _downwards(changes: tuple[LevelChange, ...]) -> list[LevelChange]:
    return [change for change in changes if change.to_bpm < change.from_bpm]


def _in_place_of(fall: Fall, one: Fall) -> bool:
    common_s = min(fall.end_s, one.end_s) - max(fall.onset_s, one.onset_s)
    return common_s >= SAME_SHARE * max(_length_s(fall), _length_s(one))


def _length_s(fall: Fall) -> float:
    return fall.end_s - fall.onset_s

"""Rises that are part of a variable deceleration and no accelerations that reassure."""

from bisect import bisect_right
from dataclasses import replace

from audit.tracing.parameters import TracingSettings
from audit.tracing.types import Acceleration, Deceleration


def mark_overshoots(
    accelerations: tuple[Acceleration, ...], decelerations: tuple[Deceleration, ...], settings: TracingSettings
) -> tuple[Acceleration, ...]:
    """The accelerations, those marked that begin as an abrupt deceleration ends, or run on from one that does.

    `accelerations`, `decelerations`: in time order.

    NICHD 2008 lists 'overshoots' among the features of variable decelerations (category II), not among accelerations.
    How soon a rise must follow is our choice (`overshoot_within_s`). A prolonged one counts as its fall was: abrupt.
    A second hump belongs to the first where the recovery between is too short to divide an event (`merge_recovery_s`).
    """
    abrupt = [
        d
        for d in decelerations
        if d.kind == "variable" or (d.kind == "prolonged" and d.judged_fall_s < settings.gradual_s)
    ]
    ends = [d.end_s for d in abrupt]
    found: list[Acceleration] = []
    for rise in accelerations:
        # The rise may begin a little before the fall is over: both edges are estimates.
        place = bisect_right(ends, rise.onset_s + settings.overshoot_within_s)
        near = place > 0 and rise.onset_s - ends[place - 1] <= settings.overshoot_within_s
        after = near and rise.peak_s >= ends[place - 1]
        last = found[-1] if found else None
        goes_on = last is not None and last.overshoot and rise.onset_s - last.end_s < settings.merge_recovery_s
        found.append(replace(rise, overshoot=True) if after or goes_on else rise)
    return tuple(found)

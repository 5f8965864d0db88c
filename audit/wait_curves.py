"""Points of the curves of waits, ready to draw: by when a concern was answered, as it was and had it gone on."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from audit.records import Record
from audit.survival import survival_curve
from audit.waits import LEVEL, RESPONSE, WaitGroup, answer_times, grouped

ENDS: dict[int, str] = {1: "answered", 2: "resolved first", 3: "born first"}


def curve_rows(groups: Sequence[WaitGroup], *, longest_min: float) -> list[dict[str, Any]]:
    """Step points for drawing: group, end, minutes, share, low, high; each curve is drawn on to `longest_min`."""
    found = []
    for group in groups:
        if group.curve is None:
            continue
        for row, cause in enumerate(group.curve.causes):
            points = zip(
                group.curve.time, group.curve.incidence[row], group.curve.low[row], group.curve.high[row], strict=True
            )
            own = [
                {"group": group.name, "end": ENDS.get(cause, "other"), "minutes": float(t), "share": float(share),
                 "low": _plain(low), "high": _plain(high)}
                for t, share, low, high in points
                if t <= longest_min
            ]  # fmt: skip
            found += [*own, {**own[-1], "minutes": longest_min}]
    return found


def _plain(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def answers(points: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """The points of the answer curves only."""
    return [point for point in points if point["end"] == ENDS[RESPONSE]]


def uninterrupted_rows(rows: Sequence[Record], by: str | None, *, longest_min: float) -> list[dict[str, Any]]:
    """Share that would be answered by each minute had every concern gone on, by group (1 - Kaplan-Meier).

    Parameters
    ----------
    rows, by : as for `audit.waits.wait_groups`; waits that cannot be assessed are left out.
    longest_min : where the drawing ends.

    Returns
    -------
    points : group, minutes, share, low, high (0 to 1, 95 % interval; None = cannot be given), waiting (still without
        a response just before the minute). A curve ends where nobody is followed any longer, and goes on to
        `longest_min` only where all were answered: what lies beyond is not known.

    Raises
    ------
    ValueError : an unknown grouping.

    Notes
    -----
    Kaplan & Meier, JASA 1958;53:457-81. Resolution, birth and the end of the tracing censor the wait, so the share is
    at least that of the competing-ends curve.
    """
    found = []
    for name, own in grouped(rows, by):
        times, answered = answer_times(own)
        if not times:
            continue
        curve = survival_curve(times, answered, level=LEVEL)
        points = zip(curve.time, curve.survival, curve.low, curve.high, curve.at_risk, strict=True)
        drawn = [
            {"group": name, "minutes": float(t), "share": 1.0 - float(waiting), "low": _plain(1.0 - high),
             "high": _plain(1.0 - low), "waiting": int(at_risk)}
            for t, waiting, low, high, at_risk in points
            if t <= longest_min
        ]  # fmt: skip
        goes_on = curve.time[-1] > longest_min or curve.survival[-1] == 0.0
        found += [*drawn, {**drawn[-1], "minutes": longest_min}] if goes_on else drawn
    return found

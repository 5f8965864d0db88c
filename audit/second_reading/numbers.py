"""The numbers of a window: what the second reading knows of it beside the convolutions."""

import numpy as np

from audit.second_reading.of_events import of_accelerations, of_contractions, of_decelerations, of_shapes
from audit.second_reading.of_rate import Numbers, of_baseline, of_rate, of_signal
from audit.second_reading.of_variability import of_variability
from audit.second_reading.stretch import Labour, Stretch


def window_numbers(labour: Labour, start_s: float, end_s: float) -> Numbers:
    """The numbers of the window [start_s, end_s) by name, always in the same order; NaN = cannot say.

    `labour`: the reading of the whole tracing; the half hour before the window enters some of the numbers. `start_s`,
    `end_s`: s from the first sample.

    Where the window lies in the recording is none of them: the reading is of what the strip shows. Numbers that turn on
    a hair were left out (counts by length and depth, the category of one minute, shoulders): they gave nothing in
    cross-validation and turned classes when a little noise was added.
    """
    window = Stretch(labour, start_s, end_s)
    found = {
        **of_rate(window),
        **of_baseline(window),
        **of_signal(window),
        **of_variability(window),
        **of_decelerations(window),
        **of_shapes(window),
        **of_accelerations(window),
        **of_contractions(window),
        **_of_categories(window),
        "second_stage_fraction": _second_stage(window),
        "window_minutes": (end_s - start_s) / 60.0,
    }
    return {name: float(value) for name, value in found.items()}


def _of_categories(window: Stretch) -> Numbers:
    """Categories of the minutes under each standard, in the window and before it, 0 = mildest."""
    found = {}
    for standard in window.labour.minutes:
        inside, before = window.codes(standard), window.before().codes(standard)
        found[f"{standard}_mean"] = float(inside.mean()) if inside.size else np.nan
        found[f"{standard}_before_mean"] = float(before.mean()) if before.size else np.nan
    return found


def _second_stage(window: Stretch) -> float:
    start = window.labour.second_stage_s
    if start is None:
        return 0.0
    return float(np.clip((window.end_s - start) / (window.end_s - window.start_s), 0.0, 1.0))

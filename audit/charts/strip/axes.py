"""Where lines of the paper and the times between its channels stand."""

import math

from audit.charts.strip.types import StripWindow
from audit.words import hh_mm

_LABEL_EVERY_PX = 70
_STEPS_MIN = (1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 180.0, 240.0)


def grid_steps_min(px_per_min: float) -> tuple[float, float]:
    """Minutes between light and between heavy vertical lines: 10 s and 1 min on a wide scale, else wider apart."""
    if px_per_min >= 75:
        return 1 / 6, 1.0
    if px_per_min >= 8:
        return 1.0, 10.0
    return 10.0, 60.0


def time_labels(window: StripWindow) -> list[tuple[float, str]]:
    """Minutes and their hh:mm, far enough apart to be read."""
    step = next((s for s in _STEPS_MIN if s * window.px_per_min >= _LABEL_EVERY_PX), _STEPS_MIN[-1])
    start, end = window.start_s / 60, window.end_s / 60
    first, last = math.ceil(start / step - 1e-9), math.floor(end / step + 1e-9)
    return [(k * step, hh_mm(k * step * 60)) for k in range(first, last + 1)]

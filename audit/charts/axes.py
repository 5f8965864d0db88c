"""Axes of a strip: minutes shown as hh:mm, the grid of the paper, and one width for the left margin of every pane."""

import math
from typing import Any

import altair as alt

from audit.charts import palette
from audit.charts.strip_types import (
    FHR_HIGHEST_BPM,
    FHR_LOWEST_BPM,
    FHR_MAJOR_BPM,
    FHR_MINOR_BPM,
    TOCO_HIGHEST,
    TOCO_LOWEST,
    StripWindow,
)

LEFT_MARGIN_PX = 62
# a quantitative axis of minutes shown as hours and minutes from zero; a time axis would bring in the viewer's time zone
HH_MM = (
    "(datum.value < 0 ? '-' : '') + format(floor(abs(datum.value) / 60), '02')"
    " + ':' + format(floor(abs(datum.value) % 60 + 0.0001), '02')"
)
_LABEL_EVERY_PX = 70
_STEPS_MIN = (1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 180.0, 240.0)


def hh_mm(seconds: float) -> str:
    """Seconds from zero as hh:mm, rounded down to the minute; before zero with a minus sign."""
    if math.isnan(seconds):
        return "not known"
    whole = math.floor(abs(seconds) / 60 + 1e-9)
    return f"{'-' if seconds < 0 and whole else ''}{whole // 60:02d}:{whole % 60:02d}"


def grid_steps_min(px_per_min: float) -> tuple[float, float]:
    """Minutes between light and between heavy vertical lines: 10 s and 1 min on a wide scale, else wider apart."""
    if px_per_min >= 75:
        return 1 / 6, 1.0
    if px_per_min >= 8:
        return 1.0, 10.0
    return 10.0, 60.0


def ticks(start_min: float, end_min: float, step_min: float) -> list[float]:
    """Multiples of a step within a stretch."""
    first, last = math.ceil(start_min / step_min - 1e-9), math.floor(end_min / step_min + 1e-9)
    return [round(k * step_min, 6) for k in range(first, last + 1)]


def time_scale(window: StripWindow) -> alt.Scale:
    """The common horizontal scale of all panes."""
    return alt.Scale(domain=[window.start_s / 60, window.end_s / 60], nice=False, zero=False)


def time_x(window: StripWindow, *, labels: bool, field: str = "minute") -> alt.X:
    """The minute grid; labels hh:mm only where asked."""
    light, heavy = grid_steps_min(window.px_per_min)
    start, end = window.start_s / 60, window.end_s / 60
    label_step = next((s for s in _STEPS_MIN if s * window.px_per_min >= _LABEL_EVERY_PX), _STEPS_MIN[-1])
    on_heavy = f"abs(datum.value / {heavy} - round(datum.value / {heavy})) < 0.001"
    on_label = f"abs(datum.value / {label_step} - round(datum.value / {label_step})) < 0.001"
    axis = alt.Axis(
        values=ticks(start, end, light),
        grid=True,
        gridColor=_either(on_heavy, palette.GRID_HEAVY, palette.GRID_LIGHT),
        gridWidth=_either(on_heavy, 1.2, 0.8),
        labels=labels,
        labelExpr=f"{on_label} ? {HH_MM} : ''",
        labelOverlap=False,
        labelFlush=False,
        ticks=False,
        domain=False,
        labelColor=palette.INK,
        title=None,
    )
    return alt.X(f"{field}:Q", scale=time_scale(window), axis=axis)


def plain_x(window: StripWindow, field: str = "minute") -> alt.X:
    """The same scale without an axis, for further layers."""
    return alt.X(f"{field}:Q", scale=time_scale(window), axis=None)


def fhr_y(*, axis: bool = True, field: str = "bpm") -> alt.Y:
    """50 to 210 bpm, a line every 10, a heavier and labelled one every 30."""
    scale = alt.Scale(domain=[FHR_LOWEST_BPM, FHR_HIGHEST_BPM], nice=False, zero=False)
    if not axis:
        return alt.Y(f"{field}:Q", scale=scale, axis=None)
    return alt.Y(
        f"{field}:Q",
        scale=scale,
        axis=_level_axis("FHR, bpm", list(range(FHR_LOWEST_BPM, FHR_HIGHEST_BPM + 1, FHR_MINOR_BPM)), FHR_MAJOR_BPM),
    )


def toco_y(*, axis: bool = True, field: str = "toco") -> alt.Y:
    """0 to 100 in the toco's own unit, a line every 20."""
    scale = alt.Scale(domain=[TOCO_LOWEST, TOCO_HIGHEST], nice=False, zero=False)
    if not axis:
        return alt.Y(f"{field}:Q", scale=scale, axis=None)
    return alt.Y(f"{field}:Q", scale=scale, axis=_level_axis("Toco", list(range(0, 101, 10)), 20))


def level_labels(window: StripWindow, every_px: int = 640) -> list[float]:
    """Minutes at which the bpm figures are repeated inside a long strip, as on paper."""
    step = max(every_px / window.px_per_min, 1e-6)
    count = int((window.end_s - window.start_s) / 60 / step + 0.2)
    return [window.start_s / 60 + step * k for k in range(1, count + 1) if window.width_px - k * every_px > 60]


def _level_axis(title: str, values: list[int], heavy: int) -> alt.Axis:
    on_heavy = f"datum.value % {heavy} == 0"
    return alt.Axis(
        title=title,
        titleColor=palette.INK,
        titlePadding=6,
        values=values,
        grid=True,
        gridColor=_either(on_heavy, palette.GRID_HEAVY, palette.GRID_LIGHT),
        gridWidth=_either(on_heavy, 1.2, 0.8),
        labelExpr=f"{on_heavy} ? datum.value : ''",
        labelOverlap=False,
        labelColor=palette.INK,
        ticks=False,
        domain=False,
        minExtent=LEFT_MARGIN_PX - 20,
        maxExtent=LEFT_MARGIN_PX - 20,
    )


def _either(test: str, yes: Any, no: Any) -> dict[str, Any]:
    return {"condition": {"test": test, "value": yes}, "value": no}

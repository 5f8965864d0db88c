"""Axes of a strip: minutes shown as hh:mm, the grid of the paper, and one width for the left margin of every pane."""

import math
from typing import Any

import altair as alt

from audit.charts import palette
from audit.charts.strip.types import (
    FHR_HIGHEST_BPM,
    FHR_LOWEST_BPM,
    FHR_MAJOR_BPM,
    FHR_MINOR_BPM,
    TOCO_HIGHEST,
    TOCO_LOWEST,
    StripWindow,
)
from audit.words import hh_mm

LEFT_MARGIN_PX = 62
_ALL = 10_000  # no axis may thin the grid of the paper
_LABEL_EVERY_PX = 70
_LEVELS_EVERY_PX = 640
_STEPS_MIN = (1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 180.0, 240.0)


def grid_steps_min(px_per_min: float) -> tuple[float, float]:
    """Minutes between light and between heavy vertical lines: 10 s and 1 min on a wide scale, else wider apart."""
    if px_per_min >= 75:
        return 1 / 6, 1.0
    if px_per_min >= 8:
        return 1.0, 10.0
    return 10.0, 60.0


def _sequence(start: float, end: float, step: float) -> dict[str, str]:
    """Multiples of a step within a stretch, counted out by the drawing itself: a list would swell every chart."""
    first, last = math.ceil(start / step - 1e-9), math.floor(end / step + 1e-9)
    return {"expr": f"sequence({first * step!r}, {(last + 0.5) * step!r}, {step!r})"}


# Scales and axes are plain mappings: the classes carry every unset option along and are copied with each layer.
def time_scale(window: StripWindow) -> dict[str, Any]:
    """The common horizontal scale of all panes."""
    return dict(domain=[window.start_s / 60, window.end_s / 60], nice=False, zero=False)


def time_grid(window: StripWindow) -> alt.X:
    """The time scale with the minute grid of the paper; its labels stand in a row of their own."""
    light, heavy = grid_steps_min(window.px_per_min)
    on_heavy = f"abs(datum.value / {heavy} - round(datum.value / {heavy})) < 0.001"
    axis = dict(
        values=_sequence(window.start_s / 60, window.end_s / 60, light),
        tickCount=_ALL,
        grid=True,
        gridColor=_either(on_heavy, palette.PAPER_HEAVY, palette.PAPER_LIGHT),
        gridWidth=_either(on_heavy, 1.0, 0.6),
        labels=False,
        ticks=False,
        domain=False,
        title=None,
    )
    return alt.X("minute:Q", scale=time_scale(window), axis=axis)


def time_x(window: StripWindow, field: str = "minute", *, bare: bool = False) -> alt.X:
    """The same scale for further layers; `bare` in panes that show no grid at all."""
    if bare:
        return alt.X(f"{field}:Q", scale=time_scale(window), axis=None)
    return alt.X(f"{field}:Q", scale=time_scale(window))


def time_labels(window: StripWindow) -> list[tuple[float, str]]:
    """Minutes and their hh:mm, far enough apart to be read."""
    step = next((s for s in _STEPS_MIN if s * window.px_per_min >= _LABEL_EVERY_PX), _STEPS_MIN[-1])
    start, end = window.start_s / 60, window.end_s / 60
    first, last = math.ceil(start / step - 1e-9), math.floor(end / step + 1e-9)
    return [(k * step, hh_mm(k * step * 60)) for k in range(first, last + 1)]


def fhr_y(*, axis: bool = True, field: str = "bpm") -> alt.Y:
    """50 to 210 bpm, a line every 10, a heavier and labelled one every 30."""
    levels = _level_axis("FHR, bpm", FHR_LOWEST_BPM, FHR_HIGHEST_BPM, FHR_MAJOR_BPM)
    return _level_y(field, FHR_LOWEST_BPM, FHR_HIGHEST_BPM, levels if axis else alt.Undefined)


def toco_y(*, axis: bool = True, field: str = "toco") -> alt.Y:
    """0 to 100 in the toco's own unit, a line every 20."""
    levels = _level_axis("Toco", TOCO_LOWEST, TOCO_HIGHEST, 20)
    return _level_y(field, TOCO_LOWEST, TOCO_HIGHEST, levels if axis else alt.Undefined)


def _level_y(field: str, lowest: int, highest: int, axis: Any) -> alt.Y:
    return alt.Y(f"{field}:Q", scale=dict(domain=[lowest, highest], nice=False, zero=False), axis=axis)


def level_labels(window: StripWindow) -> list[float]:
    """Minutes at which the bpm figures are repeated inside a long strip, as on paper."""
    step = max(_LEVELS_EVERY_PX / window.px_per_min, 1e-6)
    count = int((window.end_s - window.start_s) / 60 / step + 0.2)
    return [window.start_s / 60 + step * k for k in range(1, count + 1) if window.width_px - k * _LEVELS_EVERY_PX > 60]


def _level_axis(title: str, lowest: int, highest: int, heavy: int) -> dict[str, Any]:
    on_heavy = f"datum.value % {heavy} == 0"
    return dict(
        title=title,
        titleColor=palette.INK,
        titlePadding=6,
        values=_sequence(lowest, highest, FHR_MINOR_BPM),
        tickCount=_ALL,
        grid=True,
        gridColor=_either(on_heavy, palette.PAPER_HEAVY, palette.PAPER_LIGHT),
        gridWidth=_either(on_heavy, 1.0, 0.6),
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

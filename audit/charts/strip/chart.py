"""The strip: FHR above toco on one time axis, on the grid of the paper, with what was found laid over it on request."""

from typing import Any

import altair as alt
import pandas as pd

from audit.charts import palette
from audit.charts.strip import axes, bands
from audit.charts.strip.findings import (
    acceleration_layers,
    baseline_layer,
    contraction_layers,
    deceleration_layers,
)
from audit.charts.strip.types import (
    FHR_HIGHEST_BPM,
    FHR_LOWEST_BPM,
    FHR_MAJOR_BPM,
    TOCO_HIGHEST,
    StripLayers,
    StripRows,
    StripWindow,
)

_OFF_PAPER_INSET = 2.0
NO_SCROLL_PX = 1300  # up to this width the left margin stays in sight


def strip_chart(rows: StripRows, window: StripWindow, layers: StripLayers) -> alt.VConcatChart:
    """The strip of a window, for a screen; `drawn.strip_scene` prints one, with events, clock and all other layers.

    `rows`: the layers' rows, already cut to the window and thinned (`audit.charts.strip.decimate`). `window`: the
    stretch and the scale; the drawing is exactly `window.width_px` wide between its margins. `layers`: which findings
    are drawn (decelerations, accelerations, contractions, baseline, signal not used, categories); the bare strip is
    `StripLayers()`.
    Gives an Altair chart with fixed pixel sizes; every pane shares the time axis.
    """
    panes: list[alt.Chart | alt.LayerChart] = []
    panes.append(_fhr_pane(rows, window, layers))
    if layers.excluded and not rows.unseen.empty:
        panes.append(bands.unseen_band(rows.unseen, window))
    panes.append(bands.time_row(window))
    panes.append(_toco_pane(rows, window, layers))
    if layers.categories and not rows.categories.empty:
        panes.append(bands.category_band(rows.categories, window))
    # everything in one constructor: each method of a finished chart would copy the whole of it once more
    return alt.VConcatChart(
        vconcat=panes, spacing=5, bounds="flush", resolve={"scale": {"x": "shared"}}, config=palette.CONFIG
    )


def _fhr_pane(rows: StripRows, window: StripWindow, layers: StripLayers) -> alt.LayerChart:
    parts: list[alt.Chart] = [_paper(window, axes.fhr_y()), *_repeated_levels(window)]
    if layers.decelerations:
        parts += deceleration_layers(rows.decelerations, window)
    if not rows.fhr.empty:
        parts.append(_line(rows.fhr, window, axes.fhr_y(axis=False)))
        parts += _off_paper(rows.fhr, window, FHR_LOWEST_BPM, FHR_HIGHEST_BPM, "bpm")
    else:
        parts.append(_nothing(window, "No fetal heart rate in this stretch", 130, "bpm"))
    if layers.baseline:
        parts += baseline_layer(rows.baseline, window)
    if layers.accelerations:
        parts += acceleration_layers(rows.accelerations, window)
    return alt.LayerChart(layer=parts, width=window.width_px, height=window.fhr_height_px)


def _toco_pane(rows: StripRows, window: StripWindow, layers: StripLayers) -> alt.LayerChart:
    parts: list[alt.Chart] = [_paper(window, axes.toco_y(), field="toco")]
    if rows.toco.empty:
        parts.append(_nothing(window, "No toco in this stretch", 50, "toco"))
    else:
        parts.append(_line(rows.toco, window, axes.toco_y(axis=False)))
        parts += _off_paper(rows.toco, window, -1.0, TOCO_HIGHEST, "toco")
    if layers.contractions:
        parts += contraction_layers(rows.contractions, window)
    return alt.LayerChart(layer=parts, width=window.width_px, height=window.toco_height_px)


def _paper(window: StripWindow, y: alt.Y, *, field: str = "bpm") -> alt.Chart:
    corners = pd.DataFrame({"minute": [window.start_s / 60], field: [0.0]})
    return alt.Chart(corners).mark_point(opacity=0, clip=True, tooltip=False).encode(x=axes.time_grid(window), y=y)


def _line(rows: pd.DataFrame, window: StripWindow, y: alt.Y) -> alt.Chart:
    mark: dict[str, Any] = {"color": palette.INK, "strokeWidth": 1.1, "strokeCap": "round", "strokeJoin": "round"}
    # invalid values must break the line, never be bridged
    return (
        alt.Chart(rows)
        .mark_line(invalid="break-paths-show-domains", interpolate="linear", clip=True, tooltip=False, **mark)
        .encode(x=axes.time_x(window), y=y, order=alt.Order("minute:Q"))
    )


def _off_paper(rows: pd.DataFrame, window: StripWindow, low: float, high: float, column: str) -> list[alt.Chart]:
    """Small triangles on the edge where the line leaves the paper, so that a reader knows it went on."""
    parts = []
    y = axes.fhr_y(axis=False) if column == "bpm" else axes.toco_y(axis=False)
    for outside, edge, shape in (
        (rows[column] < low, low + _OFF_PAPER_INSET, "triangle-down"),
        (rows[column] > high, high - _OFF_PAPER_INSET, "triangle-up"),
    ):
        found = rows[outside]
        if not found.empty:
            points = found.assign(was=found[column].round(0), **{column: edge})
            tips = [alt.Tooltip("was:Q", title="off the paper, at")]
            parts.append(
                alt.Chart(points)
                .mark_point(shape=shape, size=24, filled=True, color=palette.INK, clip=True)
                .encode(x=axes.time_x(window), y=y, tooltip=tips)
            )
    return parts


def _repeated_levels(window: StripWindow) -> list[alt.Chart]:
    """The bpm figures again inside the strip every so often: a scrolled strip has lost its margin."""
    minutes = axes.level_labels(window)
    if not minutes or window.width_px <= NO_SCROLL_PX:
        return []
    levels = range(90, FHR_HIGHEST_BPM, FHR_MAJOR_BPM)
    points = pd.DataFrame([{"minute": m, "bpm": float(b)} for m in minutes for b in levels])
    return [
        alt.Chart(points)
        .mark_text(color=palette.QUIET_INK, dy=-5, fontSize=10, clip=True, tooltip=False)
        .encode(x=axes.time_x(window), y=axes.fhr_y(axis=False), text=alt.Text("bpm:Q", format=".0f"))
    ]


def _nothing(window: StripWindow, text: str, level: float, column: str) -> alt.Chart:
    middle = (window.start_s + window.end_s) / 120
    row = pd.DataFrame({"minute": [middle], column: [level], "text": [text]})
    y = axes.fhr_y(axis=False) if column == "bpm" else axes.toco_y(axis=False)
    return (
        alt.Chart(row)
        .mark_text(color=palette.QUIET_INK, fontSize=13, tooltip=False)
        .encode(x=axes.time_x(window), y=y, text=alt.Text("text:N"))
    )

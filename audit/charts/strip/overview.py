"""The whole labour at a glance above the strip: the line with all its extremes, categories, and the chosen window."""

from typing import Any

import altair as alt
import pandas as pd

from audit import words
from audit.charts import palette
from audit.charts.strip import axes
from audit.charts.strip.rows import category_rows, line_rows, merged
from audit.charts.strip.types import FHR_HIGHEST_BPM, FHR_LOWEST_BPM, StripWindow, fitted_window
from audit.questions.case_file import CaseFile

HEIGHT_PX = 84
BRUSH = "window"


def overview_chart(case: CaseFile, shown: StripWindow, *, standard: str | None, width_px: int) -> alt.VConcatChart:
    """FHR of the whole labour with the shown window marked; dragging over it (selection `window`) chooses another.

    standard : whose suspicious and pathological stretches are marked at the foot; None = none, as for a bare strip.

    The selection is in minutes from the case's zero, on the field `minute`.
    """
    whole = fitted_window(case.start_s, case.end_s, width_px)
    line = line_rows(case.tracing, case.tracing.fhr_bpm, whole, "bpm")
    brush = alt.selection_interval(
        name=BRUSH, encodings=["x"], mark=alt.BrushConfig(fill=palette.BLUE, fillOpacity=0.12, stroke=palette.BLUE)
    )
    ground = pd.DataFrame({"minute": [case.start_s / 60, case.end_s / 60], "bpm": [50.0, 50.0]})
    # the brush belongs to a layer that is always there, also when nothing was seen
    layers: list[alt.Chart] = [
        alt.Chart(ground)
        .mark_point(opacity=0, tooltip=False)
        .encode(x=_labelled_x(whole), y=_level("bpm", axis=True))
        .add_params(brush),
        *_bands(case, whole, standard),
        _shown(shown, whole),
    ]
    if not line.empty:
        layers.append(
            alt.Chart(line)
            .mark_line(color=palette.INK, strokeWidth=0.7, tooltip=False, clip=True, invalid="break-paths-show-domains")
            .encode(x=axes.time_x(whole), y=_level("bpm"), order=alt.Order("minute:Q"))
        )
    pane = alt.LayerChart(layer=layers, width=width_px, height=HEIGHT_PX)
    # as the only pane of a column it keeps its width to the pixel and lines up with the strip below
    return alt.VConcatChart(vconcat=[pane], bounds="flush", config=palette.CONFIG)


def _level(field: str, *, axis: bool = False) -> alt.Y:
    scale = {"domain": [FHR_LOWEST_BPM, FHR_HIGHEST_BPM], "nice": False, "zero": False}
    if not axis:
        return alt.Y(f"{field}:Q", scale=scale)
    look: dict[str, Any] = {"title": "FHR", "titlePadding": 6, "values": [60, 120, 180], "ticks": False}
    look |= {"grid": True, "gridColor": palette.GRID_LIGHT}
    extent = axes.LEFT_MARGIN_PX - 20
    return alt.Y(f"{field}:Q", scale=scale, axis={**look, "domain": False, "minExtent": extent, "maxExtent": extent})


def _labelled_x(whole: StripWindow) -> alt.X:
    labels = axes.time_labels(whole)
    lookup = ", ".join(f"'{text}'" for _, text in labels)
    step = labels[1][0] - labels[0][0] if len(labels) > 1 else 1.0
    first = labels[0][0] if labels else 0.0
    return alt.X(
        "minute:Q",
        scale=axes.time_scale(whole),
        axis={
            "values": [minute for minute, _ in labels],
            "labelExpr": f"[{lookup}][round((datum.value - {first!r}) / {step!r})]",
            "grid": True,
            "gridColor": palette.GRID_LIGHT,
            "title": None,
            "ticks": False,
            "domain": False,
            "labelColor": palette.INK,
        },
    )


def _bands(case: CaseFile, whole: StripWindow, standard: str | None) -> list[alt.Chart]:
    """Where the standard called the tracing suspicious or worse: a low bar at the foot, a high one for the worst."""
    if standard is None:
        return []
    minutes = category_rows(case.frame("minutes"), whole)
    if minutes.empty:
        return []
    chosen = minutes[(minutes["standard"] == standard) & (minutes["severity"] >= 2)]
    if chosen.empty:
        return []
    rows = merged(chosen)
    rows = rows.assign(
        low=50.0,
        high=rows["severity"].map({2: 62.0, 3: 76.0}),
        colour=rows["severity"].map(palette.SEVERITY_COLOURS),
        name=words.standard_name(standard),
    )
    return [
        alt.Chart(rows)
        .mark_rect(clip=True)
        .encode(
            x=axes.time_x(whole),
            x2=alt.X2("end_minute:Q"),
            y=_level("low"),
            y2=alt.Y2("high:Q"),
            color=alt.Color("colour:N", scale=None),
            tooltip=[alt.Tooltip("name:N", title="standard"), alt.Tooltip("category:N", title="category")],
        )
    ]


def _shown(shown: StripWindow, whole: StripWindow) -> alt.Chart:
    row = pd.DataFrame(
        {"minute": [shown.start_s / 60], "end_minute": [shown.end_s / 60], "low": [50.0], "high": [210.0]}
    )
    return (
        alt.Chart(row)
        .mark_rect(fill=palette.BLUE, fillOpacity=0.10, stroke=palette.BLUE, strokeWidth=1.5, clip=True, tooltip=False)
        .encode(x=axes.time_x(whole), x2=alt.X2("end_minute:Q"), y=_level("low"), y2=alt.Y2("high:Q"))
    )

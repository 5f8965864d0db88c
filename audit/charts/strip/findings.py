"""Layers of what was found, laid over a strip. Each kind has a letter and a dash beside its colour."""

from typing import Any

import altair as alt
import pandas as pd

from audit.charts import palette
from audit.charts.strip import axes
from audit.charts.strip.lanes import spaced
from audit.charts.strip.types import FHR_HIGHEST_BPM, FHR_LOWEST_BPM, StripWindow

LETTER_PX = 11.0
DECELERATION_TOOLTIP: dict[str, str] = {
    "what": "finding",
    "from_to": "from – to",
    "depth": "depth",
    "lasts": "duration",
    "area": "area",
    "onset_to_nadir": "onset to nadir",
    "judged_fall": "fall as judged",
    "lag": "nadir after contraction peak",
    "toco": "toco",
    "seen": "share seen",
}


def tooltips(columns: dict[str, str], rows: pd.DataFrame) -> list[alt.Tooltip]:
    """One line per column that the rows have."""
    return [alt.Tooltip(f"{name}:N", title=title) for name, title in columns.items() if name in rows.columns]


def dash_by(field: str) -> alt.StrokeDash:
    """The dash of a kind or role."""
    scale = {"domain": list(palette.DASHES), "range": list(palette.DASHES.values())}
    return alt.StrokeDash(f"{field}:N", scale=scale, legend=None)


def deceleration_layers(rows: pd.DataFrame, window: StripWindow) -> list[alt.Chart]:
    """A tinted span from onset to end with the kind's dash, a bar at the foot and the kind's letter."""
    if rows.empty:
        return []
    look = [palette.KINDS.get(str(kind), palette.KINDS["unclassified"]) for kind in rows["kind"]]
    drawn = rows.assign(
        low=float(FHR_LOWEST_BPM),
        foot=float(FHR_LOWEST_BPM + 5),
        high=float(FHR_HIGHEST_BPM),
        middle=(rows["minute"] + rows["end_minute"]) / 2,
        label_at=float(FHR_LOWEST_BPM + 12),
        letter=[letter for letter, _, _ in look],
        colour=[colour for _, colour, _ in look],
    )
    tips = tooltips(DECELERATION_TOOLTIP, rows)
    span = alt.Chart(drawn).encode(x=axes.time_x(window), x2=alt.X2("end_minute:Q"), y=_level("low"), tooltip=tips)
    letters = alt.Chart(_with_room(drawn, "middle", window)).mark_text(
        color=palette.INK, fontWeight="bold", fontSize=12, clip=True
    )
    edges = pd.concat([drawn.assign(edge=drawn["minute"]), drawn.assign(edge=drawn["end_minute"])], ignore_index=True)
    fill = alt.Fill("colour:N", scale=None)
    return [
        span.mark_rect(fillOpacity=0.10, clip=True, stroke=None).encode(y2=alt.Y2("high:Q"), fill=fill),
        alt.Chart(edges)
        .mark_rule(clip=True, strokeWidth=1)
        .encode(
            x=axes.time_x(window, "edge"),
            color=alt.Color("colour:N", scale=None),
            strokeDash=dash_by("kind"),
            tooltip=tips,
        ),
        span.mark_rect(fillOpacity=0.9, clip=True, stroke=None).encode(y2=alt.Y2("foot:Q"), fill=fill),
        letters.encode(x=axes.time_x(window, "middle"), y=_level("label_at"), text=alt.Text("letter:N"), tooltip=tips),
    ]


def _with_room(rows: pd.DataFrame, column: str, window: StripWindow) -> pd.DataFrame:
    """Rows whose letter does not touch the one before; their bars are drawn all the same."""
    return rows[spaced((rows[column] * window.px_per_min).tolist(), LETTER_PX)]


def acceleration_layers(rows: pd.DataFrame, window: StripWindow) -> list[alt.Chart]:
    """A bar near the upper edge from onset to end and a triangle at the peak."""
    if rows.empty:
        return []
    top = rows.assign(low=203.0, high=207.0, at=198.0)
    tips = tooltips({"what": "finding", "from_to": "from – to", "height": "height"}, rows)
    bar = alt.Chart(top).mark_rect(color=palette.ACCELERATION, clip=True)
    peak = alt.Chart(_with_room(top, "peak_minute", window)).mark_text(
        text="A", color=palette.ACCELERATION, fontWeight="bold", clip=True
    )
    return [
        bar.encode(
            x=axes.time_x(window), x2=alt.X2("end_minute:Q"), y=_level("low"), y2=alt.Y2("high:Q"), tooltip=tips
        ),
        peak.encode(x=axes.time_x(window, "peak_minute"), y=_level("at"), tooltip=tips),
    ]


def baseline_layer(rows: pd.DataFrame, window: StripWindow) -> list[alt.Chart]:
    """The baseline: solid where it could be stated, dotted where it is only drawn through."""
    if rows.empty:
        return []
    line: dict[str, Any] = {"color": palette.BASELINE, "strokeWidth": 1.6, "clip": True, "tooltip": False}
    layers = []
    for stated, dash in ((True, [1, 0]), (False, [2, 4])):
        level = rows.assign(bpm=rows["bpm"].where(rows["stated"] == stated))
        if level["bpm"].notna().any():
            drawn = alt.Chart(level).mark_line(strokeDash=dash, invalid="break-paths-show-domains", **line)
            layers.append(drawn.encode(x=axes.time_x(window), y=_level("bpm"), order=alt.Order("minute:Q")))
    return layers


def contraction_layers(rows: pd.DataFrame, window: StripWindow) -> list[alt.Chart]:
    """A bar under each contraction from onset to end and a triangle at its peak."""
    if rows.empty:
        return []
    y = axes.toco_y(axis=False, field="low")
    top = rows.assign(low=95.0, high=98.0, at=91.0)
    tips = tooltips({"what": "finding", "from_to": "from – to", "peak": "peak", "amplitude": "amplitude"}, rows)
    bar = alt.Chart(top).mark_rect(color=palette.CONTRACTION, clip=True)
    peak = alt.Chart(top).mark_point(shape="triangle-down", filled=True, size=34, color=palette.CONTRACTION, clip=True)
    return [
        bar.encode(x=axes.time_x(window), x2=alt.X2("end_minute:Q"), y=y, y2=alt.Y2("high:Q"), tooltip=tips),
        peak.encode(x=axes.time_x(window, "peak_minute"), y=axes.toco_y(axis=False, field="at"), tooltip=tips),
    ]


def _level(field: str) -> alt.Y:
    return axes.fhr_y(axis=False, field=field)

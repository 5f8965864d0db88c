"""Timelines of a case, one lane below the other on the tracing's clock: a wait in its parts, and oxytocin."""

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt
import pandas as pd

from audit.charts import palette

_LEFT_PX = 330  # for the words before the bars, at most
_LEAST_LABEL_PX = 60.0
_HH_MM = (
    "(datum.value < 600 ? '0' : '') + floor(datum.value / 60) + ':'"
    " + (datum.value % 60 < 10 ? '0' : '') + datum.value % 60"
)
_STEPS_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 240)


def timeline(parts: Sequence[Mapping[str, Any]], *, width_px: int, height_px: int) -> alt.LayerChart:
    """One lane for each label; a part that did not end with its step is drawn as a dashed frame, one without length as
    a tick.

    parts : from_s, to_s, label (of its lane, in this order), reached, longest (whether it is drawn dark). width_px : of
        all of it, words included.
    """
    rows = pd.DataFrame(
        {
            "label": [part["label"] for part in parts],
            "start": [part["from_s"] / 60 for part in parts],
            "end": [part["to_s"] / 60 for part in parts],
            "colour": [_fill(part) for part in parts],
            "reached": [bool(part["reached"]) for part in parts],
        }
    )
    plot_px = width_px - _LEFT_PX
    low, high = float(rows["start"].min()), float(rows["end"].max())
    high = max(high, low + 1.0)
    step = next((k for k in _STEPS_MIN if k * plot_px / (high - low) >= _LEAST_LABEL_PX), _STEPS_MIN[-1])
    scale = {"domain": [low, high], "nice": False, "zero": False}
    axis = {
        "values": [k * step for k in range(int(-(-low // step)), int(high // step) + 1)],
        "labelExpr": _HH_MM,
        "gridColor": palette.GRID_HEAVY,
        "domain": False,
    }
    names = {"labelLimit": _LEFT_PX - 10, "domain": False, "ticks": False}
    apart = {"paddingInner": 0.4, "paddingOuter": 0.2}
    y = alt.Y("label:N", sort=list(dict.fromkeys(rows["label"])), title=None, scale=apart, axis=names)
    base = alt.Chart(rows)
    bars: list[alt.Chart] = []
    for reached, dash in ((True, [1, 0]), (False, [4, 3])):
        x = alt.X("start:Q", title=None, scale=scale, axis=axis)
        bars.append(
            base.transform_filter(alt.datum.reached == reached)
            .mark_bar(stroke=palette.EDGE, strokeDash=dash, tooltip=False, aria=False)
            .encode(x=x, x2=alt.X2("end:Q"), y=y, color=alt.Color("colour:N", scale=None))
        )
    bars.append(
        base.transform_filter(alt.datum.start == alt.datum.end)
        .mark_tick(thickness=2, color=palette.EDGE, opacity=1, tooltip=False, aria=False)
        .encode(x=alt.X("start:Q"), y=y)
    )
    return alt.LayerChart(layer=bars, width=plot_px, height=height_px, config=palette.CONFIG)


def _fill(part: Mapping[str, Any]) -> str:
    if part["longest"]:
        return palette.SHADES[4]
    return palette.SHADES[2] if part["reached"] else palette.PAPER

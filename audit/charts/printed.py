"""The chart that only the pack draws; black on white, readable without colour."""

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt
import pandas as pd

from audit import words
from audit.charts import palette

_WIDTH_PX = 500


def share_in_time(shares: Sequence[Mapping[str, Any]]) -> alt.LayerChart:
    """Share answered within target with its 95 % interval, one row per standard: standard, share, low, high, label."""
    names = [words.standard_name(row["standard"]) for row in shares]
    percent = {name: [100 * row[name] for row in shares] for name in ("share", "low", "high")}
    rows = pd.DataFrame({"standard": names, "label": [row["label"] for row in shares], **percent})
    x = alt.X(
        "share:Q",
        scale=alt.Scale(domain=[0, 100]),
        axis=alt.Axis(title="answered within target, %", grid=True, gridColor=palette.GRID_LIGHT),
    )
    y = alt.Y("standard:N", sort=names, axis=alt.Axis(title=None, ticks=False, domain=False))
    base = alt.Chart(rows)
    line = base.mark_rule(color=palette.INK, strokeWidth=1.5).encode(x=alt.X("low:Q"), x2=alt.X2("high:Q"), y=y)
    point = base.mark_point(filled=True, size=60, color=palette.INK, opacity=1).encode(x=x, y=y)
    text = base.mark_text(dy=-11, color=palette.INK).encode(x=alt.X("share:Q"), y=y, text=alt.Text("label:N"))
    height_px = 34 * len(names)
    return alt.LayerChart(layer=[line, point, text], width=_WIDTH_PX, height=height_px, config=palette.CONFIG)

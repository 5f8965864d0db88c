"""Charts that only the pack draws; black on white, readable without colour."""

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt
import pandas as pd

from audit.charts import palette

_WIDTH_PX = 500


def share_in_time(shares: Sequence[Mapping[str, Any]]) -> alt.LayerChart:
    """Share answered within target with its 95 % interval, one row per standard; a share that is hidden is left out."""
    rows = pd.DataFrame([row for row in shares if row["percent"] is not None])
    names = [row["standard"] for row in shares if row["percent"] is not None]
    x = alt.X(
        "percent:Q",
        scale=alt.Scale(domain=[0, 100]),
        axis=alt.Axis(title="answered within target, %", grid=True, gridColor=palette.GRID_LIGHT),
    )
    y = alt.Y("standard:N", sort=names, axis=alt.Axis(title=None, ticks=False, domain=False))
    base = alt.Chart(rows)
    line = base.mark_rule(color=palette.INK, strokeWidth=1.5).encode(x=alt.X("low:Q"), x2="high:Q", y=y)
    point = base.mark_point(filled=True, size=60, color=palette.INK, opacity=1).encode(x=x, y=y)
    text = base.mark_text(dy=-11, color=palette.INK).encode(x=alt.X("percent:Q"), y=y, text="label:N")
    return finished(alt.layer(line, point, text).properties(width=_WIDTH_PX, height=34 * len(names)))


def trend(measure: Mapping[str, Any], *, width_px: int = _WIDTH_PX, height_px: int = 130) -> alt.LayerChart:
    """A control chart: points, centre, limits, signals as squares with a ring; months without a value are left open."""
    rows = pd.DataFrame(
        [
            {name: point.get(name) for name in ("period", "value", "centre", "low", "high", "signal")}
            for point in measure["points"]
        ]
    )
    # a chart of single events may have several points in a month
    again = rows.groupby("period").cumcount()
    rows["period"] = [f"{name} ({k + 1})" if k else name for name, k in zip(rows["period"], again, strict=True)]
    for name in ("value", "centre", "low", "high"):
        rows[name] = pd.to_numeric(rows[name])
    periods = list(rows["period"])
    x = alt.X("period:N", sort=periods, axis=alt.Axis(title=None, labelAngle=0, labelOverlap="greedy"))
    scale = alt.Scale(zero=False, nice=True)
    y = alt.Y("value:Q", scale=scale, axis=alt.Axis(title=None, gridColor=palette.GRID_LIGHT, tickCount=5))
    base = alt.Chart(rows)
    line = {"invalid": "break-paths-show-domains"}
    layers: list[alt.Chart] = [
        base.mark_line(color=palette.QUIET_INK, strokeWidth=1, **line).encode(x=x, y=alt.Y("centre:Q", scale=scale)),
        base.mark_line(color=palette.QUIET_INK, strokeDash=[4, 3], strokeWidth=1, interpolate="step", **line).encode(
            x=x, y=alt.Y("low:Q", scale=scale)
        ),
        base.mark_line(color=palette.QUIET_INK, strokeDash=[4, 3], strokeWidth=1, interpolate="step", **line).encode(
            x=x, y=alt.Y("high:Q", scale=scale)
        ),
        base.mark_line(color=palette.INK, strokeWidth=1.6, **line).encode(x=x, y=y),
        base.mark_point(color=palette.INK, filled=True, size=40, opacity=1).encode(x=x, y=y),
    ]
    signals = rows[rows["signal"].notna() & rows["value"].notna()]
    if not signals.empty:
        ring = alt.Chart(signals).mark_point(shape="square", size=190, color=palette.VERMILLION, strokeWidth=2)
        layers.append(ring.encode(x=x, y=alt.Y("value:Q", scale=scale)))
    return finished(alt.layer(*layers).properties(width=width_px, height=height_px))


def finished(chart: alt.LayerChart) -> alt.LayerChart:
    """The look that all the pack's charts share."""
    return (
        chart.configure_view(stroke=palette.GRID_HEAVY)
        .configure(background=palette.PAPER, padding=4)
        .configure_axis(
            labelFontSize=11, titleFontSize=11, titleFontWeight="normal", labelColor=palette.INK, titleColor=palette.INK
        )
        .configure_text(fontSize=11)
    )

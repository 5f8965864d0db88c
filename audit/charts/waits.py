"""Curves of how concerns were answered over time, and how they ended."""

import altair as alt
import pandas as pd

from audit import words
from audit.charts import palette
from audit.charts.tips import tips

_DASHES = [[1, 0], [6, 3], [2, 2], [9, 3, 2, 3], [4, 1], [12, 4], [1, 4], [6, 2, 2, 2]]
MOST_GROUPS = len(palette.SERIES)
SHORTEST_NAMED = 0.3  # of the width: a name that ends here does not run off the left edge


def answer_curves(
    rows: pd.DataFrame,
    *,
    targets_min: list[float],
    longest_min: float,
    share_title: str = "share answered",
    from_words: str = "minutes since the concern was recognisable",
) -> alt.LayerChart:
    """Share of concerns answered by each minute, one step curve per group, with the interval as a light band.

    rows : group, minutes, share, low, high (0 to 1), answers only; at most MOST_GROUPS groups are told apart.
    targets_min : targets in force, drawn as dashed lines. share_title, from_words : of the axes.
    """
    names = list(dict.fromkeys(rows["group"]))
    look = {name: k % MOST_GROUPS for k, name in enumerate(names)}
    drawn = rows.assign(colour=[palette.SERIES[look[name]] for name in rows["group"]])
    dashes = {"domain": names, "range": [_DASHES[look[name]] for name in names]}
    x = alt.X(
        "minutes:Q",
        scale={"domain": [0, longest_min], "nice": False},
        title=from_words,
        axis={"grid": True, "gridColor": palette.GRID_LIGHT, "domain": False},
    )
    y = alt.Y("share:Q", scale={"domain": [0, 1]}, title=share_title, axis={"format": ".0%", "domain": False,
              "gridColor": palette.GRID_LIGHT})  # fmt: skip
    base = alt.Chart(drawn)
    titles = {"group:N": "group", "minutes:Q": "minutes", "share:Q": "answered", "low:Q": "from", "high:Q": "to"}
    colour = alt.Color("colour:N", scale=None)
    layers: list[alt.Chart] = [
        base.mark_area(opacity=0.10, interpolate="step-after", tooltip=False).encode(
            x=x,
            y=alt.Y("low:Q", title=share_title),
            y2=alt.Y2("high:Q"),
            detail=alt.Detail("group:N"),
            fill=alt.Fill("colour:N", scale=None),
        ),
        base.mark_line(interpolate="step-after", strokeWidth=2).encode(
            x=x,
            y=y,
            detail=alt.Detail("group:N"),
            color=colour,
            strokeDash=alt.StrokeDash("group:N", scale=dashes, legend=None),
            tooltip=tips(titles, minutes=".0f", share=".0%", low=".0%", high=".0%"),
        ),
        _targets(targets_min, longest_min),
        *_names(drawn, longest_min, x, y),
    ]
    return alt.LayerChart(layer=layers, width=520, height=320, config=palette.CONFIG)


def _targets(targets_min: list[float], longest_min: float) -> alt.Chart:
    rows = pd.DataFrame({"minutes": [t for t in sorted(set(targets_min)) if t <= longest_min]})
    return (
        alt.Chart(rows)
        .mark_rule(color="#8A5F00", strokeDash=[7, 3])
        .encode(x=alt.X("minutes:Q"), tooltip=[alt.Tooltip("minutes:Q", title="target, minutes")])
    )


def _names(drawn: pd.DataFrame, longest_min: float, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """Each curve's name at its right end, pushed apart so that none covers another; a short curve's further right."""
    ends = drawn.sort_values("minutes").groupby("group", sort=False).tail(1).sort_values("share")
    place, last = [], -1.0
    for share in ends["share"]:
        last = max(share, last + 0.055)
        place.append(last)
    excess = max(0.0, last - 1.0)
    shortest = SHORTEST_NAMED * longest_min
    ends = ends.assign(share=[value - excess for value in place], minutes=ends["minutes"].clip(lower=shortest))
    return [
        alt.Chart(ends)
        .mark_text(align="right", dx=-4, dy=-8, fontWeight="bold", tooltip=False)
        .encode(x=x, y=y, text=alt.Text("group:N"), color=alt.Color("colour:N", scale=None))
    ]


def how_they_ended(rows: pd.DataFrame, *, width_px: int) -> alt.LayerChart:
    """Counts of how concerns ended, one bar per status with its number. rows : status, episodes."""
    known = [name for name in words.STATUSES if name in set(rows["status"])]
    rows = rows.assign(
        words=[words.status_words(str(name)) for name in rows["status"]],
        colour=[palette.STATUS_MARKS.get(str(name), (palette.GREY, ""))[0] for name in rows["status"]],
    )
    y = alt.Y("words:N", sort=[words.status_words(name) for name in known], title=None,
              axis={"labelLimit": 220, "domain": False, "ticks": False})  # fmt: skip
    axis = {"tickMinStep": 1, "tickCount": 4, "gridColor": palette.GRID_LIGHT, "domain": False}
    x = alt.X("episodes:Q", title="concern episodes", axis=axis)
    base = alt.Chart(rows)
    said = tips({"words:N": "status", "episodes:Q": "episodes"})
    return alt.LayerChart(
        layer=[
            base.mark_bar(height=16, stroke=palette.EDGE).encode(
                x=x, y=y, fill=alt.Fill("colour:N", scale=None), tooltip=said
            ),
            base.mark_text(align="left", dx=4, color=palette.INK).encode(x=x, y=y, text=alt.Text("episodes:Q")),
        ],
        width=width_px,
        height=26 * len(rows) + 44,
        config=palette.CONFIG,
    )

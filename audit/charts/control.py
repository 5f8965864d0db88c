"""A monthly measure as a control chart, on screen and on paper, and shares of shifts or sites as a funnel."""

from collections.abc import Mapping, Sequence
from typing import Any, Final, Literal, cast

import altair as alt
import pandas as pd

from audit.charts import palette
from audit.charts.tips import tips
from audit.figures import shown

Size = Literal["small", "medium"]
# plot without axes, px: small is half a column of paper, medium a box on the screen
_SIZES_PX: Final[dict[Size, tuple[int, int]]] = {"small": (262, 110), "medium": (378, 160)}
_FUNNEL_HEIGHT_PX = 170
_ROOM_PX = 46  # a month's label needs this much


def measure_title(name: str) -> str:
    """The name of a measure as a reader writes it."""
    words = name.replace("_bpm_s_per_h", "").replace("_", " ").replace("30 min", "30 minutes")
    return words[:1].upper() + words[1:]


def unit_words(unit: str) -> str:
    """The unit of a measure's figures as they are shown; shares are percent."""
    return "%" if unit == "share" else unit


def control_chart(
    measure: Mapping[str, Any], actions: Sequence[tuple[str, str]] = (), *, size: Size = "medium"
) -> alt.LayerChart | None:
    """Points joined by a line, centre, limits, phases; a signal is a larger diamond. None when there is no point.

    measure : one of the document of `audit.questions.trends`. actions : month and words of what was done, a triangle
    each at the foot of that month. size : medium for the screen, small for paper.
    """
    width_px, height_px = _SIZES_PX[size]
    points = pd.DataFrame(measure["points"])
    if points.empty or not (points["value"].notna() | points["beyond_scale"]).any():
        return None
    # several events may share a month: the place on the axis is the order, the label is the month
    rows = points.assign(
        place=range(len(points)),
        shown=[_figure(value, measure["unit"]) for value in points["value"]],
        of=[_share_words(row) for row in points.to_dict("records")],
        signal_words=[row.signal or "" for row in points.itertuples()],
    )
    for column in ("value", "centre", "low", "high", "value_low", "value_high"):
        rows[column] = rows[column].astype(float)
    x = _month_axis(rows, width_px)
    share = measure["unit"] == "share"
    y_axis = {"format": ".0%" if share else ",.2~f", "gridColor": palette.GRID_LIGHT, "domain": False, "tickCount": 5}
    y = alt.Y("value:Q", title=None, scale=_range(rows, share), axis=y_axis)
    base = alt.Chart(rows)
    layers: list[alt.Chart] = [
        *(_step(base, x, y, name, dash) for name, dash in (("low", [4, 3]), ("high", [4, 3]), ("centre", [1, 0]))),
        base.mark_line(color=palette.INK, strokeWidth=1.4, tooltip=False, invalid="break-paths-show-domains").encode(
            x=x, y=y
        ),
        *_points(rows, x, y),
        *_beyond(rows, x),
        *_phases(measure, rows, x),
        *_actions(actions, rows, x),
    ]
    return alt.LayerChart(layer=layers, width=width_px, height=height_px, config=palette.CONFIG)


def _month_axis(rows: pd.DataFrame, width_px: int) -> alt.X:
    every = max(1, -(-len(rows) * _ROOM_PX // width_px))
    lookup = ", ".join(f"'{period}'" for period in rows["period"])
    return alt.X(
        "place:Q",
        title=None,
        scale={"domain": [-0.5, len(rows) - 0.5], "nice": False, "zero": False},
        axis={
            "values": list(range(0, len(rows), every)),
            "labelExpr": f"[{lookup}][datum.value]",
            "grid": False,
            "ticks": False,
            "labelAngle": 0,
            "labelOverlap": "greedy",
            "labelSeparation": 6,
        },
    )


def _range(rows: pd.DataFrame, share: bool) -> dict[str, Any]:
    if share:
        return {"domain": [0, 1], "nice": False}
    seen = rows[["value", "low", "high", "centre"]].stack()
    if seen.empty:  # every point lies beyond the scale
        return {"domain": [0.0, 1.0], "nice": False, "zero": False}
    low, high = float(seen.min()), float(seen.max())
    room = 0.12 * (high - low) or 0.12 * abs(high) or 1.0
    return {"domain": [min(0.0, low) if low - room < 0 else low - room, high + room], "nice": False, "zero": False}


def _step(base: alt.Chart, x: alt.X, y: alt.Y, name: str, dash: list[int]) -> alt.Chart:
    colour = palette.GREEN if name == "centre" else palette.QUIET_INK
    line = base.mark_line(interpolate="step", color=colour, strokeDash=dash, strokeWidth=1.2, tooltip=False,
                          invalid="break-paths-show-domains")  # fmt: skip
    return line.encode(
        x=x,
        y=alt.Y(f"{name}:Q", title=None, scale=cast(dict[str, Any], y.to_dict())["scale"]),
        detail=alt.Detail("phase:N"),
    )


def _points(rows: pd.DataFrame, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    said = tips({"period:N": "month", "shown:N": "value", "of:N": "from", "signal_words:N": "signal"})
    seen = rows[rows["value"].notna()]
    quiet, loud = seen[seen["signal"].isna()], seen[seen["signal"].notna()]
    layers = [
        alt.Chart(quiet).mark_point(filled=True, size=34, color=palette.INK, opacity=1).encode(x=x, y=y, tooltip=said)
    ]
    if not loud.empty:
        mark = alt.Chart(loud).mark_point(shape="diamond", filled=True, size=130, color=palette.VERMILLION, opacity=1)
        layers.append(mark.encode(x=x, y=y, tooltip=said))
    return layers


def _beyond(rows: pd.DataFrame, x: alt.X) -> list[alt.Chart]:
    """Points worse than any figure, as triangles on the top edge with what they mean; those that signal larger."""
    beyond = rows[rows["beyond_scale"]]
    if beyond.empty:
        return []
    beyond = beyond.assign(
        colour=[palette.INK if pd.isna(signal) else palette.VERMILLION for signal in beyond["signal"]],
        size=[70 if pd.isna(signal) else 150 for signal in beyond["signal"]],
    )
    said = tips({"period:N": "month", "reason:N": "value", "of:N": "from", "signal_words:N": "signal"})
    marks = alt.Chart(beyond).mark_point(shape="triangle-up", filled=True, opacity=1)
    words = alt.Chart(beyond.tail(1)).mark_text(align="right", dx=-8, color=palette.QUIET_INK, tooltip=False)
    return [
        marks.encode(
            x=x,
            y=alt.value(6),
            color=alt.Color("colour:N", scale=None),
            size=alt.Size("size:Q", scale=None),
            tooltip=said,
        ),
        words.encode(x=x, y=alt.value(6), text=alt.Text("reason:N")),
    ]


def _phases(measure: Mapping[str, Any], rows: pd.DataFrame, x: alt.X) -> list[alt.Chart]:
    first = {period: place for place, period in reversed(list(enumerate(rows["period"])))}
    starts = [phase for phase in measure["phases"][1:] if phase["from"] in first]
    if not starts:
        return []
    marks = pd.DataFrame(
        {
            "place": [first[phase["from"]] - 0.5 for phase in starts],
            "label": [phase["label"] for phase in starts],
            "at": [-7 - 13 * k for k in range(len(starts))],
        }
    )
    base = alt.Chart(marks)
    return [
        base.mark_rule(color=palette.BLUE, strokeDash=[6, 3]).encode(
            x=x, tooltip=[alt.Tooltip("label:N", title="change")]
        ),
        base.mark_text(align="left", dx=4, color=palette.BLUE, limit=220, tooltip=False).encode(
            x=x, y=alt.Y("at:Q", scale=None, axis=None), text=alt.Text("label:N")
        ),
    ]


def _actions(actions: Sequence[tuple[str, str]], rows: pd.DataFrame, x: alt.X) -> list[alt.Chart]:
    first = {period: place for place, period in reversed(list(enumerate(rows["period"])))}
    words: dict[int, list[str]] = {}
    for period, text in actions:
        if period in first:
            words.setdefault(first[period], []).append(text)
    if not words:
        return []
    marks = pd.DataFrame({"place": list(words), "label": ["; ".join(texts) for texts in words.values()]})
    mark = alt.Chart(marks).mark_point(shape="triangle-up", filled=True, size=90, color=palette.BLUE, opacity=1)
    # where the axes take part of the height that a chart asks for, its foot is not at that height
    foot = alt.value(alt.expr("height - 6"))
    return [mark.encode(x=x, y=foot, tooltip=[alt.Tooltip("label:N", title="action")])]


def _figure(value: float | None, unit: str) -> str:
    if value is None or pd.isna(value):
        return "no point"
    return f"{shown(value, scale=100)}%" if unit == "share" else f"{shown(value)} {unit}"


def _share_words(row: Mapping[str, Any]) -> str:
    of = row.get("denominator")
    if of is None or pd.isna(of):
        return ""
    part = row.get("numerator")
    return f"n = {of:g}" if part is None or pd.isna(part) else f"{part:g} of {of:g}"


def funnel_chart(funnel: Mapping[str, Any], *, width_px: int) -> alt.LayerChart | None:
    """Each group's share against its number of episodes, with 95 and 99.8 % limits as ticks at that number.

    funnel : the document of `audit.questions.trends`, part `funnel`. None when there is nothing to draw.
    """
    rows = pd.DataFrame(funnel["points"])
    if rows.empty or "low_95" not in rows or rows["share"].isna().all():
        return None
    rows = rows[rows["share"].notna()].assign(target=funnel["target"])
    most = float(rows["denominator"].max())
    x = alt.X("denominator:Q", title="episodes that can be assessed",
              scale={"domain": [0, most * 1.25], "nice": False},
              axis={"grid": False, "tickMinStep": 1})  # fmt: skip
    scale = {"domain": [0, 1], "nice": False}
    y = alt.Y("share:Q", title="share in time", scale=scale,
              axis={"format": ".0%", "gridColor": palette.GRID_LIGHT, "domain": False})  # fmt: skip
    base = alt.Chart(rows)
    wide = base.mark_rule(color=palette.PAPER_LIGHT, strokeWidth=2)
    narrow = base.mark_rule(color=palette.PAPER_HEAVY, strokeWidth=5)
    titles = {"group:N": "group", "share:Q": "share", "numerator:Q": "answered in time", "denominator:Q": "of"}
    said = tips(titles, share=".0%")
    return alt.LayerChart(
        layer=[
            base.mark_rule(color=palette.GREEN).encode(y=alt.Y("target:Q", scale=scale)),
            wide.encode(x=x, y=alt.Y("low_998:Q", scale=scale, title="share in time"), y2=alt.Y2("high_998:Q")),
            narrow.encode(x=x, y=alt.Y("low_95:Q", scale=scale, title="share in time"), y2=alt.Y2("high_95:Q")),
            base.mark_point(filled=True, size=90, color=palette.INK, opacity=1).encode(x=x, y=y, tooltip=said),
            base.mark_text(align="left", dx=9, color=palette.INK, tooltip=False).encode(
                x=x, y=y, text=alt.Text("group:N")
            ),
        ],
        width=width_px,
        height=_FUNNEL_HEIGHT_PX,
        config=palette.CONFIG,
    )

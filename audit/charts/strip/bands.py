"""What stands above and below a strip on the same time axis: marks, signal not used, minute categories."""

from typing import Any

import altair as alt
import pandas as pd

from audit import vocabulary, words
from audit.charts import palette
from audit.charts.strip import axes
from audit.charts.strip.findings import tooltips
from audit.charts.strip.lanes import PX_PER_CHARACTER
from audit.charts.strip.rows import merged
from audit.charts.strip.types import StripLayers, StripRows, StripWindow

LANE_PX = 15
BAND_ROW_PX = 20
# of a category's bar in its row, from and to, and the middle of its text, as shares from the top: the higher, the more
# severe; no edge goes through a text
BARS: dict[int, tuple[float, float, float]] = {
    0: (0.0, 1.0, 0.5), 1: (0.62, 0.96, 0.31), 2: (0.34, 0.96, 0.65), 3: (0.04, 0.96, 0.5),
}  # fmt: skip
SIDES_FROM_PX = 4.0  # a narrower bar has an edge above and below only, or it would be all edge
_REPEAT_TEXT_PX = 420


def marks_of(rows: StripRows, layers: StripLayers) -> pd.DataFrame:
    """The care events and the marks of the clock that are switched on, each with its role."""
    events = rows.events
    if layers.events and layers.clock and not events.empty and not rows.clock.empty:
        # the clock marks the birth already, and what answered
        births = set(rows.clock.loc[rows.clock["role"] == "birth", "text"])
        answers = rows.clock[rows.clock["role"] == "response"]
        answered = set(zip(answers["minute"].round(3), answers["text"], strict=True))
        said = zip(events["minute"].round(3), "response: " + events["text"], events["text"], strict=True)
        events = events[[text not in births and (minute, answer) not in answered for minute, answer, text in said]]
    parts = [
        *([events.assign(role="event")] if layers.events and not events.empty else []),
        *([rows.clock] if layers.clock and not rows.clock.empty else []),
    ]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()


def looks(marks: pd.DataFrame) -> pd.DataFrame:
    """Marks with colour, dash, width and ink of their role."""
    roles = [palette.ROLES.get(str(role), palette.ROLES["event"]) for role in marks["role"]]
    return marks.assign(
        colour=[colour for colour, _ in roles],
        thick=[1.0 if role == "event" else 1.8 for role in marks["role"]],
        ink=palette.INK,
    )


def time_row(window: StripWindow) -> alt.Chart:
    """Hours and minutes from zero, in a row between the two channels as on paper."""
    rows = pd.DataFrame(axes.time_labels(window), columns=["minute", "text"])
    return (
        alt.Chart(rows)
        .mark_text(color=palette.INK, fontSize=11, tooltip=False, baseline="middle")
        .encode(x=axes.time_x(window, bare=True), text=alt.Text("text:N"))
        .properties(width=window.width_px, height=12, view={"stroke": None})
    )


def unseen_band(rows: pd.DataFrame, window: StripWindow) -> alt.LayerChart:
    """A thin row that shows where samples were missing or not used, with the reason."""
    drawn = rows.assign(
        colour=[palette.LOST if why == "no signal" else palette.UNUSED for why in rows["why"]],
        px=(rows["end_minute"] - rows["minute"]) * window.px_per_min,
        row="not used",
    )
    y = alt.Y("row:N", axis=_row_axis(), sort=None, scale=dict(paddingInner=0, paddingOuter=0))
    tips = tooltips({"why": "not used", "from_to": "from – to", "lasts": "lasts"}, rows)
    bars = (
        alt.Chart(drawn)
        .mark_rect(clip=True, stroke=None)
        .encode(
            x=axes.time_x(window, bare=True),
            x2=alt.X2("end_minute:Q"),
            y=y,
            color=alt.Color("colour:N", scale=None),
            tooltip=tips,
        )
    )
    wide = drawn[drawn["px"] > drawn["why"].str.len() * PX_PER_CHARACTER + 8]
    wide = wide.assign(middle=(wide["minute"] + wide["end_minute"]) / 2)
    text = (
        alt.Chart(wide)
        .mark_text(color=palette.INK, fontSize=10, clip=True)
        .encode(x=axes.time_x(window, "middle", bare=True), y=y, text=alt.Text("why:N"), tooltip=tips)
    )
    return alt.LayerChart(layer=[bars, text], width=window.width_px, height=14)


def category_band(rows: pd.DataFrame, window: StripWindow) -> alt.LayerChart:
    """A row per standard: what the trailing windows showed at each minute; the bar's height and text say it too."""
    drawn = rows.assign(
        row=rows["standard"].map(words.standard_name),
        top=[BARS[severity][0] for severity in rows["severity"]],
        foot=[BARS[severity][1] for severity in rows["severity"]],
        colour=rows["severity"].map(palette.SEVERITY_COLOURS),
    )
    order = [words.standard_name(name) for name in dict.fromkeys([*vocabulary.STANDARDS, *rows["standard"]])]
    order = [name for name in order if name in set(drawn["row"])]
    place = {name: k for k, name in enumerate(order)}
    drawn = drawn.assign(low=drawn["row"].map(place) + drawn["foot"], high=drawn["row"].map(place) + drawn["top"])
    height = BAND_ROW_PX * len(order)
    scale = dict(domain=[0, len(order)], range=[0, height], nice=False, zero=False)
    y = alt.Y("high:Q", scale=scale, axis=_numbered_axis(order))
    tips = tooltips({"at": "minute ending", "row": "standard", "category": "category", "reasons": "because"}, drawn)
    bars = (
        alt.Chart(drawn)
        .mark_rect(clip=True, stroke=None)
        .encode(
            x=axes.time_x(window, bare=True),
            x2=alt.X2("end_minute:Q"),
            y=y,
            y2=alt.Y2("low:Q"),
            color=alt.Color("colour:N", scale=None),
            tooltip=tips,
        )
    )
    labels = category_labels(drawn, window)
    # the same axis as the bars: one layer without an axis takes the names away from both
    named = alt.Y("label_at:Q", scale=scale, axis=_numbered_axis(order))
    text = (
        alt.Chart(labels.assign(label_at=labels["row"].map(place) + labels["level"] if not labels.empty else []))
        .mark_text(align="left", dx=3, color=palette.INK, fontSize=11, fontWeight="bold", clip=True, tooltip=False)
        .encode(x=axes.time_x(window, bare=True), y=named, text=alt.Text("text:N"))
    )
    return alt.LayerChart(layer=[bars, *_edges(drawn, window, place, y), text], width=window.width_px, height=height)


def _edges(drawn: pd.DataFrame, window: StripWindow, place: dict[str, int], y: alt.Y) -> list[alt.Chart]:
    """The edge of each run of a category: above and below, at the sides where it is wide enough not to be all edge."""
    runs = merged(drawn)
    lane = runs["standard"].map(words.standard_name).map(place)
    runs = runs.assign(
        high=lane + [BARS[severity][0] for severity in runs["severity"]],
        low=lane + [BARS[severity][1] for severity in runs["severity"]],
    )
    runs = runs[["minute", "end_minute", "high", "low"]]
    wide = (runs["end_minute"] - runs["minute"]) * window.px_per_min >= SIDES_FROM_PX
    x, x2 = axes.time_x(window, bare=True), alt.X2("end_minute:Q")
    look: dict[str, Any] = dict(color=palette.EDGE, strokeWidth=1, clip=True, tooltip=False)
    around = alt.Chart(runs[wide]).mark_rect(filled=False, **look).encode(x=x, x2=x2, y=y, y2=alt.Y2("low:Q"))
    narrow = pd.concat([runs[~wide], runs[~wide].assign(high=runs.loc[~wide, "low"])])
    return [around, alt.Chart(narrow).mark_rule(**look).encode(x=x, x2=x2, y=y)]


def category_labels(drawn: pd.DataFrame, window: StripWindow) -> pd.DataFrame:
    """Where the short text of a category is written: at the start of each run that has room, repeated in long ones."""
    found: list[dict[str, object]] = []
    for row, minutes in drawn.sort_values("minute").groupby("row", sort=False):
        run = (minutes["category"] != minutes["category"].shift()).cumsum()
        for _, part in minutes.groupby(run):
            start, end = float(part["minute"].iloc[0]), float(part["end_minute"].iloc[-1])
            start = max(start, window.start_s / 60)
            category, level = str(part["category"].iloc[0]), BARS[int(part["severity"].iloc[0])][2]
            short = palette.CATEGORIES.get(category, (0, category))[1]
            width = (min(end, window.end_s / 60) - start) * window.px_per_min
            step = _REPEAT_TEXT_PX / window.px_per_min
            if width >= len(short) * PX_PER_CHARACTER + 6:
                count = 1 + int(max(0.0, width - 60) // _REPEAT_TEXT_PX)
                found += [{"row": row, "minute": start + k * step, "text": short, "level": level} for k in range(count)]
    return pd.DataFrame(found, columns=["row", "minute", "text", "level"])


def _numbered_axis(names: list[str]) -> dict[str, Any]:
    lookup = ", ".join(f"'{name}'" for name in names)
    expression = f"[{lookup}][floor(datum.value)]"
    return _row_axis() | dict(values=[k + 0.5 for k in range(len(names))], labelExpr=expression, labelLimit=70)


def _row_axis() -> dict[str, Any]:
    return dict(
        title=None,
        labelFontSize=9,
        labelColor=palette.INK,
        grid=False,
        ticks=False,
        domain=False,
        minExtent=axes.LEFT_MARGIN_PX - 20,
        maxExtent=axes.LEFT_MARGIN_PX - 20,
    )

"""A strip's scene as an Altair chart, for a notebook and for a bare strip; what was found says so where pointed at.

Every pane has the minutes of the window across; downwards it counts the pixels of the scene.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import altair as alt
import pandas as pd

from audit.charts import palette
from audit.charts.strip.drawn import SPACING_PX, Ruler, strip_scene
from audit.charts.strip.pointed_at import spots
from audit.charts.strip.scene import Box, Item, Line, Pane, Word
from audit.charts.strip.types import FHR_HIGHEST_BPM, FHR_LOWEST_BPM, FHR_MAJOR_BPM, StripLayers, StripRows, StripWindow

NO_SCROLL_PX = 1300  # up to this width the left margin stays in sight
_LEVELS_EVERY_PX = 640
_ALIGNS = {"start": "left", "middle": "center", "end": "right"}
_SHAPES = {"up": "triangle-up", "down": "triangle-down", "cross": "M-.5,-.5L.5,.5M-.5,.5L.5,-.5"}


def strip_chart(rows: StripRows, window: StripWindow, layers: StripLayers) -> alt.VConcatChart:
    """The strip of a window as `drawn.strip_scene` has it; of marks it leaves out the halo of their texts.

    `rows`: the layers' rows, already cut to the window and thinned (`audit.charts.strip.decimate`). `window`: the
    stretch and the scale; the drawing is exactly `window.width_px` wide between its margins. `layers`: which findings
    are drawn; the bare strip is `StripLayers()`.
    Gives an Altair chart with fixed pixel sizes; every pane shares the time axis.
    """
    scene = strip_scene(rows, window, layers)
    panes = {pane.name: _drawn(_with_levels(pane, window), window) for pane in scene.panes}
    for spot in spots(rows, window, layers):
        height = panes[spot.pane].height
        place = spot.rows if "top" in spot.rows else spot.rows.assign(top=0.0, foot=height)
        tips = [alt.Tooltip(f"{name}:N", title=title) for name, title in spot.titles.items()]
        mark = {"type": "rect", "opacity": 0, "clip": True}
        panes[spot.pane].layer.append(_layer(place, mark, window, height, tooltip=tips))
    # everything in one constructor: each method of a finished chart would copy the whole of it once more
    return alt.VConcatChart(vconcat=list(panes.values()), spacing=SPACING_PX, bounds="flush", config=palette.CONFIG)


def _with_levels(pane: Pane, window: StripWindow) -> Pane:
    """The bpm figures again inside the strip every so often: a scrolled strip has lost its margin."""
    if pane.name != "fhr" or window.width_px <= NO_SCROLL_PX:
        return pane
    ruler = Ruler(window, FHR_LOWEST_BPM, FHR_HIGHEST_BPM, pane.height)
    levels = [
        Word(x, ruler.y(level) - 5, str(level), palette.QUIET_INK, 10, "middle")
        for x in range(_LEVELS_EVERY_PX, window.width_px - 60, _LEVELS_EVERY_PX)
        for level in range(90, FHR_HIGHEST_BPM, FHR_MAJOR_BPM)
    ]
    return replace(pane, inside=(*pane.inside, *levels))


def _drawn(pane: Pane, window: StripWindow) -> alt.LayerChart:
    layers = [
        _layer(rows, mark | {"clip": clip}, window, pane.height)
        for items, clip in ((pane.inside, True), (pane.beside, False))
        for mark, rows in _by_look(items, window)
    ]
    edge = {"stroke": palette.GRID_HEAVY if pane.framed else None}
    return alt.LayerChart(layer=layers, width=window.width_px, height=pane.height, view=edge)


def _by_look(items: Sequence[Item], window: StripWindow) -> Iterator[tuple[dict[str, Any], pd.DataFrame]]:
    """Items of one look together, each look where it first comes, with their rows."""
    looks: dict[tuple[Any, ...], dict[str, list[Any]]] = {}
    for item in items:
        look, place = _taken_apart(item)
        columns = looks.setdefault(tuple(look.items()), {name: [] for name in place})
        for name, values in place.items():
            columns[name] += values
    start, per_px = window.start_s / 60, (window.end_s - window.start_s) / 60 / window.width_px
    for key, columns in looks.items():
        rows = pd.DataFrame(columns)
        across = rows.columns.intersection(["minute", "end_minute"])
        rows[across] = (start + rows[across] * per_px).round(5)
        yield dict(key), rows


def _taken_apart(item: Item) -> tuple[dict[str, Any], dict[str, list[Any]]]:
    """How an item looks, as a mark, and where it is: pixels under the names of the rows' columns."""
    if isinstance(item, Line):
        mark = {"type": "line", "color": item.colour, "strokeWidth": item.width, "strokeDash": item.dash or (1, 0),
                "strokeCap": "butt" if item.dash else "round", "strokeJoin": "round",
                "invalid": "break-paths-show-domains"}  # fmt: skip
        return mark, {"minute": [*item.x, math.nan], "top": [*item.y.round(2), math.nan]}
    if isinstance(item, Box):
        mark = {"type": "rect", "color": item.fill, "opacity": item.opacity, "stroke": None}
        ends = {"end_minute": [item.x + item.width], "foot": [item.y + item.height]}
        return mark, {"minute": [item.x], "top": [item.y], **ends}
    if isinstance(item, Word):
        mark = {"type": "text", "color": item.colour, "fontSize": item.size_px, "align": _ALIGNS[item.anchor],
                "baseline": "middle", "fontWeight": "bold" if item.bold else "normal",
                "fontStyle": "italic" if item.italic else "normal"}  # fmt: skip
        return mark, {"minute": [item.x], "top": [item.y], "text": [item.text]}
    mark = {"type": "point", "shape": _SHAPES[item.kind], "size": item.size_px**2, "color": item.colour, "opacity": 1,
            "filled": item.kind != "cross"}  # fmt: skip
    return mark, {"minute": [item.x], "top": [item.y]}


def _layer(rows: pd.DataFrame, mark: dict[str, Any], window: StripWindow, height: float, **more: Any) -> alt.Chart:
    """One mark of rows with minute and top; where they have them also end_minute and foot, or text."""
    time = {"domain": [window.start_s / 60, window.end_s / 60], "nice": False, "zero": False}
    level = {"domain": [height, 0], "nice": False, "zero": False}
    channels: dict[str, Any] = {
        "x": alt.X("minute:Q", scale=time, axis=None),
        "y": alt.Y("top:Q", scale=level, axis=None),
        **more,
    }
    if "end_minute" in rows:
        channels |= {"x2": alt.X2("end_minute:Q"), "y2": alt.Y2("foot:Q")}
    if "text" in rows:
        channels["text"] = alt.Text("text:N")
    if mark["type"] == "line":
        rows = rows.assign(place=range(len(rows)))
        channels["order"] = alt.Order("place:Q")
    return alt.Chart(rows, mark=alt.MarkDef(**mark)).encode(**channels)

"""From the rows of a strip to its scene: FHR above toco on the grid of the paper, findings and lanes around them.

Order of drawing: paper, spans that were found, lines, then marks, so that no finding ever covers the tracing.
"""

import math
from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit import words
from audit.charts import palette
from audit.charts.strip import axes
from audit.charts.strip.agreed import POINT
from audit.charts.strip.bands import (
    BAND_ROW_PX,
    BARS,
    LANE_PX,
    SIDES_FROM_PX,
    category_labels,
    looks,
    marks_of,
    standards_of,
)
from audit.charts.strip.lanes import PX_PER_CHARACTER, place_labels, spaced
from audit.charts.strip.rows import merged
from audit.charts.strip.scene import SOLID, Box, Item, Line, Pane, Scene, Shape, Word
from audit.charts.strip.types import (
    FHR_HIGHEST_BPM,
    FHR_LOWEST_BPM,
    FHR_MAJOR_BPM,
    FHR_MINOR_BPM,
    TOCO_HIGHEST,
    TOCO_LOWEST,
    StripLayers,
    StripRows,
    StripWindow,
)

LEFT_PX, RIGHT_PX, EDGE_PX, SPACING_PX = 56.0, 14.0, 4.0, 5.0
_UNSEEN_PX, _TIME_PX = 14.0, 12.0
LETTER_PX = 11.0
_TRACING_PX, _OFF_PAPER_INSET = 1.1, 2.0
_TOCO_MAJOR = 20
_LEVEL_PX = 11.0  # a line of figures beside the paper; the viewer's paper.js has the same
_LONGEST_NAME = 12  # characters of a row's name in one line; the viewer's categories.js has the same


class Ruler:
    """Pixels of a minute, and of a level in a pane."""

    def __init__(self, window: StripWindow, lowest: float = 0.0, highest: float = 1.0, height: float = 1.0) -> None:
        self.start, self.per_minute = window.start_s / 60, window.width_px / ((window.end_s - window.start_s) / 60)
        self.width = float(window.width_px)
        self.lowest, self.highest, self.height = lowest, highest, height

    def x(self, minute: float) -> float:
        """Pixels from the left edge of the pane."""
        return (float(minute) - self.start) * self.per_minute

    def y(self, level: float) -> float:
        """Pixels from the upper edge of the pane."""
        return (self.highest - float(level)) / (self.highest - self.lowest) * self.height

    def line(self, rows: pd.DataFrame, column: str, colour: str, width: float, dash: Sequence[float] = ()) -> Line:
        """A column of rows over their minutes."""
        minute, level = rows["minute"].to_numpy(float), rows[column].to_numpy(float)
        x = (minute - self.start) * self.per_minute
        y = (self.highest - level) / (self.highest - self.lowest) * self.height
        return Line(x, y, colour, width, tuple(dash))


def strip_scene(rows: StripRows, window: StripWindow, layers: StripLayers) -> Scene:
    """The scene of a window.

    Parameters
    ----------
    rows : the layers' rows, cut to the window and thinned. window : the stretch and the scale; panes are exactly
        `window.width_px` wide. layers : which findings are drawn; the bare strip is `StripLayers()`.
    """
    marks = marks_of(rows, layers)
    panes: list[Pane] = []
    top = EDGE_PX
    for pane in _panes(rows, window, layers, marks):
        panes.append(Pane(pane.name, top, pane.height, pane.inside, pane.beside, pane.framed))
        top += pane.height + SPACING_PX
    width = EDGE_PX + LEFT_PX + window.width_px + RIGHT_PX
    return Scene(EDGE_PX + LEFT_PX, window.width_px, width, top - SPACING_PX + EDGE_PX, tuple(panes))


def _panes(rows: StripRows, window: StripWindow, layers: StripLayers, marks: pd.DataFrame) -> Iterator[Pane]:
    if not marks.empty:
        yield _mark_pane(marks, window)
    yield _fhr_pane(rows, window, layers, marks)
    if layers.excluded and not rows.unseen.empty:
        yield _unseen_pane(rows.unseen, window)
    ruler = Ruler(window)
    times = [Word(ruler.x(m), _TIME_PX / 2, text, palette.INK, anchor="middle") for m, text in axes.time_labels(window)]
    yield Pane("time", 0, _TIME_PX, (), tuple(times))
    yield _toco_pane(rows, window, layers, marks)
    if layers.categories and not rows.categories.empty:
        yield _category_pane(rows.categories, window)
    if layers.agreed and not rows.agreed.empty:
        start, end = window.start_s / 60, window.end_s / 60
        seen = rows.agreed[(rows.agreed["end_minute"] >= start) & (rows.agreed["minute"] <= end)]
        if not seen.empty:
            yield _agreed_pane(seen, window)


def _fhr_pane(rows: StripRows, window: StripWindow, layers: StripLayers, marks: pd.DataFrame) -> Pane:
    height = window.fhr_height_px
    ruler = Ruler(window, FHR_LOWEST_BPM, FHR_HIGHEST_BPM, height)
    grid, labels = _paper(ruler, window, FHR_MINOR_BPM, FHR_MAJOR_BPM, "FHR, bpm")
    inside: list[Item] = [*grid, *_mark_lines(marks, ruler, height)]
    if layers.decelerations and not rows.decelerations.empty:
        inside += _deceleration_spans(rows.decelerations, ruler)
    if layers.maternal and not rows.mhr.empty:
        inside.append(ruler.line(rows.mhr, "bpm", palette.OTHER_HEART, _TRACING_PX, (2, 2)))
    inside += _tracing(rows.fhr, "bpm", ruler, window, "No fetal heart rate in this stretch")
    if layers.baseline and not rows.baseline.empty:
        inside += _baseline(rows.baseline, ruler)
    if layers.excluded:
        inside += [
            Shape(ruler.x(r.minute), ruler.y(r.bpm), "cross", 6, palette.UNUSED) for r in rows.excluded.itertuples()
        ]
    if layers.spans:
        for row in rows.spans.itertuples():
            inside.append(_bar(ruler, row, 190, 193, palette.QUIET_INK))
            inside.append(Word(ruler.x(row.minute) + 2, ruler.y(186), row.text, palette.INK, italic=True))
    if layers.accelerations:
        inside += [_bar(ruler, row, 203, 207, palette.ACCELERATION) for row in rows.accelerations.itertuples()]
        inside += _letters(
            rows.accelerations, "peak_minute", ["A"] * len(rows.accelerations), 198, ruler, palette.ACCELERATION
        )
    if layers.decelerations and not rows.decelerations.empty:
        letters = [_kind(kind)[0] for kind in rows.decelerations["kind"]]
        seen_from = rows.decelerations["minute"].clip(lower=window.start_s / 60)
        seen_to = rows.decelerations["end_minute"].clip(upper=window.end_s / 60)
        middles = rows.decelerations.assign(at=(seen_from + seen_to) / 2)
        lines = [] if marks.empty else [ruler.x(minute) for minute in marks["minute"]]
        inside += _letters(middles, "at", letters, FHR_LOWEST_BPM + 12, ruler, palette.INK, lines)
    return Pane("fhr", 0, height, tuple(inside), tuple(labels), framed=True)


def _toco_pane(rows: StripRows, window: StripWindow, layers: StripLayers, marks: pd.DataFrame) -> Pane:
    height = window.toco_height_px
    ruler = Ruler(window, TOCO_LOWEST, TOCO_HIGHEST, height)
    grid, labels = _paper(ruler, window, FHR_MINOR_BPM, _TOCO_MAJOR, "Toco")
    inside: list[Item] = [*grid, *_mark_lines(marks, ruler, height)]
    inside += _tracing(rows.toco, "toco", ruler, window, "No toco in this stretch")
    if layers.contractions:
        inside += [_bar(ruler, row, 95, 98, palette.CONTRACTION) for row in rows.contractions.itertuples()]
        inside += [
            Shape(ruler.x(row.peak_minute), ruler.y(91), "down", 7, palette.CONTRACTION)
            for row in rows.contractions.itertuples()
        ]
    return Pane("toco", 0, height, tuple(inside), tuple(labels), framed=True)


def _paper(ruler: Ruler, window: StripWindow, minor: int, major: int, title: str) -> tuple[list[Item], list[Item]]:
    """The grid: light lines, heavy ones over them; and the levels beside it."""
    light_min, heavy_min = axes.grid_steps_min(window.px_per_min)
    start, end = window.start_s / 60, window.end_s / 60
    steps = range(math.ceil(start / light_min - 1e-9), math.floor(end / light_min + 1e-9) + 1)
    minutes = np.array(steps) * light_min
    heavy = np.abs(minutes / heavy_min - np.round(minutes / heavy_min)) < 1e-3
    levels = np.arange(ruler.lowest, ruler.highest + 1, minor)
    high = levels % major == 0
    grid: list[Item] = []
    for ups, across, colour, width in (
        (minutes[~heavy], levels[~high], palette.PAPER_LIGHT, 0.6),
        (minutes[heavy], levels[high], palette.PAPER_HEAVY, 1.0),
    ):
        x, y = _combed(ruler, ups, across, window.width_px)
        grid.append(Line(x, y, colour, width))
    labels: list[Item] = [
        Word(-5, ruler.y(level), f"{level:.0f}", palette.INK, anchor="end")
        for level in _apart(levels[high].tolist(), ruler)
    ]
    labels += [Word(-LEFT_PX, 9 + 11 * k, part, palette.INK, 10) for k, part in enumerate(title.split(", "))]
    return grid, labels


def _apart(levels: list[float], ruler: Ruler) -> list[float]:
    """Every level of a high pane; every second, third ... of a flat one, so that no figure stands in another."""
    if len(levels) < 2:
        return levels
    between = abs(ruler.y(levels[1]) - ruler.y(levels[0]))
    return levels[:: max(1, math.ceil(_LEVEL_PX / between))]


def _combed(
    ruler: Ruler, minutes: NDArray[np.float64], levels: NDArray[np.float64], width: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Upright and level lines as one broken line."""
    x: list[float] = []
    y: list[float] = []
    for minute in minutes.tolist():
        x += [ruler.x(minute)] * 2 + [math.nan]
        y += [0.0, ruler.height, math.nan]
    for level in levels.tolist():
        x += [0.0, width, math.nan]
        y += [ruler.y(level)] * 2 + [math.nan]
    return np.array(x), np.array(y)


def _tracing(rows: pd.DataFrame, column: str, ruler: Ruler, window: StripWindow, nothing: str) -> Iterator[Item]:
    """The line, with a triangle on the edge wherever it leaves the paper."""
    if rows.empty:
        yield Word(window.width_px / 2, ruler.height / 2, nothing, palette.QUIET_INK, 13, "middle")
        return
    yield ruler.line(rows, column, palette.INK, _TRACING_PX)
    # toco rests at zero: only what is truly below it leaves the paper
    lowest = ruler.lowest if column == "bpm" else ruler.lowest - 1
    for row in rows[rows[column] < lowest].itertuples():
        yield Shape(ruler.x(row.minute), ruler.y(ruler.lowest + _OFF_PAPER_INSET), "down", 5, palette.INK)
    for row in rows[rows[column] > ruler.highest].itertuples():
        yield Shape(ruler.x(row.minute), ruler.y(ruler.highest - _OFF_PAPER_INSET), "up", 5, palette.INK)


def _baseline(rows: pd.DataFrame, ruler: Ruler) -> Iterator[Line]:
    """Solid where it could be stated, dotted where it is only drawn through."""
    for stated, dash in ((True, ()), (False, (2.0, 4.0))):
        level = rows.assign(bpm=rows["bpm"].where(rows["stated"] == stated))
        if level["bpm"].notna().any():
            yield ruler.line(level, "bpm", palette.BASELINE, 1.6, dash)


def _kind(kind: object) -> tuple[str, str, list[int]]:
    return palette.KINDS.get(str(kind), palette.KINDS["unclassified"])


def _deceleration_spans(rows: pd.DataFrame, ruler: Ruler) -> Iterator[Item]:
    """A tint from onset to end between lines in the kind's dash, and a bar at the foot."""
    for row in rows.itertuples():
        _, colour, dash = _kind(row.kind)
        low, high = ruler.x(row.minute), ruler.x(row.end_minute)
        yield Box(low, 0, high - low, ruler.height, colour, 0.10)
        for x in (low, high):
            yield _upright(x, 0.0, ruler.height, colour, 1.0, dash)
        yield _bar(ruler, row, FHR_LOWEST_BPM, FHR_LOWEST_BPM + 5, colour, 0.9)


def _bar(ruler: Ruler, row: object, low: float, high: float, colour: str, opacity: float = 1.0) -> Box:
    start, end = ruler.x(row.minute), ruler.x(row.end_minute)  # type: ignore[attr-defined]
    return Box(start, ruler.y(high), end - start, ruler.y(low) - ruler.y(high), colour, opacity)


def _letters(
    rows: pd.DataFrame,
    column: str,
    letters: Sequence[str],
    level: float,
    ruler: Ruler,
    colour: str,
    lines: Sequence[float] = (),
) -> list[Word]:
    """Letters inside the edges that do not touch the one before; the bars below are drawn all the same.

    One that would stand in a line of a mark (`lines`, px) moves to the right of it.
    """
    last = ruler.width - LETTER_PX / 2
    at = [min(max(ruler.x(minute), LETTER_PX / 2), last) for minute in rows[column]] if len(rows) else []
    at = [next((line + LETTER_PX / 2 + 1 for line in lines if abs(line - x) < LETTER_PX / 2), x) for x in at]
    return [
        Word(x, ruler.y(level), letter, colour, 12, "middle", bold=True)
        for x, letter, room in zip(at, letters, spaced(at, LETTER_PX), strict=True)
        if room
    ]


def _upright(x: float, top: float, foot: float, colour: str, width: float, dash: Sequence[float]) -> Line:
    whole = len(dash) == 2 and dash[1] == 0
    return Line(np.array([x, x]), np.array([top, foot]), colour, width, SOLID if whole else tuple(dash))


def _mark_lines(marks: pd.DataFrame, ruler: Ruler, height: float) -> Iterator[Line]:
    if marks.empty:
        return
    for row in looks(marks).itertuples():
        yield _upright(ruler.x(row.minute), 0.0, height, row.colour, row.thick, palette.DASHES[str(row.role)])


def _mark_pane(marks: pd.DataFrame, window: StripWindow) -> Pane:
    """The labels of the marks, in as many lanes as they need, each with its line down to the strip."""
    ruler = Ruler(window)
    rows = looks(marks)
    at = [ruler.x(minute) for minute in rows["minute"]]
    placed = place_labels(at, rows["text"].tolist(), width_px=float(window.width_px))
    height = float((1 + max(label.lane for label in placed)) * LANE_PX)
    lines: list[Item] = []
    labels: list[Item] = []  # over the lines of all marks
    for x, row, label in zip(at, rows.itertuples(), placed, strict=True):
        y = height - (label.lane + 0.5) * LANE_PX
        dash = palette.DASHES[str(row.role)]
        lines.append(_upright(x, y, height, row.colour, row.thick, dash))
        if label.left_of_mark:
            labels.append(Word(x - 4, y, row.text, row.ink, anchor="end", halo=True))
        else:
            labels.append(Word(x + 4, y, row.text, row.ink, halo=True))
    return Pane("marks", 0, height, (*lines, *labels))


def _unseen_pane(rows: pd.DataFrame, window: StripWindow) -> Pane:
    """Where samples were missing or not used, with the reason where there is room for it."""
    ruler = Ruler(window)
    inside: list[Item] = []
    for row in rows.itertuples():
        low, high = ruler.x(row.minute), ruler.x(row.end_minute)
        colour = palette.LOST if row.why == "no signal" else palette.UNUSED
        inside.append(Box(low, 0, high - low, _UNSEEN_PX, colour))
        if high - low > len(row.why) * PX_PER_CHARACTER + 8:
            inside.append(Word((low + high) / 2, _UNSEEN_PX / 2, row.why, palette.INK, 10, "middle"))
    name = Word(-5, _UNSEEN_PX / 2, "not used", palette.INK, 9, "end")
    return Pane("unseen", 0, _UNSEEN_PX, tuple(inside), (name,), framed=True)


def _category_pane(rows: pd.DataFrame, window: StripWindow) -> Pane:
    """A row per standard; the bar's height and its text say the category as well as its colour; an edge bounds it."""
    ruler = Ruler(window)
    order = standards_of(rows)
    place = {name: k * BAND_ROW_PX for k, name in enumerate(order)}
    inside: list[Item] = []
    edges: dict[str, list[tuple[float, float]]] = {name: [] for name in order}
    # whole runs, so that no seam shows between two minutes
    for row in merged(rows).itertuples():
        top, foot = (place[row.standard] + share * BAND_ROW_PX for share in BARS[int(row.severity)][:2])
        low, high = ruler.x(row.minute), ruler.x(row.end_minute)
        inside.append(Box(low, top, high - low, foot - top, palette.SEVERITY_COLOURS[int(row.severity)]))
        edges[row.standard] += _edge(low, high, top, foot, window.width_px)
    for points in edges.values():
        x, y = np.array(points).T
        inside.append(Line(x, y, palette.EDGE, 1.0))
    for label in category_labels(rows.assign(row=rows["standard"]), window).itertuples():
        middle = place[label.row] + label.level * BAND_ROW_PX
        inside.append(Word(ruler.x(label.minute) + 3, middle, label.text, palette.INK, bold=True))
    names = [word for name in order for word in _row_name(words.standard_name(name), place[name])]
    return Pane("categories", 0, float(BAND_ROW_PX * len(order)), tuple(inside), tuple(names), framed=True)


def _row_name(name: str, top: float) -> list[Word]:
    """The name beside its row; one that has no room in a line takes one for each word."""
    lines = name.split(" ") if len(name) > _LONGEST_NAME else [name]
    return [
        Word(-5, top + (k + 0.5) / len(lines) * BAND_ROW_PX, part, palette.INK, 9, "end")
        for k, part in enumerate(lines)
    ]


def _agreed_pane(rows: pd.DataFrame, window: StripWindow) -> Pane:
    """What the meeting agreed: minutes as flags in lanes, above them a row of events struck out (cross) or added."""
    ruler = Ruler(window)
    inside: list[Item] = []
    spans, points = rows[rows["role"] != POINT], rows[rows["role"] == POINT]
    for row in spans.itertuples():
        low, high = ruler.x(row.minute), ruler.x(row.end_minute)
        middle = (max(low, 0.0) + min(high, ruler.width)) / 2
        struck = row.role == "struck_out"
        if not struck:
            inside.append(Box(low, 2, high - low, LANE_PX - 4, palette.QUIET_INK, 0.35))
        x, y = np.array(_edge(low, high, 2, LANE_PX - 2, ruler.width)).T
        inside.append(Line(x, y, palette.INK, 1.0, (3.0, 2.0) if struck else SOLID))
        inside.append(Shape(middle, LANE_PX / 2, "cross" if struck else "up", 6, palette.INK))
    top = LANE_PX if len(spans) else 0
    at = [ruler.x(minute) for minute in points["minute"]]
    placed = place_labels(at, points["text"].tolist(), width_px=float(window.width_px))
    height = float(top + LANE_PX * (1 + max((label.lane for label in placed), default=-1)))
    for x, row, label in zip(at, points.itertuples(), placed, strict=True):
        y = top + (label.lane + 0.5) * LANE_PX  # each pole from the strip down to its label: none through another text
        inside += [_upright(x, 0.0, y, palette.INK, 1.4, ()), Shape(x, y, "up", 8, palette.INK)]
        if label.left_of_mark:
            inside.append(Word(x - 7, y, row.text, palette.INK, anchor="end"))
        else:
            inside.append(Word(x + 7, y, row.text, palette.INK))
    name = Word(-5, LANE_PX / 2, "meeting", palette.INK, 9, "end")
    return Pane("agreed", 0, height, tuple(inside), (name,), framed=True)


def _edge(low: float, high: float, top: float, foot: float, width: float) -> list[tuple[float, float]]:
    """Points of the edge of a bar, cut just outside the pane; NaN lifts the pen. Narrow bars have no sides."""
    low, high = max(low, -1.0), min(high, width + 1.0)
    top, foot = top + 0.5, foot - 0.5
    lifted = (math.nan, math.nan)
    if high - low < SIDES_FROM_PX:
        return [(low, top), (high, top), lifted, (low, foot), (high, foot), lifted]
    return [(low, top), (high, top), (high, foot), (low, foot), (low, top), lifted]

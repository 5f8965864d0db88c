"""The strip as shapes in pixels: panes one below the other, each with what is drawn inside it and beside it.

A scene knows nothing of tracings; it is what a screen or a printer is given. The origin is the upper left corner, x
grows with time, y downwards, 96 px are one inch.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Anchor = Literal["start", "middle", "end"]
SOLID: tuple[float, ...] = ()


@dataclass(frozen=True)
class Line:
    """A line through points; a NaN breaks it. `x`, `y` : arrays of the same shape (n,), px within the pane."""

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    colour: str
    width: float
    dash: tuple[float, ...] = SOLID


@dataclass(frozen=True)
class Box:
    """A filled rectangle, px within the pane."""

    x: float
    y: float
    width: float
    height: float
    fill: str
    opacity: float = 1.0


@dataclass(frozen=True)
class Word:
    """A text; `y` is its middle. `halo` : white around its letters, where a line of another mark may cross it."""

    x: float
    y: float
    text: str
    colour: str
    size_px: float = 11.0
    anchor: Anchor = "start"
    bold: bool = False
    italic: bool = False
    halo: bool = False


@dataclass(frozen=True)
class Shape:
    """A small mark around a point: a triangle that points up or down, or a cross."""

    x: float
    y: float
    kind: Literal["up", "down", "cross"]
    size_px: float
    colour: str


Item = Line | Box | Word | Shape


@dataclass(frozen=True)
class Pane:
    """A rectangle of the drawing. `inside` is clipped at its edges, `beside` is not; later items cover earlier ones."""

    name: str
    top: float
    height: float
    inside: tuple[Item, ...]
    beside: tuple[Item, ...] = ()
    framed: bool = False


@dataclass(frozen=True)
class Scene:
    """A whole strip: every pane has the same left edge and the same width."""

    left: float
    pane_width: float
    width: float
    height: float
    panes: tuple[Pane, ...]

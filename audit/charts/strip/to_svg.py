"""A scene as SVG 1.1 (W3C Recommendation, 2011): plain shapes, so that the same drawing prints the same everywhere."""

from html import escape

import numpy as np

from audit import house_style
from audit.charts import palette
from audit.charts.strip.scene import Box, Item, Line, Pane, Scene, Shape, Word

_ANCHOR_SHIFT_EM = 0.35  # from a text's middle to its base line
_HALO = ' stroke="#FFFFFF" stroke-width="4" stroke-linejoin="round" paint-order="stroke"'


def svg_text(scene: Scene, *, face: str) -> str:
    """The drawing as one SVG element with white paper; `face` is the font of every text."""
    size = f'width="{_n(scene.width)}" height="{_n(scene.height)}"'
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 {_n(scene.width)} {_n(scene.height)}"'
        f' font-family="{escape(face)}">',
        f'<rect {size} fill="{palette.PAPER}"/>',
        *(_pane(pane, scene, number) for number, pane in enumerate(scene.panes, start=1)),
        "</svg>",
    ]
    return "".join(parts)


def _pane(pane: Pane, scene: Scene, number: int) -> str:
    clip = f"pane{number}"
    edge = f'<rect width="{_n(scene.pane_width)}" height="{_n(pane.height)}"'
    frame = f'{edge} fill="none" stroke="{palette.GRID_HEAVY}"/>' if pane.framed else ""
    return (
        f'<g class="{escape(pane.name)}" transform="translate({_n(scene.left)},{_n(pane.top)})">'
        f'<clipPath id="{clip}">{edge}/></clipPath>'
        f'<g clip-path="url(#{clip})">{"".join(map(_item, pane.inside))}</g>'
        f"{frame}{''.join(map(_item, pane.beside))}</g>"
    )


def _item(item: Item) -> str:
    if isinstance(item, Line):
        return _line(item)
    if isinstance(item, Box):
        opacity = f' fill-opacity="{item.opacity:g}"' if item.opacity < 1 else ""
        return (
            f'<rect x="{_n(item.x)}" y="{_n(item.y)}" width="{_n(item.width)}" height="{_n(item.height)}"'
            f' fill="{item.fill}"{opacity}/>'
        )
    if isinstance(item, Word):
        return _word(item)
    return _shape(item)


def _line(line: Line) -> str:
    known = ~(np.isnan(line.x) | np.isnan(line.y))
    x, y = np.round(line.x, 2), np.round(line.y, 2)
    path: list[str] = []
    pen_down = False
    for at_x, at_y, drawn in zip(x.tolist(), y.tolist(), known.tolist(), strict=True):
        if drawn:
            path.append(f"{'L' if pen_down else 'M'}{at_x:g},{at_y:g}")
        pen_down = drawn
    dash = f' stroke-dasharray="{" ".join(f"{part:g}" for part in line.dash)}"' if line.dash else ""
    return (
        f'<path d="{"".join(path)}" fill="none" stroke="{line.colour}" stroke-width="{line.width:g}"'
        f' stroke-linecap="{"butt" if line.dash else "round"}" stroke-linejoin="round"{dash}/>'
    )


def _word(word: Word) -> str:
    look = (' font-weight="bold"' if word.bold else "") + (' font-style="italic"' if word.italic else "")
    look += _HALO if word.halo else ""
    base = word.y + _ANCHOR_SHIFT_EM * word.size_px
    return (
        f'<text x="{_n(word.x)}" y="{_n(base)}" fill="{word.colour}" font-size="{word.size_px:g}px"'
        f' text-anchor="{word.anchor}"{look}>{escape(house_style.text(word.text))}</text>'
    )


def _shape(shape: Shape) -> str:
    half = shape.size_px / 2
    left, right, upper, lower = (_n(at) for at in (shape.x - half, shape.x + half, shape.y - half, shape.y + half))
    if shape.kind == "cross":
        arms = f"M{left},{upper}L{right},{lower}M{left},{lower}L{right},{upper}"
        return f'<path d="{arms}" stroke="{shape.colour}" stroke-width="2"/>'
    foot, tip = (upper, lower) if shape.kind == "down" else (lower, upper)
    return f'<polygon points="{left},{foot} {right},{foot} {_n(shape.x)},{tip}" fill="{shape.colour}"/>'


def _n(value: float) -> str:
    return f"{round(value, 2):g}" if abs(value) < 1e5 else f"{value:.1f}"

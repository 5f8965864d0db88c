"""Charts as vectors, the same on every machine: the font comes with the converter, not from the system."""

import re

import altair as alt
import vl_convert

from audit.charts import vector
from audit.charts.vector import FACE, FACES_IN_HTML
from audit.pack.model import Picture

_PX_PER_MM = 96 / 25.4
_POINTS_PER_PX = 72 / 96
_PNG_SCALE = 2.0
_SIZE = re.compile(r'<svg[^>]*?\bwidth="([0-9.]+)" height="([0-9.]+)"')
_PLAIN = re.compile(r"[^A-Za-z0-9-]")  # a case id may hold anything


def picture(chart: alt.TopLevelMixin, *, name: str, alt_text: str, caption: str = "") -> Picture:
    """A chart at 96 pixels to the inch, so that one drawn to a paper scale keeps it."""
    return of_svg(
        vl_convert.vegalite_to_svg(vector.specification(chart)), name=name, alt_text=alt_text, caption=caption
    )


def of_svg(svg: str, *, name: str, alt_text: str, caption: str = "") -> Picture:
    """A drawing in FACE at 96 pixels to the inch, for paper and for the page."""
    name = _PLAIN.sub("-", name)
    found = _SIZE.search(svg)
    if found is None:
        raise ValueError(f"{name}: the drawing has no size")
    width, height = (float(size) / _PX_PER_MM for size in found.groups())
    return Picture(
        name=name,
        svg=vector.for_html(svg, name),
        pdf=vl_convert.svg_to_pdf(_in_points(svg, found)),
        width_mm=round(width, 3),
        height_mm=round(height, 3),
        alt=alt_text,
        caption=caption,
    )


def _in_points(svg: str, size: re.Match[str]) -> str:
    """The drawing 72 units to the inch, as PDF counts: the converter makes a point of every pixel."""
    width, height = (f"{float(each) * _POINTS_PER_PX:g}" for each in size.groups())
    return f'{svg[: size.start(1)]}{width}" height="{height}{svg[size.end(2) :]}'


def png(drawing: Picture) -> bytes:
    """The drawing as pixels, for slides; twice as fine as the screen."""
    return drawing.png or vl_convert.svg_to_png(drawing.svg.replace(FACES_IN_HTML, FACE), scale=_PNG_SCALE)

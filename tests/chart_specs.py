"""A chart as the specification that tests look into, and what a page draws."""

import json
from typing import Any

import altair as alt
from altair.utils import schemapi

from audit.charts.unchecked import unchecked


def spec_of(chart: alt.TopLevelMixin, *, checked: bool = False) -> dict[str, Any]:
    """As the pages make it, with its data inside; `checked` validates it against the schema."""
    with unchecked(), schemapi.debug_mode(checked):
        spec: dict[str, Any] = chart.to_dict()
        return spec


def drawings(page: Any) -> list[str]:
    """The charts of a page, as SVG."""
    return [json.loads(part.json) for part in _parts(page, "drawing")]


def strip_bytes(page: Any) -> bytes:
    """What the page sends of its one strip."""
    (viewer,) = _parts(page, "strip_viewer")
    found: bytes = viewer.bytes
    return found


def _parts(page: Any, name: str) -> list[Any]:
    found = [item.proto for item in page.get("bidi_component")]
    return [part for part in found if part.component_name.endswith(name)]

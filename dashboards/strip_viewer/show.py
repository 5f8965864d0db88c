"""Puts a strip on a page. The browser draws it; the server hears only what it must store or know.

A page that must know whether a strip was looked at to its end asks `Shown.seen_to_end`: it is true once every part of
the strip has been in sight in this browser, and the page is drawn anew at that moment. It is kept under the strip's
`key`, so another strip starts as not seen.
"""

import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import streamlit as st
from streamlit.components import v2 as components

from audit import house_style

_FOLDER = Path(__file__).resolve().parent
# each after those whose names it uses
SCRIPTS = (
    "times", "payload", "thinning", "lanes", "paper", "categories", "calibration", "scene", "paint", "readings",
    "callipers", "room", "view", "overview", "timeline", "address", "keys", "controls", "pointer", "readout", "viewer",
    "main",
)  # fmt: skip
HINT = "Point at the strip or use the arrow keys to read it; drag to move; ? lists the keys."


@dataclass(frozen=True)
class Shown:
    """What the browser told: every part of the strip was in sight."""

    seen_to_end: bool


def script() -> str:
    """The modules as one: what one takes from another stands before it."""
    parts = [(_FOLDER / f"{name}.js").read_text("utf-8") for name in SCRIPTS]
    joined = [re.sub(r"^import [^;]+;\n", "", part, flags=re.MULTILINE) for part in parts]
    return "\n".join(re.sub(r"^export (?!default)", "", part, flags=re.MULTILINE) for part in joined)


@cache
def _component() -> Any:
    style = (_FOLDER / "viewer.css").read_text("utf-8")
    return components.component("strip_viewer", css=style, js=script())


def with_options(options: dict[str, Any], payload: bytes) -> bytes:
    """The options of a page before the strip's own bytes, laid out as these are."""
    text = json.dumps(options, separators=(",", ":"), allow_nan=False).encode()
    text += b" " * (-len(text) % 4)
    return len(text).to_bytes(4, "little") + text + payload


def strip_viewer(
    payload: bytes,
    *,
    key: str,
    name: str,
    address: dict[str, str] | None = None,
    open_at_s: float | None = None,
    go_to_s: float | None = None,
    blind: bool = False,
    room: bool = False,
    legend: tuple[str, str] = ("", ""),
    marks: Sequence[dict[str, Any]] = (),
    agreed: Sequence[dict[str, Any]] = (),
    on_mark: Callable[[float, str], None] | None = None,
) -> Shown:
    """Draw a strip and tell what was seen of it.

    Parameters
    ----------
    payload : of `audit.charts.strip.payload`. key : names the strip; its place is kept under it. name : for readers of
        the screen. address : words of the page's address that name this strip; None = it has none.
    open_at_s : the time that a link without a time opens at (s); None = the start.
    go_to_s : where a link on the page leads now (s), wherever the strip stood. blind : no address, no places.
    room : the full screen is that of the whole page, so that it outlives a strip.
    legend : what stands under the bare strip, and under the one with findings.
    marks : `at_s` and `text` of each. on_mark : stores a new mark, called with its time (s) and text; None = none.
    agreed : rows of `audit.charts.strip.agreed`, shown with the findings.
    """
    key = re.sub("_(?=_)", "_.", key)  # two lines in a row part names inside Streamlit
    options = {
        "key": key,
        "name": name,
        "address": address,
        "open_at_s": open_at_s,
        "go_to_s": go_to_s,
        "blind": blind,
        "room": room,
        "marks": list(marks),
        "agreed": house_style.everywhere(list(agreed), but=frozenset({"role"})),
        "may_mark": on_mark is not None,
        "hint": HINT,
        "legend": house_style.everywhere(legend),
    }

    def marked() -> None:
        found = st.session_state[key].get("mark")
        if on_mark is not None and isinstance(found, dict) and found.get("key") == key:
            on_mark(float(found["at_s"]), str(found["text"]))

    result = _component()(
        data=with_options(options, payload),
        key=key,
        on_seen_change=_nothing,
        on_mark_change=marked,
    )
    return Shown(seen_to_end=result.get("seen") == key)


def _nothing() -> None:
    """A value is kept only where somebody asked to hear of it."""

"""Whether the browser's window is a narrow one, where a table of many columns has no room.

The browser says so once, before anything was chosen, and again when that changes; a wide window says nothing.
"""

from functools import cache
from typing import Any

import streamlit as st
from streamlit.components import v2 as components

from dashboards.keys import Key

WIDEST_PX = 768  # as in the rules of `layout`
_SCRIPT = f"""
export default function ({{ data, setStateValue }}) {{
  const narrow = globalThis.matchMedia("(max-width: {WIDEST_PX}px)");
  const tell = () => {{ if (narrow.matches !== data.narrow) setStateValue("narrow", narrow.matches); }};
  tell();
  narrow.addEventListener("change", tell);
  return () => narrow.removeEventListener("change", tell);
}}
"""


@cache
def _component() -> Any:
    return components.component("narrow_window", js=_SCRIPT)


def is_narrow() -> bool:
    """What the browser said last."""
    return bool(st.session_state.get(f"kept_{Key.NARROW}"))


def watch() -> None:
    """Let the browser say it; takes no room on the page."""

    def keep() -> None:
        st.session_state[f"kept_{Key.NARROW}"] = st.session_state[Key.NARROW].get("narrow") is True

    _component()(data={"narrow": is_narrow()}, key=Key.NARROW.value, on_narrow_change=keep)

"""Puts a chart that was drawn on the server on a page, as wide as it was drawn or as the page has room."""

from functools import cache
from typing import Any

import streamlit as st
from streamlit.components import v2 as components
from streamlit.errors import StreamlitDuplicateElementId

_STYLE = "svg { display: block; max-width: 100%; height: auto; }"
_SCRIPT = "export default ({ parentElement, data }) => { parentElement.querySelector('figure').innerHTML = data; };"


@cache
def _component() -> Any:
    return components.component("drawing", html='<figure style="margin: 0"></figure>', css=_STYLE, js=_SCRIPT)


def show(svg: str) -> None:
    """Put a drawing of `audit.charts.vector` here."""
    try:
        _component()(data=svg)
    except StreamlitDuplicateElementId:  # the very same stands above
        number = st.session_state["drawn_again"] = st.session_state.get("drawn_again", 0) + 1
        _component()(data=svg, key=f"drawn_again_{number}")

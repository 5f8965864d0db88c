"""Choices of one page alone that stand in its address, so that what is shown can be sent and gone back to."""

from collections.abc import Sequence
from typing import Any

import streamlit as st

from dashboards.keys import Key, ReviewKey


def led_by_address(key: Key | ReviewKey, options: Sequence[str], first: str) -> dict[str, Any]:
    """What a box of choices of one page alone is given, so that the address names what is chosen in it.

    It begins with `first` where the address names none of the options, and unlike a month it is forgotten with the
    page: a link from another page must show all that its number counted.
    """
    asked = st.query_params.get(key.value)
    st.session_state[key] = asked if asked in options else first
    return {"key": key, "on_change": _name_in_address, "args": (key,)}


def _name_in_address(key: Key | ReviewKey) -> None:
    st.query_params[key.value] = st.session_state[key]

"""Choices of one page alone that stand in its address, so that what is shown can be sent and gone back to.

What shows outcomes has none on purpose: a link that somebody sends must not open them before a strip was read.
"""

from collections.abc import Sequence
from typing import Any

import streamlit as st

_YES = "yes"


def led_by_address(key: str, options: Sequence[Any], first: Any) -> dict[str, Any]:
    """What a box of choices of one page alone is given, so that the address names what is chosen in it.

    It begins with `first` where the address names none of the options, and unlike a month it is forgotten with the
    page: a link from another page must show all that its number counted.
    """
    asked = st.query_params.get(key)
    st.session_state[key] = asked if asked in options else first
    return {"key": key, "on_change": _name_in_address, "args": (key,)}


def several_led_by_address(key: str, options: Sequence[str]) -> dict[str, Any]:
    """As `led_by_address`, for a box in which several may be chosen; none until the address names one."""
    asked = st.query_params.get(key, "").split(",")
    st.session_state[key] = [option for option in options if option in asked]
    return {"key": key, "on_change": _name_several, "args": (key,)}


def switched_by_address(key: str) -> dict[str, Any]:
    """As `led_by_address`, for a switch that is off until the address names it."""
    st.session_state[key] = is_on(key)
    return {"key": key, "on_change": _name_switch, "args": (key,)}


def is_on(key: str) -> bool:
    """Whether the address names a switch."""
    return key in st.query_params


def _name_in_address(key: str) -> None:
    _name(key, st.session_state[key])


def _name_several(key: str) -> None:
    _name(key, ",".join(st.session_state[key]) or None)


def _name_switch(key: str) -> None:
    _name(key, _YES if st.session_state[key] else None)


def _name(key: str, value: str | None) -> None:
    if value is None:
        st.query_params.pop(str(key), None)
    else:
        st.query_params[str(key)] = value

"""A box for a number with decimals. The library's own box drops a decimal comma without a word: 47,5 became 475."""

import re
from collections.abc import Callable
from typing import Any

import streamlit as st

from audit import figures, house_style
from audit.errors import UsageError

_DIGITS = 1


def decimal_box(
    place: Any, label: str, value: float | None, *, key: str, placeholder: str | None = None
) -> Callable[[], float | None]:
    """Draw the box with a number in it; what reads it as the unit writes decimals.

    A number that nobody touched stays as exact as it was. The reading raises UsageError where no number stands.
    """
    if key not in st.session_state:
        fill(key, value)
    text = str(place.text_input(label, key=key, placeholder=placeholder)).strip()
    shown, exact = st.session_state.get(_exact(key), ("", None))
    return lambda: exact if text == shown else number(label, text)


def fill(key: str, value: float | None) -> None:
    """Put a number into a box that is drawn after this."""
    text = "" if value is None else house_style.figure(figures.shown(value, _DIGITS))
    st.session_state[key], st.session_state[_exact(key)] = text, (text, value)


def number(label: str, text: str) -> float | None:
    """A number that was typed with the unit's decimal mark; None for nothing."""
    if not text:
        return None
    mark = house_style.in_force().decimal
    if not re.fullmatch(rf"[+-]?[0-9]+(?:{re.escape(mark)}[0-9]+)?", text):
        raise UsageError(f"{label}: found no number of this form, expected one as 47{mark}5")
    return float(text.replace(mark, "."))


def _exact(key: str) -> str:
    return f"exact_{key}"

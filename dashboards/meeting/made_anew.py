"""Forms that show what is stored are made anew once an entry was taken back: they kept what was typed before it."""

import streamlit as st

from dashboards.keys import ReviewKey


def place(name: str) -> str:
    """The place of a form's widgets, another one after each entry that was taken back in this browser."""
    times = st.session_state.get(ReviewKey.TAKEN_BACK, 0)
    return f"{name}_{times}" if times else name


def all_forms() -> None:
    """An entry was taken back: from here on every form begins from what is stored."""
    st.session_state[ReviewKey.TAKEN_BACK] = st.session_state.get(ReviewKey.TAKEN_BACK, 0) + 1

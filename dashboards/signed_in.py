"""Who is at the keyboard: a role or reader code for this browser session. Never a name."""

from collections.abc import Sequence
from pathlib import Path

import streamlit as st

from audit.errors import AuditError
from audit.people.accounts import Account, sign_in
from dashboards import data, layout, signed_in
from dashboards.keys import ReviewKey

_ROLE_WORDS = {"reader": "reader", "lead": "review lead", "chair": "chair of the meeting"}


def database() -> Path:
    """The database; the page has stopped before this when there is none."""
    db = data.database()
    if db is None:
        st.info(layout.NO_DATABASE)
        st.stop()
    return db


def account() -> Account | None:
    """Who is signed in, or None."""
    found = st.session_state.get(ReviewKey.ACCOUNT)
    return found if isinstance(found, Account) else None


def required(roles: Sequence[str], why: str) -> Account:
    """The signed-in account; a form in its place, and the page stops, when there is none of these roles."""
    found = account()
    if found is not None and found.role in roles:
        _shown(found)
        return found
    if found is not None:
        _shown(found)
        st.info(f"You are signed in as {_ROLE_WORDS[found.role]}. {why}")
    else:
        st.write(why)
    _form(roles)
    st.stop()


def _shown(found: Account) -> None:
    left, right = st.columns([6, 1], vertical_alignment="center")
    code = f" {found.code}" if found.role == "reader" else ""
    left.caption(f"Signed in as {_ROLE_WORDS[found.role]}{code}.")
    right.button("Sign out", key=ReviewKey.SIGN_OUT, on_click=_forget, width="stretch")


def _form(roles: Sequence[str]) -> None:
    with st.container(border=True, width=460):
        role = st.radio("I am the", list(roles), key=ReviewKey.SIGN_ROLE, format_func=_ROLE_WORDS.get, horizontal=True)
        if role == "reader":
            st.text_input("Reader code (never a name)", key=ReviewKey.SIGN_CODE, max_chars=12)
        st.text_input(
            "PIN (may be empty)",
            key=ReviewKey.SIGN_PIN,
            type="password",
            help="The first sign-in sets it. It keeps colleagues who share this computer out of your figures.",
        )
        st.button("Sign in", key=ReviewKey.SIGN_IN, type="primary", on_click=_enter)
        problem = st.session_state.pop("sign_in_problem", None)
        if problem:
            st.error(layout.plain(problem))


def _enter() -> None:
    state = st.session_state
    code, pin = str(state.get(ReviewKey.SIGN_CODE) or "").strip(), str(state.get(ReviewKey.SIGN_PIN) or "")
    try:
        state[ReviewKey.ACCOUNT] = sign_in(database(), str(state[ReviewKey.SIGN_ROLE]), code, pin)
    except AuditError as error:
        state["sign_in_problem"] = str(error)


def _forget() -> None:
    st.session_state.pop(ReviewKey.ACCOUNT, None)


def who() -> str:
    """The signed-in role or reader; `unit` when nobody signed in: the log then says that nobody did."""
    account = signed_in.account()
    return "unit" if account is None else account.who

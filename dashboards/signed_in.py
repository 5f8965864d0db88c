"""The frame's question before a page is drawn: who is there, and is the page for them? The form for signing in."""

from pathlib import Path

import streamlit as st

from audit import house_style
from audit.errors import AuditError
from audit.people import access, blindness, permissions
from audit.people.accounts import Account
from audit.people.permissions import READER
from audit.vocabulary import ROLES
from dashboards import data, layout, place, provider, session
from dashboards.keys import ReviewKey
from dashboards.register import PAGES, READ_STRIPS, Page

_ROLE_WORDS = {"lead": "review lead", "chair": "chair of the meeting", "reader": "reader", "viewer": "viewer"}
NOT_CHOSEN = "Nobody is known in this unit yet, and nobody has chosen who uses it. End the dashboard and choose."
ONE_PERSON = "**One person alone, without a password:** `intrapartum-audit dashboard --single-user`"
SEVERAL = (
    "**Several people:** `intrapartum-audit account lead` makes the first lead and prints the PIN to sign in with here;"
    " the lead then makes readers and viewers known on the page The unit."
)


def database() -> Path:
    """The database; the page has stopped before this when there is none."""
    db = data.database()
    if db is None:
        st.info(layout.NO_DATABASE)
        st.stop()
    return db


def _role_words(role: str) -> str:
    own = house_style.in_force().words
    return own.get(role) or _ROLE_WORDS[role]


def admit(page: Page) -> None:
    """Let a page be drawn for whoever it is for; else say why not in its place, and stop."""
    db = _database_or_sentence(page)
    if session.from_elsewhere():
        _instead(page)
        st.error(
            "The pages were reached through a server in front. That needs an identity provider: see Shared server in"
            " the README."
        )
        st.stop()
    found = session.account()
    if found is None:
        _instead(page)
        _ask(db)
        st.stop()
    _bar(found)
    if all(blindness.waits(db, found.who, deed) for deed in page.deeds):
        _instead(page)
        st.info(f"This page waits: {blindness.WAITS}.")
        st.page_link(READ_STRIPS.file, label=f"Go to {READ_STRIPS.title}")
        st.stop()
    if not _is_for(page, found):
        _instead(page)
        roles = " or ".join(dict.fromkeys(permissions.roles_with(deed) for deed in page.deeds))
        st.info(f"You are signed in as {_role_words(found.role)}. This page is for {roles}.")
        other = next(other for other in PAGES if _is_for(other, found))
        st.page_link(other.file, label=f"Go to {other.title}")
        st.stop()


def pages_shown() -> set[Page]:
    """The pages that the menu shows to who is there; each page itself says what is wrong where nothing can be shown."""
    db = data.database()
    try:
        if db is None or not db.is_file():
            return set(PAGES)
        found = session.account()
    except AuditError:
        return set(PAGES)
    return set() if found is None else {page for page in PAGES if _is_for(page, found)}


def _is_for(page: Page, found: Account) -> bool:
    return any(permissions.may(found.role, deed) for deed in page.deeds)


def _database_or_sentence(page: Page) -> Path:
    try:
        db = data.database()
        if db is not None and ((page.before_data and place.nothing_yet()) or data.copy() is not None):
            data.settings()
            return db
        sentence = layout.NO_DATABASE
    except AuditError as error:
        sentence = layout.plain(error)
    _instead(page)
    st.info(sentence)
    st.stop()


def _instead(page: Page) -> None:
    st.title(page.title, anchor=False)
    st.caption(layout.CAUTION)


def _ask(db: Path) -> None:
    """The way in: the identity provider, a PIN, or what to do on the machine where nobody is known yet."""
    if provider.in_use():
        why = provider.why_not(data.settings().access)
        if why:
            st.error(f"You are signed in, but {layout.plain(why)}. The review lead can say who may give you one.")
            st.button("Sign out", key=ReviewKey.SIGN_OUT, on_click=provider.leave)
        else:
            st.write("Sign in with the account that you have in this hospital.")
            st.button("Sign in", key=ReviewKey.SIGN_IN, type="primary", on_click=st.login)
    elif access.is_new(db):
        for words in (NOT_CHOSEN, ONE_PERSON, SEVERAL):
            st.write(words)
    else:
        st.write("Sign in with the PIN that you were given.")
        _form()


def _bar(found: Account) -> None:
    """Who is signed in, and the way out; beside the menu, so that a page begins with what it is about."""
    code = f" {found.code}" if found.role == READER else ""
    with st.sidebar:
        if found.at_machine:
            st.caption("The unit of one person, without passwords.")
            with st.popover("Act in a role", width="stretch"):
                st.caption("What is stored then says so. A strip is read as a reader, with a code.")
                _form(with_pin=False)
            return
        st.caption(f"Signed in as {_role_words(found.role)}{code}.")
        with st.container(horizontal=True):
            if not (provider.in_use() or session.alone()):
                with st.popover("PIN"):
                    _new_pin()
            st.button(
                "Sign out", key=ReviewKey.SIGN_OUT, on_click=provider.leave if provider.in_use() else session.forget
            )


def _form(*, with_pin: bool = True) -> None:
    with st.container(border=with_pin, width=460):
        role = st.radio("I am the", ROLES, key=ReviewKey.SIGN_ROLE, format_func=_role_words)
        if role == READER:
            st.text_input("Reader code (never a name)", key=ReviewKey.SIGN_CODE, max_chars=12)
        if with_pin:
            st.text_input("PIN", key=ReviewKey.SIGN_PIN, type="password")
        st.button("Sign in", key=ReviewKey.SIGN_IN, type="primary", on_click=_enter)
        problem = st.session_state.pop("sign_in_problem", None)
        if problem:
            st.error(layout.plain(problem))


def _enter() -> None:
    state = st.session_state
    role, code = str(state.get(ReviewKey.SIGN_ROLE)), str(state.get(ReviewKey.SIGN_CODE) or "").strip()
    try:
        session.enter(role, code, str(state.get(ReviewKey.SIGN_PIN) or ""))
    except AuditError as error:
        state["sign_in_problem"] = str(error)


def _new_pin() -> None:
    with st.form("own_pin", border=False, clear_on_submit=True):
        old = st.text_input("PIN until now", key=ReviewKey.PIN_OLD, type="password")
        new = st.text_input("New PIN", key=ReviewKey.PIN_NEW, type="password", help="4 signs or more.")
        if st.form_submit_button("Change the PIN", key=ReviewKey.PIN_CHANGE):
            try:
                session.change_pin(old, new)
            except AuditError as error:
                st.error(layout.plain(error))
            else:
                st.success("The PIN is changed.")

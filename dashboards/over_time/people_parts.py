"""Who may sign in: the lead makes readers and viewers known and gives a forgotten PIN anew."""

from collections.abc import Callable

import streamlit as st

from audit.errors import AuditError
from audit.people import accounts
from audit.people.permissions import READER, VIEWER, Deed
from audit.tables.meeting import PEOPLE
from dashboards import layout, provider, session
from dashboards.keys import ReviewKey
from dashboards.signed_in import database

_CODE, _ROLE = ReviewKey.PERSON_CODE, ReviewKey.PERSON_ROLE


def people() -> None:
    """The list, and a form for each of the two; a PIN is shown once and never stored as it stands."""
    if provider.in_use():
        st.write("Who signs in, and as what, is said by the hospital's identity provider and the table `[access]`.")
        return
    if session.alone():
        st.write("This unit is one person's, without passwords. `intrapartum-audit dashboard --sign-in` ends that.")
    known = accounts.known(database())
    layout.table(PEOPLE.filled(known))
    st.caption("The lead and the chair are made, and given a PIN, on the machine: `intrapartum-audit account lead`.")
    with st.form("person_new", border=True, clear_on_submit=True):
        role = st.radio("Make known", (READER, VIEWER), key=_ROLE, horizontal=True, format_func=layout.own(str))
        code = st.text_input("Reader code (never a name)", key=_CODE, max_chars=12)
        if st.form_submit_button("Make known", key=ReviewKey.PERSON_ADD):
            _tell(lambda who: accounts.make(database(), role, code.strip(), who=who))
    own = [row["code"] for row in known if row["role"] in (READER, VIEWER)]
    if own:
        with st.form("person_reset", border=True):
            chosen = st.selectbox("PIN forgotten by", own, key=ReviewKey.PERSON_RESET_CODE)
            if st.form_submit_button("Give a new PIN", key=ReviewKey.PERSON_RESET):
                _tell(lambda who: accounts.reset_pin(database(), chosen, who=who))


def _tell(done: Callable[[str], str]) -> None:
    try:
        pin = done(session.who(Deed.KEEP_PEOPLE))
    except AuditError as error:
        st.error(layout.plain(error))
    else:
        st.success(f"The PIN is {pin}. It is shown this once: write it down for its owner, who can change it.")

"""The part of the Case page that prints the case."""

import streamlit as st

from audit.pack.feedback import feedback_pdf
from audit.pack.one_case import case_pdf
from audit.people.permissions import Deed
from dashboards import data, session
from dashboards.signed_in import database


def print_case(case_id: str) -> None:
    """The case on two pages, and the sheet for its team, without the outcome, for whoever may make packs."""
    if not session.may(Deed.MAKE_PACK):
        return

    def made() -> bytes:
        found = data.copy()
        return b"" if found is None else case_pdf(database(), found, case_id)

    st.download_button(
        "This case on two pages (PDF)",
        data=session.held(Deed.MAKE_PACK, made),
        file_name="case.pdf",
        mime="application/pdf",
        key="case_print",
        on_click="ignore",
        type="tertiary",
        help="The bare strip of the concern, then what was found, with lines to write on. Without the outcome.",
    )

    def feedback() -> bytes:
        found = data.copy()
        return b"" if found is None else feedback_pdf(database(), found, case_id)

    st.download_button(
        "Feedback sheet for the team (PDF)",
        data=session.held(Deed.MAKE_PACK, feedback),
        file_name="feedback.pdf",
        mime="application/pdf",
        key="case_feedback",
        on_click="ignore",
        type="tertiary",
        help="What was seen when, what was good, what to learn. Nobody named, no outcome, no grade.",
    )

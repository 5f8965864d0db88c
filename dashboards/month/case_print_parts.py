"""The part of the Case page that prints the case."""

from collections.abc import Callable
from pathlib import Path

import streamlit as st

from audit.pack.feedback import feedback_pdf
from audit.pack.one_case import case_pdf
from audit.people.permissions import Deed
from audit.store.published import Source
from dashboards import data, session
from dashboards.signed_in import database


def print_case(case_id: str) -> None:
    """The case on two pages, and the sheet for its team, without the outcome, for whoever may make packs."""
    if not session.may(Deed.MAKE_PACK):
        return
    _button(
        "This case on two pages (PDF)",
        "case",
        case_id,
        case_pdf,
        "The bare strip of the concern, then what was found, with lines to write on. Without the outcome.",
    )
    _button(
        "Feedback sheet for the team (PDF)",
        "feedback",
        case_id,
        feedback_pdf,
        "What was seen when, what was good, what to learn. Nobody named, no outcome, no grade.",
    )


def _button(label: str, name: str, case_id: str, printed: Callable[[Path, Source, str], bytes], tip: str) -> None:
    """What is printed is made when somebody takes it."""

    def made() -> bytes:
        found = data.copy()
        return b"" if found is None else printed(database(), found, case_id)

    st.download_button(
        label,
        data=session.held(Deed.MAKE_PACK, made),
        file_name=f"{name}.pdf",
        mime="application/pdf",
        key=f"case_{name}",
        on_click="ignore",
        type="tertiary",
        help=tip,
    )

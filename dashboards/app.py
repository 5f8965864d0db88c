"""The frame of the dashboard: the menu from the register, and the page that was asked for."""

import sys
from pathlib import Path

import streamlit as st

_FOLDER = Path(__file__).resolve().parent
if str(_FOLDER.parent) not in sys.path:
    sys.path.insert(0, str(_FOLDER.parent))

from audit import logs, paths  # noqa: E402 - the path above must be set first
from dashboards import data  # noqa: E402 - as above
from dashboards.layout import apply  # noqa: E402 - as above
from dashboards.register import FIRST, SECTIONS  # noqa: E402 - as above


def main() -> None:
    """Draw the frame and the page that was asked for."""
    paths.files_for_owner_only()
    st.set_page_config(page_title="Intrapartum audit", layout="wide", initial_sidebar_state="auto")
    apply()
    if db := data.database():
        # the library catches what a page or a click raises and says so there
        logs.keep(db, also=["streamlit.error_util"])
    pages = {
        section: [st.Page(_FOLDER / page.file, title=page.title, default=page is FIRST) for page in entries]
        for section, entries in SECTIONS.items()
    }
    st.navigation(pages).run()


main()

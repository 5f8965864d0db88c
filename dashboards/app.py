"""The frame of the dashboard: the menu from the register, and the page that was asked for, if it is for this role."""

import sys
from contextlib import suppress
from pathlib import Path
from typing import Literal

import streamlit as st

_FOLDER = Path(__file__).resolve().parent
if str(_FOLDER.parent) not in sys.path:
    sys.path.insert(0, str(_FOLDER.parent))

from dashboards import warmed  # noqa: E402 - the path above must be set first

warmed.wait()
from audit import house_style, logs, paths  # noqa: E402 - as above
from audit.errors import AuditError, NotAllowedError  # noqa: E402 - as above
from dashboards import data, narrow, place, settled, signed_in  # noqa: E402 - as above
from dashboards import house_style as pages_style  # noqa: E402 - as above
from dashboards.layout import apply, plain  # noqa: E402 - as above
from dashboards.register import FIRST, PAGES, SECTIONS, Page  # noqa: E402 - as above


def main() -> None:
    """Draw the frame and the page that was asked for. No page runs before `admit` has let it."""
    paths.files_for_owner_only()
    st.set_page_config(page_title="Intrapartum audit", layout="wide", initial_sidebar_state="auto")
    apply()
    pages_style.follow()
    if db := data.database():
        with suppress(AuditError):  # the page says what is wrong with the settings
            house_style.use(house_style.of(place.settings(db).locale))
        # the library catches what a page or a click raises and says so there
        logs.keep(db, also=["streamlit.error_util"])
    shown = signed_in.pages_shown()
    chosen = st.navigation(
        {section: [_made(page, page in shown) for page in entries] for section, entries in SECTIONS.items()},
        expanded=True,  # every page of the menu, also above who is signed in
    )
    signed_in.admit(next(page for page in PAGES if page.title == chosen.title))
    narrow.watch()
    try:
        chosen.run()
    except NotAllowedError as error:
        st.error(plain(error))
    settled.after_run(chosen.title)


def _made(page: Page, shown: bool) -> st.Page:
    # every page keeps its address; the menu shows those that are for who is there
    visibility: Literal["visible", "hidden"] = "visible" if shown else "hidden"
    return st.Page(_FOLDER / page.file, title=page.title, default=page is FIRST, visibility=visibility)


main()

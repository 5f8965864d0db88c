"""The register of pages. To add one, write `dashboards/views/NAME.py` and add a line to PAGES."""

import sys
from pathlib import Path

import streamlit as st

_HOME = str(Path(__file__).resolve().parent.parent)
if _HOME not in sys.path:
    sys.path.insert(0, _HOME)

from dashboards.style import apply  # noqa: E402 - the path above must be set first

# section -> (file under views/, title); the first page is where the dashboard opens
PAGES: dict[str, list[tuple[str, str]]] = {
    "The month": [
        ("this_month.py", "This month"),
        ("cases_to_discuss.py", "Cases to discuss"),
        ("case.py", "Case"),
        ("response_times.py", "Response times"),
    ],
    "Reading": [
        ("read_strips.py", "Read strips"),
        ("reader_agreement.py", "Reader agreement"),
    ],
    "The meeting": [
        ("meeting.py", "Meeting"),
        ("actions.py", "Actions"),
        ("meeting_pack.py", "Meeting pack"),
    ],
    "Over time": [
        ("trends.py", "Trends"),
        ("data_quality.py", "Data quality"),
    ],
}


def main() -> None:
    """Draw the frame and the page that was asked for."""
    st.set_page_config(page_title="Intrapartum audit", layout="wide", initial_sidebar_state="auto")
    apply()
    folder = Path(__file__).resolve().parent / "views"
    first = next(iter(PAGES.values()))[0][0]
    pages = {
        section: [st.Page(folder / file, title=title, default=file == first) for file, title in entries]
        for section, entries in PAGES.items()
    }
    st.navigation(pages).run()


main()

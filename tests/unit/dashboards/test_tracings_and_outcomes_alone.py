"""Where a unit gives tracings and outcomes alone, no page shows a box of what it did not give.

Our own promise, no published source: every further input is optional, and what is not there shows nothing.
"""

import pytest

from audit.people import agenda
from audit.store import database, published
from tests.page_databases import small_database

pytestmark = pytest.mark.slow  # pages run by run

# everything of a page that opens, is chosen or is switched on: what its first inputs need and no more
SHOWN = {
    "this_month": {"The minutes behind the bars"},
    "cases_to_discuss": {"Every reason with its points, as a table", "Show reasons that tell the outcome"},
    "case": {"Burden", "10-minute segments", "Decelerations", "Reads side by side", "Care events", "The case"},
    "response_times": set(),
    "meeting": {
        "Finding", "Issues", "Actions", "Take back", "The measure that it should move",
        "Agree on category, minutes and acts", "Strike out or add an event",
    },
    "trends": {"What it counts, and the figures", "Show measures of newborns' outcomes"},
}  # fmt: skip
# headings and words of what staff recorded, the unit counted, the family asked, bands and acts
OF_OPTIONAL_INPUTS = (
    "Where the time went", "Recorded at the time", "Oxytocin", "Did the act help", "family", "Shares of the unit's",
    "own counts", "Risk factors", "auscultat", "by band", "Good care", "assessment",
)  # fmt: skip


@pytest.fixture
def bare(databases, tmp_path):
    """Tracings, cases and outcomes of the small unit, without events and reads, a case on the agenda."""
    db = databases["bare"] = small_database(tmp_path)
    with database.open_for_writing(db) as con:
        for table in ("care_events", "reads", "window_categories", "second_readings", "second_reading_lane"):
            con.execute(f"delete from {table}")
        nothing = "response_s = null, response_event = null, minutes_to_response = null, status = 'none_recorded'"
        con.execute(f"update responses set {nothing}, escalation_s = null, escalation_event = null")
    published.required(db)
    agenda.add(db, "2031-04", "C-001", who="lead")
    return db


@pytest.mark.parametrize("name", SHOWN)
def test_a_page_shows_no_box_of_an_input_that_is_not_there(open_page, bare, name):
    page = open_page("bare", name, **({"case": "C-001"} if name == "case" else {}))
    if name != "case" and page.selectbox and page.selectbox[0].key == "period":
        page.selectbox(key="period").set_value("2031-04").run()
    if name == "meeting":
        page.segmented_control(key="meeting_step_C-001").set_value("2 Clock").run()
    assert not page.exception
    opened = {each.label for each in [*page.tabs, *page.expander, *page.toggle] if not each.label.startswith("All ")}
    assert opened == SHOWN[name]
    texts = [each.value for each in [*page.header, *page.subheader, *page.caption, *page.info, *page.warning]]
    told = " ".join([*texts, *opened, *(each.label for each in page.selectbox)])
    assert [word for word in OF_OPTIONAL_INPUTS if word.lower() in told.lower()] == []
    facts = [str(table.value) for table in page.dataframe if "fact" in table.value]
    assert not any("risk" in text.lower() or "language" in text.lower() for text in facts)

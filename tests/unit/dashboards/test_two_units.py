"""The pages on a database of two units: the choice beside the menu, and every page for each unit and for all.

Which case is whose is written below; common practice, no source.
"""

from pathlib import Path

import pytest

from audit.people import agenda
from audit.store import database, published
from dashboards.keys import Key
from dashboards.register import MEETING, PAGES
from dashboards.unit_data import ALL_UNITS
from tests.unit.dashboards.conftest import go

pytestmark = pytest.mark.slow  # every page is opened three times

# of the small database: April's first two labours and May's first; and one of each
CASES = {"U1": {"C-001", "C-002", "C-004"}, "U2": {"C-003", "C-005"}}


@pytest.fixture
def two_units(databases):
    """The small database parted between U1 and U2, a case of U1 on April's agenda."""
    db = databases["small"]
    with database.open_for_writing(db) as con:
        for unit, cases in CASES.items():
            con.execute("update cases set unit = ? where list_contains(?, case_id)", [unit, sorted(cases)])
    published.required(db)
    agenda.add(db, "2031-04", "C-001", who="lead")
    return db


def texts(page):
    shown = (page.markdown, page.caption, page.info, page.warning, page.error, page.header)
    return " ".join(item.value for items in shown for item in items).replace("\\", "")


def cases_shown(page):
    """Case ids in the tables and choices of a page."""
    cells = [str(cell) for table in page.dataframe for column in table.value for cell in table.value[column]]
    options = [str(option) for box in page.selectbox for option in box.options]
    return {case for cases in CASES.values() for case in cases if any(case in text for text in (*cells, *options))}


def test_every_page_opens_for_each_unit_and_for_all_and_says_what_is_of_all(two_units, open_page):
    session = open_page("small", "this_month")
    for unit in (ALL_UNITS, "U1", "U2"):
        choice = session.sidebar.selectbox(key=Key.UNIT)
        assert choice.options == ["all units", "U1", "U2"]
        choice.set_value(unit).run()
        for page in PAGES:
            shown = go(session, Path(page.file).stem)
            where = (unit, page.title)
            assert shown.title[0].value == page.title, where
            assert shown.sidebar.selectbox(key=Key.UNIT).value == unit, where
            said = f"{page.of_all_units} belong to all units together"
            assert (said in texts(shown)) == (page.of_all_units is not None and unit != ALL_UNITS), where
            if unit != ALL_UNITS and page.of_all_units is None:
                assert cases_shown(shown) <= CASES[unit], where


def test_a_case_of_another_unit_on_the_agenda_is_said_to_be_one(two_units, open_page):
    session = open_page("small", "meeting", unit="U2", period="2031-04")
    assert "belong to all units together" in texts(session)
    assert "C-001 is of another unit than the one chosen" in texts(session)
    session.sidebar.selectbox(key=Key.UNIT).set_value(ALL_UNITS).run()
    assert session.title[0].value == MEETING.title
    assert "of another unit" not in texts(session)


def test_one_unit_has_no_choice(open_page):
    session = open_page("small", "meeting")
    assert not [box for box in session.sidebar.selectbox if box.key == Key.UNIT]
    assert "belong to all units" not in texts(session)

"""The page The unit: what is in force, and where it leaves a published table."""

import pytest

from audit.settings import UNIT_FILE_NAME, load_settings
from dashboards.keys import Key
from tests.page_databases import small_database

pytestmark = pytest.mark.slow  # a page run by run; that each page opens is in the quick part


def texts(page):
    """What stands on the page, without the signs that keep text from being taken for formatting."""
    return " ".join(block.value for block in [*page.markdown, *page.caption, *page.info]).replace("\\", "")


def table_with(page, column):
    return next(table.value for table in page.dataframe if column in table.value)


def test_as_packaged_it_says_so(open_page):
    page = open_page("small", "the_unit")
    shown = texts(page)
    assert load_settings().sha256 in shown
    assert "everything is as packaged" in shown
    assert "Departures from the published tables of the standards: none." in shown
    page.selectbox(key=Key.UNIT_STANDARD).set_value("nice-ng229").run()
    assert not page.exception
    table = table_with(page, "published")
    # NICE NG229, table of features: a baseline above 160 bpm is red
    row = table[table["name"] == "baseline_red_high"].iloc[0]
    assert (row["in_force"], row["published"], row["departs"]) == ("> 160", "> 160", "no")
    assert set(table_with(page, "target_minutes")["standard"]) == {"NICHD 2008", "FIGO 2015", "NICE NG229"}


def test_a_units_own_settings_and_departures_are_shown(databases, open_page, tmp_path, monkeypatch):
    db = small_database(tmp_path)
    (tmp_path / UNIT_FILE_NAME).write_text(
        '[nice-ng229]\nbaseline_red_high = "> 165"\n[locale]\npaper = "us-letter"\n', encoding="utf-8"
    )
    monkeypatch.setitem(databases, "own", db)
    page = open_page("own", "the_unit")
    own = table_with(page, "packaged").set_index("key")
    assert own.loc["nice-ng229.baseline_red_high"].tolist() == ["> 165", "> 160"]
    assert own.loc["locale.paper"].tolist() == ["us-letter", "a4"]
    assert "> 165 bpm in force, > 160 published (NG229, table of features)" in texts(page)


@pytest.mark.parametrize("kind", ["none", "empty"])
def test_without_a_database_or_an_analysis_it_opens(open_page, kind):
    assert texts(open_page(kind, "the_unit"))

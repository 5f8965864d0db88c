"""Every page of the register opens on empty, small, odd and missing databases, signed in and not.

The pages are taken from the register: a new one is opened here without being named.
"""

import json
import re
from pathlib import Path

import pytest

from audit.glossary import explained, terms
from audit.people import access
from dashboards.register import ACTIONS, CASE, IMPORT, MEETING, MEETING_PACK, PAGES, READ_STRIPS, READER_AGREEMENT
from tests import page_databases
from tests.unit.dashboards.conftest import go

pytestmark = pytest.mark.slow

NAMES = [Path(page.file).stem for page in PAGES]
# show what people wrote, the samples themselves, or reads: no figure of a run of the analysis heads them
WITHOUT_A_RUN = {IMPORT, CASE, READ_STRIPS, READER_AGREEMENT, MEETING, ACTIONS, MEETING_PACK}


# a word as it is stored; names of a file's columns, of settings and in the log stand as they are written there
STORED = re.compile(r"\b[a-z]+(?:_[a-z0-9]+)+\b")
AS_WRITTEN = {("Data quality", "column_name"), ("The unit", "name"), ("Actions", "new"), ("Actions", "old")}


def stored_words(page, title):
    tables = [(column, table.value[column]) for table in page.dataframe for column in table.value]
    cells = [str(cell) for column, cells in tables if (title, column) not in AS_WRITTEN for cell in cells]
    return STORED.findall(" ".join([*cells, re.sub("`[^`]*`", "", words(page))]))


def words(page):
    shown = [*page.markdown, *page.caption, *page.info, *page.warning, *page.error, *page.success]
    return " ".join(item.value for item in shown)


def unexplained(shown, page):
    """Terms of the glossary that stand on a page, in its text or above its tables, and are not explained on it."""
    here = explained(page.words)
    assert here in [item.value for item in shown.markdown] or not page.words
    headings = [json.dumps(table.proto.columns) for table in shown.dataframe]
    headers = [item.value for item in shown.header]
    text = " ".join([words(shown).replace(here, ""), *headers, *headings]).lower()
    return [
        term.name
        for term in terms()
        if term.group not in page.words
        and any(re.search(rf"\b{re.escape(form.lower())}\b", text) for form in (term.name, *term.forms))
    ]


@pytest.mark.parametrize("kind", ["small", "empty", "odd"])
def test_pages_open_with_their_caution_and_imported_text_is_never_markup(sessions, kind):
    found = []
    for state, session in sessions(kind):
        for page in PAGES:
            shown, where = go(session, Path(page.file).stem), (state, page.title)
            assert shown.title[0].value == page.title, where
            cautions = [text.value for text in shown.caption if "not a medical device" in text.value]
            assert len(cautions) == 1, where
            assert "Not for care in progress" in cautions[0], where
            for markup in ("<b>", "[x](http", "<script>"):
                assert markup not in words(shown), where
            assert stored_words(shown, page.title) == [], where
            if kind == "small" and state == "alone":
                found += [(page.title, name) for name in unexplained(shown, page)]
            if kind == "small" and state == "alone" and page not in WITHOUT_A_RUN:
                assert any("run 00001-abcdef01, settings" in text.value for text in shown.caption), where
    assert not found, "; ".join(map(str, found))


def test_without_a_database_a_page_says_how_to_make_one_and_asks_for_nothing(sessions):
    ((state, session),) = sessions("none")
    assert state == "not signed in"
    for name in NAMES:
        shown = go(session, name)
        assert shown.title[0].value, name
        if name == Path(IMPORT.file).stem:  # the first files may come this way, from who belongs here
            assert not shown.get("file_uploader")
            assert "nobody has chosen who uses it" in words(shown)
            continue
        assert "intrapartum-audit import" in shown.info[0].value, name
        assert "intrapartum-audit demo" in shown.info[0].value, name


def test_the_first_files_can_be_handed_over_before_there_is_a_database(open_page, databases):
    access.choose(databases["none"], single_user=True)
    assert open_page("none", "take_in").get("file_uploader")


def test_a_settings_file_that_was_spoilt_while_the_pages_are_open_is_said(open_page, databases, tmp_path):
    databases["spoilt"] = page_databases.small_database(tmp_path)
    (tmp_path / "unit_settings.toml").write_text('[nichd-2008]\ntachycardia = "160"\n')
    page = open_page("spoilt", "response_times")
    assert "tachycardia" in page.info[0].value
    assert not page.metric

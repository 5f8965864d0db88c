"""Every page of the register opens on empty, small, odd and missing databases, signed in and not.

The pages are taken from the register: a new one is opened here without being named.
"""

from pathlib import Path

import pytest

from dashboards.register import ACTIONS, CASE, IMPORT, MEETING, MEETING_PACK, PAGES, READ_STRIPS, READER_AGREEMENT
from tests import page_databases

EVERY = pytest.mark.parametrize("name", [Path(page.file).stem for page in PAGES])
# show what people wrote, the samples themselves, or reads: no figure of a run of the analysis heads them
WITHOUT_A_RUN = {IMPORT, CASE, READ_STRIPS, READER_AGREEMENT, MEETING, ACTIONS, MEETING_PACK}


def words(page):
    shown = [*page.markdown, *page.caption, *page.info, *page.warning, *page.error, *page.success]
    return " ".join(item.value for item in shown)


@EVERY
@pytest.mark.parametrize(
    ("kind", "in_roles"),
    [
        ("small", False),
        *(pytest.param(kind, True, marks=pytest.mark.slow) for kind in ("small", "none", "empty", "odd")),
    ],
)
def test_a_page_opens_with_its_caution_and_imported_text_is_never_markup(states, kind, in_roles, name):
    for state, page in states(kind, name, in_roles=in_roles):
        assert page.title[0].value, state
        cautions = [text.value for text in page.caption if "not a medical device" in text.value]
        assert len(cautions) == 1, state
        assert "Not for care in progress" in cautions[0]
        shown = words(page)
        for markup in ("<b>", "[x](http", "<script>"):
            assert markup not in shown, state


@EVERY
def test_without_a_database_a_page_says_how_to_make_one_and_asks_for_nothing(states, name):
    ((state, page),) = states("none", name)
    assert state == "not signed in"
    assert "intrapartum-audit import" in page.info[0].value
    assert "intrapartum-audit demo" in page.info[0].value


@pytest.mark.parametrize("name", [Path(page.file).stem for page in PAGES if page not in WITHOUT_A_RUN])
def test_a_page_says_which_run_its_figures_come_from(open_page, name):
    page = open_page("small", name)
    assert any("run 00001-abcdef01, settings" in text.value for text in page.caption)


def test_a_settings_file_that_was_spoilt_while_the_pages_are_open_is_said(open_page, databases, tmp_path):
    databases["spoilt"] = page_databases.small_database(tmp_path)
    (tmp_path / "unit_settings.toml").write_text('[nichd-2008]\ntachycardia = "160"\n')
    page = open_page("spoilt", "response_times")
    assert "tachycardia" in page.info[0].value
    assert not page.metric

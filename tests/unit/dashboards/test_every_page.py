"""Every page opens on empty, small, odd and missing databases, with a caution and readable sentences."""

from pathlib import Path

import pytest

from dashboards.register import PAGES

NAMES = [Path(page.file).stem for page in PAGES]
OURS = ["this_month", "cases_to_discuss", "case", "response_times", "trends", "data_quality"]


def test_our_pages_are_in_the_register():
    assert set(OURS) <= set(NAMES)


@pytest.mark.parametrize("name", OURS)
@pytest.mark.parametrize("kind", ["none", "empty", "small", "odd"])
def test_a_page_opens_with_its_caution(open_page, kind, name):
    page = open_page(kind, name)
    assert page.title[0].value
    cautions = [text.value for text in page.caption if "not a medical device" in text.value]
    assert len(cautions) == 1
    assert "Not for care in progress" in cautions[0]


@pytest.mark.parametrize("name", OURS)
def test_without_a_database_a_page_says_how_to_make_one(open_page, name):
    page = open_page("none", name)
    assert "intrapartum-audit import" in page.info[0].value
    assert "intrapartum-audit demo" in page.info[0].value


@pytest.mark.parametrize("name", OURS)
def test_imported_text_is_never_markup(open_page, name):
    page = open_page("odd", name)
    shown = " ".join(item.value for item in [*page.markdown, *page.caption, *page.info, *page.warning])
    assert "<b>" not in shown
    assert "[x](http" not in shown
    assert "<script>" not in shown


@pytest.mark.parametrize("name", [name for name in OURS if name != "case"])
def test_a_page_says_which_run_its_figures_come_from(open_page, name):
    page = open_page("small", name)
    assert any("run 00001-abcdef01, settings" in text.value for text in page.caption)

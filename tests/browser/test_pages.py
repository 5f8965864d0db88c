"""Every page in a real browser: drawn without an error, without an outside request, at a wide and a narrow width."""

import pytest

PAGES = {
    "": "This month", "cases_to_discuss": "Cases to discuss", "case": "Case", "response_times": "Response times",
    "trends": "Trends", "data_quality": "Data quality",
}  # fmt: skip


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("width", [1400, 640])
def test_a_page_is_drawn_without_error_or_outside_request(visit, small, path, width):
    page = visit(width).open(f"{small}/{path}")
    assert page.tab.locator("h1").inner_text() == PAGES[path]
    page.picture(f"small_{path or 'this_month'}")
    page.check()
    # nothing but the strip's own pane may be wider than the window
    assert page.tab.evaluate("() => document.documentElement.scrollWidth <= window.innerWidth")


@pytest.mark.parametrize("path", PAGES)
def test_a_page_copes_with_odd_data(visit, odd, path):
    page = visit().open(f"{odd}/{path}")
    page.picture(f"odd_{path or 'this_month'}")
    page.check()
    # imported text stayed text
    assert page.tab.locator("a[href*='example.org']").count() == 0
    assert page.tab.locator("[data-testid=stMain] b").count() == 0


def test_without_a_database_a_page_says_what_to_do(visit, nothing):
    page = visit().open(nothing)
    assert "intrapartum-audit import" in page.tab.locator("[data-testid=stAlert]").inner_text()
    page.picture("nothing")
    page.check()


def test_navigation_goes_from_page_to_page(visit, small):
    page = visit().open(small)
    page.tab.get_by_role("link", name="Cases to discuss").first.click()
    page.settle()
    page.tab.get_by_role("link", name="Open C-", exact=False).first.click()
    page.settle()
    assert page.tab.locator("h1").inner_text() == "Case"
    assert "case=C-00" in page.tab.url
    page.check()

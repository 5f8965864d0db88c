"""The pages on which people write, in a real browser at a wide and a narrow width: no error, nothing from outside."""

import pytest

from audit.people import agenda, batches
from audit.people.batches import Plan, Window
from tests import page_databases

PAGES = {
    "read_strips": ("Read strips", "reader"),
    "reader_agreement": ("Reader agreement", None),
    "meeting": ("Meeting", "chair of the meeting"),
    "actions": ("Actions", "review lead"),
    "meeting_pack": ("Meeting pack", None),
}


@pytest.fixture(scope="module")
def written(serve, tmp_path_factory):
    db = page_databases.small_database(tmp_path_factory.mktemp("written"))
    agenda.add(db, "2031-04", "C-001", who="lead", question="_Was_ the *call* early <b>enough</b>?")
    agenda.add(db, "2031-05", "C-004", who="lead")
    windows = (Window("C-001", "A", 1800.0, 3600.0),)
    batches.make(db, Plan("April", "figo-2015", windows, ("R1",), seed=1), who="lead")
    return serve(db)


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("width", [1400, 640])
def test_a_page_is_drawn_without_error_or_outside_request(visit, written, path, width):
    title, role = PAGES[path]
    page = visit(width).open(f"{written}/{path}")
    assert page.tab.locator("h1").inner_text() == title
    if role:
        page.tab.get_by_text(role, exact=True).click()
        page.settle()
        if role == "reader":
            page.tab.get_by_label("Reader code (never a name)").fill("R1")
            page.tab.keyboard.press("Tab")
            page.settle()
        page.tab.get_by_role("button", name="Sign in").click()
        page.settle()
    page.picture(path)
    page.check()
    # nothing but a strip's own pane may be wider than the window, and entered text stays text
    assert page.tab.evaluate("() => document.documentElement.scrollWidth <= window.innerWidth")
    assert page.tab.locator("[data-testid=stMain] b").count() == 0
    assert page.tab.locator("[data-testid=stMain] em").count() == 0

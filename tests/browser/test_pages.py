"""Every page of the register in a real browser, signed in and not, in a wide and a narrow window, under axe-core.

The pages are taken from the register: a new one is opened here without being named. Drawn without an error, without an
outside request, no wider than the window, and what was imported or typed in stays text. A page is opened once, and its
window then made narrow: opening it takes longer than all that is asked of it.
"""

from pathlib import Path

import pytest

from audit.pack.own_process import folder_of
from audit.people import agenda, batches
from audit.people.batches import Plan, Window
from audit.people.permissions import ROLES, may
from dashboards.register import CASE, CASES_TO_DISCUSS, FIRST, PAGES, READ_STRIPS
from tests import page_databases
from tests.browser.axe import findings


def path_of(page):
    """The page's address below the server's; the first page stands at the root."""
    return "" if page is FIRST else Path(page.file).stem


@pytest.fixture(scope="module")
def written(serve, tmp_path_factory):
    """The small database with an agenda and an open batch."""
    db = page_databases.small_database(tmp_path_factory.mktemp("written"))
    agenda.add(db, "2031-04", "C-001", who="lead", question="_was_ the *call* early <b>enough</b>?")
    agenda.add(db, "2031-05", "C-004", who="lead")
    windows = (Window("C-001", "A", 1800.0, 3600.0),)
    batches.make(db, Plan("April", "figo-2015", windows, ("R1",), seed=1), who="lead")
    return serve(db)


def looked_at(page, entry, name):
    assert page.tab.locator("h1").inner_text() == entry.title
    page.picture(name)
    page.check()
    # nothing but a strip's own pane may be wider than the window
    assert page.tab.evaluate("() => document.documentElement.scrollWidth <= window.innerWidth")
    # imported and entered text stays text
    assert page.tab.locator("[data-testid=stMain] b").count() == 0
    assert page.tab.locator("[data-testid=stMain] em").count() == 0
    assert page.tab.locator("a[href*='example.org']").count() == 0


def turned_to(page, entry):
    """By the menu: who signed in stays so, which an address typed anew would end."""
    page.open_menu()
    page.tab.get_by_test_id("stSidebarNav").get_by_role("link", name=entry.title, exact=True).click()
    page.settle()
    page.close_menu()
    page.tab.locator("h1").get_by_text(entry.title, exact=True).wait_for()
    return page


def looked_at_alone(visit, address, kind, *, by_address=False):
    """Each page for the one person of a unit, who sees what the lead sees.

    By the menu, or each by its own address, as from a link, narrow too and under axe-core.
    """
    alone = visit().open(address)
    for entry in PAGES:
        page = alone.open(f"{address}/{path_of(entry)}") if by_address else turned_to(alone, entry)
        looked_at_wide_and_narrow(page, entry, f"{kind}_{Path(entry.file).stem}", also_narrow=by_address)
        if by_address:
            page.resize(1280)
            assert findings(page) == [], entry.title
            page.tab.get_by_role("button", name="Terms").click(trial=True)  # nothing lies over it
            page.resize(1400)
    return alone


def looked_at_in_every_other_role(visit, address, roles, kind, *, narrow):
    """Each page in one session a role, by the menu; those in `narrow` at 640 pixels too."""
    assert len(roles) == len(ROLES)
    for role, words in zip(ROLES, roles, strict=True):
        seen = [entry for entry in PAGES if may_see(role, entry)]
        # whom a page is not for is tried without a browser
        if role == "lead" or not seen:
            continue
        signed = visit().open(address)
        signed.sign_in(words, "R1" if role == "reader" else "")
        assert signed.roles_on_offer() == [], role
        for entry in seen:
            name = f"{kind}_{Path(entry.file).stem}_{role}"
            looked_at_wide_and_narrow(turned_to(signed, entry), entry, name, also_narrow=entry in narrow)


def looked_at_wide_and_narrow(page, entry, name, *, also_narrow):
    looked_at(page, entry, name)
    if also_narrow:
        page.resize(640)
        looked_at(page, entry, name)
        page.resize(1400)


def may_see(role, entry):
    return any(may(role, deed) for deed in entry.deeds)


def test_the_pages_are_drawn_without_error_or_outside_request_and_stand_in_nobodys_way(visit, written):
    alone = looked_at_alone(visit, written, "small", by_address=True)
    # narrow, of the roles only the page that looks otherwise in another role
    looked_at_in_every_other_role(visit, written, alone.roles_on_offer(), "small", narrow=(READ_STRIPS,))


@pytest.mark.parametrize("kind", ["odd", "empty"])
def test_the_pages_cope_with_odd_data_and_with_none(visit, odd, empty, kind):
    """Here for the one person; in every role without a browser (`tests/unit/dashboards/test_every_page.py`)."""
    looked_at_alone(visit, {"odd": odd, "empty": empty}[kind], kind)


def test_without_a_database_the_pages_say_what_to_do(visit, nothing):
    """Here where one arrives and on one page more; on every page in `tests/unit/dashboards/test_every_page.py`."""
    page = visit()
    for entry in (FIRST, CASES_TO_DISCUSS):
        page.open(f"{nothing}/{path_of(entry)}")
        assert "intrapartum-audit import" in page.tab.locator("[data-testid=stAlert]").inner_text(), entry.title
        looked_at(page, entry, f"nothing_{Path(entry.file).stem}")
    assert page.roles_on_offer() == []


def test_navigation_goes_from_page_to_page(visit, small):
    page = visit().open(small)
    page.tab.get_by_role("link", name=CASES_TO_DISCUSS.title).first.click()
    page.settle()
    page.tab.get_by_role("link", name="Open C-", exact=False).first.click()
    page.settle()
    assert page.tab.locator("h1").inner_text() == CASE.title
    assert "case=C-00" in page.tab.url
    page.check()


def test_a_pack_is_taken_away_by_who_may_have_it(visit, serve, tmp_path):
    db = page_databases.small_database(tmp_path)
    folder = folder_of(db) / "2031-05"
    folder.mkdir(parents=True)
    (folder / "pack_2031-05.html").write_text("a month on paper", encoding="utf-8")
    page = visit().open(f"{serve(db)}/meeting_pack")
    page.tab.get_by_text("This text leaves the unit with the pack").wait_for()
    with page.tab.expect_download() as download:
        page.tab.get_by_role("button", name="One HTML file", exact=True).click()
    assert Path(download.value.path()).read_text(encoding="utf-8") == "a month on paper"
    page.sign_in("chair of the meeting")
    with page.tab.expect_download() as download:
        page.tab.get_by_role("button", name="One HTML file", exact=True).click()
    assert Path(download.value.path()).read_text(encoding="utf-8") == "a month on paper"
    page.check()

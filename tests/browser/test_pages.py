"""Every page of the register in a real browser, in a wide and a narrow window, under axe-core.

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
from dashboards.register import CASE, CASES_TO_DISCUSS, FIRST, MEETING, PAGES, READ_STRIPS
from tests import page_databases
from tests.browser.axe import findings
from tests.browser.conftest import HEIGHT


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


def looked_at_alone(visit, address, kind, *, by_address=False):
    """Each page for the one person of a unit, who sees what the lead sees.

    By the menu, or each by its own address, as from a link, narrow too and under axe-core.
    """
    alone = visit().open(address)
    for entry in PAGES:
        name = f"{kind}_{Path(entry.file).stem}"
        if by_address:
            alone.tab.set_viewport_size({"width": 1400, "height": HEIGHT})
            page = alone.open(f"{address}/{path_of(entry)}")
            assert findings(page) == [], entry.title
            page.tab.get_by_role("button", name="Terms").click(trial=True)  # nothing lies over it
            looked_at(page, entry, name)
            page.resize(640)
        else:
            page = alone.turn_to(entry.title)
        looked_at(page, entry, name)
    return alone


def looked_at_in_every_other_role(visit, address, roles, kind):
    """The pages that look otherwise in another role, wide and narrow, in one session a role.

    All pages in every role, and whom a page is not for: without a browser (`tests/unit/dashboards/test_every_page.py`),
    and as the server sends them (`test_roles_by_socket.py`).
    """
    assert len(roles) == len(ROLES)
    for role, words in zip(ROLES, roles, strict=True):
        seen = [entry for entry in (FIRST, READ_STRIPS, MEETING) if may_see(role, entry)]
        if role == "lead" or not seen:
            continue
        signed = visit().open(address)
        signed.sign_in(words, "R1" if role == "reader" else "")
        assert signed.roles_on_offer() == [], role
        for entry in seen:
            name = f"{kind}_{Path(entry.file).stem}_{role}"
            looked_at(signed.turn_to(entry.title), entry, name)
            signed.resize(640)
            looked_at(signed, entry, name)
            signed.resize(1400)
        visit.over(signed)


def may_see(role, entry):
    return any(may(role, deed) for deed in entry.deeds)


def test_the_pages_are_drawn_without_error_or_outside_request_and_stand_in_nobodys_way(visit, written):
    alone = looked_at_alone(visit, written, "small", by_address=True)
    looked_at_in_every_other_role(visit, written, alone.roles_on_offer(), "small")


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

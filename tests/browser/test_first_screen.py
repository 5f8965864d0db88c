"""What a projector of 1280 x 720 shows at once, and what a reader does without a mouse.

A projector of 1280 x 720 is our own choice of the smallest; CSS Values and Units 3: 96 px to the inch of 2.54 cm.
"""

import pytest

from audit.people import agenda, batches, reads
from audit.people.batches import Plan, Window
from tests import page_databases

CM = 96 / 2.54
HEIGHT = 720
# Keystroke-Level Model (Card, Moran and Newell 1980): a key of an average typist, and making up one's mind
KEY_S, MIND_S = 0.28, 1.35


@pytest.fixture(scope="module")
def db(tmp_path_factory):
    db = page_databases.small_database(tmp_path_factory.mktemp("first_screen"))
    agenda.add(db, "2031-05", "C-001", who="lead", question="Was the call early enough for what the tracing showed?")
    agenda.add(db, "2031-05", "C-002", who="lead")
    windows = (Window("C-001", "A", 1800.0, 3600.0), Window("C-002", "A", 1800.0, 3600.0))
    batches.make(db, Plan("April", "figo-2015", windows, ("R1",), seed=1), who="lead")
    return db


@pytest.fixture(scope="module")
def address(serve, db):
    return serve(db)


@pytest.fixture
def projector(visit):
    page = visit(1280)
    page.tab.set_viewport_size({"width": 1280, "height": HEIGHT})
    return page


def feet(page):
    """Where the strip and what stands below it end."""
    page.pause(600)  # the strip's height follows what was drawn around it
    places = {name: page.tab.locator(name).bounding_box() for name in (".stage", ".readout", ".timeline")}
    return {name: box["y"] + box["height"] for name, box in places.items() if box}


@pytest.mark.parametrize("place", ["case?case=C-001", "meeting?case=C-001"])
def test_the_strip_its_readings_and_the_clock_are_on_the_first_screen(projector, address, place):
    page = projector.open(f"{address}/{place}")
    for name in ("Bare", "Findings"):
        page.tab.locator(".viewer").get_by_role("button", name=name, exact=True).click()
        found = feet(page)
        assert max(found.values()) <= HEIGHT, (name, found)
    assert ".timeline" in found
    scrolled = "document.querySelector('[data-testid=stMain]').scrollTop"
    assert page.tab.evaluate(scrolled) == 0
    if place.startswith("meeting"):  # where the whole labour lies below the strip
        page.tab.locator(".viewer").get_by_role("button", name="Bare", exact=True).click()
        page.pause(600)
        box = page.tab.locator(".overview").bounding_box()
        assert box["height"] > 30
        assert box["y"] + box["height"] <= HEIGHT
    else:  # whose full screen is that of the strip alone
        page.tab.locator(".stage").press("f")
        page.pause(600)
        assert max(feet(page).values()) <= HEIGHT
        box = page.tab.locator(".stage canvas").first.bounding_box()
        assert 1200 < box["width"] <= 1280 - box["x"]
        page.tab.locator(".stage").press("f")
    page.check()


def test_the_room_sees_the_whole_screen_and_goes_from_case_to_case_by_key(projector, address):
    page = projector.open(f"{address}/meeting?case=C-001")
    beside = page.tab.locator(".st-key-beside_strip")
    assert "Recorded." in beside.inner_text()
    page.tab.locator(".stage").press("f")
    page.tab.wait_for_function("() => document.fullscreenElement === document.documentElement")
    page.pause(600)
    assert not page.tab.get_by_test_id("stSidebar").is_visible()
    strip, facts = (page.tab.locator(name).bounding_box() for name in (".viewer", ".st-key-beside_strip"))
    assert facts["x"] >= strip["x"] + strip["width"]
    assert facts["y"] < HEIGHT / 2
    page.tab.keyboard.press("Alt+PageDown")
    page.settle()
    page.tab.get_by_role("heading", name="Case 2 of 2: C-002").wait_for()
    assert page.tab.evaluate("() => document.fullscreenElement === document.documentElement")
    # the next strip has the keys at once
    page.tab.keyboard.press("End")
    page.pause(600)
    assert float(page.tab.locator(".viewer").get_attribute("data-start")) > 0
    page.tab.keyboard.press("Alt+PageUp")
    page.settle()
    page.tab.get_by_role("heading", name="Case 1 of 2: C-001").wait_for()
    # a step has an address, and the browser's back button leads through steps and cases
    page.tab.keyboard.press("f")
    page.tab.get_by_text("3 Reads", exact=True).click()
    page.tab.get_by_role("heading", name="Reads side by side").wait_for()
    assert "case=C-001&step=reads" in page.tab.url
    page.tab.evaluate("history.back()")
    page.tab.locator(".stage").wait_for()
    page.tab.evaluate("history.back()")
    page.tab.get_by_role("heading", name="Case 2 of 2: C-002").wait_for()
    page.check()


def test_heart_rate_keeps_a_scale_of_paper_when_the_strip_is_made_to_fit(projector, address):
    page = projector.open(f"{address}/meeting?case=C-001")
    page.tab.locator(".viewer").get_by_role("button", name="Findings", exact=True).click()
    page.pause(600)
    legend = page.tab.locator(".legend").inner_text()
    bpm_per_cm = int(legend.split("1 cm/min, ")[1].split(" ")[0])
    assert bpm_per_cm in (20, 30, 40)
    page.tab.locator(".stage").press("Home")
    stage = page.tab.locator(".stage").bounding_box()
    # two calliper points of which the second lies 1 cm lower
    for lower in (0, CM):
        page.tab.mouse.move(stage["x"] + 300, stage["y"] + 150 + lower)
        page.tab.locator(".stage").press("k")
    text = page.tab.locator(".readout").inner_text()
    assert f"{bpm_per_cm} bpm" in text, text
    page.check()


def test_a_strip_is_read_by_keyboard_alone_in_less_than_half_a_minute_of_handling(projector, address, db):
    page = projector.open(f"{address}/read_strips").sign_in("reader", "R1")
    assert feet(page)[".stage"] <= HEIGHT
    keys, fields = 0, 0

    def press(*names):
        nonlocal keys
        for name in names:
            page.tab.keyboard.press(name)
        keys += len(names)

    def go_to(label):
        """Tab on to a field; its label is its own or that of the group it stands in."""
        nonlocal fields
        fields += 1
        own = "() => document.activeElement.closest('[aria-label]')?.getAttribute('aria-label') ?? ''"
        for _ in range(12):
            if label in page.tab.evaluate(own):
                return
            press("Tab")
        raise AssertionError(f"{label} was not reached; {page.tab.evaluate(own)}")

    press("PageDown", "PageDown")
    page.settle()
    go_to("Baseline")
    press(*"140")
    go_to("Variability")
    press("Space")
    go_to("Accelerations")
    press("Space")
    go_to("Would you act now")
    press("Space")
    go_to("Category")
    press("Space")
    page.settle()
    press("Tab", "Enter")
    page.settle()
    first = batches.strips(db, 1, "R1")[0]["strip_number"]
    saved = reads.latest(db, 1, first, "R1")
    assert (saved.category, saved.baseline_bpm, saved.would_act) == ("normal", 140.0, True)
    assert keys * KEY_S + fields * MIND_S < 30, (keys, fields)
    # and the next one is in view, to be read with the next key
    assert page.tab.evaluate("() => document.querySelector('[data-testid=stMain]').scrollTop") == 0
    before = page.tab.locator(".viewer").get_attribute("data-start")
    press("PageDown")
    assert page.tab.locator(".viewer").get_attribute("data-start") != before
    page.check()


def test_data_quality_shows_the_strip_of_a_tracing_and_what_was_not_used_of_it(projector, address):
    page = projector.open(f"{address}/data_quality")
    page.tab.get_by_role("tab", name="Signal").click()
    choice = page.tab.get_by_label("Strip of a tracing, least signal first").first
    choice.wait_for()
    assert page.tab.locator(".stage").count() == 0
    # the list closes when the chart above is drawn and moves the page under it: opened again, as a person would
    tracing = page.tab.get_by_role("option", name="C-004", exact=False).first
    while not tracing.is_visible():
        choice.click()
        page.pause(1500)
    tracing.click()
    page.tab.locator(".stage canvas").first.wait_for()
    page.tab.locator(".viewer").get_by_role("button", name="Findings", exact=True).click()
    page.pause(600)
    assert page.tab.locator(".stage canvas").first.bounding_box()["width"] > 600
    assert "Strip of case C-004" in page.tab.locator(".stage").get_attribute("aria-label")
    # the strip is no view of its own there: the page's address stays
    assert "case=" not in page.tab.url
    page.check()


def test_tables_fit_the_page_without_a_step_sideways(projector, address):
    """Every table that is in view, the status and the target of concerns among their columns.

    By the menu, which takes along the choice of all months; opening a page takes three times as long.
    """
    page = projector.open(f"{address}/?period=*")
    asked = "() => [...document.querySelectorAll('.dvn-scroller')].map(t => [t.scrollWidth, t.clientWidth])"
    for title in ("This month", "Response times", "Reader agreement", "Data quality", "Trends", "All cases", "Case"):
        if title == "All cases":
            page.open(f"{address}/cases_to_discuss?cases=all&period=*")
        elif title == "Case":
            page.open(f"{address}/case?case=C-001")
        else:
            page.turn_to(title)
            if title != "Trends":  # which is of all months anyway
                assert page.tab.get_by_label("Month of birth", exact=True).input_value() == "all months"
        found = [width for width in page.tab.evaluate(asked) if width[1] > 0]
        assert found, title
        assert all(inside <= seen + 1 for inside, seen in found), (title, found)
        page.check()


def test_terms_are_explained_where_they_stand(projector, address):
    page = projector.open(f"{address}/case?case=C-001")
    page.tab.get_by_role("button", name="Terms").click()
    page.tab.get_by_text("peak to trough").wait_for()
    page.tab.keyboard.press("Escape")
    page.check()


def test_one_click_leads_from_the_month_to_the_concern_on_the_strip(projector, address):
    """Of page_databases: the concern of C-001 could be recognised at 3000 s. It stands within what is shown."""
    page = projector.open(f"{address}/?period=2031-04")
    page.tab.get_by_role("link", name="Open C-001").first.click()  # and no other
    page.tab.locator(".stage canvas").first.wait_for()
    page.settle()
    viewer = page.tab.locator(".viewer")
    start, end = (float(viewer.get_attribute(f"data-{edge}")) for edge in ("start", "end"))
    assert start < 3000 < end, (start, end)
    assert page.tab.locator(".stage").bounding_box()["y"] < HEIGHT / 2
    page.check()


@pytest.mark.parametrize("place", ["trends", "?period=2031-04"])
def test_a_row_of_figures_leads_to_the_cases_behind_it(projector, address, place):
    page = projector.open(f"{address}/{place}")
    what = "What it counts, and the figures" if place == "trends" else "The minutes behind the bars"
    page.tab.get_by_text(what).first.click()
    page.settle()
    table = page.tab.get_by_test_id("stDataFrame").first
    table.scroll_into_view_if_needed()
    box = table.bounding_box()
    page.tab.mouse.click(box["x"] + 16, box["y"] + 52)  # the box of the first row
    page.tab.wait_for_url("**/cases_to_discuss?cases=all**")
    page.settle()
    assert "period=2031-04" in page.tab.url
    page.check()

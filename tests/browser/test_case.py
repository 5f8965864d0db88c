"""The Case page in a real browser: deep link, true scale, steps, findings on and off, readings, callipers, back."""

import pytest

VIEWER, STAGE, READOUT = ".viewer", ".stage", ".readout"
CM = 96 / 2.54  # CSS Values and Units 3: 96 px to the inch of 2.54 cm


def stretch(page):
    """What is in view (s)."""
    page.pause(150)
    found = page.tab.locator(VIEWER).evaluate("one => ({...one.dataset})")
    return float(found["start"]), float(found["end"])


def pane_width(page):
    return page.tab.locator(f"{STAGE} canvas").first.bounding_box()["width"] - 4 - 56 - 14


def press(page, *keys):
    for key in keys:
        page.tab.locator(STAGE).press(key)
    page.pause(400)  # the address and the words follow after a pause


def choose(page, name):
    page.tab.locator(VIEWER).get_by_role("button", name=name, exact=True).click()
    page.pause(400)


def height(page):
    return page.tab.locator(f"{STAGE} canvas").first.bounding_box()["height"]


@pytest.fixture(scope="module")
def page(visit_once, small):
    """One strip, opened once for the tests that ask for it, in their order: the first ones find it as it opens."""
    return visit_once().open(f"{small}/case?case=C-001")


def test_the_cross_hair_reads_everything_at_a_time_by_mouse_and_by_keyboard(page):
    choose(page, "Findings")
    start, end = stretch(page)
    # the late one from 2485 to 2560 s
    box = page.tab.locator(STAGE).bounding_box()
    x = box["x"] + 60 + pane_width(page) * (2522 - start) / (end - start)
    page.tab.mouse.move(x, box["y"] + 200)
    page.pause(100)
    text = page.tab.locator(READOUT).inner_text()
    for part in ("late deceleration", "40 bpm", "75 s", "1600 bpm·s", "35 s", "+30 s", "baseline", "FIGO 2015", "toco"):
        assert part in text, (part, text)
    press(page, "Shift+ArrowRight", "Shift+ArrowLeft")
    assert "late deceleration" in page.tab.locator("#words").inner_text()
    choose(page, "Bare")
    assert "deceleration" not in page.tab.locator(READOUT).inner_text()
    page.check()


def test_findings_are_switched_on_and_off(page):
    bare = height(page)
    assert not page.tab.get_by_text("Layers").is_visible()
    choose(page, "Findings")
    full = height(page)
    assert full > bare + 60  # marks, unused samples and four rows of categories
    assert "late or unanswered" in page.tab.locator("[data-testid=stMain]").inner_text()
    page.picture("case_findings")
    page.tab.get_by_text("Layers").click()
    page.tab.get_by_label("Minute categories").click()
    page.pause(300)
    assert height(page) < full - 50
    choose(page, "Bare")
    assert height(page) == bare
    page.check()


def test_callipers_measure_seconds_beats_and_area(page):
    press(page, "Home", "k", *["ArrowRight"] * 6, "k")
    text = page.tab.locator(READOUT).inner_text()
    assert "30 s" in text
    assert "bpm·s" in text
    page.check()


@pytest.mark.parametrize(("scale", "px_per_min"), [("1 cm/min", CM), ("3 cm/min", 3 * CM)])
def test_the_strip_has_true_scale_and_fits_its_pane(page, scale, px_per_min):
    choose(page, scale)
    start, end = stretch(page)
    assert (end - start) / 60 * px_per_min == pytest.approx(pane_width(page), abs=1)
    wider = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
    assert page.tab.evaluate(wider) <= 0
    page.picture(f"case_scale_{scale[0]}")
    page.check()


def test_pressing_on_the_whole_labour_moves_the_stretch_there(page):
    choose(page, "3 cm/min")
    box = page.tab.locator(".overview").bounding_box()
    page.tab.mouse.click(box["x"] + 60 + (box["width"] - 74) * 20 / 90, box["y"] + 15)
    start, end = stretch(page)
    assert (start + end) / 2 == pytest.approx(1200, abs=20)
    page.check()


def test_steps_ask_the_server_nothing_and_end_at_the_end(page):
    asked = []
    page.tab.on("websocket", lambda socket: asked.append(socket))
    before = len(page.talk._said)
    press(page, "Home", "m", "m", "M")
    assert stretch(page)[0] == 60
    press(page, "End")
    assert stretch(page)[1] == pytest.approx(5400)
    press(page, "PageDown", "PageUp", "3", "+", "-", "b", "n", "c")
    page.pause(500)
    assert page.talk._said[before:] == []
    page.check()


def test_a_ruler_on_the_screen_makes_the_scale_true(page):
    """The last one on this page: what is kept changes every scale of its browser."""
    choose(page, "1 cm/min")
    start, end = stretch(page)
    choose(page, "Calibrate the scale")
    page.tab.get_by_label("Length of the bar on this screen, mm").fill("80")
    page.tab.get_by_role("button", name="Keep for this screen").click()
    page.pause(300)
    longer = stretch(page)
    # what should be 100 mm is 80 mm here, so a centimetre takes 100 / 80 as many pixels
    assert (end - start) / (longer[1] - longer[0]) == pytest.approx(100 / 80, rel=0.01)
    page.check()


def test_a_deep_link_opens_case_and_fetus(visit, small):
    page = visit().open(f"{small}/case?case=C-003&fetus=B")
    assert "C-003" in page.tab.get_by_text("fetus B", exact=False).first.inner_text()
    page.picture("case_C-003_B")
    page.check()


def test_a_case_opens_with_its_concern_in_the_middle_and_every_view_has_an_address(visit, small):
    page = visit().open(f"{small}/case?case=C-001")
    start, end = stretch(page)
    assert (start + end) / 2 == pytest.approx(3000, abs=2)  # recognisable at 00:50
    press(page, "Home")
    assert stretch(page)[0] == 0
    press(page, "ArrowRight", "b", "0")
    address = page.tab.url
    assert "show=findings" in address
    again = visit().open(address)
    assert (
        again.tab.locator(VIEWER).get_by_role("button", name="Findings", exact=True).get_attribute("aria-pressed")
        == "true"
    )
    assert stretch(again) == stretch(page)
    # a page on, where the cross-hair is no longer in view, the address is that of what is shown
    press(page, "1", "Home", "ArrowRight", "End")
    address = page.tab.url
    again = visit().open(address)
    assert stretch(again) == pytest.approx(stretch(page), abs=60)
    page.check()


def test_what_a_strip_opened_at_stays_in_the_middle_of_a_pane_that_changes_until_the_strip_is_moved(visit, small):
    page = visit().open(f"{small}/case?case=C-001")
    for width in (1190, 1280):
        page.tab.set_viewport_size({"width": width, "height": 720})
        assert sum(stretch(page)) / 2 == pytest.approx(3000, abs=2)
    press(page, "ArrowRight")
    moved = stretch(page)[0]
    page.tab.set_viewport_size({"width": 1190, "height": 720})
    assert stretch(page)[0] == pytest.approx(moved, abs=2)
    page.check()


def test_a_mark_is_kept_for_the_others_and_taken_off_again(visit, small):
    page = visit().open(f"{small}/case?case=C-001")
    press(page, "Enter")
    page.tab.get_by_label("What to see here").fill("second look")
    page.tab.get_by_role("button", name="Save the mark").click()
    page.settle()
    other = visit().open(f"{small}/case?case=C-001")
    assert "second look" in other.tab.get_by_label("Go to", exact=True).inner_text()
    press(other, "Home")
    other.tab.get_by_text("Marks on this strip (1)").click()
    other.tab.get_by_role("button", name="C-001 at").click()
    other.settle()
    assert stretch(other) == pytest.approx(stretch(page), abs=60)
    assert "at=" in other.tab.url
    other.tab.get_by_role("button", name="Take off").click()
    other.settle()
    assert other.tab.get_by_text("Marks on this strip").count() == 0
    page.check()


def test_the_way_back_and_coming_back_keep_the_place(visit, small):
    page = visit().open(f"{small}/case?case=C-001")
    first = stretch(page)
    page.tab.get_by_label("Go to", exact=True).select_option(label="00:00 the start")
    assert stretch(page)[0] == 0
    page.tab.go_back()
    page.settle()
    assert stretch(page)[0] == pytest.approx(first[0], abs=60)
    press(page, "Home", "m", "m", "m")
    kept = stretch(page)
    page.tab.get_by_role("link", name="Trends").click()
    page.settle()
    page.tab.get_by_role("link", name="Case", exact=True).click()
    page.settle()
    assert stretch(page) == kept
    page.check()


def test_the_outcome_opens_on_request(visit, small):
    page = visit().open(f"{small}/case?case=C-001")
    assert page.tab.get_by_text("Hidden, so that it does not colour").count() == 1
    page.tab.get_by_role("button", name="Open the outcome").click()
    page.settle()
    assert page.tab.get_by_text("Hidden, so that it does not colour").count() == 0
    page.picture("case_outcome")
    page.check()

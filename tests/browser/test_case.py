"""The Case page in a real browser: deep link, true scale, scrolling, findings on and off, the overview's brush."""

import pytest

STRIP = ".st-key-strip_pane"


def drawn(page):
    """Width in CSS pixels of the strip's drawing."""
    return page.tab.locator(f"{STRIP} canvas, {STRIP} svg.marks").first.bounding_box()


def choose(page, name):
    page.tab.get_by_text(name, exact=True).first.click()
    return page.settle()


def test_a_deep_link_opens_case_and_fetus(visit, small):
    page = visit().open(f"{small}/case?case=C-003&fetus=B")
    assert "C-003" in page.tab.get_by_text("fetus B", exact=False).first.inner_text()
    page.picture("case_C-003_B")
    page.check()


@pytest.mark.parametrize(("scale", "px_per_min"), [("1 cm/min", 96 / 2.54), ("3 cm/min", 3 * 96 / 2.54)])
def test_the_strip_has_true_scale_and_scrolls_in_its_own_pane(visit, small, scale, px_per_min):
    page = visit().open(f"{small}/case?case=C-001")
    choose(page, scale)
    # 60 minutes of paper, and the margins of the drawing (axis, title, padding)
    assert drawn(page)["width"] == pytest.approx(60 * px_per_min + 80, abs=25)
    wider = f"() => document.querySelector('{STRIP}').scrollWidth - document.querySelector('{STRIP}').clientWidth"
    assert page.tab.evaluate(wider) > 500
    page.tab.evaluate(f"() => {{ document.querySelector('{STRIP}').scrollLeft = 700 }}")
    assert page.tab.evaluate(f"() => document.querySelector('{STRIP}').scrollLeft") == 700
    page.picture(f"case_scale_{scale[0]}")
    page.check()


def test_findings_are_switched_on_and_off(visit, small):
    page = visit().open(f"{small}/case?case=C-001")
    choose(page, "Fit")
    bare = drawn(page)["height"]
    assert page.tab.get_by_text("Lay over the strip").count() == 0
    choose(page, "With findings")
    assert page.tab.get_by_text("Lay over the strip").count() == 1
    full = drawn(page)["height"]
    assert full > bare + 60  # marks, unused samples and three rows of categories
    page.picture("case_findings")
    choose(page, "Minute categories")
    assert drawn(page)["height"] < full - 50
    choose(page, "Bare strip")
    assert drawn(page)["height"] == pytest.approx(bare, abs=2)
    page.check()


def test_dragging_over_the_overview_chooses_the_stretch(visit, small):
    page = visit().open(f"{small}/case?case=C-001")
    choose(page, "Fit")
    box = page.tab.locator("[data-testid=stVegaLiteChart]").first.locator("canvas, svg.marks").first.bounding_box()
    left = box["x"] + 62
    width = box["width"] - 62 - 14
    y = box["y"] + 40
    page.tab.mouse.move(left + width * 40 / 90, y)
    page.tab.mouse.down()
    page.tab.mouse.move(left + width * 50 / 90, y, steps=6)
    page.tab.mouse.move(left + width * 58 / 90, y, steps=6)
    page.tab.mouse.up()
    page.settle()
    assert page.tab.get_by_label("Stretch", exact=True).input_value() == "20 min"
    start = page.tab.locator("[data-testid=stSlider]").inner_text()
    assert any(text in start for text in ("00:39", "00:40", "00:41")), start
    page.check()


def test_hovering_a_deceleration_gives_its_evidence(visit, small):
    page = visit().open(f"{small}/case?case=C-001")
    choose(page, "Fit")
    choose(page, "With findings")
    box = drawn(page)
    # the late one from 2485 to 2560 s, over the height of the heart rate pane
    x = box["x"] + 62 + 960 * (2522 / 60) / 60
    for y in range(int(box["y"]) + 60, int(box["y"]) + 420, 6):
        page.tab.mouse.move(x, y)
        page.pause(40)
        # asked for in one go: a tip may go between two questions
        text = page.tab.evaluate("document.querySelector('#vg-tooltip-element.visible')?.innerText ?? ''")
        if "late deceleration" in text:
            break
    for part in ("late deceleration", "40 bpm", "75 s", "1600 bpm·s", "35 s", "+30 s", "usable"):
        assert part in text
    page.check()


def test_the_outcome_opens_on_request(visit, small):
    page = visit().open(f"{small}/case?case=C-001")
    assert page.tab.get_by_text("Hidden, so that it does not colour").count() == 1
    page.tab.get_by_role("button", name="Open the outcome").click()
    page.settle()
    assert page.tab.get_by_text("Hidden, so that it does not colour").count() == 0
    page.picture("case_outcome")
    page.check()

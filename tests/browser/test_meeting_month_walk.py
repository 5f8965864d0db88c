"""The lead's month on an invented unit: import, choose, read blind, close, meet, print, and open the next month."""

from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from audit import paths
from audit.analysis.job import analyse
from audit.intake.importer import import_paths
from audit.people import actions, agenda, batches, disclosures, findings, log, reads
from audit.people.reads import Read
from audit.settings import load_settings
from audit.store import database, published

FIRST, SECOND = "2025-03", "2025-04"
READERS = ("R-11", "R-12")


@pytest.fixture(scope="module")
def db(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two months of twelve labours each, imported and analysed as the commands do."""
    folder = tmp_path_factory.mktemp("unit")
    paths.make_importable()
    from synthetic_cases.write import write_unit

    write_unit(folder, months=2, per_month=12, workers=1)
    db = folder / "unit.duckdb"
    settings = load_settings()
    assert import_paths(db, [folder / "files"], settings=settings).exit_code == 0
    assert analyse(db, settings=settings, workers=2).exit_code == 0
    published.required(db)
    return db


def text(page: Any) -> str:
    return str(page.tab.locator("[data-testid=stMain]").inner_text())


def choose(page: Any, label: str, option: str) -> None:
    page.tab.get_by_label(label, exact=True).first.click()
    page.tab.get_by_role("option", name=option, exact=True).click()
    page.settle()


def press(page: Any, name: str) -> None:
    page.tab.get_by_role("button", name=name, exact=True).first.click()
    page.settle()


def test_the_month(visit: Any, serve: Any, db: Path) -> None:
    address = serve(db)
    chosen = look_and_choose(visit, address, db)
    strips = hand_out(visit, address, db, chosen)
    read_blind(visit, address, db, READERS[0], strips)
    read_too(db, READERS[1])
    close_the_batch(visit, address, db)
    see_agreement(visit, address)
    hold_the_meeting(visit, address, db, chosen)
    print_the_pack(visit, address, db, chosen)
    open_the_next_month(visit, address)
    assert log.verify(db) == []


def look_and_choose(visit: Any, address: str, db: Path) -> list[str]:
    """Look at the month, put cases on its agenda with a question."""
    page = visit(1400).open(address)
    choose(page, "Month of birth", FIRST)
    assert "12" in text(page)
    page.tab.get_by_role("link", name="Cases to discuss", exact=True).first.click()
    page.settle()
    for _ in range(3):
        page.tab.get_by_role("button", name="Add to the agenda").first.click()
        page.tab.get_by_label("Question for the meeting (may be empty)").last.fill("Was the call early enough?")
        page.tab.keyboard.press("Tab")
        page.settle()
        if not page.tab.get_by_role("button", name="Add", exact=True).is_visible():
            page.tab.get_by_role("button", name="Add to the agenda").first.click()
        press(page, "Add")
    chosen = [row["case_id"] for row in agenda.items(db, FIRST)]
    assert len(chosen) == 3
    assert {row["question"] for row in agenda.items(db, FIRST)} == {"Was the call early enough?"}
    page.check()
    visit.over(page)
    return chosen


def hand_out(visit: Any, address: str, db: Path, chosen: list[str]) -> int:
    """A batch of the agenda and controls; how many controls there could be is for the invented month to say.

    Returns
    -------
    strips a reader gets.
    """
    page = visit(1400).open(f"{address}/read_strips")
    page.sign_in("review lead")
    choose(page, "Month of birth", FIRST)
    page.tab.get_by_label("Reader codes, with spaces between").fill(" ".join(READERS))
    press(page, "Make the batch")
    assert "Batch 1 is made" in text(page)
    rows = batches.windows(db, 1)
    assert {row["case_id"] for row in rows if not row["control"]} == set(chosen)
    controls = len({row["case_id"] for row in rows if row["control"]})
    assert controls == 2 or f"{controls} of 2 controls could be drawn" in text(page)
    page.picture("walk_batch")
    page.check()
    visit.over(page)
    return len(batches.strips(db, 1, READERS[0]))


def read_blind(visit: Any, address: str, db: Path, reader: str, expected: int) -> None:
    """Read every strip."""
    page = visit(1400).open(f"{address}/read_strips")
    page.sign_in("reader", reader)
    strips = batches.strips(db, 1, reader)
    assert len(strips) == expected >= 3
    for strip in strips:
        page.tab.get_by_text(f"Strip {strip['position']} of {len(strips)}").first.wait_for()
        page.look_to_the_end()
        page.tab.get_by_label("Baseline, bpm").fill("135")
        page.tab.get_by_text("normal", exact=True).click()
        page.settle()
        page.tab.keyboard.press("Control+s")  # from the box of categories, which keeps Enter to itself
        page.settle()
    assert "Every strip of this batch is read" in text(page)
    page.check()
    visit.over(page)


def read_too(db: Path, reader: str) -> None:
    """The second reader differs on every other strip; two at once in browsers: test_reading_two_browsers.py."""
    for strip in batches.strips(db, 1, reader):
        category = "suspicious" if strip["strip_number"] % 2 else "normal"
        reads.save(db, 1, strip["strip_number"], reader, Read(category, baseline_bpm=136.0))


def close_the_batch(visit: Any, address: str, db: Path) -> None:
    page = visit(1400).open(f"{address}/read_strips")
    page.sign_in("review lead")
    press(page, "Close the batch")
    assert batches.one(db, 1)["state"] == "closed"
    assert batches.one(db, 1)["absorbed_at"] is not None
    with database.open_for_reading(db) as con:
        found = con.execute("select count(*) from reads where reader in ('R-11', 'R-12')").fetchone()
    assert found == (batches.one(db, 1)["reads"],)
    visit.over(page)


def see_agreement(visit: Any, address: str) -> None:
    page = visit(1400).open(f"{address}/reader_agreement?period=*")
    shown = text(page)
    for words in ("Pair by pair", "Where readers differ most", "Published figures", "The computed reading, apart"):
        assert words in shown
    page.picture("walk_agreement")
    page.check()
    visit.over(page)


def hold_the_meeting(visit: Any, address: str, db: Path, chosen: list[str]) -> None:
    """Strip, clock, reads, outcome; a finding and an action."""
    page = visit(1920).open(f"{address}/meeting")
    page.sign_in("chair of the meeting")
    page.tab.get_by_text("Month, agenda, date").click()
    page.settle()
    choose(page, "Month of birth", FIRST)
    page.tab.keyboard.press("Escape")  # the choices lie over the page until they are closed
    page.settle()
    assert f"Case 1 of 3: {chosen[0]}" in text(page)
    assert "Cord artery pH" not in page.tab.content()
    page.picture("walk_meeting_strip")
    for step, words in (
        ("2 Clock", "Response clock"),
        ("3 Reads", "Reads side by side"),
        ("4 Outcome", "Hidden until"),
    ):
        page.tab.get_by_text(step, exact=True).click()
        page.settle()
        assert words in text(page)
    assert disclosures.of_case(db, chosen[0]) == []
    press(page, "Open the outcome")
    assert [row["opened_by"] for row in disclosures.of_case(db, chosen[0])] == ["chair"]
    page.picture("walk_meeting_outcome")
    page.tab.get_by_text("2: suboptimal, other care might", exact=False).click()
    page.tab.get_by_label("Learning point", exact=False).fill("Say the time of recognition aloud")
    press(page, "Save the finding")
    found = findings.of_case(db, FIRST, chosen[0])
    assert found is not None
    assert (found.care_grade, found.learning_point) == ("2", "Say the time of recognition aloud")
    page.tab.get_by_role("tab", name="Actions").click()
    page.tab.get_by_label("What is to be done").fill("Put a clock beside every bed")
    press(page, "Add the action")
    assert [row["due_period"] for row in actions.agreed_in(db, FIRST)] == [SECOND]
    press(page, "Next")
    assert f"Case 2 of 3: {chosen[1]}" in text(page)
    page.check()
    visit.over(page)


def print_the_pack(visit: Any, address: str, db: Path, chosen: list[str]) -> None:
    page = visit(1400).open(f"{address}/meeting_pack")
    choose(page, "Month of birth", FIRST)
    page.tab.get_by_role("button", name="Make the pack").click()
    page.tab.get_by_text("files were written to the folder").wait_for()
    with page.tab.expect_download() as download:
        page.tab.get_by_role("button", name="PDF to print", exact=True).click()
    pages = [found.extract_text() for found in PdfReader(download.value.path()).pages]
    whole = "\n".join(pages)
    for words in (*chosen, "Say the time of recognition aloud", "Put a clock beside every bed"):
        assert words in whole
    page.picture("walk_pack")
    page.check()
    visit.over(page)


def open_the_next_month(visit: Any, address: str) -> None:
    """The action is due there."""
    page = visit(1400).open(f"{address}/actions")
    page.sign_in("review lead")
    choose(page, "Month of birth", SECOND)
    assert "Put a clock beside every bed" in text(page)
    page.tab.get_by_text("done", exact=True).first.click()
    page.settle()
    page.picture("walk_actions")
    page.check()

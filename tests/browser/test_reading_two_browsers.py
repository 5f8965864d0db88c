"""Two readers in two browsers at once: both blind, both saved, nothing lost, even while a command writes."""

import multiprocessing
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from audit.people import batches, log, reads
from audit.people.batches import Plan, Window
from audit.store import database
from tests import page_databases

ONE, TWO = "first-one", "second-one"
CASES = ("C-001", "C-002", "C-004", "C-005")


@pytest.fixture
def db(tmp_path: Path) -> Path:
    db = page_databases.small_database(tmp_path)
    windows = tuple(Window(case_id, "A", 1800.0, 3600.0) for case_id in CASES)
    plan = Plan("April", "figo-2015", windows, (ONE, TWO), repeat_fraction=0.25, show_gestation=True, seed=4)
    batches.make(db, plan, who="lead")
    return db


@pytest.fixture
def held(db: Path) -> Iterator[None]:
    """Another process holds the database for writing, as an import or analysis does."""
    context = multiprocessing.get_context("spawn")
    ready, done = context.Event(), context.Event()
    holder = context.Process(target=hold, args=(str(db), ready, done))
    holder.start()
    ready.wait()
    yield
    assert holder.is_alive()
    done.set()
    holder.join()


def hold(db: str, ready: Any, done: Any) -> None:
    with database.open_for_writing(Path(db)):
        ready.set()
        done.wait()


class Frames:
    """Everything the server sent a tab, to look through for what a blind reader must not see."""

    def __init__(self, tab: Any) -> None:
        self.received: list[bytes] = []
        tab.on("websocket", lambda socket: socket.on("framereceived", self._keep))

    def _keep(self, payload: Any) -> None:
        self.received.append(payload.encode() if isinstance(payload, str) else payload)

    def holds(self, words: str) -> bool:
        return any(words.encode() in frame for frame in self.received)


def fill(page: Any, category: str, baseline_bpm: int) -> None:
    page.look_to_the_end()
    enter(page, category, baseline_bpm)


def enter(page: Any, category: str, baseline_bpm: int) -> None:
    page.tab.get_by_label("Baseline, bpm").fill(str(baseline_bpm))
    page.tab.get_by_text(category, exact=True).click()
    page.settle()


def save(page: Any) -> None:
    page.tab.get_by_role("button", name="Save and go on").click()


def stored(db: Path, reader: str) -> dict[int, tuple[str, float | None]]:
    found = {}
    for strip in batches.strips(db, 1, reader):
        read = reads.latest(db, 1, strip["strip_number"], reader)
        if read is not None:
            found[strip["position"]] = (read.category, read.baseline_bpm)
    return found


def test_two_readers_at_once_lose_nothing_and_see_nothing_they_must_not(
    visit: Any, serve: Any, db: Path, held: None
) -> None:
    address = serve(db, several=True)
    tabs = {}
    for code in (ONE, TWO):
        page = visit(1300)
        frames = Frames(page.tab)
        page.open(f"{address}/read_strips")
        page.sign_in("reader", code)
        tabs[code] = (page, frames)
    entered: dict[str, dict[int, tuple[str, float]]] = {ONE: {}, TWO: {}}
    answers = {ONE: ("normal", 140), TWO: ("pathological", 155)}
    for position in range(1, 5):
        for code, (page, _) in tabs.items():
            assert f"Strip {position} of 4" in page.tab.locator("[data-testid=stMain]").inner_text()
            fill(page, answers[code][0], answers[code][1] + position)
            entered[code][position] = (answers[code][0], float(answers[code][1] + position))
        for page, _ in tabs.values():
            save(page)
        for page, _ in tabs.values():
            page.settle()
        # saved although the other process holds the database until the test is over
        assert {len(stored(db, code)) for code in tabs} == {position}
    assert {code: stored(db, code) for code in tabs} == entered
    assert log.verify(db) == []
    for code, (page, frames) in tabs.items():
        assert "Every strip of this batch is read" in page.tab.locator("[data-testid=stMain]").inner_text()
        assert "40 completed weeks" in page.tab.locator("[data-testid=stMain]").inner_text()
        # what was sent to the browser: neither the case, nor how it ended, nor the other reader, nor a finding
        for secret in (*CASES, "cord_artery_ph", "spontaneous", "recognisable", TWO if code == ONE else ONE):
            assert not frames.holds(secret), secret
        page.picture(f"read_strips_{code}")
        page.check()


def test_a_reader_resumes_and_corrects_and_a_closed_batch_is_gone(visit: Any, serve: Any, db: Path) -> None:
    address = serve(db, several=True)
    page = visit(1300).open(f"{address}/read_strips")
    page.sign_in("reader", ONE)
    save(page)
    page.settle()
    assert "Choose a category first" in page.tab.locator("[data-testid=stMain]").inner_text()
    enter(page, "suspicious", 130)
    save(page)
    page.settle()
    assert "look at it to its end, then save" in page.tab.locator("[data-testid=stMain]").inner_text()
    assert stored(db, ONE) == {}
    fill(page, "suspicious", 130)
    save(page)
    page.settle()
    again = visit(1300).open(f"{address}/read_strips")
    again.sign_in("reader", ONE)
    assert "Strip 2 of 4" in again.tab.locator("[data-testid=stMain]").inner_text()
    again.tab.get_by_label("Strip", exact=True).click()
    again.tab.get_by_role("option", name="Strip 1 of 4 (read)").click()
    again.settle()
    fill(again, "normal", 131)
    save(again)
    again.settle()
    assert stored(db, ONE) == {1: ("normal", 131.0)}
    assert len([row for row in log.entries(db) if row["deed"] == "read"]) == 2
    page.look_to_the_end()
    batches.close(db, 1, who="lead", incomplete=True)
    enter(page, "pathological", 150)
    save(page)
    page.settle()
    text = page.tab.locator("[data-testid=stMain]").inner_text()
    assert "No open batch waits" in text or "closed" in text
    assert stored(db, ONE) == {1: ("normal", 131.0)}

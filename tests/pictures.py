"""The pictures of the README: pages of the demo in Chromium, and what holds them to the pages.

`python -m tests.pictures FOLDER` takes them anew of the demo in FOLDER, which
`demo --folder FOLDER --no-dashboard` makes.
Each keeps, as text inside the PNG, the words that stood on its page: title, headings and labels, without the figures
among them. The test that makes the demo opens the same pages again and fails where a picture is missing, has another
size, or tells other words than its page does now. It does not compare pixels: fonts differ between machines.
"""

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import Any

from PIL import Image, PngImagePlugin

from audit.commands.serve_pages import HOST, ON_THIS_COMPUTER, command_line, environment, free_port
from audit.people import access, agenda
from audit.store import database, published
from tests.listening import begins_to_listen

FOLDER = Path(__file__).resolve().parents[1] / "dashboards" / "pictures"
SIZE = (1280, 720)
MOST_BYTES = 150_000
# picture -> address; `{case}` is the first of the cases to discuss, `{month}` the newest month with an agenda
PLACES = {
    "this_month": "",
    "strip": "case?case={case}",
    "response_times": "response_times?period=*",
    "reader_agreement": "reader_agreement?period=*",
    "meeting": "meeting?period={month}",
    "trends": "trends",
}
_READY = """() => document.querySelector('[data-testid=stApp]')?.dataset.testScriptState === 'notRunning'
    && document.querySelector('h1') && !document.querySelector('[data-testid=stSkeleton], [data-stale=true]')"""
_WORDS = """() => [...document.querySelectorAll('h1, h2, [data-testid=stMain] [data-testid=stWidgetLabel]')]
    .filter(one => one.checkVisibility()).map(one => one.innerText.trim())"""


@contextmanager
def _pages(db: Path) -> Iterator[str]:
    """The pages of a database, served until the block ends."""
    port = free_port()
    access.choose(db, single_user=True)
    running = subprocess.Popen(
        command_line(port, ON_THIS_COMPUTER), env=environment(db, ON_THIS_COMPUTER), cwd=db.parent
    )
    try:
        begins_to_listen(running, port)
        yield f"http://{HOST}:{port}"
    finally:
        running.terminate()
        running.wait()


def _open(tab: Any, address: str) -> None:
    tab.goto(address)
    tab.wait_for_function(_READY, timeout=120_000)
    if "/case?" in address or "/meeting?" in address:
        tab.locator(".stage canvas").first.wait_for()
    tab.wait_for_timeout(1500)  # charts are drawn after the page around them


def _taken(db: Path, browser: str) -> Iterator[tuple[str, list[str], bytes]]:
    from playwright.sync_api import sync_playwright  # only where pictures are taken

    with database.open_for_reading(published.current(db)) as con:
        months = [str(row["period"]) for row in database.records(con, "month/months") if row["period"]]
    month = next(month for month in months if agenda.items(db, month))
    with _pages(db) as address, sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=browser, args=["--no-sandbox", "--disable-gpu"])
        tab = chromium.new_page(viewport={"width": SIZE[0], "height": SIZE[1]})
        _open(tab, f"{address}/cases_to_discuss")
        link = tab.locator("[data-testid=stMain] a", has_text=re.compile(r"^Open ")).first
        case = link.inner_text().split()[-1]
        for name, place in PLACES.items():
            _open(tab, f"{address}/{place.format(case=case, month=month)}")
            words = [re.sub(r"\S*\d\S*", "#", text) for text in tab.evaluate(_WORDS)]
            yield name, words, tab.screenshot()
        chromium.close()


def take(db: Path, browser: str) -> None:
    """Take every picture anew, in few colours so that the files are small."""
    FOLDER.mkdir(exist_ok=True)
    for name, words, picture in _taken(db, browser):
        told = PngImagePlugin.PngInfo()
        told.add_itxt("words", json.dumps(words, ensure_ascii=False))
        taken = Image.open(BytesIO(picture)).convert("RGB")
        # no colour is far from its own: those chosen by how often they occur turned small marks grey
        small = taken.quantize(method=Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE)
        small.save(FOLDER / f"{name}.png", optimize=True, pnginfo=told)


def differences(db: Path, browser: str) -> list[str]:
    """What is wrong with the pictures, held against the pages as they are now; nothing where all is well."""
    found = []
    for name, words, _ in _taken(db, browser):
        file = FOLDER / f"{name}.png"
        if not file.is_file():
            found.append(f"{name}: there is no picture")
            continue
        picture: Any = Image.open(file)
        if picture.size != SIZE or file.stat().st_size > MOST_BYTES:
            found.append(f"{name}: {picture.size}, {file.stat().st_size} bytes; expected {SIZE}, at most {MOST_BYTES}")
        if json.loads(picture.text.get("words", "[]")) != words:
            found.append(f"{name}: its page says {words} now; take the pictures anew")
    stray = {file.stem for file in FOLDER.glob("*.png")} - set(PLACES)
    return found + [f"{name}: no page is named for it" for name in sorted(stray)]


if __name__ == "__main__":
    take(Path(sys.argv[1]).resolve() / "unit.duckdb", sys.argv[2] if len(sys.argv) > 2 else "/usr/bin/chromium")

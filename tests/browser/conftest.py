"""The pages in a headless Chromium, served as the launcher serves them, on the loopback address only."""

import os
import shutil
import socket
import subprocess
import time
from pathlib import Path
from urllib.parse import urlparse

import pytest

from audit.commands.serve_pages import HOST, command_line, environment, free_port
from tests import page_databases
from tests.conftest import absent

FLAGS = [
    f"--{name}"
    for name in ("no-sandbox", "disable-gpu", "disable-quic", "no-first-run", "disable-background-networking",
                 "disable-component-update", "disable-sync")
]  # fmt: skip
# a deep link makes the client probe below the page's own path first; it then finds the right one
PROBES = ("/_stcore/health", "/_stcore/host-config")


def pytest_collection_modifyitems(items):
    for item in items:
        if "browser" in Path(item.fspath).parts:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def chromium():
    playwright = pytest.importorskip("playwright.sync_api")
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        absent("No chromium on the path; install one to look at the pages.")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=found, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def serve():
    """Serve a database: `serve(db)` gives the address."""
    running = []

    def started(db):
        port = free_port()
        folder = db.parent
        running.append(subprocess.Popen(command_line(port), env=environment(db), cwd=folder))
        for _ in range(300):
            with socket.socket() as probe:
                if probe.connect_ex((HOST, port)) == 0:
                    return f"http://{HOST}:{port}"
            time.sleep(0.1)
        raise AssertionError("the pages did not start")

    yield started
    for process in running:
        process.terminate()
    for process in running:
        process.wait(timeout=20)


@pytest.fixture(scope="session")
def small(serve, tmp_path_factory):
    return serve(page_databases.small_database(tmp_path_factory.mktemp("small")))


@pytest.fixture(scope="session")
def odd(serve, tmp_path_factory):
    return serve(page_databases.odd_database(tmp_path_factory.mktemp("odd")))


@pytest.fixture(scope="session")
def nothing(serve, tmp_path_factory):
    return serve(tmp_path_factory.mktemp("none") / "unit.duckdb")


class Visit:
    """One browser tab that remembers what it asked for and what went wrong."""

    def __init__(self, tab, pictures):
        self.tab = tab
        self.pictures = pictures
        self.outside = []
        self.errors = []
        tab.on("request", self._asked)
        tab.on("response", self._answered)
        tab.on("pageerror", lambda error: self.errors.append(str(error)))
        tab.on("console", self._said)

    def _asked(self, request):
        address = urlparse(request.url)
        if address.scheme in ("http", "https", "ws", "wss") and address.hostname not in (HOST, "localhost"):
            self.outside.append(request.url)

    def _answered(self, response):
        if response.status >= 400 and not response.url.endswith(PROBES):
            self.errors.append(f"{response.status} {response.url}")

    def _said(self, message):
        if message.type == "error" and "404 (Not Found)" not in message.text:
            self.errors.append(message.text)

    def open(self, address):
        self.tab.goto(address)
        self.tab.wait_for_selector("h1", timeout=60_000)
        return self.settle()

    def settle(self):
        """Wait until the script has run and nothing is drawn any more."""
        self.tab.wait_for_timeout(300)
        self.tab.wait_for_function(
            "() => !document.querySelector('[data-testid=stStatusWidget]')"
            " && !document.querySelector('[data-stale=true]')"
            " && !document.querySelector('[data-testid=stSkeleton]')",
            timeout=60_000,
        )
        self.tab.wait_for_timeout(400)
        return self

    def picture(self, name):
        block = "document.querySelector('[data-testid=stMainBlockContainer]').scrollHeight"
        width = self.tab.viewport_size["width"]
        height = self.tab.evaluate(f"() => {block}")
        self.tab.set_viewport_size({"width": width, "height": min(5000, height + 80)})
        self.tab.wait_for_timeout(300)
        self.tab.screenshot(path=self.pictures / f"{name}_{width}.png")

    def check(self):
        assert self.outside == []
        assert self.errors == []
        assert self.tab.locator("[data-testid=stException]").count() == 0


@pytest.fixture
def visit(chromium, tmp_path):
    """Open a tab of a width: `visit(1400)`. Pictures go to PAGE_PICTURES or the test's own folder."""
    pictures = Path(os.environ.get("PAGE_PICTURES", tmp_path))
    pictures.mkdir(parents=True, exist_ok=True)
    tabs = []

    def opened(width=1400):
        tab = chromium.new_page(viewport={"width": width, "height": 1000})
        tabs.append(tab)
        return Visit(tab, pictures)

    yield opened
    for tab in tabs:
        tab.close()

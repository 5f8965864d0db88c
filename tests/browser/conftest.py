"""The pages in a headless Chromium, served as the launcher serves them, on the loopback address only."""

import os
import shutil
import subprocess
from pathlib import Path
from urllib.parse import urlparse

import pytest
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

from audit.commands.serve_pages import HOST, ON_THIS_COMPUTER, command_line, environment, free_port
from audit.people import access
from dashboards.signed_in import _ROLE_WORDS
from tests import page_databases
from tests.conftest import absent
from tests.listening import begins_to_listen
from tests.signing_in import known

FLAGS = [
    f"--{name}"
    for name in ("no-sandbox", "disable-gpu", "disable-quic", "no-first-run", "disable-background-networking",
                 "disable-component-update", "disable-sync")
]  # fmt: skip
_ROLES = {words: role for role, words in _ROLE_WORDS.items()}
HEIGHT = 1000  # of a window, in pixels
SERVED = {}  # the database behind each address
HANG_MS = 300_000  # a wait longer than this is no slow machine but something that will never come
# a deep link makes the client probe below the page's own path first; it then finds the right one
PROBES = ("/_stcore/health", "/_stcore/host-config")


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
    """Serve a database: `serve(db)` gives the address; of one person, or of several who sign in."""
    running = []

    def started(db, *, several=False, serving=ON_THIS_COMPUTER, port=None):
        port = port or free_port()
        if db.is_file():
            access.choose(db, single_user=not several)
        SERVED[f"http://{HOST}:{port}"] = db
        folder = db.parent
        running.append(subprocess.Popen(command_line(port, serving), env=environment(db, serving), cwd=folder))
        assert begins_to_listen(running[-1], port), "the pages did not start"
        return f"http://{HOST}:{port}"

    yield started
    for process in running:
        process.terminate()
    for process in running:
        process.wait()


@pytest.fixture(scope="session")
def small(serve, tmp_path_factory):
    return serve(page_databases.small_database(tmp_path_factory.mktemp("small")))


@pytest.fixture(scope="session")
def odd(serve, tmp_path_factory):
    return serve(page_databases.odd_database(tmp_path_factory.mktemp("odd")))


@pytest.fixture(scope="session")
def empty(serve, tmp_path_factory):
    return serve(page_databases.empty_database(tmp_path_factory.mktemp("empty")))


@pytest.fixture(scope="session")
def nothing(serve, tmp_path_factory):
    return serve(tmp_path_factory.mktemp("none") / "unit.duckdb")


class Talk:
    """What a tab asked of the server and whether the answer to the last question has arrived.

    A page is ready when the run that the last question began has ended, however long that took.
    """

    def __init__(self, tab):
        self._said = []
        self._tab = tab
        tab.on("websocket", self._listen)

    def end(self):
        self._tab.remove_listener("websocket", self._listen)

    def _listen(self, connection):
        connection.on("framesent", self._sent)
        connection.on("framereceived", self._received)

    def _sent(self, payload):
        if isinstance(payload, bytes) and BackMsg.FromString(payload).WhichOneof("type") == "rerun_script":
            self._said.append("asked")

    def _received(self, payload):
        message = ForwardMsg.FromString(payload) if isinstance(payload, bytes) else ForwardMsg()
        kind = message.WhichOneof("type")
        if kind == "new_session":
            self._said.append("begun")
        elif kind == "script_finished" and message.script_finished != ForwardMsg.FINISHED_EARLY_FOR_RERUN:
            self._said.append("ended")

    def answered(self):
        last = {word: number for number, word in enumerate(self._said)}
        return last.get("asked", -1) < last.get("begun", -1) < last.get("ended", -1)


class Visit:
    """One browser tab that remembers what it asked for and what went wrong."""

    def __init__(self, tab, pictures):
        self.tab = tab
        self.pictures = pictures
        self.outside = []
        self.errors = []
        self.talk = Talk(tab)
        tab.set_default_timeout(HANG_MS)
        self._listeners = {
            "request": self._asked, "response": self._answered, "pageerror": self._failed, "console": self._said
        }  # fmt: skip
        for event, listener in self._listeners.items():
            tab.on(event, listener)

    def end(self):
        """Listen no more, leave the page, and let the tab forget what it kept for it."""
        self.talk.end()
        for event, listener in self._listeners.items():
            self.tab.remove_listener(event, listener)
        if self.tab.url.startswith("http"):
            self.tab.evaluate("() => { localStorage.clear(); sessionStorage.clear(); }")
        self.tab.context.clear_cookies()
        self.tab.goto("about:blank")
        for other in self.tab.context.pages:
            if other is not self.tab:
                other.close()

    def _asked(self, request):
        address = urlparse(request.url)
        if address.scheme in ("http", "https", "ws", "wss") and address.hostname not in (HOST, "localhost"):
            self.outside.append(request.url)

    def _answered(self, response):
        if response.status >= 400 and not response.url.endswith(PROBES):
            self.errors.append(f"{response.status} {response.url}")

    def _failed(self, error):
        self.errors.append(str(error))

    def _said(self, message):
        if message.type == "error" and "404 (Not Found)" not in message.text:
            self.errors.append(message.text)

    def open(self, address):
        self.tab.goto(address)
        self.tab.wait_for_selector("h1")
        return self.settle()

    def pause(self, milliseconds):
        """Let the browser's own clock pass: what it had put off for less than that has happened by then."""
        self.tab.evaluate("length => new Promise(done => setTimeout(done, length))", milliseconds)

    def settle(self):
        """Wait until what was just done has been asked of the server, its run has ended and is drawn."""
        self.pause(300)  # the page puts off what a widget says by up to 200 ms
        while not self.talk.answered():
            self.tab.wait_for_timeout(20)
        self.tab.wait_for_function(
            "() => document.querySelector('[data-testid=stApp]').dataset.testScriptState === 'notRunning'"
            " && !document.querySelector('[data-stale=true]')"
            " && !document.querySelector('[data-testid=stSkeleton]')"
        )
        self.pause(200)  # charts are drawn after the page around them
        return self

    def open_menu(self):
        """Open the menu, where who is signed in stands; in a narrow window it is closed at first."""
        closed = self.tab.get_by_test_id("stExpandSidebarButton")
        if closed.count() and closed.is_visible():
            closed.click()
            self.pause(500)  # it slides in

    def close_menu(self):
        """Close the menu in a narrow window, where it lies over the page."""
        if self.tab.viewport_size["width"] < 768:
            self.tab.get_by_test_id("stSidebarCollapseButton").locator("button").click(force=True)
            self.pause(500)

    def turn_to(self, title):
        """Go to a page by the menu: who signed in stays so, which an address typed anew would end."""
        self.open_menu()
        self.tab.get_by_test_id("stSidebarNav").get_by_role("link", name=title, exact=True).click()
        self.settle()
        self.close_menu()
        self.tab.locator("h1").get_by_text(title, exact=True).wait_for()
        return self

    def sign_in(self, role, code=""):
        """Fill in the form that the page shows; in the unit of one person, the one for acting in a role."""
        self.open_menu()
        address = urlparse(self.tab.url)
        pin = known(SERVED[f"{address.scheme}://{address.netloc}"], _ROLES[role], code)
        if self.tab.get_by_role("button", name="Sign in", exact=True).count() == 0:
            self.tab.get_by_role("button", name="Act in a role").click()
        self.tab.get_by_role("radiogroup", name="I am the").get_by_text(role, exact=True).click()
        self.settle()
        if code:
            self.tab.get_by_label("Reader code (never a name)").fill(code)
            self.tab.keyboard.press("Tab")
            self.settle()
        if self.tab.get_by_label("PIN", exact=True).count():
            self.tab.get_by_label("PIN", exact=True).fill(pin)
        self.tab.get_by_role("button", name="Sign in", exact=True).click()
        self.settle()
        self.close_menu()
        return self

    def look_to_the_end(self):
        """Page through the strip that is shown, so that all of it was in sight; the page is told so."""
        self.settle()
        self.tab.locator(".stage").press("Home")
        for _ in range(4):
            self.tab.locator(".stage").press("PageDown")
        return self.settle()

    def roles_on_offer(self):
        """The words of the roles among which the page lets choose; none where it does not."""
        self.open_menu()
        choice = self.tab.get_by_role("button", name="Act in a role")
        if choice.count():
            choice.click()
            self.tab.get_by_role("radiogroup", name="I am the").wait_for()
        elif self.tab.get_by_role("button", name="Sign in", exact=True).count() == 0:
            self.close_menu()
            return []
        return self.tab.get_by_role("radiogroup", name="I am the").locator("label").all_inner_texts()

    def resize(self, width):
        """Make the window as wide, and as high as at first."""
        self.tab.set_viewport_size({"width": width, "height": HEIGHT})
        self.settle()

    def picture(self, name):
        """Make the window as high as the page, so that all of it is drawn; keep a picture where somebody wants them."""
        block = "document.querySelector('[data-testid=stMainBlockContainer]').scrollHeight"
        width = self.tab.viewport_size["width"]
        height = self.tab.evaluate(f"() => {block}")
        self.tab.set_viewport_size({"width": width, "height": min(5000, height + 80)})
        self.pause(300)
        if self.pictures is not None:
            self.tab.screenshot(path=self.pictures / f"{name}_{width}.png")

    def check(self):
        assert self.outside == []
        assert self.errors == []
        assert self.tab.locator("[data-testid=stException]").count() == 0


class Tabs:
    """The tabs of a worker, handed from test to test: each has cookies and a storage of its own, emptied in between.

    The first page in a new one costs 2.5 to 3.5 s of processor time, each further one 1.2 s.
    """

    def __init__(self, browser):
        self._browser = browser
        self._free = []
        self._pictures = Path(os.environ["PAGE_PICTURES"]) if "PAGE_PICTURES" in os.environ else None
        if self._pictures is not None:
            self._pictures.mkdir(parents=True, exist_ok=True)

    def take(self, width):
        tab = self._free.pop() if self._free else self._browser.new_page()
        tab.set_viewport_size({"width": width, "height": HEIGHT})
        return Visit(tab, self._pictures)

    def put_back(self, visit):
        visit.end()
        self._free.append(visit.tab)


class Visits:
    """Open a tab of a width: `visit(1400)`; `visit.over(page)` gives one back before the test ends.

    Pictures are taken where PAGE_PICTURES names a folder for them.
    """

    def __init__(self, tabs):
        self._tabs = tabs
        self._open = []

    def __call__(self, width=1400):
        self._open.append(self._tabs.take(width))
        return self._open[-1]

    def over(self, visit):
        self._open.remove(visit)
        self._tabs.put_back(visit)

    def all_over(self):
        for visit in self._open:
            self._tabs.put_back(visit)


@pytest.fixture(scope="session")
def tabs(chromium):
    return Tabs(chromium)


@pytest.fixture
def visit(tabs):
    visits = Visits(tabs)
    yield visits
    visits.all_over()


@pytest.fixture(scope="module")
def visit_once(tabs):
    """The same for a tab that several tests of a file look at."""
    visits = Visits(tabs)
    yield visits
    visits.all_over()

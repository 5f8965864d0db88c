"""The pages on small hand-filled databases, driven without a browser."""

import logging
import shutil
from functools import cache
from pathlib import Path

import pytest
from streamlit import config
from streamlit.components.v2 import manifest_scanner
from streamlit.config_option import ConfigOption
from streamlit.testing.v1 import AppTest

from audit.people import access
from dashboards.keys import ReviewKey
from dashboards.register import FIRST, PAGES
from tests import page_databases
from tests.signing_in import roles_of, sign_in

# a page by the name of its file
FILES = {Path(page.file).stem: page.file for page in PAGES}
APP = Path(__file__).resolve().parents[3] / "dashboards" / "app.py"
# the library says on each run outside a server that it runs outside a server
logging.getLogger("streamlit.runtime.scriptrunner_utils.script_run_context").setLevel(logging.ERROR)


@pytest.fixture(scope="session", autouse=True)
def installed_components_found_once():
    """Each session would look through all installed packages for parts of pages; what is installed stays the same."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(manifest_scanner, "scan_component_manifests", cache(manifest_scanner.scan_component_manifests))
        yield


@pytest.fixture(scope="session")
def only_read(tmp_path_factory):
    """One database of each kind: empty, small, odd. Nothing may write to these: all tests of a run share them."""
    return {
        name: getattr(page_databases, f"{name}_database")(tmp_path_factory.mktemp(name))
        for name in ("empty", "small", "odd")
    }


class Copies(dict):
    """By its kind a database of one test's own, made when it is asked for; "none" is one that is not there."""

    def __init__(self, folder, originals):
        self._folder = folder
        self._originals = originals

    def __missing__(self, kind):
        folder = self._folder / f"{kind}_database"
        if kind == "none":
            folder.mkdir()
        else:
            shutil.copytree(self._originals[kind].parent, folder)
        self[kind] = folder / "unit.duckdb"
        return self[kind]


@pytest.fixture
def databases(only_read, tmp_path):
    """A copy of each kind for this test alone, so that what it writes is met by no other; tests may add their own."""
    return Copies(tmp_path, only_read)


def on_this_computer():
    option = ConfigOption("server.address", description="", default_val=None)
    option.set_value("127.0.0.1", where_defined="a test")
    return option


@pytest.fixture
def open_page(databases, monkeypatch):
    """Open a page on a database of a kind: `open_page("small", "case", case="C-001")`.

    It is the unit of one person on this computer; of several people who sign in where `several` says so.
    """
    # as the launcher's flag says; without a server nobody says it
    monkeypatch.setitem(config.get_config_options(), "server.address", on_this_computer())

    def opened(kind, page, *, several=False, **query):
        monkeypatch.setenv("INTRAPARTUM_AUDIT_DB", str(databases[kind]))
        monkeypatch.setenv("INTRAPARTUM_AUDIT_PROVIDER", "0")
        if databases[kind].is_file():
            access.choose(databases[kind], single_user=not several)
        app = AppTest.from_file(str(APP), default_timeout=600)
        for name, value in query.items():
            app.query_params[name] = value
        app.switch_page(FILES[page]).run()
        assert not app.exception, app.exception
        return app

    return opened


def go(session, name):
    """Turn to a page in a session that is open, as the menu does."""
    session.switch_page(FILES[name]).run()
    assert not session.exception, (name, session.exception)
    return session


@pytest.fixture
def sessions(open_page):
    """A session in every state that a page is met in: nobody signed in, the one person of a unit, and each role."""

    def opened(kind):
        first = Path(FIRST.file).stem
        yield "not signed in", open_page(kind, first, several=True)
        if kind == "none":
            return
        alone = open_page(kind, first)
        form = [radio for radio in alone.radio if radio.key == ReviewKey.SIGN_ROLE]
        # the form's words are those a person reads; its values are the roles
        roles = sorted({role for radio in form for role in roles_of(radio)})
        yield "alone", alone
        for role in roles:
            signed = sign_in(open_page(kind, first), role, "R1" if role == "reader" else "")
            assert not [radio for radio in signed.radio if radio.key == ReviewKey.SIGN_ROLE], "still asked to sign in"
            yield role, signed

    return opened

"""Signing in through an identity provider: a small one on this computer, made of a general-purpose library.

OpenID Connect Core 1.0, authorization code flow (section 3.1), with the library's client and a provider for tests.
What it says of a person gives the role, by the unit's settings; nothing else does.
"""

import json
import secrets
import subprocess
import sys
import time
from itertools import chain

import httpx
import pytest

from audit.commands.serve_pages import HOST, free_port
from audit.commands.serving import Serving
from audit.people import access, batches, log
from audit.people.batches import Plan, Window
from audit.settings import settings_for
from tests import page_databases
from tests.listening import begins_to_listen
from tests.socket_talk import Client

PEOPLE = {
    "one": {"groups": ["all-staff", "review-leads"]},
    "two": {"groups": "chairs"},
    "three": {"groups": ["readers"], "code": "R1"},
    "four": {"groups": ["readers"], "code": "Anna Berg"},
    "five": {"groups": ["readers"]},
    "six": {"groups": ["all-staff"]},
    "seven": {},
    "eight": {"groups": ["viewers", "review-leads"]},
    "nine": {"groups": {"review-leads": True}, "roles": ["lead"], "role": "lead"},
    "ten": {"groups": ["viewers"]},
}
SETTINGS = """
[access]
role_claim = "groups"
reader_claim = "code"
[access.roles]
"review-leads" = "lead"
"chairs" = "chair"
"readers" = "reader"
"viewers" = "viewer"
"""


@pytest.fixture(scope="module")
def provider():
    port = free_port()
    people = [["--user-claims", json.dumps({"sub": sub, **claims})] for sub, claims in PEOPLE.items()]
    words = ["--port", str(port), "--require-nonce", "true", *chain(*people)]
    # its own deprecated imports are none of ours, so it is a process of its own
    process = subprocess.Popen([sys.executable, "-W", "ignore", "-m", "oidc_provider_mock", *words])
    begins_to_listen(process, port)
    yield f"http://{HOST}:{port}"
    process.terminate()
    process.wait()


@pytest.fixture(scope="module")
def unit(tmp_path_factory):
    db = page_databases.small_database(tmp_path_factory.mktemp("shared"))
    (db.parent / "unit_settings.toml").write_text(SETTINGS, encoding="utf-8")
    batches.make(db, Plan("May", "figo-2015", (Window("C-001", "A", 0.0, 1800.0),), ("R1",), seed=1), who="lead")
    access.choose(db, single_user=True)  # a choice for this computer alone: it opens nothing here
    return db


@pytest.fixture(scope="module")
def address(serve, unit, provider):
    port = free_port()
    file = unit.parent / "provider.toml"
    file.write_text(
        f'[auth]\nredirect_uri = "http://{HOST}:{port}/oauth2callback"\ncookie_secret = "{secrets.token_hex(32)}"\n'
        f'client_id = "audit"\nclient_secret = "{secrets.token_hex(8)}"\n'
        f'server_metadata_url = "{provider}/.well-known/openid-configuration"\n',
        encoding="utf-8",
    )
    file.chmod(0o600)
    serving = Serving(provider=file)
    serving.check(settings_for(unit).access)
    return serve(unit, several=False, serving=serving, port=port)


@pytest.fixture
def browser(address):
    """A browser's cookies: `browser(sub)` signs in at the provider; `.open()` connects as the page does."""
    made, clients = [], []

    class Browser:
        def __init__(self, sub=None):
            self.http = httpx.Client(base_url=address, follow_redirects=True, timeout=300)
            clients.append(self.http)
            self.http.get("/_stcore/host-config")
            self.http.get("/_stcore/health")
            if sub is not None:
                self.sign_in(sub)

        def sign_in(self, sub):
            asked = self.open()
            (place,) = (place for place, key in asked.widgets.items() if key == "sign_in_button")
            where = asked.run("", pressed=[place]).sent_to()
            form = self.http.get(where)
            assert "/oauth2/authorize" in str(form.url)
            back = self.http.post(str(form.url), data={"sub": sub})
            assert back.status_code == 200

        def open(self, page=""):
            cookies = "; ".join(f"{cookie.name}={cookie.value}" for cookie in self.http.cookies.jar)
            made.append(Client(address, {"Cookie": cookies}, xsrf=self.http.cookies.get("_streamlit_xsrf")))
            return made[-1].run(page)

    yield Browser
    for each in (*made, *clients):
        each.close()


def test_nobody_gets_in_without_the_provider_whatever_was_chosen_for_one_person(browser):
    asked = browser().open()
    assert asked.holds("Sign in with the account")
    assert not asked.holds("Labours")
    assert set(asked.widgets.values()) == {"sign_in_button"}  # no PIN, no role to choose


@pytest.mark.parametrize(
    ("sub", "role"),
    [("one", "review lead"), ("two", "chair of the meeting"), ("three", "reader R1"), ("eight", "review lead"),
     ("ten", "viewer")],
)  # fmt: skip
def test_a_claim_gives_the_role_that_the_settings_say(browser, sub, role):
    asked = browser(sub).open()
    assert asked.holds(f"Signed in as {role}.")
    assert asked.holds("Labours") is not role.startswith("reader")
    assert asked.run("meeting_pack").holds("This page is for") is (sub in ("three", "ten"))


@pytest.mark.parametrize("sub", ["four", "five", "six", "seven", "nine", "unheard-of"])
def test_whoever_has_no_such_claim_is_known_to_the_provider_and_not_let_in(browser, sub):
    asked = browser(sub).open()
    assert asked.holds("You are signed in, but your account has no")
    assert not asked.holds("Labours")
    assert not asked.holds("Anna")


def test_a_reader_of_the_provider_sees_their_own_strips(browser):
    asked = browser("three").open("read_strips")
    assert asked.holds("Strip 1 of 1")
    assert not asked.holds("C-001")


def test_another_cookie_lets_nobody_in(browser, address):
    """Signed by this server, or worth nothing."""
    own = browser("one")
    assert own.open().holds("Labours")
    (cookie,) = (cookie for cookie in own.http.cookies.jar if cookie.name == "_streamlit_user")
    cookie.value = cookie.value[:40] + ("A" if cookie.value[40] != "A" else "B") + cookie.value[41:]
    assert not own.open().holds("Labours")


def test_signing_out_ends_it_for_the_cookie_that_was_kept_too(browser, unit):
    own = browser("one")
    asked, other_tab = own.open(), own.open()
    assert other_tab.holds("Labours")
    (out,) = (place for place, key in asked.widgets.items() if key == "sign_out_button")
    assert "/auth/logout" in asked.run("", pressed=[out]).sent_to()
    # the cookies as they were, in the other tab and in a new one
    assert not other_tab.run("").holds("Labours")
    assert not own.open().holds("Labours")
    time.sleep(1.1)  # `iat` counts whole seconds
    own.sign_in("one")
    assert own.open().holds("Labours")


def test_the_log_names_roles_and_codes_and_nobody(unit):
    assert {row["who"] for row in log.entries(unit)} <= {"unit", "lead", "chair", "reader:R1"}

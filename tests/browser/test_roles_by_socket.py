"""A client of its own that says what no page offers: each page asked for, and each button pressed, in each role.

It knows every button's name from the lead's pages, as whoever has once been lead does. What the table does not give is
neither shown nor done, whatever is asked for; and what it gives is, or these tests could not fail.
"""

from pathlib import Path

import pytest

from audit.people import access, agenda, batches, log, permissions, phases
from audit.people.batches import Plan, Window
from audit.people.permissions import ROLES, Deed
from dashboards.register import CASE, FIRST, MEETING, PAGES
from tests import page_databases
from tests.signing_in import known
from tests.socket_talk import Client

CASES = ("C-001", "C-002", "C-003", "C-004", "C-005")
QUERY = {CASE: "case=C-001"}
CODE = "R1"
# what the outcomes of the small unit look like on the wire
OUTCOMES = ("cord artery pH", "cord_artery_ph", "died in the first", "encephalopathy grade")


def path_of(page):
    return "" if page is FIRST else Path(page.file).stem


@pytest.fixture(scope="module")
def db(tmp_path_factory):
    db = page_databases.small_database(tmp_path_factory.mktemp("roles"))
    for case_id in ("C-004", "C-005"):
        agenda.add(db, "2031-05", case_id, who="lead")
    phases.add(db, "2031-04", "Second round", who="lead")
    batches.make(db, Plan("May", "figo-2015", (Window("C-001", "A", 0.0, 1800.0),), (CODE,), seed=1), who="lead")
    for role in ROLES:
        known(db, role, CODE if role == "reader" else "")
    return db


@pytest.fixture(scope="module")
def address(serve, db):
    return serve(db, several=True)


@pytest.fixture
def client(address, db):
    made = []

    def opened(role=None):
        made.append(Client(address))
        if role is None:
            made[-1].run("")
        else:
            code = CODE if role == "reader" else ""
            made[-1].sign_in(role, code, known(db, role, code))
        return made[-1]

    yield opened
    for each in made:
        each.close()


@pytest.fixture(scope="module")
def buttons(address, db):
    """Every button of every page, as the lead and the chair are shown them: {page: ids}."""
    found = {}
    for role in ("lead", "chair"):
        lead = Client(address)
        lead.sign_in(role, pin=known(db, role))
        for page in PAGES:
            lead.buttons.clear()
            lead.run(path_of(page), query=QUERY.get(page, ""))
            found.setdefault(page, set()).update(
                place for place in lead.buttons if not lead.widgets[place].startswith(("pin_", "sign_"))
            )
        lead.close()
    assert sum(map(len, found.values())) > 20
    return found


@pytest.mark.parametrize("role", [None, *ROLES])
def test_a_page_is_sent_to_the_roles_that_the_table_lets_in(client, role):
    asked = client(role)
    for page in PAGES:
        asked.run(path_of(page), query=QUERY.get(page, ""))
        let_in = role is not None and any(permissions.may(role, deed) for deed in page.deeds)
        assert asked.holds("This page is for") is (role is not None and not let_in), page.title
        assert asked.holds(page.title)
        if not let_in:
            # nothing of the unit, and no answer that knows more than the page's title
            for secret in (*CASES, "2031-0", "run 00001", *OUTCOMES):
                assert not asked.holds(secret), (page.title, secret)


@pytest.mark.parametrize("role", [None, "reader", "viewer"])
def test_a_button_that_was_never_shown_does_nothing(client, db, buttons, role):
    before = log.entries(db)
    asked = client(role)
    for page, places in buttons.items():
        # once as the page's first question, and once on top of the page that was drawn for it
        for _ in range(2):
            asked.run(path_of(page), pressed=sorted(places), query=QUERY.get(page, ""))
            assert not any(asked.holds(outcome) for outcome in OUTCOMES)
    assert log.entries(db) == before


def test_what_the_table_gives_is_done_by_the_same_client(client, db, buttons):
    """Or the tests above could not fail."""
    before = len(log.entries(db))
    lead = client("lead")
    (opens,) = (place for place in buttons[CASE] if place.endswith("-outcome_button"))
    lead.run(path_of(CASE), query="case=C-001").run(path_of(CASE), query="case=C-001", pressed=[opens])
    assert any(lead.holds(outcome) for outcome in OUTCOMES)
    (off,) = (place for place in buttons[MEETING] if place.endswith("-off_agenda_C-005"))
    lead.run(path_of(MEETING)).run(path_of(MEETING), pressed=[off])
    assert [row["deed"] for row in log.entries(db)[before:]] == ["opened", "removed"]
    agenda.add(db, "2031-05", "C-005", who="lead")


def test_whoever_signed_out_does_nothing_with_what_they_were_shown(client, db, buttons):
    chair = client("chair").run(path_of(MEETING))
    (out,) = (place for place, key in chair.widgets.items() if key == "sign_out_button")
    chair.run(path_of(MEETING), pressed=[out])
    before = log.entries(db)
    chair.run(path_of(MEETING), pressed=sorted(buttons[MEETING]))
    assert chair.holds("Sign in with the PIN")
    assert log.entries(db) == before


def test_a_role_or_code_that_the_form_does_not_offer_lets_nobody_in(client, db):
    for role, code in (("unit", ""), ("owner", ""), ("reader", "lead"), ("lead", ""), ("reader", "R9")):
        asked = client()
        at = {key: place for place, key in asked.widgets.items()}
        values = {at["sign_in_role"]: role, at["sign_in_pin"]: ""}
        asked.run("", values=values, pressed=[at["sign_in_button"]])
        assert asked.holds("Sign in with the PIN"), (role, code)
        assert not asked.holds("Labours")


def test_a_server_in_front_of_the_unit_of_one_person_gets_nothing(serve, tmp_path):
    db = page_databases.small_database(tmp_path)
    address = serve(db)
    own, passed_on = Client(address).run(""), Client(address, {"X-Forwarded-For": "192.0.2.7"}).run("")
    assert own.holds("Labours")
    assert not passed_on.holds("Labours")
    assert passed_on.holds("server in front")
    assert access.single_user(db)
    own.close()
    passed_on.close()


def test_a_unit_that_nobody_has_chosen_for_lets_nobody_in(serve, tmp_path, monkeypatch):
    db = page_databases.small_database(tmp_path)
    with monkeypatch.context() as unchosen:
        unchosen.setattr(access, "choose", lambda *_, **__: None)
        address = serve(db)
    asked = Client(address).run("")
    assert asked.holds("dashboard --single-user")
    assert not asked.holds("Labours")
    assert Deed.SEE_MONTH in permissions.PERMISSIONS
    asked.close()

"""Each page of the register in each role: drawn for those whom the table lets in, and nothing of it for anybody else.

The pages are taken from the register, the roles from the table: a new one is tried here without being named.
"""

from pathlib import Path

import pytest
from msgspec.structs import replace

from audit.people import access, accounts, agenda, batches, disclosures, log, permissions
from audit.people.batches import Plan, Window
from audit.people.permissions import ROLES, Deed
from audit.settings import load_settings
from dashboards import session
from dashboards.keys import Key, ReviewKey
from dashboards.register import PAGES
from tests import page_databases
from tests.signing_in import PIN, known, sign_in
from tests.unit.dashboards.conftest import go

pytestmark = pytest.mark.slow  # a page run by run; that each page opens is in the quick part

NAMES = [Path(page.file).stem for page in PAGES]
BY_NAME = dict(zip(NAMES, PAGES, strict=True))
CASES = ("C-001", "C-002", "C-003", "C-004", "C-005")
# what stands on the pages of a unit and on no sign-in form
OF_THE_UNIT = (*CASES, "C\\-00", "2031-0", "run 00001", "Labours", "figo", "FIGO", "R1", "R2")


@pytest.fixture
def unit(databases, tmp_path):
    """A small database of this test alone, with an agenda and a batch, of several people."""
    db = databases["unit"] = page_databases.small_database(tmp_path)
    agenda.add(db, "2031-05", "C-004", who="lead", question="Earlier?")
    batches.make(db, Plan("May", "figo-2015", (Window("C-001", "A", 0.0, 1800.0),), ("R1",), seed=1), who="lead")
    for role in ROLES:
        known(db, role, "R1" if role == "reader" else "")
    return db


@pytest.fixture
def signed(open_page, unit):
    def opened(name, role, **query):
        page = open_page("unit", name, several=True, **query)
        return page if role is None else sign_in(page, role, "R1" if role == "reader" else "")

    return opened


def everything(page):
    """Whatever was drawn, as the browser gets it."""
    return " ".join(str(element.proto) for element in page.main if hasattr(element, "proto"))


def controls(page):
    kinds = (page.button, page.selectbox, page.multiselect, page.toggle, page.text_input, page.radio, page.checkbox)
    return {box.key for kind in kinds for box in kind} - {None}


def test_nobody_who_is_not_signed_in_sees_anything_of_a_page(signed):
    session = signed("this_month", None)
    for name in NAMES:
        page = go(session, name)
        assert page.title[0].value == BY_NAME[name].title
        assert controls(page) == {ReviewKey.SIGN_ROLE, ReviewKey.SIGN_PIN, ReviewKey.SIGN_IN}, name
        assert not [found for found in OF_THE_UNIT if found in everything(page)], name


@pytest.mark.parametrize("role", ROLES)
def test_a_page_is_drawn_for_the_roles_that_the_table_lets_in(signed, role):
    session = signed("this_month", role)
    for name in NAMES:
        page = go(session, name)
        let_in = any(permissions.may(role, deed) for deed in BY_NAME[name].deeds)
        refused = [text.value for text in page.info if "This page is for" in text.value]
        assert (refused == []) is let_in, name
        if not let_in:
            own = {ReviewKey.SIGN_OUT, ReviewKey.PIN_OLD, ReviewKey.PIN_NEW, ReviewKey.PIN_CHANGE}
            assert controls(page) <= own, name
            assert not [found for found in OF_THE_UNIT[:-2] if found in everything(page)], name
        if not permissions.may(role, Deed.SEE_OUTCOMES):
            outcomes = {Key.OUTCOME_BUTTON, Key.DISCUSS_OUTCOME, Key.TRENDS_OUTCOME, Key.QUALITY_OUTCOME}
            assert not controls(page) & outcomes, name


def test_every_page_needs_something():
    assert all(page.deeds for page in PAGES)


def test_a_reader_sees_their_own_leaning_and_nobody_elses_reads(signed):
    shown = everything(signed("reader_agreement", "reader", period="2031-04"))
    assert "Pair by pair" not in shown
    assert "Where readers differ most" not in shown
    for other in ("R2", "R3", "C-00"):
        assert other not in shown


def test_a_viewer_is_shown_nothing_that_changes_anything(signed, unit):
    session = signed("this_month", "viewer")
    before = len(log.entries(unit))
    for name in NAMES:
        for button in list(go(session, name).button):
            assert button.key in (ReviewKey.SIGN_OUT, ReviewKey.PIN_CHANGE) or button.label in ("Back", "Forth"), name
    assert len(log.entries(unit)) == before


@pytest.mark.parametrize("role", [None, "reader", "viewer"])
def test_what_shows_outcomes_asks_who_is_there(signed, role, monkeypatch):
    """Not the button, the data: asked for as a page would ask."""
    page = signed("this_month", role)

    def script():
        import pandas as pd
        import streamlit as st

        from audit.errors import NotAllowedError
        from dashboards import data

        for ask in (
            lambda: data.outcome("C-001"),
            lambda: data.discuss("2031-04", with_outcome=True),
            lambda: data.trends("figo-2015", with_outcome=True),
            lambda: data.rejects(pd.DataFrame({"import_id": [1]}), with_outcome=True),
        ):
            try:
                ask()
                st.write("shown")
            except NotAllowedError:
                st.write("refused")

    own = type(page).from_function(script, default_timeout=60)
    if role is not None:
        own.session_state[ReviewKey.ACCOUNT] = page.session_state[ReviewKey.ACCOUNT]
    own.run()
    assert [text.value for text in own.markdown] == ["refused"] * 4


def pass_time(monkeypatch, seconds):
    monkeypatch.setattr(session, "now_s", lambda clock=session.now_s: clock() + seconds)


def is_out(page):
    return [button.label for button in page.button if button.key == ReviewKey.SIGN_IN] == ["Sign in"]


@pytest.mark.parametrize(("minutes", "out"), [(29, False), (31, True)])
def test_a_session_ends_after_a_time_without_an_action_and_does_nothing_more(signed, unit, monkeypatch, minutes, out):
    page = signed("cases_to_discuss", "lead")
    page.selectbox(key=Key.PERIOD).set_value("2031-05").run()
    with monkeypatch.context() as later:
        pass_time(later, minutes * 60)
        page.button(key="off_C-004").click().run()
        assert is_out(page) is out
        assert not page.exception
    assert (agenda.items(unit, "2031-05") == []) is not out
    assert is_out(page.run()) is out  # also when the time without an action is over


@pytest.mark.slow
def test_a_session_ends_after_its_longest_time_however_busy(signed, monkeypatch):
    page = signed("this_month", "lead")
    clock = session.now_s
    for quarter in range(1, 4 * 12):
        monkeypatch.setattr(session, "now_s", lambda quarter=quarter: clock() + quarter * 900 - 120)
        if quarter % 4 == 1:
            assert not is_out(page.run())
        else:
            page.session_state[ReviewKey.ACCOUNT].last_s = session.now_s()
    monkeypatch.setattr(session, "now_s", lambda: clock() + 12 * 3600 + 5)
    assert is_out(page.run())


def test_the_unit_sets_its_own_times(signed, unit, monkeypatch):
    (unit.parent / "unit_settings.toml").write_text("[access]\nidle_minutes = 5.0\n", encoding="utf-8")
    page = signed("this_month", "lead")
    pass_time(monkeypatch, 6 * 60)
    assert is_out(page.run())


def test_the_unit_sets_its_own_longest_time(unit):
    account, limits = accounts.named("lead", ""), load_settings().access
    busy = session.Presence(account, "pin", accounts.mark(unit, account), since_s=session.now_s() - 3 * 3600)
    assert not busy.is_over(unit, limits)
    assert busy.is_over(unit, replace(limits, longest_hours=2.0))


def test_a_session_ends_when_its_pin_is_given_anew(signed, unit):
    page = signed("read_strips", "reader")
    accounts.reset_pin(unit, "R1", who="lead")
    assert is_out(page.run())


def test_a_session_that_changes_its_own_pin_goes_on(signed, unit):
    page, other = signed("read_strips", "reader"), signed("read_strips", "reader")
    page.text_input(key=ReviewKey.PIN_OLD).set_value(PIN)
    page.text_input(key=ReviewKey.PIN_NEW).set_value("2580")
    page.button(key=ReviewKey.PIN_CHANGE).click().run()
    assert not is_out(page.run())
    assert is_out(other.run())


def test_signing_out_leaves_nothing_behind(signed, unit):
    page = signed("case", "lead")
    page.button(key=Key.OUTCOME_BUTTON).click().run()
    assert Key.OUTCOME_OPEN in page.session_state
    page.button(key=ReviewKey.SIGN_OUT).click().run()
    assert is_out(page)
    assert Key.OUTCOME_OPEN not in page.session_state
    assert ReviewKey.ACCOUNT not in page.session_state


def test_signing_out_goes_on_past_a_key_that_the_library_lists_and_does_not_have(monkeypatch):
    class LeftBehind(dict):
        def __delitem__(self, key):
            if key == "period":
                raise KeyError(key)
            super().__delitem__(key)

    state = LeftBehind(period="2031-04", outcome="open")
    monkeypatch.setattr(session.st, "session_state", state)
    session.forget()
    assert "outcome" not in state


def test_a_download_is_given_while_the_session_lasts(signed, unit, monkeypatch):
    page = signed("meeting_pack", "lead")
    found = page.session_state[ReviewKey.ACCOUNT]
    monkeypatch.setattr(session.st, "session_state", {ReviewKey.ACCOUNT: found})
    given = session.held(Deed.MAKE_PACK, lambda: b"pack")
    assert given() == b"pack"
    with pytest.raises(session.NotAllowedError):
        session.held(Deed.READ_STRIPS, lambda: b"strip")
    pass_time(monkeypatch, 31 * 60)
    with pytest.raises(session.NotAllowedError, match="has ended"):
        given()


def test_the_unit_of_one_person_opens_without_signing_in_and_counts_an_opening_for_every_role(open_page, unit):
    page = open_page("unit", "case", case="C-001")
    assert "without passwords" in " ".join(text.value for text in page.caption)
    page = sign_in(page, "chair")
    page.button(key=Key.OUTCOME_BUTTON).click().run()
    assert [(row["opened_by"], row["place"]) for row in disclosures.of_case(unit, "C-001")] == [("unit", "case")]
    access.choose(unit, single_user=False)
    assert is_out(page.run())


def test_one_person_alone_is_on_this_computer_itself(open_page, unit, monkeypatch):
    page = open_page("unit", "this_month")
    assert page.metric
    monkeypatch.setattr(session.st, "get_option", lambda name: "0.0.0.0")
    page.run()
    assert not page.metric
    assert is_out(page)


def test_pages_reached_through_a_server_in_front_show_nothing_without_a_provider(open_page, unit, monkeypatch):
    page = open_page("unit", "this_month")
    monkeypatch.setattr(session, "from_elsewhere", lambda: True)
    page.run()
    assert not page.metric
    assert "server in front" in page.error[0].value


def test_a_new_unit_says_how_to_begin_and_takes_nobody_in(databases, open_page, tmp_path, monkeypatch):
    databases["new"] = page_databases.small_database(tmp_path)
    monkeypatch.setattr(access, "choose", lambda *_, **__: None)
    page = open_page("new", "this_month")
    shown = " ".join(text.value for text in page.markdown)
    assert "dashboard --single-user" in shown
    assert "account lead" in shown
    assert controls(page) == set()

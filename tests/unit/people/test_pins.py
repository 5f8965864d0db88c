"""Who is made known by whom; wrong PINs cost time; a forgotten one is given anew; all in the log. Our own rule."""

import sqlite3
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest

from audit.errors import AuditError, NotAllowedError, UsageError
from audit.people import access, accounts, log, verify
from audit.store import people_database


@pytest.fixture
def db(tmp_path):
    file = tmp_path / "unit.duckdb"
    accounts.make(file, "reader", "R1", pin="4711")
    return file


@pytest.fixture
def long_wait(monkeypatch):
    """However slow the machine is, the wait is not over before the next try."""
    monkeypatch.setattr(accounts, "FIRST_WAIT_S", accounts.LONGEST_WAIT_S)


def test_three_wrong_pins_are_free_and_then_even_the_right_one_waits(db, long_wait):
    for _ in range(accounts.FREE_TRIES):
        with pytest.raises(AuditError, match="does not belong"):
            accounts.sign_in(db, "reader", "R1", "0000")
    with pytest.raises(AuditError, match="too many wrong PINs; wait"):
        accounts.sign_in(db, "reader", "R1", "4711")
    accounts.make(db, "reader", "R2", pin="1234")
    accounts.sign_in(db, "reader", "R2", "1234")  # nobody else waits
    assert [row["deed"] for row in log.entries(db)].count("wrong PIN") == accounts.FREE_TRIES
    assert log.verify(db) == []


@pytest.mark.parametrize(("wrong", "waits_s"), [(2, 0), (3, 5), (4, 10), (6, 40), (30, 900)])
def test_the_wait_doubles_with_each_wrong_pin_up_to_a_quarter_of_an_hour(db, monkeypatch, wrong, waits_s):
    at = datetime.now(UTC).isoformat(timespec="milliseconds")
    monkeypatch.setattr(accounts.database, "rows", lambda *_: [{"at": at}] * wrong)
    assert accounts._wait_s(db, "R1") == pytest.approx(waits_s, abs=1)
    earlier = (datetime.now(UTC) - timedelta(seconds=waits_s + 1)).isoformat(timespec="milliseconds")
    monkeypatch.setattr(accounts.database, "rows", lambda *_: [{"at": earlier}] * wrong)
    assert accounts._wait_s(db, "R1") <= 0
    ahead = (datetime.now(UTC) + timedelta(days=1)).isoformat(timespec="milliseconds")  # the clock was set back since
    monkeypatch.setattr(accounts.database, "rows", lambda *_: [{"at": ahead}] * wrong)
    assert accounts._wait_s(db, "R1") <= 0


def test_a_forgotten_pin_is_given_anew_and_the_log_says_so(db):
    for _ in range(accounts.FREE_TRIES):
        with pytest.raises(AuditError):
            accounts.sign_in(db, "reader", "R1", "")
    pin = accounts.reset_pin(db, "R1")
    assert accounts.sign_in(db, "reader", "R1", pin).code == "R1"
    with pytest.raises(AuditError, match="does not belong"):
        accounts.sign_in(db, "reader", "R1", "4711")
    entry = next(row for row in log.entries(db) if row["deed"] == "PIN reset")
    assert (entry["who"], pin in repr(dict(entry))) == ("unit", False)
    with pytest.raises(UsageError, match="not known"):
        accounts.reset_pin(db, "R9")


def test_wrong_tries_count_in_every_session_and_after_a_restart(db):
    """What is counted is in the file: another process finds it there."""
    for _ in range(accounts.FREE_TRIES):
        with pytest.raises(AuditError):
            accounts.sign_in(db, "reader", "R1", "0000")
    script = (
        "import sys; from pathlib import Path; from audit.people import accounts\n"
        "accounts.FIRST_WAIT_S = accounts.LONGEST_WAIT_S\n"
        "try: accounts.sign_in(Path(sys.argv[1]), 'reader', 'R1', '4711')\n"
        "except Exception as error: print(error)"
    )
    said = subprocess.run([sys.executable, "-c", script, str(db)], capture_output=True, text=True, check=True).stdout
    assert "too many wrong PINs" in said


def test_tries_at_the_same_time_come_one_after_the_other(db, long_wait):
    """Or twenty browsers would have twenty free tries each."""
    with ThreadPoolExecutor(20) as many:
        said = [
            str(each.exception())
            for each in [many.submit(accounts.sign_in, db, "reader", "R1", "0000") for _ in range(20)]
        ]
    tried = sum("does not belong" in each for each in said)
    # on a slow machine some wait for the others in vain, and were no tries
    assert tried == accounts.FREE_TRIES or (
        tried < accounts.FREE_TRIES and any("did not finish" in each for each in said)
    )
    assert [row["deed"] for row in log.entries(db)].count("wrong PIN") == tried
    assert all("does not belong" in each or "too many" in each or "did not finish" in each for each in said)


@pytest.mark.parametrize("role", ["lead", "chair", "viewer", "reader"])
def test_nobody_gets_in_who_was_not_made_known(db, role):
    with pytest.raises(AuditError, match="not known in this unit"):
        accounts.sign_in(db, role, "R9" if role == "reader" else "", "4711")
    assert [row["code"] for row in accounts.known(db)] == ["R1"]


def test_the_lead_makes_readers_and_viewers_and_nobody_else_does(db):
    assert accounts.sign_in(db, "viewer", pin=accounts.make(db, "viewer", who="lead")).role == "viewer"
    assert accounts.sign_in(db, "reader", "R2", accounts.make(db, "reader", "R2", who="lead")).code == "R2"
    for who in ("chair", "reader:R1", "viewer"):
        with pytest.raises(NotAllowedError):
            accounts.make(db, "reader", "R3", who=who)
        with pytest.raises(NotAllowedError):
            accounts.reset_pin(db, "R1", who=who)
    for role in ("lead", "chair"):
        with pytest.raises(NotAllowedError, match="on the machine itself"):
            accounts.make(db, role, who="lead")
        accounts.make(db, role)
        with pytest.raises(NotAllowedError, match="on the machine itself"):
            accounts.reset_pin(db, role, who="lead")
        with pytest.raises(UsageError, match="known already"):
            accounts.make(db, role)
    made = [(row["deed"], row["who"]) for row in log.entries(db) if row["deed"] == "made known"]
    assert made == [("made known", who) for who in ("unit", "lead", "lead", "unit", "unit")]


def test_a_code_signs_in_under_its_own_role_alone(db):
    with pytest.raises(AuditError, match="not known"):
        accounts.sign_in(db, "lead", "R1", "4711")
    with sqlite3.connect(people_database.file_of(db)) as con:
        con.execute("update accounts set code = 'lead'")
    with pytest.raises(AuditError, match="not known"):
        accounts.sign_in(db, "lead", pin="4711")


def test_an_account_of_an_older_program_without_a_pin_opens_nothing(db):
    salt = b"0" * 16
    with sqlite3.connect(people_database.file_of(db)) as con:
        con.execute("update accounts set salt = ?, pin_hash = ?", [salt, accounts._hashed("", salt)])
    with pytest.raises(AuditError, match="has no PIN yet"):
        accounts.sign_in(db, "reader", "R1", "")
    assert accounts.sign_in(db, "reader", "R1", accounts.reset_pin(db, "R1")).code == "R1"


def test_an_own_pin_is_changed_with_the_old_one(db):
    reader = accounts.Account("reader", "R1")
    with pytest.raises(AuditError, match="does not belong"):
        accounts.change_pin(db, reader, "0000", "2580")
    with pytest.raises(UsageError, match="expected 4 to 64"):
        accounts.change_pin(db, reader, "4711", "12")
    accounts.change_pin(db, reader, "4711", "2580")
    assert accounts.sign_in(db, "reader", "R1", "2580") == reader
    assert verify.problems(db) == []


def test_a_unit_of_one_person_is_a_choice_that_is_kept_and_logged(db):
    assert not access.single_user(db)
    for single_user in (True, True, False):
        access.choose(db, single_user=single_user)
        assert access.single_user(db) is single_user
    assert [row["new"] for row in log.entries(db) if row["subject"] == "access"] == [
        '{"single_user":1}',
        '{"single_user":0}',
    ]
    assert not access.is_new(db)
    assert access.is_new(db.with_name("other.duckdb"))

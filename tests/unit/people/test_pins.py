"""Wrong PINs cost time, and a forgotten one can be given anew on the machine; both stand in the log. Our own rule."""

from datetime import UTC, datetime, timedelta

import pytest

from audit.errors import AuditError, UsageError
from audit.people import accounts, log


@pytest.fixture
def db(tmp_path):
    file = tmp_path / "unit.duckdb"
    accounts.sign_in(file, "reader", "R1", "4711")
    return file


def test_three_wrong_pins_are_free_and_then_even_the_right_one_waits(db):
    for _ in range(accounts.FREE_TRIES):
        with pytest.raises(AuditError, match="does not belong"):
            accounts.sign_in(db, "reader", "R1", "0000")
    with pytest.raises(AuditError, match="too many wrong PINs; wait"):
        accounts.sign_in(db, "reader", "R1", "4711")
    accounts.sign_in(db, "reader", "R2", "1")  # nobody else waits
    assert [row["deed"] for row in log.entries(db)].count("wrong PIN") == accounts.FREE_TRIES
    assert log.verify(db) == []


@pytest.mark.parametrize(("wrong", "waits_s"), [(2, 0), (3, 5), (4, 10), (6, 40), (30, 900)])
def test_the_wait_doubles_with_each_wrong_pin_up_to_a_quarter_of_an_hour(db, monkeypatch, wrong, waits_s):
    at = datetime.now(UTC).isoformat(timespec="milliseconds")
    monkeypatch.setattr(accounts.database, "ask", lambda *_: [{"at": at}] * wrong)
    assert accounts._wait_s(db, "R1") == pytest.approx(waits_s, abs=1)
    earlier = (datetime.now(UTC) - timedelta(seconds=waits_s + 1)).isoformat(timespec="milliseconds")
    monkeypatch.setattr(accounts.database, "ask", lambda *_: [{"at": earlier}] * wrong)
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

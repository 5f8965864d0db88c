"""Who is at the keyboard: a role or a reader code, with a PIN if they want one. No names.

A PIN keeps colleagues who share a computer out of each other's figures. It does not protect against a person who can
read the file itself; the folder's permissions do that.
"""

import hashlib
import hmac
import json
import os
import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from audit.errors import AuditError, UsageError
from audit.people import log, rules, verify
from audit.store import people_database as database

ROLES = ("lead", "chair", "reader")
# Our choice: three slips cost nothing, guessing six figures at this pace takes years.
FREE_TRIES, FIRST_WAIT_S, LONGEST_WAIT_S = 3, 5.0, 900.0


@dataclass(frozen=True)
class Account:
    """A signed-in role; `code` is the reader code, or the role itself for lead and chair."""

    role: str
    code: str

    @property
    def who(self) -> str:
        """How the log calls it."""
        return f"reader:{self.code}" if self.role == "reader" else self.role

    @property
    def is_lead(self) -> bool:
        """The lead sees every reader's leaning; a reader only their own."""
        return self.role == "lead"


def sign_in(db: Path, role: str, code: str = "", pin: str = "") -> Account:
    """Sign in; the first sign-in of a code makes it known and sets its PIN (which may be empty).

    Raises UsageError for an impossible role or code, AuditError for a wrong PIN.
    """
    if role not in ROLES:
        raise UsageError(f"role: found {role!r}, expected one of {', '.join(ROLES)}")
    code = rules.checked_code(code) if role == "reader" else role
    if role == "reader" and code in ROLES:
        raise UsageError(f"reader code: {code} is a role, please choose another code")
    account = Account(role, code)
    found = database.ask(db, "account", {"code": code})
    if not found:
        _make(db, account, pin)
        found = database.ask(db, "account", {"code": code})
    wait_s = _wait_s(db, code)
    if wait_s > 0:
        raise AuditError(f"{code}: too many wrong PINs; wait {wait_s:.0f} s, then try again")
    if not hmac.compare_digest(_hashed(pin, found[0]["salt"]), found[0]["pin_hash"]):
        with database.writing(db) as con:
            log.append(con, account.who, "wrong PIN", "sign-in", {"code": code})
        raise AuditError(f"{code}: this PIN does not belong to this code; nothing was opened")
    return account


def reset_pin(db: Path, code: str) -> str:
    """Give a code a new PIN and return it; for who can write to the database's folder. The log keeps that it was done.

    Raises UsageError for a code that nobody signed in with.
    """
    found = database.ask(db, "account", {"code": code})
    if not found:
        raise UsageError("this code is not known; it is made known by its first sign-in")
    pin, salt = f"{secrets.randbelow(1_000_000):06d}", os.urandom(16)
    pin_hash = _hashed(pin, salt)
    with database.writing(db) as con:
        database.execute(con, "account_pin", {"code": code, "salt": salt, "pin_hash": pin_hash})
        mark = verify.secret_mark(salt + pin_hash)
        log.append(con, "unit", "PIN reset", "account", {"code": code}, new={"secret": mark})
    return pin


def _wait_s(db: Path, code: str) -> float:
    """Seconds until another try: none after a few wrong ones, then doubled with each, up to a quarter of an hour."""
    now = datetime.now(UTC)
    since = (now - timedelta(seconds=LONGEST_WAIT_S)).isoformat(timespec="milliseconds")
    key = json.dumps({"code": code}, separators=(",", ":"), ensure_ascii=False)
    wrong = database.ask(db, "wrong_pins", {"key": key, "since": since})
    if len(wrong) < FREE_TRIES:
        return 0.0
    wait_s = min(LONGEST_WAIT_S, FIRST_WAIT_S * 2.0 ** (len(wrong) - FREE_TRIES))
    return wait_s - (now - datetime.fromisoformat(wrong[-1]["at"])).total_seconds()


def known_readers(db: Path) -> list[str]:
    """Every reader code that ever signed in or was put on a batch."""
    return [row["code"] for row in database.ask(db, "reader_codes")]


def _make(db: Path, account: Account, pin: str) -> None:
    salt = os.urandom(16)
    pin_hash = _hashed(pin, salt)
    row = {"code": account.code, "role": account.role, "salt": salt, "pin_hash": pin_hash}
    with database.writing(db) as con:
        # of two browsers that meet on a new code the first one sets the PIN
        made = database.execute(con, "account_add", {**row, "at": log.utc_now()}).rowcount
        if made:
            secret = verify.secret_mark(salt + pin_hash)
            log.append(con, account.who, "signed in first", "account", {"code": account.code}, new={"secret": secret})


def _hashed(pin: str, salt: bytes) -> bytes:
    return hashlib.scrypt(pin.encode(), salt=salt, n=2**14, r=8, p=1)

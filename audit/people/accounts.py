"""Who is at the keyboard: a role or a reader code, with a PIN. No names.

The first lead is made on the machine, by whoever may write to the database's folder; the lead then makes readers and
viewers known. A PIN keeps colleagues who share a computer out of each other's figures. It does not protect against a
person who can read the file itself; the folder's permissions do that.
"""

import hashlib
import hmac
import json
import os
import re
import secrets
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from audit.errors import AuditError, NotAllowedError, UsageError, one_of
from audit.people import log, permissions, rules, verify
from audit.people.permissions import MACHINE, READER, VIEWER, Deed
from audit.people.writing import writing
from audit.store import people_database as database
from audit.vocabulary import ROLES

# Our choice: three slips cost nothing, guessing six figures at this pace takes years.
FREE_TRIES, FIRST_WAIT_S, LONGEST_WAIT_S = 3, 5.0, 900.0
_PIN = re.compile(r"\S{4,64}")


@dataclass(frozen=True)
class Account:
    """A signed-in role; `code` is the reader code, or the role itself for the others.

    `at_machine`: the one person of a unit without passwords, who has not said in which role.
    """

    role: str
    code: str
    at_machine: bool = False

    @property
    def who(self) -> str:
        """How the log calls it."""
        if self.at_machine:
            return MACHINE
        return f"{READER}:{self.code}" if self.role == READER else self.role


def named(role: str, code: str = "") -> Account:
    """The account of a role or reader code. Raises UsageError for an impossible one."""
    one_of("role", role, ROLES)
    if role != READER:
        return Account(role, role)
    if rules.checked_code(code) in (*ROLES, MACHINE):
        raise UsageError(f"reader code: {code} is a role, please choose another code")
    return Account(role, code)


def sign_in(db: Path, role: str, code: str = "", pin: str = "") -> Account:
    """Sign in. Raises UsageError for an impossible role or code, AuditError for one not known or a wrong PIN."""
    account = named(role, code)
    if not database.ask(db, "account", {"code": account.code}):
        raise AuditError(_unknown(account))
    with writing(db, MACHINE, Deed.KEEP_PEOPLE) as con:  # tries at the same time come one after the other
        problem = _problem(con, account, pin)
    if problem:
        raise AuditError(problem)
    return account


def _problem(con: sqlite3.Connection, account: Account, pin: str) -> str | None:
    """Why this sign-in is refused, or None. A wrong PIN is kept in the log, so it counts in every session."""
    code = account.code
    found = database.rows(con, "account", {"code": code})
    if not found or found[0]["role"] != account.role:
        return _unknown(account)
    wait_s = _wait_s(con, code)
    if wait_s > 0:
        return f"{code}: too many wrong PINs; wait {wait_s:.0f} s, then try again"
    if not hmac.compare_digest(_hashed(pin, found[0]["salt"]), found[0]["pin_hash"]):
        log.append(con, account.who, "wrong PIN", "sign-in", {"code": code})
        return f"{code}: this PIN does not belong to this code; nothing was opened"
    if not pin:
        return f"{code}: has no PIN yet, so nobody signs in with it; `intrapartum-audit reset-pin {code}` gives it one"
    return None


def _unknown(account: Account) -> str:
    if account.role in (READER, VIEWER):
        way = f"the lead makes it known on the page The unit, or `intrapartum-audit account {account.role}`"
    else:
        way = f"`intrapartum-audit account {account.role}`"
    return f"{account.code}: not known in this unit; {way} does so on the machine"


def make(db: Path, role: str, code: str = "", *, who: str = MACHINE, pin: str | None = None) -> str:
    """Make a role or reader code known and return its PIN, a drawn one where none is given; the log keeps it.

    Raises UsageError for an impossible or a known code, NotAllowedError where `who` may not: the lead makes readers and
    viewers, everybody else is made on the machine.
    """
    account = named(role, code)
    _for_machine_or_lead(account.role, who)
    pin = _drawn() if pin is None else _checked_pin(pin)
    salt = os.urandom(16)
    pin_hash = _hashed(pin, salt)
    row = {"code": account.code, "role": account.role, "salt": salt, "pin_hash": pin_hash}
    with writing(db, who, Deed.KEEP_PEOPLE) as con:
        if not database.execute(con, "account_add", {**row, "at": log.utc_now()}).rowcount:
            raise UsageError(f"{account.code}: known already; a forgotten PIN is given anew with reset-pin")
        new = {"role": account.role, "secret": verify.secret_mark(salt + pin_hash)}
        log.append(con, who, "made known", "account", {"code": account.code}, new=new)
    return pin


def reset_pin(db: Path, code: str, *, who: str = MACHINE) -> str:
    """Give a code a new PIN and return it: on the machine, or by the lead for readers and viewers. The log keeps it.

    Raises UsageError for a code that is not known, NotAllowedError where `who` may not.
    """
    found = database.ask(db, "account", {"code": code})
    if not found:
        raise UsageError("this code is not known; `intrapartum-audit account` makes it known")
    _for_machine_or_lead(found[0]["role"], who)
    pin = _drawn()
    with writing(db, who, Deed.KEEP_PEOPLE) as con:
        _set_pin(con, who, code, pin, "PIN reset")
    return pin


def change_pin(db: Path, account: Account, old: str, new: str) -> None:
    """Change one's own PIN. Raises AuditError where the old one is wrong, UsageError for one too short."""
    _checked_pin(new)
    sign_in(db, account.role, account.code, old)
    with writing(db, account.who, Deed.CHANGE_OWN_PIN) as con:
        _set_pin(con, account.who, account.code, new, "PIN changed")


def mark(db: Path, account: Account) -> str | None:
    """What tells an account's PIN from another one without saying it; None for an account that is not known."""
    found = database.ask(db, "account", {"code": account.code})
    if not found or found[0]["role"] != account.role:
        return None
    return verify.secret_mark(found[0]["salt"] + found[0]["pin_hash"])


def known(db: Path) -> list[database.Row]:
    """`code, role, created_at` of everybody who may sign in."""
    return database.ask(db, "accounts_all")


def known_readers(db: Path) -> list[str]:
    """Every reader code that is known or was put on a batch."""
    return [row["code"] for row in database.ask(db, "reader_codes")]


def unknown_readers(db: Path, codes: Sequence[str]) -> list[str]:
    """Those of the codes with which nobody can sign in yet."""
    found = {row["code"] for row in known(db)}
    return [code for code in codes if code not in found]


def _for_machine_or_lead(role: str, who: str) -> None:
    permissions.required(who, Deed.KEEP_PEOPLE)
    if who != MACHINE and role not in (READER, VIEWER):
        raise NotAllowedError(f"a {role} is made, and given a PIN, on the machine itself; nothing was done")


def _set_pin(con: sqlite3.Connection, who: str, code: str, pin: str, deed: str) -> None:
    salt = os.urandom(16)
    pin_hash = _hashed(pin, salt)
    database.execute(con, "account_pin", {"code": code, "salt": salt, "pin_hash": pin_hash})
    log.append(con, who, deed, "account", {"code": code}, new={"secret": verify.secret_mark(salt + pin_hash)})


def _wait_s(con: sqlite3.Connection, code: str) -> float:
    """Seconds until another try: none after a few wrong ones, then doubled with each, up to a quarter of an hour.

    Tries that lie ahead, since the clock was set back, keep nobody waiting until their day comes.
    """
    now = datetime.now(UTC)
    since = (now - timedelta(seconds=LONGEST_WAIT_S)).isoformat(timespec="milliseconds")
    key = json.dumps({"code": code}, separators=(",", ":"), ensure_ascii=False)
    wrong = database.rows(con, "wrong_pins", {"key": key, "since": since})
    ago_s = [(now - datetime.fromisoformat(row["at"])).total_seconds() for row in wrong]
    ago_s = [ago for ago in ago_s if ago >= 0]
    if len(ago_s) < FREE_TRIES:
        return 0.0
    return min(LONGEST_WAIT_S, FIRST_WAIT_S * 2.0 ** (len(ago_s) - FREE_TRIES)) - min(ago_s)


def _drawn() -> str:
    return f"{secrets.randbelow(1_000_000):06d}"


def _checked_pin(pin: str) -> str:
    if not _PIN.fullmatch(pin):
        raise UsageError(f"PIN: found {len(pin)} characters, expected 4 to 64 without spaces")
    return pin


def _hashed(pin: str, salt: bytes) -> bytes:
    return hashlib.scrypt(pin.encode(), salt=salt, n=2**14, r=8, p=1)

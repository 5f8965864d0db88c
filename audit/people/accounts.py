"""Who is at the keyboard: a role or a reader code, with a PIN if they want one. No names.

A PIN keeps colleagues who share a computer out of each other's figures. It does not protect against a person who can
read the file itself; the folder's permissions do that.
"""

import hashlib
import hmac
import os
from dataclasses import dataclass
from pathlib import Path

from audit.errors import AuditError, UsageError
from audit.people import log, rules, verify
from audit.store import people_database as database

ROLES = ("lead", "chair", "reader")


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
    if not hmac.compare_digest(_hashed(pin, found[0]["salt"]), found[0]["pin_hash"]):
        raise AuditError(f"{code}: this PIN does not belong to this code; nothing was opened")
    return account


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

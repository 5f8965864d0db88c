"""Signing in through the hospital's identity provider: claims become a role, and sessions end here, not at the cookie.

The library keeps a signed cookie for 30 days. What counts is the table below: a sign-in (issuer, subject and moment of
issue, `iss`, `sub`, `iat` of OpenID Connect Core 1.0, section 2) that has ended stays ended, whatever cookie comes.
"""

import os
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import streamlit as st

from audit.errors import AuditError
from audit.people import accounts
from audit.people.accounts import Account
from audit.people.permissions import READER
from audit.setting_tables.access import AccessOptions

VARIABLE = "INTRAPARTUM_AUDIT_PROVIDER"
_FORGOTTEN_AFTER_S = 86_400 + 3600  # no sign-in is longer (`longest_hours`), so an older one is refused by its moment


@dataclass
class SignIn:
    """One sign-in at the provider: when it was made (s since 1970) and when it was last used (s, monotonic clock)."""

    issued_s: float
    last_s: float
    ended: bool = False

    def is_over(self, _db: Path, options: AccessOptions) -> bool:
        """Has it ended? Once ended it stays so."""
        self.ended |= time.monotonic() - self.last_s > options.idle_minutes * 60
        # a minute's grace for clocks that differ; a moment still to come is no sign-in of ours
        age_s = time.time() - self.issued_s
        self.ended |= not -60 <= age_s <= options.longest_hours * 3600
        return self.ended


_SIGN_INS: dict[tuple[str, str, float], SignIn] = {}
_LOCK = threading.Lock()


def in_use() -> bool:
    """Were the pages started with an identity provider?"""
    return os.environ.get(VARIABLE, "") == "1"


def claims() -> Mapping[str, Any]:
    """What the provider said of who is there; nothing where nobody signed in."""
    return st.user.to_dict() if st.user.is_logged_in else {}


def presence() -> SignIn | None:
    """The sign-in of this session; None where there is none, or none that says who and when."""
    said = claims()
    key = (said.get("iss"), said.get("sub"), said.get("iat"))
    if not (isinstance(key[0], str) and isinstance(key[1], str) and isinstance(key[2], int | float)):
        return None
    with _LOCK:
        for old in [old for old in _SIGN_INS if time.time() - old[2] > _FORGOTTEN_AFTER_S]:
            del _SIGN_INS[old]
        return _SIGN_INS.setdefault((key[0], key[1], key[2]), SignIn(key[2], time.monotonic()))


def account(options: AccessOptions) -> Account | None:
    """The account that the claims give, or None."""
    found = presence()
    if found is None or found.is_over(Path(), options):
        return None
    found.last_s = time.monotonic()
    try:
        return _account_of(claims(), options)
    except AuditError:
        return None


def why_not(options: AccessOptions) -> str | None:
    """Why somebody who signed in at the provider is not let in; None where nobody did, or the sign-in has ended."""
    found = presence()
    if found is None or found.is_over(Path(), options):
        return None
    try:
        if _account_of(claims(), options) is None:
            return f"your account has none of the roles of this unit (claim {options.role_claim})"
    except AuditError:
        return f"your account has no reader code that can be used (claim {options.reader_claim})"
    return None


def leave() -> None:
    """End this sign-in here, then at the library's cookie and the provider."""
    found = presence()
    if found is not None:
        found.ended = True
    st.logout()


def _account_of(said: Mapping[str, Any], options: AccessOptions) -> Account | None:
    role = options.role_of(said)
    if role is None:
        return None
    code = said.get(options.reader_claim)
    return accounts.named(role, code if role == READER and isinstance(code, str) else "")

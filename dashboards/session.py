"""Who is at the keyboard of a browser session, asked anew at each action; and what the table gives them.

Nobody is remembered for longer than the settings say: a session ends after a time without an action and after its
longest time, when its PIN was given anew, and when the unit chose otherwise. What a page showed before that is no way
in: whatever writes or shows asks here when it does so.
"""

import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import streamlit as st

from audit.errors import NotAllowedError
from audit.people import access, accounts, blindness, permissions
from audit.people.accounts import Account
from audit.people.permissions import LEAD, Deed
from audit.setting_tables.access import AccessOptions
from dashboards import place, provider
from dashboards.keys import ReviewKey

LOOPBACK = ("127.0.0.1", "localhost", "::1")
# what a server in front adds; whoever comes that way is not at this computer
_FORWARDED = ("x-forwarded-for", "x-forwarded-host", "x-real-ip", "forwarded", "via")


def now_s() -> float:
    """Seconds on a clock that nobody sets back."""
    return time.monotonic()


@dataclass
class Presence:
    """Somebody who signed in: since when, when they last did something (s, monotonic clock), and how they got in."""

    account: Account
    how: str
    mark: str | None = None
    since_s: float = field(default_factory=lambda: now_s())
    last_s: float = field(default_factory=lambda: now_s())
    ended: bool = False

    def is_over(self, db: Path, options: AccessOptions) -> bool:
        """Has this session ended? Once ended it stays so."""
        at_s = now_s()
        if self.how == "pin":
            self.ended |= at_s - self.last_s > options.idle_minutes * 60
            self.ended |= at_s - self.since_s > options.longest_hours * 3600
            self.ended |= accounts.mark(db, self.account) != self.mark
        if self.how == "alone":
            self.ended |= not alone()
        return self.ended


def alone() -> bool:
    """Is this the unit of one person without passwords, on this computer itself?"""
    db = place.database()
    own = st.get_option("server.address") in LOOPBACK and not provider.in_use()
    return own and db is not None and access.single_user(db)


def from_elsewhere() -> bool:
    """Does the connection come through a server in front, though no identity provider is in use?"""
    return not provider.in_use() and any(name in st.context.headers for name in _FORWARDED)


def account() -> Account | None:
    """Who is there, or None; whoever is there counts as having just done something."""
    db = place.database()
    if db is None or from_elsewhere():
        return None
    options = place.settings(db).access
    if provider.in_use():
        return provider.account(options)
    found = st.session_state.get(ReviewKey.ACCOUNT)
    if isinstance(found, Presence) and not found.is_over(db, options):
        found.last_s = now_s()
        return found.account
    if found is not None:
        forget()
    return Account(LEAD, LEAD, at_machine=True) if alone() else None


def enter(role: str, code: str, pin: str) -> None:
    """Sign in with a PIN; in the unit of one person, act in a role. Raises AuditError where that cannot be."""
    db = place.database()
    if db is None or from_elsewhere() or provider.in_use():
        raise NotAllowedError("nobody signs in with a PIN here")
    if alone():
        found = Presence(accounts.named(role, code), "alone")
    else:
        signed_in = accounts.sign_in(db, role, code, pin)
        found = Presence(signed_in, "pin", accounts.mark(db, signed_in))
    forget()
    st.session_state[ReviewKey.ACCOUNT] = found


def change_pin(old: str, new: str) -> None:
    """Change the PIN of who is signed in; this session goes on, their others end. Raises AuditError."""
    who(Deed.CHANGE_OWN_PIN)
    found, db = st.session_state.get(ReviewKey.ACCOUNT), place.database()
    if not isinstance(found, Presence) or db is None or found.how != "pin":
        raise NotAllowedError("nobody is signed in with a PIN; nothing was done")
    accounts.change_pin(db, found.account, old, new)
    found.mark = accounts.mark(db, found.account)


def forget() -> None:
    """Nobody is there any more, and nothing that they opened or typed either."""
    found = st.session_state.get(ReviewKey.ACCOUNT)
    if isinstance(found, Presence):
        found.ended = True
    for key in list(st.session_state.keys()):
        # one that a box of another page left behind is listed by the library, and is not there when it is asked for
        with suppress(KeyError):
            del st.session_state[key]


def may(deed: Deed) -> bool:
    """Does the table give this to who is there?"""
    found, db = account(), place.database()
    if found is None or db is None:
        return False
    return permissions.may(found.role, deed) and not blindness.waits(db, found.who, deed)


def who(deed: Deed) -> str:
    """Who is there, as the log calls them, where they may do this. Raises NotAllowedError where they may not."""
    found = account()
    permissions.required(None if found is None else found.who, deed)
    db = place.database()
    assert found is not None
    assert db is not None
    blindness.required(db, found.who, deed)
    return found.who


def opener() -> str:
    """Who opens an outcome outside a meeting: one person alone opens it for every role they act in."""
    opened_by = who(Deed.SEE_OUTCOMES)
    return permissions.MACHINE if alone() else opened_by


def held(deed: Deed, make: Callable[[], bytes]) -> Callable[[], bytes]:
    """What a download gives, for as long as who is there now may have it: it is asked when the button is pressed."""
    db, role = place.database(), permissions.role_of(who(deed))
    found: Any = provider.presence() if provider.in_use() else st.session_state.get(ReviewKey.ACCOUNT)

    def given() -> bytes:
        assert db is not None
        gone = alone() is False if found is None else found.is_over(db, place.settings(db).access)
        if gone or not permissions.may(role, deed):
            raise NotAllowedError("this session has ended; sign in again")
        return make()

    return given


def fragment(deed: Deed, every_s: float | None = None) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """A part of a page that is drawn anew by itself, without the page's own question who is there: it asks again.

    `every_s`: drawn anew by itself so often; None = only when something in it is used.
    """

    def made(draw: Callable[..., None]) -> Callable[..., None]:
        @st.fragment(run_every=every_s)
        def part(*args: Any, **options: Any) -> None:
            if not may(deed):
                st.rerun()
            draw(*args, **options)

        return part

    return made

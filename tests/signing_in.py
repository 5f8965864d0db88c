"""Signing in on a page that is driven without a browser, and making people known to sign in with."""

import os
from pathlib import Path
from typing import Any

from audit.people import access, accounts
from dashboards.keys import ReviewKey
from dashboards.signed_in import _ROLE_WORDS

PIN = "4711"


def known(db: Path, role: str, code: str = "") -> str:
    """Make a role or reader known, unless it is or nobody needs to be; the PIN to sign in with."""
    account = accounts.named(role, code)
    if not access.single_user(db) and accounts.mark(db, account) is None:
        accounts.make(db, role, code, pin=PIN)
    return PIN


def sign_in(page: Any, role: str, code: str = "") -> Any:
    """Sign in on a page, or act in a role in the unit of one person."""
    pin = known(Path(os.environ["INTRAPARTUM_AUDIT_DB"]), role, code)
    if [button for button in page.button if button.key == ReviewKey.SIGN_OUT]:
        page.button(key=ReviewKey.SIGN_OUT).click().run()
    page.radio(key=ReviewKey.SIGN_ROLE).set_value(role).run()
    if code:
        page.text_input(key=ReviewKey.SIGN_CODE).set_value(code).run()
    if [box for box in page.text_input if box.key == ReviewKey.SIGN_PIN]:
        page.text_input(key=ReviewKey.SIGN_PIN).set_value(pin)
    page.button(key=ReviewKey.SIGN_IN).click().run()
    assert not page.exception, page.exception
    return page


def roles_of(form: Any) -> list[str]:
    """The roles that a sign-in form offers; the form holds the words that a person reads."""
    return [role for role, words in _ROLE_WORDS.items() if words in form.options]

"""Signing in on a page that is driven without a browser."""

from typing import Any

from dashboards.keys import ReviewKey
from dashboards.signed_in import _ROLE_WORDS


def sign_in(page: Any, role: str, code: str = "") -> Any:
    """Sign in on a page that asks for it."""
    page.radio(key=ReviewKey.SIGN_ROLE).set_value(role).run()
    if code:
        page.text_input(key=ReviewKey.SIGN_CODE).set_value(code).run()
    page.button(key=ReviewKey.SIGN_IN).click().run()
    assert not page.exception, page.exception
    return page


def roles_of(form: Any) -> list[str]:
    """The roles that a sign-in form offers; the form holds the words that a person reads."""
    return [role for role, words in _ROLE_WORDS.items() if words in form.options]

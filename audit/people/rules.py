"""What may be written: months, case ids, reader codes, and short text without anything that identifies a person."""

import hashlib
import re
from collections.abc import Callable

from audit.errors import UsageError
from audit.people.identifiers import looks_like

LONGEST_TEXT = 400

_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,11}")
# digests of the texts whose writer was warned; the pages keep them for as long as somebody is there
warned_of: Callable[[], set[str]] = set


def checked_code(code: str) -> str:
    """A reader code. Raises UsageError for anything that could be a name with spaces, or is too long."""
    if not _CODE.fullmatch(code):
        raise UsageError(
            f"reader code: found {len(code)} characters, expected 1 to 12 letters, digits, - or _, and never a"
            " person's name"
        )
    return code


def checked_text(field: str, text: str | None) -> str | None:
    """Short text, or None when empty. Raises UsageError when it is long.

    Where it looks as if it named somebody, UsageError too, the first time; the same text given again is confirmed.
    """
    text = " ".join(text.split()) if text else ""
    if not text:
        return None
    if len(text) > LONGEST_TEXT:
        raise UsageError(f"{field}: found {len(text)} characters, expected at most {LONGEST_TEXT}; nothing was stored")
    kind, digest, warned = looks_like(text), hashlib.sha256(text.encode()).hexdigest(), warned_of()
    if kind is not None and digest not in warned:
        warned.add(digest)
        raise UsageError(
            f"{field}: holds what looks like {kind}; take it out, or save the same text again to confirm that it names"
            " nobody; nothing was stored"
        )
    return text

"""What may be written: months, case ids, reader codes, and short text without anything that identifies a person."""

import re

from audit.errors import UsageError
from audit.intake.door.deidentify import identifier_in

LONGEST_TEXT = 400

_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,11}")


def checked_code(code: str) -> str:
    """A reader code. Raises UsageError for anything that could be a name with spaces, or is too long."""
    if not _CODE.fullmatch(code):
        raise UsageError(
            f"reader code: found {code!r}, expected 1 to 12 letters, digits, - or _, and never a person's name"
        )
    return code


def checked_text(field: str, text: str | None) -> str | None:
    """Short text, or None when empty. Raises UsageError when it is long or holds what looks like an identifier."""
    text = " ".join(text.split()) if text else ""
    if not text:
        return None
    if len(text) > LONGEST_TEXT:
        raise UsageError(f"{field}: found {len(text)} characters, expected at most {LONGEST_TEXT}; nothing was stored")
    kind = identifier_in(text)
    if kind is not None:
        raise UsageError(f"{field}: holds what looks like {kind}; take it out, nothing was stored")
    return text

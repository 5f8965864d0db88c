"""Codes that name a case, a fetus or a reader: what they may look like."""

import re

_CODE = re.compile(r"^\w[\w. +-]{0,63}$")
_FETUS = re.compile(r"^[A-Za-z0-9]{1,8}$")


def bad_case_id(case_id: str) -> str | None:
    """Why this is no case id, or None when it is one."""
    if not case_id:
        return "found no case_id, expected a pseudonymous code"
    if not _CODE.match(case_id) or ".." in case_id:
        return "found a case_id with other characters, expected 1 to 64 letters, digits, spaces and . _ + -"
    return None


def bad_fetus(fetus: str) -> str | None:
    """Why this is no fetus, or None when it is one."""
    if not _FETUS.match(fetus):
        return "found another fetus, expected a letter or short code such as A or B"
    return None


def bad_reader(reader: str) -> str | None:
    """Why this is no reader code, or None when it is one."""
    if not reader:
        return "found no reader, expected a code such as R1"
    if len(reader) > 64 or not reader.isprintable():
        return "found a reader of more than 64 characters, expected a code such as R1"
    return None

"""Codes that name a case, a fetus or a reader: what they may look like."""

import math
import re
from collections.abc import Collection
from typing import Any

from audit.intake.checks.fields import as_text
from audit.intake.door.shape import shape

_FETUS = re.compile(r"[A-Fa-f1-6]")
_LONGEST = 256
# what programs write where there is no code; 'NA' and 'N/A' are initials too and stay what they are
_NO_CODE = frozenset(("", "NaN", "nan", "NAN", "null", "NULL", "None"))
_SHEET_ERRORS = frozenset(("#N/A", "#REF!", "#VALUE!", "#NAME?", "#NULL!", "#DIV/0!", "#NUM!"))  # ECMA-376 1, 18.17.3


def as_code(value: Any) -> str:
    """A typed code as text, trimmed; "" when none was given."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    text = as_text(value)
    return "" if text in _NO_CODE else text


def bad_case_id(case_id: str) -> str | None:
    """Why this is no case id, or None when it is one."""
    if case_id in _NO_CODE or case_id in _SHEET_ERRORS or not any(map(str.isalnum, case_id)):
        return "found no case_id, expected a pseudonymous code"
    if len(case_id) > _LONGEST or not case_id.isprintable():
        return f"found {shape(case_id)}, expected a pseudonymous code of at most {_LONGEST} characters"
    return None


def bad_event_id(event_id: str) -> str | None:
    """Why this is no key of an event, or None when it is one."""
    if len(event_id) > _LONGEST or not event_id.isprintable():
        return f"found {shape(event_id)}, expected a key of at most {_LONGEST} characters"
    return None


def bad_fetus(fetus: str) -> str | None:
    """Why this is no fetus, or None when it is one."""
    if not _FETUS.fullmatch(fetus):
        return f"found another fetus ({shape(fetus)}), expected one of A to F (or 1 to 6)"
    return None


def first_missing(fetuses: Collection[str]) -> str | None:
    """What to remark on the fetuses that a file has of one case, or None where the first is among them."""
    if not fetuses or {"A", "1"} & set(fetuses):
        return None
    there = " and ".join(sorted(fetuses))
    return f"found fetus {there} of a case and no fetus A in this file, expected A for an only one"


def bad_reader(reader: str) -> str | None:
    """Why this is no reader code, or None when it is one."""
    if not reader:
        return "found no reader, expected a code such as R1"
    if len(reader) > _LONGEST or not reader.isprintable():
        return f"found {shape(reader)}, expected a code such as R1"
    return None


def is_unit(unit: str, pattern: str) -> bool:
    """Whether this may be the code of a unit: it has to look as readers' codes do, so that no name gets in."""
    return re.fullmatch(pattern, unit, re.ASCII) is not None

"""What may be said of a value that is not shown: its form, never its letters or digits."""

import math
import re
from decimal import Decimal

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_KINDS = (
    ("letters", str.isalpha),
    ("digits", str.isdigit),
    ("spaces", str.isspace),
    ("signs", lambda c: not (c.isalnum() or c.isspace())),
)


def shape(value: object) -> str:
    """In a few words: 'a number of 3 digits', 'text of 12 characters (letters, spaces)', 'nothing'."""
    if value is None or value == "":
        return "nothing"
    if isinstance(value, bool):
        return "a yes or no"
    if isinstance(value, int | float | Decimal):
        return _of_number(float(value))
    text = str(value).strip()
    if _NUMBER.fullmatch(text):
        return _of_number(float(text))
    kinds = ", ".join(name for name, test in _KINDS if any(test(c) for c in text))
    return f"text of {len(text)} character{'' if len(text) == 1 else 's'}" + (f" ({kinds})" if kinds else "")


def _of_number(number: float) -> str:
    if not math.isfinite(number):
        return "a number that is not finite"
    digits = 1 if abs(number) < 10 else int(math.log10(abs(number))) + 1
    below = " below 0" if number < 0 else ""
    return f"a number of {digits} digit{'' if digits == 1 else 's'}{below}"

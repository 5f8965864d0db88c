"""Reading `validation.json`: figures that no agreement, share, area or number of cases can have are refused."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

_SHARES = ("agreement", "estimate", "low", "high", "share")  # 0 to 1, but where they are kappas or differences of two
_COUNTS = ("windows", "with_outcome", "without", "first", "first_with_outcome", "missed", "panel", "recordings")
_NOT_ABOVE = (
    ("low", "high"),
    ("kappa_linear_low", "kappa_linear_high"),
    ("first_with_outcome", "first"),
    ("missed", "with_outcome"),
)
_NOT_QUOTED = ("second_reading", "published_auc", "readings", "notes", "card")


def read(file: Path) -> dict[str, Any]:
    """The document. Raises ValueError for what is no JSON object or holds a figure out of its range, and OSError."""
    try:
        found = json.loads(file.read_text(encoding="utf-8"), parse_constant=_no_number)
        _check(found, "")
    except RecursionError as error:
        raise ValueError("nested too deeply") from error
    if not isinstance(found, dict):
        raise ValueError("no object")
    return found


def _check(found: Any, key: str) -> None:
    if isinstance(found, Mapping):
        for lower, higher in _NOT_ABOVE:
            low, high = found.get(lower), found.get(higher)
            if isinstance(low, int | float) and isinstance(high, int | float) and low > high:
                raise ValueError(lower)
        for name, value in found.items():
            if name not in _NOT_QUOTED:
                _check_one(value, name, key)
                _check(value, name)
    elif isinstance(found, list):
        for value in found:
            _check(value, key)


def _check_one(value: Any, name: str, key: str) -> None:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if name in _COUNTS and not (number and isinstance(value, int) and value >= 0):
        raise ValueError(name)
    if number and ("kappa" in name or name in _SHARES):
        low, high = _range(name, key)
        if not low <= value <= high:
            raise ValueError(name)


def _range(name: str, key: str) -> tuple[float, float]:
    if key.startswith("over_") or key == "difference":
        return -2, 2
    return (-1, 1) if "kappa" in name or "kappa" in key or "expert" in key else (0, 1)


def _no_number(text: str) -> float:
    raise ValueError(text)

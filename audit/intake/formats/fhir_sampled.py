"""FHIR R4 SampledData: a row of numbers with origin, period and factor, to arrays.

Source: HL7 FHIR R4 (4.0.1), datatype SampledData: value = origin + factor × number, `period` is milliseconds between
samples, `dimensions` of them stand together at each time, E is an error, L below and U above what could be measured.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

_MOST_CHARACTERS = 20_000_000  # of the data of one resource: 7 days at 4 Hz; our choice
_LONGEST_PERIOD_MS = 86_400_000.0  # a day
_LARGEST = 1e9  # beyond it nothing is a rate or a pressure; our choice
_NONE = {"E": np.nan, "L": np.nan, "U": np.nan}


class Unreadable(Exception):
    """The data cannot be read; the message says what was found and expected."""


class Release5(Exception):
    """A field that only FHIR R5 has; the message names it."""


@dataclass(frozen=True)
class Sampled:
    """Samples of shape (n, dimensions), NaN where there is no value; `period_s` between two of them."""

    values: NDArray[np.float64]
    period_s: float
    origin: dict[str, Any]


def sampled(data: Any) -> Sampled:
    """Read one SampledData. Raises Unreadable, and Release5 for R5's `interval`, `intervalUnit` and `offsets`."""
    if not isinstance(data, dict):
        raise Unreadable("found no object, expected SampledData")
    for name in ("interval", "intervalUnit", "offsets"):
        if name in data:
            raise Release5(name)
    origin = data.get("origin")
    if not isinstance(origin, dict):
        raise Unreadable("found no origin, expected a quantity with the unit")
    start, factor = _number(origin, "value", 0.0), _number(data, "factor", 1.0)
    period_ms, dimensions = _number(data, "period", 0.0), _number(data, "dimensions", 0.0)
    if period_ms <= 0:
        raise Unreadable("found no period above 0, expected milliseconds between two samples")
    if not 0.001 <= period_ms <= _LONGEST_PERIOD_MS:
        raise Unreadable("found a period that is none of a recording, expected milliseconds between two samples")
    if dimensions < 1 or dimensions != int(dimensions):
        raise Unreadable("found no dimensions, expected a whole number of 1 or more")
    limits = [_number(data, name, 0.0) for name in ("lowerLimit", "upperLimit") if name in data]
    if len(limits) == 2 and limits[0] > limits[1]:
        raise Unreadable("found a lowerLimit above the upperLimit, expected the lower one first")
    text = str(data.get("data") or "")
    if len(text) > _MOST_CHARACTERS:
        raise Unreadable(f"found data of {len(text):,} characters, expected at most {_MOST_CHARACTERS:,}")
    tokens = text.split()
    if not tokens:
        raise Unreadable("found no data, expected numbers")
    if len(tokens) % int(dimensions):
        raise Unreadable(f"found {len(tokens):,} numbers, expected a multiple of {int(dimensions)} dimensions")
    try:
        numbers = np.array([_NONE[token] if token in _NONE else float(token) for token in tokens])
    except ValueError:
        raise Unreadable("found data that are neither numbers nor E, L or U") from None
    if np.isinf(numbers).any() or any(token.lower() in ("nan", "-nan", "+nan") for token in tokens):
        raise Unreadable("found data that are neither numbers nor E, L or U")
    with np.errstate(over="ignore"):
        values = start + factor * numbers
    if (np.abs(values) > _LARGEST).any():
        raise Unreadable(f"found values beyond {_LARGEST:,.0f}, expected those of a recording")
    return Sampled(values.reshape(-1, int(dimensions)), period_ms / 1000.0, origin)


def _number(holder: dict[str, Any], name: str, default: float) -> float:
    value = holder.get(name, default)
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= 1e300:
        raise Unreadable(f"found no number for {name}")
    return float(value)

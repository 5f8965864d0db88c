"""How a figure is rounded and written: one way for page, pack, slides, CSV and terminal."""

import math
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

Figure = Decimal
NOT_KNOWN = "–"
_SIGNIFICANT = 3


def rounded(value: Any, digits: int | None = None, *, scale: int = 1) -> Figure | None:
    """A number as it is shown, halves away from zero on the shortest decimal that means the value.

    `value`: any real number. `digits`: decimals that are kept, zeros too; None = three significant digits, whole
    numbers in full, no zeros. `scale`: the value is multiplied by this first (100: a share as percent).
    Gives none for what is no finite number.
    """
    if not math.isfinite(value):
        return None
    exact = Decimal(repr(value.item() if hasattr(value, "item") else value)) * scale
    places = max(0, _SIGNIFICANT - 1 - exact.adjusted()) if digits is None else digits
    found = exact.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP) + Decimal(0)  # the sum takes the sign off zero
    if digits is None:
        found = found.quantize(Decimal(1)) if found == found.to_integral_value() else found.normalize()
    return found


def shown(value: Any, digits: int | None = None, *, scale: int = 1) -> str:
    """A number as text, for a sentence or a chart; a dash for what is not known."""
    found = None if value is None else rounded(value, digits, scale=scale)
    return NOT_KNOWN if found is None else f"{found:f}"


def number_or_none(value: Any) -> float | None:
    """A plain finite float, or None: what a JSON document may hold."""
    return float(value) if value is not None and math.isfinite(value) else None

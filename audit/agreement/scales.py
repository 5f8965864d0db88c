"""What readers are asked, and in which order the answers stand from the mildest to the most severe."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from audit.agreement.arrays import FloatArray
from audit.errors import UsageError
from audit.vocabulary import NOT_ASSESSABLE, READ_CATEGORIES

# Named categories of each standard; NICHD 2008 (Macones), FIGO 2015 (Ayres-de-Campos), NICE NG229, FIGO 1986.
CATEGORIES: dict[str, tuple[str, ...]] = {
    standard: tuple(word for word in words if word != NOT_ASSESSABLE) for standard, words in READ_CATEGORIES.items()
}
# By amplitude; the first order is NICHD's, the second is how FIGO words it.
VARIABILITY_ORDERS = (("absent", "minimal", "moderate", "marked"), ("reduced", "normal", "increased"))
WOULD_ACT = ("no", "yes")
_YES_NO = {"true": "yes", "1": "yes", "yes": "yes", "false": "no", "0": "no", "no": "no"}
NUMBER_UNITS = {"baseline_bpm": "bpm", "contractions_per_10_min": "per 10 min"}
ITEMS = ("category", "variability", "accelerations", "decelerations", "would_act", *NUMBER_UNITS)


@dataclass(frozen=True)
class Scale:
    """One item's answers. Categories run from mildest to most severe when ordinal, else in alphabetical order."""

    item: str
    kind: Literal["nominal", "ordinal", "number"]
    categories: tuple[str, ...] = ()  # without 'not assessable'
    unit: str | None = None


def scale_for(item: str, standard: str, answers: Iterable[Any]) -> Scale:
    """The scale of an item.

    `item`: one of ITEMS. `standard`: one of CATEGORIES; only `category` depends on it. `answers`: every answer that
    occurs, people's and computed; missing ones are passed over.
    Gives Scale. An item with a published order is ordinal; answers outside every known order make it nominal.
    Raises UsageError: an unknown item or standard, or a category that the standard does not have.
    """
    if item not in ITEMS:
        raise UsageError(f"item {item!r}: expected one of {', '.join(ITEMS)}")
    if item in NUMBER_UNITS:
        return Scale(item, "number", unit=NUMBER_UNITS[item])
    found = {text for text in (answer_text(item, value) for value in answers) if text} - {NOT_ASSESSABLE}
    if item == "category":
        if standard not in CATEGORIES:
            raise UsageError(f"standard {standard!r}: expected one of {', '.join(CATEGORIES)}")
        strange = sorted(found - set(CATEGORIES[standard]))
        if strange:
            known = ", ".join((*CATEGORIES[standard], NOT_ASSESSABLE))
            raise UsageError(f"category {strange[0]!r} is not one of {standard}'s: expected one of {known}")
        return Scale(item, "ordinal", CATEGORIES[standard])
    orders = {"variability": VARIABILITY_ORDERS, "would_act": (WOULD_ACT,)}.get(item, ())
    for order in orders:
        if found <= set(order):
            return Scale(item, "ordinal", order)
    return Scale(item, "nominal", tuple(sorted(found)))


def answer_text(item: str, value: Any) -> str | None:
    """An answer as a category's name; None for a missing read (None, NaN, empty text).

    `would_act` accepts true and false in the usual spellings; other items keep their text, trimmed.
    """
    if value is None or value != value:
        return None
    text = str(value).strip()
    if item == "would_act":
        text = _YES_NO.get(text.lower(), text)
    return text or None


WeightName = Literal["identity", "linear", "quadratic"]


def agreement_weights(name: WeightName, categories: int) -> FloatArray:
    """The weight of each pair of categories.

    `name`: `identity` (1 on the diagonal, else 0), `linear` or `quadratic`. `categories`: number of categories k of the
    scale, at least 1, in order.
    Gives an array of shape (k, k), 0 to 1.
    Raises ValueError: another name.

    Linear 1 - |i-j|/(k-1), quadratic 1 - (i-j)^2/(k-1)^2. Source: Cicchetti & Allison 1971 (linear), Fleiss & Cohen
    1973 (quadratic), both from memory.
    """
    steps = np.abs(np.subtract.outer(np.arange(categories), np.arange(categories))).astype(float)
    widest = max(categories - 1, 1)
    if name == "identity":
        return np.eye(categories)
    if name == "linear":
        return np.asarray(1.0 - steps / widest)
    if name == "quadratic":
        return np.asarray(1.0 - (steps / widest) ** 2)
    raise ValueError(f"weights {name!r}: expected identity, linear or quadratic")

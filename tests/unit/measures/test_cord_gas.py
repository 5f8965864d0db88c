"""Cord gas remarks: tiers, and pairs of which a side is missing."""

import math

import pytest

from audit.measures.cord_gas import acidosis_tier, pair_flags
from tests.reading_builder import SETTINGS

TABLE = SETTINGS.cord_gas


@pytest.mark.parametrize(
    ("ph", "expected"),
    [
        (6.99, "< 7.00"),
        (7.00, "< 7.05"),
        (7.049, "< 7.05"),
        (7.05, "< 7.10"),
        (7.099, "< 7.10"),
        (7.10, "< 7.20"),
        (7.199, "< 7.20"),
        (7.20, "none"),
        (None, None),
        (math.nan, None),
    ],
)
def test_tiers_are_strict(ph: float | None, expected: str | None) -> None:
    assert acidosis_tier(ph) == expected


def test_missing_values_give_no_remark() -> None:
    assert pair_flags(None, None, None, None, TABLE) == ()

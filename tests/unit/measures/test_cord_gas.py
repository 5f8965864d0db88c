"""Cord gas remarks: tiers, and pairs of which a side is missing."""

import math

import pytest

from audit.errors import SettingsError
from audit.measures.cord_gas import acidosis_tier, metabolic_acidosis, pair_flags
from audit.setting_types import changed
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


@pytest.mark.parametrize(
    ("ph", "deficit", "expected"),
    [
        (6.99, 12.0, True),  # below 7.00 with 12 mmol/L or more: MacLennan 1999, ACOG 2014 (from memory)
        (7.00, 12.0, False),
        (6.99, 11.9, False),
        (None, 11.9, False),
        (7.00, None, False),
        (6.99, None, None),
        (math.nan, 12.0, None),
    ],
)
def test_metabolic_acidosis_needs_both(ph: float | None, deficit: float | None, expected: bool | None) -> None:
    assert metabolic_acidosis(ph, deficit) is expected


@pytest.mark.parametrize(("low", "high"), [("ph_lowest", "ph_highest"), ("pco2_lowest_kpa", "pco2_highest_kpa")])
def test_limits_with_nothing_between_them_are_refused(low: str, high: str) -> None:
    with pytest.raises(SettingsError, match=f"{low}: found 7.0, expected less than {high}"):
        changed(TABLE, **{low: 7.0, high: 7.0})
    changed(TABLE, **{low: 7.0, high: 7.1})

"""Cord gas remarks: tiers, hard limits and units, stored against recomputed base deficit."""

import math

import pytest

from audit.measures.cord_gas import (
    acidosis_tier,
    base_deficit_ecf_mmol_l,
    base_deficit_flag,
    pair_flags,
    value_flags,
)
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


@pytest.mark.parametrize(
    ("ph", "pco2", "words"),
    [
        (6.3, None, ""),
        (6.29, None, "pH 6.29 outside"),
        (7.7, None, ""),
        (7.71, None, "pH 7.71 outside"),
        (72.1, None, "divided by 10"),
        (None, 1.5, ""),
        (None, 1.49, "pCO2 1.49 kPa outside"),
        (None, 25.0, ""),
        (None, 55.0, "as mmHg it would fit"),
        (None, 250.0, "pCO2 250 kPa outside 1.5 to 25 kPa"),
        (None, None, ""),
    ],
)
def test_hard_limits_and_the_unit_that_would_explain(ph: float | None, pco2: float | None, words: str) -> None:
    found = value_flags(ph, pco2, TABLE)
    assert (found == ()) if not words else (len(found) == 1 and words in found[0])


def test_stored_base_deficit_that_agrees_is_silent() -> None:
    assert base_deficit_flag(7.10, 8.0, round(base_deficit_ecf_mmol_l(7.10, 8.0), 1), TABLE) is None


def test_a_base_excess_is_recognised_by_its_sign() -> None:
    found = base_deficit_flag(6.95, 8.0, -base_deficit_ecf_mmol_l(6.95, 8.0), TABLE)
    assert found is not None
    assert "base excess" in found


@pytest.mark.parametrize(("off", "flagged"), [(2.99, False), (3.01, True)])
def test_far_apart_is_over_3_mmol_l(off: float, flagged: bool) -> None:
    found = base_deficit_flag(6.95, 8.0, base_deficit_ecf_mmol_l(6.95, 8.0) + off, TABLE)
    assert (found is not None) is flagged


def test_missing_values_give_no_remark() -> None:
    assert base_deficit_flag(None, 8.0, 5.0, TABLE) is None
    assert base_deficit_flag(7.0, None, 5.0, TABLE) is None
    assert base_deficit_flag(7.0, 8.0, None, TABLE) is None
    assert pair_flags(None, None, None, None, TABLE) == ()

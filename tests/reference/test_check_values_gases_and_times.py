"""Check values 59 to 71: significant variable decelerations, areas, cord gases, intervals and ages.

Sources are named beside each test. "from memory" marks rows that rest on a line nobody has yet held against the
original.
"""

import math
import re

import numpy as np
import pytest

from audit.measures.burden import burden_rows
from audit.measures.cord_gas import MMHG_PER_KPA, base_deficit_ecf_mmol_l, metabolic_acidosis, pair_flags
from audit.response.birth_intervals import birth_interval
from audit.response.types import CareEvent
from audit.standards.nichd_2008_table import significant_variable
from tests.conftest import ROOT
from tests.reading_builder import SETTINGS, deceleration, edited, falls, reading, table

GAS = SETTINGS.cord_gas


@pytest.mark.parametrize(
    ("row", "length_s", "baseline", "lowest", "expected"),
    [
        ("59", 65.0, 140.0, 75.0, True),
        ("60", 65.0, 140.0, 85.0, False),
        ("60E exactly 60 below", 65.0, 140.0, 80.0, False),
        ("61", 65.0, 110.0, 58.0, True),
        ("61E exactly 60 bpm", 65.0, 110.0, 60.0, False),
        ("62E", 60.0, 140.0, 70.0, False),
        ("62E above", 61.0, 140.0, 70.0, True),
    ],
)
def test_significant_variable(row: str, length_s: float, baseline: float, lowest: float, expected: bool) -> None:
    # Source: Clark 2013, category II algorithm, from memory: over 60 s, and over 60 bpm deep or under 60 bpm.
    event = deceleration(1200.0, drop=baseline - lowest, length_s=length_s, nadir_after_s=15.0, baseline_bpm=baseline)
    assert significant_variable(falls(event), table("nichd-2008")).tolist() == [expected], row


def area_of(shape: np.ndarray) -> tuple[float, float]:
    """Measured and triangle area of a fall of 60 bpm and 60 s with the given depth per second."""
    event = deceleration(600.0, drop=60.0, length_s=60.0, nadir_after_s=30.0, return_s=30.0)
    event = type(event)(**{**event.__dict__, "area_bpm_s": float(shape.sum())})
    made = reading(30, decelerations=[event])
    fhr = made.baseline_1hz.copy()
    fhr[600:660] -= shape
    rows = burden_rows(edited(made, {"fhr_1hz": fhr}), birth_s=None, second_stage_s=630.0, settings=SETTINGS.burden)
    by_span = {row.span: row for row in rows}
    whole = by_span["whole"]
    assert whole.area_bpm_s is not None
    assert whole.triangle_area_bpm_s is not None
    parts = [by_span["first_stage"].area_bpm_s, by_span["second_stage"].area_bpm_s]
    assert sum(part or 0.0 for part in parts) == pytest.approx(whole.area_bpm_s)
    return whole.area_bpm_s, whole.triangle_area_bpm_s


def test_row_63_triangle() -> None:
    # Arithmetic: 0.5 x 60 s x 60 bpm = 1800 bpm s = 30 bpm min. Midpoints of each second integrate it exactly.
    half = (np.arange(30) + 0.5) * 2.0
    measured, triangle = area_of(np.concatenate([half, half[::-1]]))
    assert measured == pytest.approx(1800.0)
    assert triangle == pytest.approx(1800.0)


def test_row_64_rectangle_tells_the_two_areas_apart() -> None:
    # Arithmetic: integral 60 s x 60 bpm = 60 bpm min; the triangle estimate of the same fall is half of it.
    measured, triangle = area_of(np.full(60, 60.0))
    assert measured / 60.0 == pytest.approx(60.0)
    assert triangle / 60.0 == pytest.approx(30.0)


@pytest.mark.parametrize(
    ("ph", "deficit", "expected"),
    [(7.00, 12.0, False), (6.99, 12.0, True), (6.99, 11.9, False), (6.99, None, None), (7.05, None, False)],
)
def test_row_65e_metabolic_acidosis(ph: float, deficit: float | None, expected: bool | None) -> None:
    # Source: the definition that cohorts use: arterial pH < 7.00 and base deficit >= 12.0 mmol/L.
    assert metabolic_acidosis(ph, deficit) is expected


def test_row_66_the_equation_decides() -> None:
    # Arithmetic on the printed equations: 11.7 (extracellular) and 14.6 (blood) for the same gas.
    kpa = 75.0 / MMHG_PER_KPA
    extracellular = base_deficit_ecf_mmol_l(6.99, kpa)
    assert extracellular == pytest.approx(11.7, abs=0.05)
    assert metabolic_acidosis(6.99, extracellular) is False
    assert metabolic_acidosis(6.99, 14.6) is True


def test_published_case_of_base_deficit() -> None:
    # A published case: arterial pH 6.86, pCO2 55 mmHg, base deficit of the extracellular fluid 21.1 mmol/L.
    assert base_deficit_ecf_mmol_l(6.86, 55.0 / MMHG_PER_KPA) == pytest.approx(21.1, abs=0.05)


@pytest.mark.parametrize(
    ("row", "pair", "flags"),
    [
        ("67", (7.10, 8.5, 7.20, 6.5), 0),
        ("68", (7.11, 7.0, 7.12, 6.8), 2),
        ("pH difference at", (7.10, None, 7.12, None), 0),
        ("pH difference below", (7.10, None, 7.119, None), 1),
        ("pCO2 difference at", (None, 7.0, None, 6.5), 0),
        ("pCO2 difference below", (None, 7.0, None, 6.51), 1),
        ("one side only", (7.10, 8.5, None, None), 0),
    ],
)
def test_rows_67_and_68_pairs(row: str, pair: tuple[float | None, ...], flags: int) -> None:
    # Source: Westgate 1994, from memory: artery pH lower by 0.02 and pCO2 higher by 0.5 kPa at least.
    assert len(pair_flags(*pair, GAS)) == flags, row  # type: ignore[arg-type]


def test_row_69_swapped_samples() -> None:
    found = pair_flags(7.25, None, 7.10, None, GAS)
    assert len(found) == 1
    assert "swapped" in found[0]


@pytest.mark.parametrize(("seconds", "within"), [(1800.0, True), (1801.0, False)])
def test_row_70e_decision_to_birth(seconds: float, within: bool) -> None:
    # Source: 'within 30 minutes', ACOG/AAP and NICE NG192, from memory.
    found = birth_interval([CareEvent(at_s=600.0, event="decision_for_birth")], birth_s=600.0 + seconds)
    assert found is not None
    assert found.within_30 is within


def test_unknown_gases_stay_unknown() -> None:
    assert math.isnan(base_deficit_ecf_mmol_l(math.nan, 7.0))
    assert metabolic_acidosis(None, 14.0) is None
    assert metabolic_acidosis(math.nan, 14.0) is None
    with pytest.raises(ValueError, match="pco2_kpa"):
        base_deficit_ecf_mmol_l(7.0, 0.0)


def test_row_71e_no_age_is_ever_stored() -> None:
    # Source: 45 CFR 164.514(b)(2): ages of 90 and over become '90+'. The store has no column for an age at all.
    schema = "".join(file.read_text() for file in sorted((ROOT / "queries" / "schema").glob("*.sql")))
    assert "create table cases" in schema
    assert re.findall(r"(?<![a-z_])(?:maternal_)?age(?:_years)?\s+(?:double|integer|bigint|varchar)", schema) == []

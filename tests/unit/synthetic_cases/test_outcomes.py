"""Cord gases that fit together."""

import numpy as np
import pytest

from synthetic_cases.outcomes import base_deficit_mmol_l, outcome


def test_base_deficit_reproduces_a_published_case():
    # A published case report: arterial pH 6.86, pCO2 55 mmHg, base deficit of the extracellular fluid 21.1 mmol/L.
    assert base_deficit_mmol_l(6.86, 55 / 7.50062) == pytest.approx(21.1, abs=0.05)


@pytest.mark.parametrize("severity", [0, 1, 2, 3])
def test_stored_deficit_is_that_of_the_stored_ph_and_pco2(severity):
    rng = np.random.default_rng(severity)
    for _ in range(40):
        found = outcome(rng, severity, 39)
        expected = base_deficit_mmol_l(found.cord_artery_ph, found.cord_artery_pco2_kpa)
        assert found.cord_artery_base_deficit_mmol_l == pytest.approx(expected, abs=0.051)
        # Westgate 1994, from memory: artery at least 0.02 lower in pH and 0.5 kPa higher in pCO2.
        assert found.cord_vein_ph - found.cord_artery_ph >= 0.02
        assert found.cord_artery_pco2_kpa - found.cord_vein_pco2_kpa >= 0.5
        assert found.apgar_1 <= found.apgar_5 <= 10


def test_a_severe_outcome_is_a_metabolic_acidosis():
    # The usual definition: arterial pH under 7.00 with a base deficit of 12 mmol/L or more.
    rng = np.random.default_rng(9)
    drawn = [outcome(rng, 3, 40) for _ in range(50)]
    acidotic = [o.cord_artery_ph < 7.05 and o.cord_artery_base_deficit_mmol_l >= 10 for o in drawn]
    assert np.mean(acidotic) > 0.9
    assert all(o.neonatal_unit_admission and o.encephalopathy_grade == 2 for o in drawn)


def test_planted_pairs_break_the_rule_they_are_meant_to_break():
    rng = np.random.default_rng(1)
    near, swapped = outcome(rng, 0, 39, pair="near_identical"), outcome(rng, 0, 39, pair="swapped")
    assert near.cord_vein_ph - near.cord_artery_ph < 0.02
    assert swapped.cord_vein_ph < swapped.cord_artery_ph


def test_no_gases_means_no_gases():
    found = outcome(np.random.default_rng(2), 0, 39, gases=False)
    assert found.cord_artery_ph is None
    assert found.apgar_5 is not None

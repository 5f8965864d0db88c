"""The outcome table: unknown says so, and what follows from the cord gas stands below it."""

import pandas as pd

from audit.settings import load_settings
from audit.tables.outcome import outcome_table

COLUMNS = [
    *(f"cord_artery_{name}" for name in ("ph", "base_deficit_mmol_l", "pco2_kpa")),
    *("cord_vein_ph", "cord_vein_pco2_kpa", "cord_lactate_mmol_l", "apgar_1", "apgar_5", "apgar_10"),
    *("mode_of_birth", "birth_weight_g", "neonatal_unit_admission", "encephalopathy_grade"),
]


def table(**values):
    rows = pd.DataFrame([{name: values.get(name) for name in COLUMNS} | {"fetus": "A"}])
    found = outcome_table(rows, load_settings().cord_gas)
    assert [column.heading for column in found.columns] == ["Measure", "Fetus A"]
    return dict(found.shown())


def test_what_was_not_given_says_so():
    found = table()
    assert found["cord artery pH"] == "not given"
    assert found["Apgar score at 5 min"] == "not given"
    assert found["arterial pH falls under"] == "not known"
    assert found["artery and vein as a pair"] == "no pair"


def test_the_base_deficit_is_recomputed_beside_the_one_that_was_given():
    # Published case: pH 6.86, pCO2 55 mmHg = 7.333 kPa, base deficit of the extracellular fluid 21.1 mmol/L
    found = table(cord_artery_ph=6.86, cord_artery_pco2_kpa=55 / 7.50062, cord_artery_base_deficit_mmol_l=19.0)
    assert found["base deficit recomputed from pH and pCO2, mmol/L"] == "21.1"
    assert found["cord artery base deficit, mmol/L"] == "19"
    assert found["arterial pH falls under"] == "< 7.00"


def test_a_pair_that_cannot_be_right_is_remarked_on():
    found = table(cord_artery_ph=7.30, cord_vein_ph=7.21)
    assert "swapped" in found["artery and vein as a pair"]
    # two decimals, as ACOG's Task Force on Neonatal Encephalopathy (2014) writes its limit, 7.00; finer ones stay
    assert (found["cord artery pH"], table(cord_artery_ph=7.0)["cord artery pH"]) == ("7.30", "7.00")
    assert table(cord_vein_ph=7.125)["cord vein pH"] == "7.125"
    assert table(cord_artery_ph=7.21, cord_vein_ph=7.30)["artery and vein as a pair"] == "nothing against it"


def test_yes_and_no_are_words():
    assert table(neonatal_unit_admission=True)["neonatal unit admission"] == "yes"
    assert table(neonatal_unit_admission=False)["neonatal unit admission"] == "no"

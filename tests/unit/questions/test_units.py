"""Several units beside each other: names, order, suppression, adjusting by case mix. By hand, and by simulation."""

import json

import numpy as np
import pyarrow as pa
import pytest

from audit.charts.control import funnel_chart
from audit.errors import UsageError
from audit.questions import units
from audit.settings import load_settings
from audit.tables.trends import ADJUSTED, funnel_table

SETTINGS = load_settings()
SIZES = {"U1": 30, "U2": 50, "U3": 40, "U4": 60, "U5": 35, "U6": 3}


def filled(unit):
    """Six units; caesareans follow the case mix alone, which U4 has most of: 1 in 5 first births, 1 in 20 others."""
    rows = []
    for code, size in SIZES.items():
        first = size * 4 // 5 if code == "U4" else size // 5
        for k in range(size):
            born = k % 5 == 0 if k < first else (k - first) % 20 == 0
            mode = "caesarean" if born else "spontaneous_vaginal"
            rows.append((f"{code}x{k}", "2031-03", code, 0 if k < first else 2, mode))
    names = ("case_id", "period", "unit", "parity", "mode_of_birth")
    unit.con.register("drawn", pa.table({name: [row[k] for row in rows] for k, name in enumerate(names)}))
    unit.con.execute("insert into cases by name select * from drawn")


def asked(unit, own=None, **more):
    return units.document(unit.con, SETTINGS, standard="figo-2015", unit=own, **more)


def test_one_unit_is_named_the_others_are_letters_by_size(unit):
    filled(unit)
    found = asked(unit, own="U3")
    caesarean = {measure["name"]: measure for measure in found["measures"]}["caesarean"]
    assert [point["group"] for point in caesarean["funnel"]["points"]] == [
        "unit A",
        "unit B",
        "U3",
        "unit D",
        "unit E",
        "unit F",
    ]
    assert [point["denominator"] for point in caesarean["funnel"]["points"]] == [60, 50, 40, 35, 30, 3]
    text = json.dumps(found, allow_nan=False)
    assert not any(f'"{code}"' in text for code in SIZES if code != "U3")
    assert '"U' not in json.dumps(asked(unit))
    with pytest.raises(UsageError, match="found 'U9', expected one of U1, U2"):
        asked(unit, own="U9")


def test_too_few_births_have_no_share_and_five_units_a_funnel(unit):
    filled(unit)
    caesarean = {measure["name"]: measure for measure in asked(unit)["measures"]}["caesarean"]
    funnel = caesarean["funnel"]
    assert funnel["chart"] == "funnel"
    assert funnel["points"][-1]["share"] is None  # three births, fewer than five
    assert [point["group"] for point in caesarean["adjusted"]["points"]] == [f"unit {letter}" for letter in "ABCDE"]
    assert funnel_chart(funnel, width_px=400) is not None
    assert len(funnel_table(funnel).rows) == 6
    assert len(ADJUSTED.filled(caesarean["adjusted"]["points"]).rows) == 5


def test_a_unit_with_more_first_births_is_no_longer_apart_once_adjusted(unit):
    filled(unit)
    caesarean = {measure["name"]: measure for measure in asked(unit)["measures"]}["caesarean"]
    crude, adjusted = caesarean["funnel"]["points"][0], caesarean["adjusted"]["points"][0]
    overall = caesarean["funnel"]["target"]
    assert caesarean["adjusted"]["case_mix"] == ["first birth"]
    assert crude["share"] > 1.4 * overall
    assert adjusted["share"] == pytest.approx(overall, rel=0.2)
    assert adjusted["low_95"] <= adjusted["share"] <= adjusted["high_95"]
    assert adjusted["low_998"] <= adjusted["low_95"]
    total = sum(point["expected"] for point in caesarean["adjusted"]["points"])
    assert total == pytest.approx(sum(point["observed"] for point in caesarean["adjusted"]["points"]), abs=1.0)


def test_without_outcomes_nothing_tells_how_newborns_were(unit):
    filled(unit)
    names = {measure["name"] for measure in asked(unit, with_outcome=False)["measures"]}
    assert not names & set(units.OF_OUTCOME)
    assert names == {"answered_within_target", "concern", "caesarean"}


def test_one_unit_is_nothing_to_compare(unit):
    unit.case("C1", period="2031-03", unit="U1")
    assert asked(unit) is None


@pytest.mark.slow
def test_what_came_up_in_labour_is_not_adjusted_for(unit):
    """A fever may follow from a long wait: adjusting for it would adjust care away (common practice, no source)."""
    rng = np.random.default_rng(2)
    for k in range(120):
        factors = " ".join(name for name in ("fever_or_sepsis", "diabetes") if rng.random() < 0.4)
        unit.case(
            f"C{k}",
            unit=f"U{k % 2}",
            risk_factors=factors,
            mode_of_birth="caesarean" if rng.random() < 0.3 else "other",
        )
    caesarean = {measure["name"]: measure for measure in asked(unit)["measures"]}["caesarean"]
    assert caesarean["adjusted"]["case_mix"] == ["diabetes"]

"""Risk factors in lists: shown, chosen by, never weighed."""

import pytest

from audit.errors import UsageError
from audit.questions import risk_factors
from audit.store import database
from audit.tables.cases import TO_DISCUSS
from audit.vocabulary import RISK_FACTORS
from tests.discussing import document, plain


@pytest.fixture
def three(unit):
    for case_id, risks in (("c1", "meconium diabetes"), ("c2", ""), ("c3", None)):
        plain(unit, case_id, **({} if risks is None else {"risk_factors": risks}))
        unit.episode(case_id, "late", 40.0)
    return unit


def test_every_case_says_its_own_and_no_point_comes_of_it(three):
    cases = {case["case_id"]: case for case in document(three)["cases"]}
    assert {name: case["risk_factors"] for name, case in cases.items()} == {
        "c1": ["meconium", "diabetes"], "c2": [], "c3": None,
    }  # fmt: skip
    assert len({case["score"] for case in cases.values()}) == 1
    cells = TO_DISCUSS.filled(cases.values()).shown()
    assert [text.count("Risk factors: meconium, diabetes") for *_, text in cells] == [1, 0, 0]


def test_they_change_no_reading_no_clock_and_no_order(three):
    """Readings are given the same, and clocks and list stay the same, with every risk factor and with none."""

    def told(factors):
        three.con.execute("update cases set risk_factors = ? where case_id = 'c3'", [factors])
        found = document(three)
        for name in risk_factors.LISTS:
            found[name] = [{k: v for k, v in row.items() if k != "risk_factors"} for row in found[name]]
        asked = {"period": None, "standard": None, "case_id": None}
        return (
            found,
            database.records(three.con, "analysis/inputs"),
            database.records(three.con, "response/delays", asked),
        )

    none = told("")
    assert len(none[1]) == len(none[2]) == 3
    assert told(" ".join(RISK_FACTORS)) == none


@pytest.mark.parametrize(("factor", "left"), [("meconium", ["c1"]), ("none", ["c2"]), ("bleeding", [])])
def test_a_list_is_narrowed_and_scores_stay(three, factor, left):
    whole = document(three)
    found = risk_factors.only_with(whole, factor)
    assert [case["case_id"] for case in found["cases"]] == left
    assert found["considered"] == whole["considered"] == 3
    assert all(case in whole["cases"] for case in found["cases"])


def test_a_word_that_is_no_risk_factor_is_refused(three):
    with pytest.raises(UsageError, match="expected one of meconium"):
        risk_factors.only_with(document(three), "age")

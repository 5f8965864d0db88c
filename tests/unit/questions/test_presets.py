"""Weightings of the reasons: points and places counted by hand. Factors are our choice, no source."""

import re
from pathlib import Path

import pytest
from msgspec.structs import replace

from audit.errors import SettingsError
from audit.questions import cases_to_discuss, presets, reason_types
from audit.questions.reason_types import Rules
from audit.settings import load_settings
from tests.discussing import POINTS, SETTINGS, plain

RULES = Rules(SETTINGS.find, SETTINGS.cord_gas)


def three_cases(unit, *, died=False):
    """One that was answered late, one with acidosis, one whose readers are far apart."""
    plain(unit, "late")
    plain(unit, "sour", outcome={"cord_artery_ph": 7.08})
    plain(unit, "apart", outcome={"died": "intrapartum"} if died else {})
    unit.episode("late", "late", 40.0)
    for reader, category in (("R1", "normal"), ("R2", "pathological")):
        unit.read("apart", reader, category)


def beside(unit, *, with_outcome=True):
    rows = cases_to_discuss.rows_of(unit.con, SETTINGS, None)
    return presets.side_by_side(*rows, RULES, with_outcome=with_outcome)


def test_each_weighting_puts_first_what_it_is_named_for(unit):
    three_cases(unit)
    found = beside(unit)
    places = {row["case_id"]: row["places"] for row in found["cases"]}
    assert (places["late"]["process_first"], places["sour"]["outcome_first"], places["apart"]["teaching"]) == (1, 1, 1)
    # as set: late 4.0, acidosis 3.0 (pH under 7.10), readers apart 2.0
    assert [places[name]["as_set"] for name in ("late", "sour", "apart")] == [1, 2, 3]
    assert found["listed"] == {"as_set": 3, "process_first": 3, "outcome_first": 3, "teaching": 3}


@pytest.mark.parametrize(
    ("name", "points"),
    [("as_set", (4.0, 3.0, 2.0)), ("process_first", (8.0, 1.5, 2.0)), ("outcome_first", (2.0, 6.0, 2.0)),
     ("teaching", (4.0, 1.5, 6.0))],
)  # fmt: skip
def test_a_weighting_multiplies_the_points_of_its_group(unit, name, points):
    three_cases(unit)
    assert (POINTS.late_response, POINTS.acidosis[2], POINTS.readers_apart) == (4.0, 3.0, 2.0)
    settings = replace(SETTINGS, find=replace(SETTINGS.find, weights=name))
    found = cases_to_discuss.document(unit.con, settings)
    score = {case["case_id"]: case["score"] for case in found["cases"]}
    assert (score["late"], score["sour"], score["apart"]) == points
    assert found["weights"] == name


def test_a_death_is_first_under_every_weighting_and_hidden_with_the_outcomes(unit):
    three_cases(unit, died=True)
    (row,) = [row for row in beside(unit)["cases"] if row["case_id"] == "apart"]
    assert row["first"]
    assert set(row["places"].values()) == {1}
    hidden = beside(unit, with_outcome=False)["cases"]
    assert {row["case_id"] for row in hidden} == {"late", "apart"}
    assert not any(row["first"] for row in hidden)


def test_the_common_limit_of_the_outcome_moves_with_its_factor(unit):
    plain(unit, outcome={"cord_artery_ph": 7.04, "apgar_5": 3})
    # acidosis 4.0 and Apgar 4.0 together: 6.0 at most as set, 12.0 at most under outcome first
    for name, score in (("as_set", 6.0), ("outcome_first", 12.0)):
        settings = replace(SETTINGS, find=replace(SETTINGS.find, weights=name))
        assert cases_to_discuss.document(unit.con, settings)["cases"][0]["score"] == score


def test_every_kind_of_reason_belongs_to_a_group():
    rooms = Path(cases_to_discuss.__file__).parent
    code = "".join((rooms / f"{name}.py").read_text() for name in ("reasons", "outcome_reasons", "cases_to_discuss"))
    kinds = set(re.findall(r'Reason\(\s*"(\w+)"', code)) | {"late_response", "no_response"}
    assert kinds == set(reason_types.GROUP_OF)


@pytest.mark.parametrize("text", ['weights = "loudest"', "[find.presets.as_set]\nprocess = 1.0"])
def test_a_weighting_that_is_not_there_or_takes_the_name_of_the_plain_one_is_refused(tmp_path, text):
    file = tmp_path / "unit_settings.toml"
    file.write_text(f"[find]\n{text}\n")
    with pytest.raises(SettingsError, match=r"unit_settings\.toml: find"):
        load_settings(file)

"""What the page on methods says of the reading's accuracy: the unit's own validation, or how to get it."""

import json
from pathlib import Path

import pytest

from audit.analysis import made_by
from audit.pack.methods import accuracy_lines, compared_with_experts, methods_section
from audit.settings import load_settings

FOUND = {
    "settings_sha256": load_settings().analysis_sha256,
    "version": made_by.version(),
    "part": "reporting",
    "windows": 441,
    "kappa_linear": 0.531,
    "kappa_linear_low": 0.45,
    "kappa_linear_high": 0.602,
    "agreement": 0.689,
    "experts": [{"expert": str(k), "kappa_linear": kappa} for k, kappa in enumerate((0.6, 0.3, None))],
    "median_expert_kappa_linear": 0.45,
    "auc": [
        {"measure": "another", "outcome": "pH <= 7.05", "estimate": 0.5},
        {
            "measure": "deceleration area per seen hour, last 60 min",
            "outcome": "pH <= 7.05",
            "estimate": 0.723,
            "low": 0.587,
            "high": 0.859,
            "with_outcome": 11,
            "without": 164,
        },
    ],
}


def test_the_units_own_validation_is_quoted(tmp_path: Path) -> None:
    (tmp_path / "validation.json").write_text(json.dumps(FOUND))
    experts, area, little = accuracy_lines(tmp_path / "unit.duckdb")
    assert "none of them predicts" in little
    assert "kappa 0.53 (0.45 to 0.60)" in experts
    assert "median" not in experts  # an expert is judged by the others alone: no figure to stand beside this one
    assert "0.72 (0.59 to 0.86), 11 with and 164 without" in area


def test_on_equal_footing_experts_and_reading_stand_in_the_same_chairs(tmp_path: Path) -> None:
    def figure(value: float | None) -> dict[str, float | None]:
        return {"estimate": value, "low": None if value is None else value - 0.1, "high": value and value + 0.1}

    row = {
        "standard": "figo-1986",
        "panel": 8,
        "kappa_linear": figure(0.55),
        "median_expert": figure(0.52),
        "best_expert": {"expert": "4", **figure(0.64)},
        "over_median_expert": figure(0.03),
        "classes": [
            {
                "category": name,
                "recall": figure(0.5),
                "precision": figure(0.6),
                "experts_recall": figure(None),
                "experts_precision": figure(0.7),
            }
            for name in ("normal", "suspicious", "pathological")
        ],
    }
    row["stages"] = [{**row, "stage": "second stage", "over_median_expert": figure(None)}]
    row["odd_panels"] = {**row, "panel": 7}
    sorted_births = {
        "first": 35,
        "first_with_outcome": 6,
        "outcome": "pH <= 7.05",
        "share": 0.171,
        "low": 0.081,
        "high": 0.327,
        "missed": 5,
        "with_outcome": 11,
    }
    whole = {
        **FOUND,
        "standard": "figo-1986",
        "equal_footing": [row, {**row, "standard": "figo-2015"}],
        "sorting": [sorted_births],
    }
    (tmp_path / "validation.json").write_text(json.dumps(whole))
    lines = accuracy_lines(tmp_path / "unit.duckdb")
    assert len([line for line in lines if "equal footing" in line]) == 1
    assert "median expert 0.52, the best 0.64; computed minus median expert +0.03 (-0.07 to +0.13)" in lines[1]
    assert "pathological 50% and 60% (experts cannot say and 70%)" in lines[1]
    assert "Second stage: 0.55, the median expert 0.52, difference cannot say." in lines[1]
    assert "As a check, panels of 7: 0.55, the median expert 0.52, difference +0.03 (-0.07 to +0.13)." in lines[1]
    beside = compared_with_experts(tmp_path / "unit.duckdb")
    assert "beside 3 experts of the open database (FIGO 1986), on equal footing: linear weighted kappa 0.55" in beside
    assert beside.endswith("the median expert 0.52, difference +0.03 (-0.07 to +0.13).")
    assert "Of the 35 births" in lines[-1]
    assert "6 had pH <= 7.05 (17%, 8% to 33%); 5 of the 11" in lines[-1]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"settings_sha256": "0123456789abcdef"}, "made with settings 01234567, version"),
        ({"version": "0.0.1"}, "version 0.0.1; in force are"),
        ({"settings_sha256": None}, "settings that the file does not name"),
    ],
)
def test_figures_of_other_settings_or_of_another_version_say_so(tmp_path: Path, change: dict, said: str) -> None:
    (tmp_path / "validation.json").write_text(json.dumps(FOUND | change))
    first, *_ = accuracy_lines(tmp_path / "unit.duckdb")
    assert said in first
    assert "run `validate` again" in first


def test_figures_of_the_part_that_settings_were_chosen_on_say_so(tmp_path: Path) -> None:
    (tmp_path / "validation.json").write_text(json.dumps(FOUND | {"part": "tuning"}))
    assert "on which settings were chosen, so they flatter" in accuracy_lines(tmp_path / "unit.duckdb")[0]
    assert compared_with_experts(tmp_path / "unit.duckdb").endswith("(recordings that settings were chosen on).")


def test_without_one_it_says_how_to_make_it(tmp_path: Path) -> None:
    line, little = accuracy_lines(tmp_path / "unit.duckdb")
    assert "validate FOLDER --json > validation.json" in line
    assert "of one newborn they say little" in little  # area sorts the unit's births with or without that file


def with_area(**changed: object) -> dict[str, object]:
    first, second = FOUND["auc"]
    return {**FOUND, "auc": [first, {**second, **changed}]}


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "{}",
        "not json",
        "[" * 100_000,
        json.dumps({**FOUND, "kappa_linear": None}),
        json.dumps({**FOUND, "kappa_linear": 5.31}),
        json.dumps({**FOUND, "kappa_linear_high": float("inf")}),
        json.dumps({**FOUND, "agreement": -0.2}),
        json.dumps({**FOUND, "kappa_linear_low": 0.7}),
        json.dumps({**FOUND, "windows": -3}),
        json.dumps({**FOUND, "windows": "many"}),
        json.dumps({**FOUND, "experts": [{"expert": "1", "kappa_linear": -7}]}),
        json.dumps({**FOUND, "experts": []}),
        json.dumps(with_area(estimate=72.3)),
        json.dumps(with_area(low=0.9)),
        json.dumps(with_area(high=float("nan"))),
        json.dumps(with_area(with_outcome=1.5)),
    ],
    ids=lambda text: text[:20],
)
def test_another_file_is_left_out_with_a_word(tmp_path: Path, text: str) -> None:
    (tmp_path / "validation.json").write_text(text)
    line, _ = accuracy_lines(tmp_path / "unit.duckdb")
    assert "is not what" in line


def test_beside_computed_categories_stands_how_they_compared_with_experts(tmp_path: Path) -> None:
    assert "not measured here" in compared_with_experts(tmp_path / "unit.duckdb")
    in_force = {"settings_sha256": load_settings().analysis_sha256, "version": made_by.version()}
    (tmp_path / "validation.json").write_text(json.dumps(FOUND | in_force | {"standard": "figo-1986"}))
    said = compared_with_experts(tmp_path / "unit.duckdb")
    assert "against the consensus of 3 experts of the open database (FIGO 1986)" in said
    assert said.endswith("kappa 0.53 (0.45 to 0.60).")
    (tmp_path / "validation.json").write_text(json.dumps(FOUND | {"version": "0.0.1"}))
    assert compared_with_experts(tmp_path / "unit.duckdb").endswith("(older settings).")
    for text in ("[]", "{}", json.dumps({**FOUND, "experts": []}), json.dumps({**FOUND, "kappa_linear": 5.31})):
        (tmp_path / "validation.json").write_text(text)
        assert "not known" in compared_with_experts(tmp_path / "unit.duckdb")


def test_departures_from_the_published_tables_are_listed_and_their_absence_too(tmp_path: Path) -> None:
    plain = methods_section([], [], load_settings(), log_head=None, accuracy=())
    assert "Departures from the published tables of the standards: none." in plain.paragraphs
    unit = tmp_path / "unit_settings.toml"
    words = '[locale.events]\nsenior_called = "Consultant called"\n'
    unit.write_text(f'[nichd-2008]\ntachycardia = "> 170"\n{words}', encoding="utf-8")
    own = methods_section([], [], load_settings(unit), log_head=None, accuracy=())
    # NICHD 2008 (Macones), table of definitions: tachycardia is a baseline above 160 bpm
    (line,) = [text for text in own.paragraphs if "published" in text and "in force" in text and "170" in text]
    assert "> 170 bpm in force, > 160 published (NICHD 2008 (Macones), table of definitions)" in line
    assert not any("none" in text and "Departures" in text for text in own.paragraphs)
    assert any("changed by the unit: nichd-2008.tachycardia, locale.events." in text for text in own.paragraphs)

"""What is in force in a unit: its own settings, where it leaves a published table, or that it does not.

The published figures are those of the standards' tables, each with its source there.
"""

from audit.questions.in_force import (
    all_departures,
    clock_rules,
    departure_lines,
    own_settings,
    published_table,
)
from audit.settings import load_settings


def unit(tmp_path, text):
    file = tmp_path / "unit_settings.toml"
    file.write_text(text, encoding="utf-8")
    return load_settings(file)


def test_a_unit_as_packaged_departs_nowhere():
    assert own_settings(load_settings()) == []
    assert all_departures(load_settings()) == []
    assert departure_lines(load_settings()) == ["Departures from the published tables of the standards: none."]


def test_each_departure_is_named_with_its_source(tmp_path):
    settings = unit(tmp_path, '[figo-2015]\ntachycardia = "> 155"\n[standards.common]\ncarry_min = 5\n')
    (row,) = all_departures(settings)
    # FIGO 2015, definitions: tachycardia is a baseline above 160 bpm
    assert (row.standard, row.name, row.in_force, row.published) == ("figo-2015", "tachycardia", "> 155", "> 160")
    (line,) = departure_lines(settings)
    assert "> 155 bpm in force, > 160 published (FIGO 2015, definitions)" in line
    departing = [row["name"] for row in published_table(settings, "figo-2015") if row["departs"]]
    assert departing == ["tachycardia"]


def test_own_settings_stand_beside_the_packaged_ones(tmp_path):
    settings = unit(
        tmp_path,
        "[nichd-2008]\nclass_window_min = 20\n"
        '[response.triggers."figo-2015/pathological"]\ntarget_minutes = 10\n'
        '[import.event_words]\n"Sr called" = "senior_called"\n',
    )
    assert [tuple(row.values()) for row in own_settings(settings)] == [
        ("nichd-2008.class_window_min", "20.0", "30.0"),
        ('response.triggers."figo-2015/pathological".target_minutes', "10.0", "15.0"),
        ('import.event_words."Sr called"', "senior_called", None),
    ]


def test_the_clocks_rules_say_what_counts_and_why():
    rules = {(row["standard"], row["trigger"]): row for row in clock_rules(load_settings())}
    rule = rules["figo-2015", "pathological"]
    assert rule["target_minutes"] == 15.0
    assert "senior called" in rule["counts"]
    assert rule["source"].startswith("pathological: act on reversible causes")

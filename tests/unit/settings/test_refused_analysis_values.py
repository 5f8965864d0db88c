"""Values of the tables that a reading depends on that are refused when loaded, and commands that stop at them.

The message names the file, the key, what was found and what was expected; the command ends with 2 and touches nothing.
"""

from pathlib import Path
from typing import Any

import pytest

from audit.cli import main
from audit.errors import SettingsError
from audit.setting_spans import check_spans
from audit.settings import Settings, load_settings
from tests.page_databases import empty_database
from tests.settings_keys import EVERY
from tests.unit.settings.test_refused_review_values import REFUSED as OF_REVIEW

LIMIT = "an operator (>, >=, <, <=) and a number from 30 to 250 bpm, as '>= 50'"
# Each row: what the unit's file says, the key and the value that the message names, what it expected.
REFUSED = [
    ('[nichd-2008]\ntachycardia = "160"', "nichd-2008.tachycardia: found '160'", LIMIT),
    ('[nichd-2008]\ntachycardia = ">> 160"', "nichd-2008.tachycardia: found '>> 160'", LIMIT),
    ('[nichd-2008]\ntachycardia = "> abc"', "nichd-2008.tachycardia: found '> abc'", LIMIT),
    ('[nichd-2008]\ntachycardia = "> 160 bpm"', "nichd-2008.tachycardia: found '> 160 bpm'", LIMIT),
    ('[nichd-2008]\ntachycardia = "> nan"', "nichd-2008.tachycardia: found '> nan'", LIMIT),
    ('[nichd-2008]\ntachycardia = "> inf"', "nichd-2008.tachycardia: found '> inf'", LIMIT),
    ('[nichd-2008]\ntachycardia = "> 16000"', "nichd-2008.tachycardia: found '> 16000'", LIMIT),
    ("[nichd-2008]\ntachycardia = 160", "nichd-2008.tachycardia: found 160", LIMIT),
    ('[nichd-2008]\ntachycardia = "< 160"', "nichd-2008.tachycardia: found '< 160'", "> or >= and a number"),
    ('[nichd-2008]\ntachycardia = "> 100"', "nichd-2008.bradycardia: found '< 110'", "below that of tachycardia"),
    ('[nichd-2008]\ntachicardia = "> 160"', "nichd-2008.tachicardia: unknown key", "did you mean tachycardia?"),
    # what no published standard and no unit could mean (common practice, no source): all falls off, tachysystole always
    ('[figo-2015]\ndeceleration_depth = "> 150"', "figo-2015.deceleration_depth: found '> 150'", "from 0 to 100 bpm"),
    ('[nichd-2008]\ntachysystole = "> 0.5"', "nichd-2008.tachysystole: found '> 0.5'", "from 1 to 20 per 10 min"),
    ('[nice-ng229]\nprolonged = ">= 1800"', "nice-ng229.prolonged: found '>= 1800'", "from 5 to 1200 s"),
    # far from what the published texts print: NICHD 2008 (15 bpm, half of the contractions), FIGO 2015 (over 15 bpm),
    # NG229 (a fall of 3 minutes), NICE NG192 (30 min), and from each target of the packaged file
    ('[nichd-2008]\nacceleration_height = ">= 1.5"\npreterm_acceleration_height = ">= 1.5"',
     "nichd-2008.acceleration_height: found '>= 1.5'", "a number from 7.5 to 30 (bpm)"),
    ('[nichd-2008]\nrecurrent = ">= 0.05"', "nichd-2008.recurrent: found '>= 0.05'", "from 0.25 to 1 (fraction)"),
    ('[figo-2015]\ntachycardia = "> 220"', "figo-2015.tachycardia: found '> 220'", "a number from 128 to 200 (bpm)"),
    ('[nice-ng229]\nprolonged = ">= 720"', "nice-ng229.prolonged: found '>= 720'", "a number from 60 to 540 (s)"),
    ("[response.decision_in_force]\nurgency_1 = 3", "response.decision_in_force.urgency_1: found 3", "from 7.5 to 120"),
    ('[response.triggers."figo-2015/pathological"]\ntarget_minutes = 90',
     "response.triggers.\"figo-2015/pathological\".target_minutes: found 90", "a number from 3.75 to 60 (min)"),
    ("[figo-2015]\nclass_window_min = 150", "figo-2015.class_window_min: found 150", "a number from 7.5 to 120 (min)"),
    ("[standards.common]\ncarry_min = 1", "standards.common.carry_min: found 1", "0 or a number from 2.5 to 40 (min)"),
    ("[find]\nacidosis_ph_below = [6.7, 7.05, 7.1]", "find.acidosis_ph_below", "a number from 6.85 to 7.15 (pH)"),
    ("[import.ranges]\nbirth_weight_g = [2500, 7000]", "import.ranges.birth_weight_g", "each end lies at most 675"),
    ("[tracing]\nvariability_high_percentile = 9.75", "tracing.variability_high_percentile", "from 50 to 100"),
    ('[nichd-2008]\nrecurrent = ">= 50"', "nichd-2008.recurrent: found '>= 50'", "from 0 to 1 fraction"),
    ('[nice-ng229]\nedition = "2017"', "nice-ng229.edition: found '2017'", "one of 'amended', 'by month"),
    ("[nice-ng229]\ncontractions_averaged_min = 20", "nice-ng229.contractions_averaged_min: found 20.0", "10 or 30"),
    ('[figo-2015]\nlate_shape = "both"', "figo-2015.late_shape: found 'both'", "one of 'and', 'onset', 'or'"),
    ('[figo-1986]\narea_suspicious = ">= 20000"', "figo-1986.area_suspicious", "below that of area_pathological"),
    ('[nichd-2008]\npreterm_acceleration_height = ">= 20"', "nichd-2008.preterm_acceleration_height", "not above that"),
    ('[nichd-2008]\nprolonged_duration = ">= 10"', "nichd-2008.variable_duration", "below that of prolonged_duration"),
    ('[figo-2015]\nrepetitive_duration = "> 10"', "figo-2015.repetitive_duration_reduced", "not above that of repet"),
    ('[nice-ng229]\nshort_pattern = "< 20"', "nice-ng229.short_pattern: found '< 20'", "the number of long_pattern"),
    ("[response.readers]\ncategories = []", "response.readers.categories: found []", "one of II, III, suspicious"),
    ('[response.events]\nescalation = []\n[response.readers]\ncounts = ["escalation"]',
     "response.readers.counts: found ['escalation']", "at least one event"),
    ("[figo-2015]\ncarry_min = -1", "figo-2015.carry_min: found -1", "a number from 0 to 1440 (min)"),
    ('[standards.common]\nwindow_rule = "best"', "standards.common.window_rule: found 'best'", "'final', 'worst'"),
    ("[standards.common]\nsignal_seen_fraction = 1.5", "standards.common.signal_seen_fraction: found 1.5", "0 to 1"),
    ("[standards]\ncommon = 3", "standards.common: found 3", "a table"),
    ("[tracing]\nspike_longest_s = -3.0", "tracing.spike_longest_s: found -3.0", "a number from 0 to 604800 (s)"),
    ("[tracing]\nspike_longest_s = nan", "tracing.spike_longest_s: found nan", "a number from 0"),
    ("[tracing]\nspike_longest_s = inf", "tracing.spike_longest_s: found inf", "a number from 0"),
    ("[tracing]\nspike_longest_s = true", "tracing.spike_longest_s: found True", "a number from 0"),
    ("[tracing.spike_longest_s]\nx = 3", "tracing.spike_longest_s: found {'x': 3}", "a number from 0"),
    ("tracing = 5", "tracing: found 5", "a table"),
    ("[tracing]\nfhr_lowest_bpm = 230", "tracing.fhr_lowest_bpm: found 230.0", "less than fhr_highest_bpm (220)"),
    ("[tracing]\nminimal_to_bpm = 30", "tracing.minimal_to_bpm: found 30.0", "less than moderate_to_bpm (25)"),
    ("[tracing]\nshallow_depth_bpm = 20", "tracing.shallow_depth_bpm: found 20.0", "at most deceleration_depth_bpm"),
    ("[tracing]\ngradual_s = 0", "tracing.fall_uncertain_from_s: found 24.0", "at most gradual_s (0)"),
    ("[tracing]\nprolonged_s = 700", "tracing.prolonged_s: found 700.0", "less than baseline_change_s (600)"),
    ('[nichd-2008]\ntrigger_prolonged = ">= 60"', "nichd-2008.prolonged_duration", "above that of trigger_prolonged"),
    ("[standards.common]\nsignal_seen_fraction = 0", "standards.common.signal_seen_fraction: found 0", "more than 0"),
    ("[figo-2015]\nvariability_minimum_min = 11", "figo-2015.variability_minimum_min: found 11", "at most 10"),
    ("[tracing]\ntoco_seen_fraction = 1.5", "tracing.toco_seen_fraction: found 1.5", "a number from 0 to 1 (fraction)"),
    ("[tracing]\nspike_lngest_s = 3", "tracing.spike_lngest_s: unknown key", "did you mean spike_longest_s?"),
    ("[burden]\nbradycardia_below_bpm = 11", "burden.bradycardia_below_bpm: found 11", "a number from 30 to 250 (bpm)"),
    ("[validate]\ninterval_level = 1", "validate.interval_level: found 1", "a number"),
    ('[validate]\nheadline_standard = "figo"', "validate.headline_standard: found 'figo'", "'figo-1986'"),
    ("[validate]\ndraws = 10.5", "validate.draws: found 10.5", "a whole number from"),
    ("[response]\nafter_end_minutes = -2", "response.after_end_minutes: found -2", "a number from 0 to 1440 (min)"),
    ("[response.readers]\ncounts = []", "response.readers.counts: found []", "a class (test, conservative"),
    ('[response.readers]\ncategories = ["IV"]', "response.readers.categories: found 'IV'", "one of II, III"),
    ('[response.events]\ntest = "scalp_stimulation"', "response.events.test: found 'scalp_stimulation'", "a list of"),
    ('[response.events]\ntests = []', "response.events.tests: unknown key", "did you mean test?"),
    ('[response.triggers."figo-2015/pathological"]\ntarget_minutes = 0',
     "response.triggers.\"figo-2015/pathological\".target_minutes: found 0", "a number from 1 to 120 (min)"),
    ('[response.triggers."figo-2015/mine"]\ntarget_minutes = 5\ncounts = ["decision"]\ncategories = ["III"]',
     "response.triggers.\"figo-2015/mine\".categories: found 'III'", "one of suspicious, pathological"),
    ('[response.triggers."figo-2016/mine"]\ntarget_minutes = 5\ncounts = ["decision"]\ncategories = ["normal"]',
     "response.triggers.\"figo-2016/mine\": found 'figo-2016/mine'", "a standard and a name"),
    ('[standards.nichd-2008]\ntachycardia = "> 160"', "standards.nichd-2008: unknown key",
     "the table of this standard is [nichd-2008]"),
    # what leaves nothing to class, can never be met, or is met by everything
    ("[tracing]\nspike_step_bpm = 0", "tracing.spike_step_bpm: found 0", "above 0 to 200 (bpm)"),
    ("[tracing]\nvariability_seen_s = 61", "tracing.variability_seen_s: found 61", "above 0 to 60 (s of a minute)"),
    ("[tracing]\npreterm_below_weeks = 45", "tracing.preterm_below_weeks: found 45", "from 20 to 37 (weeks)"),
    ('[standards.common]\nbaseline_identified = ">= 700"', "standards.common.baseline_identified: found '>= 700'",
     "at most the 600 s"),
    ("[standards.common]\nvariability_minimum_min = 0", "standards.common.variability_minimum_min", "at least 1"),
    ("[nichd-2008]\nshort_class_window_min = 60", "nichd-2008.short_class_window_min: found 60", "at most 30 min"),
    ('[nichd-2008]\nrecurrent = ">= 0"', "nichd-2008.recurrent: found '>= 0'", "not everything meets"),
    ("[figo-1986]\nreduced_known_min = 50", "figo-1986.reduced_known_min: found 50", "at most 40 min"),
    ('[nice-ng229]\nconcerning_duration = "> 300"', "nice-ng229.concerning_duration", "below that of prolonged"),
    ('[response.triggers."figo-2015/pathological"]\ncounts = ["birth"]',
     "response.triggers.\"figo-2015/pathological\".counts: found 'birth'", "events that may answer"),
    ('[response.events]\nconservative = ["oxytocin_increased"]',
     "response.events.conservative: found 'oxytocin_increased'", "events that may answer"),
    ('[response.readers]\ncategories = ["normal"]', "response.readers.categories: found 'normal'", "one of II, III"),
    ("[response.decision_in_force]\nurgency_2 = 10", "response.decision_in_force.urgency_1: found 30.0", "urgency_2"),
    ("[validate]\nconsensus_readers_min = 10", "validate.consensus_readers_min: found 10", "1 to 9"),
    ("[validate]\ninterval_recordings_min = 30", "validate.interval_recordings_min: found 30", "at most"),
    ("[nosuch]\nx = 1", "nosuch: unknown key", "expected one of"),
    ("[respons]\nx = 1", "respons: unknown key", "did you mean response?"),
]  # fmt: skip


EVERY_REFUSED = [*REFUSED, *OF_REVIEW]


@pytest.mark.parametrize(
    ("text", "found", "expected"), EVERY_REFUSED, ids=[row[0].split("\n")[-1] for row in EVERY_REFUSED]
)
def test_the_message_names_file_key_found_and_expected(tmp_path: Path, text: str, found: str, expected: str) -> None:
    unit = tmp_path / "unit_settings.toml"
    unit.write_text(f"{text}\n", encoding="utf-8")
    with pytest.raises(SettingsError) as error:
        load_settings(unit)
    assert error.value.exit_code == 2
    assert str(error.value).startswith(f"unit_settings.toml: {found}")
    assert expected in str(error.value)


FREE = ("seed", "draws", "shifts", "import.max_", "find.points", "find.presets", "year_begins", "urgency_", "version")


@pytest.mark.parametrize("factor", [0.1, 10.0])
def test_a_number_ten_times_off_is_never_taken(factor: float) -> None:
    """But where a number says how hard a machine works, what a point is worth, or that a thing is off at 0."""
    taken = []
    for key, usual in EVERY.items():
        found: Any = None
        if isinstance(usual, str) and usual[:1] in ("<", ">"):
            found = f"{usual.split()[0]} {float(usual.split()[1]) * factor:g}"
        elif isinstance(usual, int | float) and not isinstance(usual, bool):
            found = type(usual)(usual * factor)
        elif isinstance(usual, list) and isinstance(usual[0], int | float):
            found = [type(one)(one * factor) for one in usual]
        if not found or found == usual or any(name in ".".join(key) for name in FREE):
            continue
        tables = [found, usual]
        for name in reversed(key):
            tables = [{name: table} for table in tables]
        try:
            check_spans(Settings, *tables, lambda _: "unit_settings.toml")
        except (SettingsError, ValueError):  # ValueError: the limit's own range, refused before
            continue
        taken.append(f"{'.'.join(key)}: {found}")
    assert taken == []


def files_of(folder: Path) -> dict[Path, bytes]:
    """Every file with its content, but the log, which says that a command was asked for."""
    return {file: file.read_bytes() for file in folder.rglob("*") if file.is_file() and ".log" not in file.suffixes}


OF_READINGS = ('[nichd-2008]\ntachycardia = "160"\n', "nichd-2008.tachycardia: found '160'")
OF_LISTS = ("[find.points]\nacidosis = [5.0]\n", "find.points.acidosis: found [5.0], expected as many as")


@pytest.mark.parametrize(
    ("mistake", "command"),
    [
        (OF_READINGS, ["analyse"]),
        (OF_READINGS, ["delays"]),
        (OF_READINGS, ["dashboard", "--no-browser"]),
        (OF_READINGS, ["validate", "."]),
        (OF_READINGS, ["demo", "--folder", "demo", "--no-dashboard"]),
        (OF_LISTS, ["import", "cases.csv"]),
        (OF_LISTS, ["find"]),
        (OF_LISTS, ["agreement"]),
        (OF_LISTS, ["trends"]),
        (OF_LISTS, ["pack", "--period", "2031-04", "--out", "packs"]),
        (OF_LISTS, ["check"]),
    ],
    ids=lambda given: given[0] if isinstance(given, list) else "",
)
def test_a_command_stops_before_it_touches_anything(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    mistake: tuple[str, str],
    command: list[str],
) -> None:
    """The first mistake once loaded silently, so that the next analysis deleted every finding of the unit."""
    monkeypatch.chdir(tmp_path)
    db = empty_database(tmp_path)
    (tmp_path / "cases.csv").write_text("case_id,period\nC-1,2031-04\n", encoding="utf-8")
    text, message = mistake
    (tmp_path / "unit_settings.toml").write_text(text, encoding="utf-8")
    before = files_of(tmp_path)
    with pytest.raises(SystemExit) as ended:
        main(["--db", str(db), *command])
    assert ended.value.code == 2
    assert f"unit_settings.toml: {message}" in capsys.readouterr().err
    assert files_of(tmp_path) == before


def test_a_units_file_of_the_former_layout_works(tmp_path: Path) -> None:
    """What stands alike now stands in one table; a standard's own table still prevails, for that standard alone."""
    unit = tmp_path / "unit_settings.toml"
    unit.write_text("[nichd-2008]\nclass_window_min = 20\n[standards.common]\ncarry_min = 5\n", encoding="utf-8")
    found = load_settings(unit)
    assert (found.nichd_2008.class_window_min, found.figo_2015.class_window_min) == (20.0, 30.0)
    assert [table.carry_min for table in found.of_standards.values()] == [5.0] * 4
    assert found.overridden == ("nichd-2008.class_window_min", "standards.common.carry_min")

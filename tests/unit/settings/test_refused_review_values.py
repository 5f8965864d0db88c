"""Values of import, cord gas, find, agreement, trends, meeting, pack and access that are refused when loaded.

`test_refused_analysis_values.py` tries each of `REFUSED`.
"""

import json
import re
from pathlib import Path

import pytest

from audit.errors import SettingsError
from audit.setting_tables.retired import RETIRED
from audit.setting_types import plain
from audit.settings import load_settings

# Each row: what the unit's file says, the key and the value that the message names, what it expected.
REFUSED = [
    ("[settings]\nversion = 2", "settings.version: found 2", "1"),
    ("[cord_gas]\nph_lowest = 73.0", "cord_gas.ph_lowest: found 73.0", "a number from 6 to 8 (pH)"),
    ("[cord_gas]\nph_lowest = 7.7", "cord_gas.ph_lowest: found 7.7", "less than ph_highest (7.7)"),
    ("[cord_gas]\nleast_ph_difference = -0.02", "cord_gas.least_ph_difference: found -0.02", "from 0 to 0.5 (pH)"),
    ("[cord_gas]\npco2_highest_kpa = nan", "cord_gas.pco2_highest_kpa: found nan", "from 0.1 to 100 (kPa)"),
    ("[find]\nleast_seen_fraction = 50.0", "find.least_seen_fraction: found 50.0", "from 0 to 1 (fraction)"),
    ("[find]\nacidosis_ph_below = [7.1, 7.05, 7.0]", "find.acidosis_ph_below: found [7.1, 7.05, 7.0]", "the lowest"),
    ("[find]\nacidosis_ph_below = [7.0, 7.1]", "find.points.acidosis: found [5.0, 4.0, 3.0]", "as many as acidosis_ph"),
    ("[find]\nlow_apgar_5_below = []", "find.low_apgar_5_below: found []", "a list of 1 or more"),
    ("[find.points]\nacidosis = [3.0, 4.0, 5.0]", "find.points.acidosis: found [3.0, 4.0, 5.0]", "do not rise"),
    ("[import.usual]\ntoco = [400, 900]", "import.usual.toco: found [400.0, 900.0]", "values that are kept"),
    ("[find.points]\nlow_apgar = [4.0]", "find.points.low_apgar: found [4.0]", "as many as low_apgar_5_below, 2"),
    ("[find.points]\nacidosis = 5.0", "find.points.acidosis: found 5.0", "a list of any number, each a number"),
    ("[find]\ngood_outcome_ph_from = 7.0", "find.good_outcome_ph_from: found 7.0", "at least bad_outcome_ph_below"),
    ("[find]\ncontrols_per_month = 2.5", "find.controls_per_month: found 2.5", "a whole number from 0"),
    ("[find.points]\nlate = 1.0", "find.points.late: unknown key", "expected one of"),
    ('[import]\nlatest_s = "7 days"', "import.latest_s: found '7 days'", "a number from 3600"),
    ("[import]\nlatest_s = true", "import.latest_s: found True", "a number from 3600"),
    ("[import]\nsource_rate_hz = [10.0, 0.5]", "import.source_rate_hz: found [10.0, 0.5]", "the lower one first"),
    ("[import]\nsource_rate_hz = [0.5]", "import.source_rate_hz: found [0.5]", "a list of 2"),
    ("[import.ranges]\ntoco = [300, -50]", "import.ranges.toco: found [300.0, -50.0]", "the lower one first"),
    ("[import.ranges]\nheight_cm = [1, 2]", "import.ranges.height_cm: unknown key", "did you mean"),
    ("[import.usual]\nbirth_weight_g = [nan, 5800]", "import.usual.birth_weight_g: found [nan, 5800.0]", "lower"),
    ("[import]\ncalendar_from_s = 2e6\nlatest_s = 3e6", "import.calendar_from_s: found 2000000.0", "more"),
    ("[import]\nevent_after_birth_usual_h = 9.0", "import.event_after_birth_usual_h: found 9.0", "at most event_after"),
    ('[import.event_words]\n"FBS" = "fbs"', "import.event_words.FBS: found 'fbs'", "one of position_change"),
    ('[import.event_words]\n"Sr called" = 3', "import.event_words", "text"),
    ('[import.event_words]\n"a b" = "birth"\n"A-B" = "incision"', "import.event_words.A-B: found 'incision'", "birth"),
    ('[agreement]\nconsensus_rule = "mean"', "agreement.consensus_rule: found 'mean'", "one of 'majority', 'median'"),
    ("[agreement]\ndraws = 0", "agreement.draws: found 0", "from 2"),
    ("[agreement]\ninterval_level = 95.0", "agreement.interval_level: found 95.0", "from 0.5 to 0.9999"),
    ('[trends]\nrules = ["N1", "N9"]', "trends.rules: found ['N1', 'N9']", "'N8', 'W4'"),
    ('[trends]\nrules = ["N1", "N1"]', "trends.rules: found ['N1', 'N1']", "each rule once"),
    ("[trends]\nbaseline_points = 4", "trends.baseline_points: found 4", "at least baseline_points_min (8)"),
    ('[trends]\nstandard = "figo-2016"', "trends.standard: found 'figo-2016'", "'figo-2015'"),
    ('[meeting]\ncare_grades = ["0", "1"]', "meeting.care_grade_words: found", "as many as care_grades, 2"),
    ('[meeting]\nowner_roles = []', "meeting.owner_roles: found []", "a list of 1 or more"),
    ('[meeting]\nfactors = ["handover", "handover"]', "meeting.factors: found", "each once"),
    ("[meeting]\nrepeat_fraction = 15.0", "meeting.repeat_fraction: found 15.0", "from 0 to 0.5"),
    ('[locale]\npaper = "A4"', "locale.paper: found 'A4'", "one of 'a4', 'us-letter'"),
    ("[pack]\nmin_cell = 0", "pack.min_cell: found 0", "a whole number from 1"),
    ("[access]\nidle_minutes = 0.0", "access.idle_minutes: found 0.0", "from 1 to 480 (min)"),
    ("[access]\nlongest_hours = 200.0", "access.longest_hours: found 200.0", "from 0.1 to 24 (h)"),
    ("[access]\nlongest_hours = 0.25", "access.idle_minutes: found 30.0", "at most longest_hours (0.25 h)"),
    ('[access]\nrole_claim = ""', "access.role_claim: found ''", "text"),
    ('[access.roles]\nstaff = "owner"', "access.roles.staff: found 'owner'", "one of lead, chair, reader, viewer"),
    ("[pack]\ncm_per_min = 0.0", "pack.cm_per_min: found 0.0", "from 0.1 to 10 (cm/min)"),
    ("[find]\npathological_standards = 9", "find.pathological_standards: found 9", "from 1 to 3 (standards)"),
    ("[find]\nbradycardia_below_bpm = 200", "find.bradycardia_below_bpm: found 200", "from 30 to 110 (bpm)"),
    ("[import.ranges]\napgar_5 = [0, 100]", "import.ranges.apgar_5: found [0.0, 100.0]", "0 to 10"),
    ('[import.event_words]\n"birth" = "incision"', "import.event_words.birth: found 'incision'", "our own word"),
    ('[import]\ncase_id_pattern = "[A-Z]{1,20}"', "import.case_id_pattern: found '[A-Z]{1,20}'", "must not fit a name"),
    ("[agreement]\ninterval_cases_min = 20", "agreement.interval_cases_min: found 20", "interval_cases_firm (10)"),
    ("[trends]\nbaseline_points_firm = 3", "trends.baseline_points_firm: found 3", "at least baseline_points_min (8)"),
    ("[trends]\nacidosis_ph_below = 7.6", "trends.acidosis_ph_below: found 7.6", "from 6 to 7.3 (pH)"),
    ('[locale.categories]\npathological = "Normal"', "locale.categories.pathological: found 'Normal'", "shown as"),
    ('[locale.events]\nsenior_called = "birth"', "locale.events.senior_called: found 'birth'", "shown as"),
    ('[access.roles]\n"" = "lead"', 'access.roles."": found \'lead\'', "group or role of the provider"),
    ("pack = 3", "pack: found 3", "a table"),
]  # fmt: skip


def test_a_file_of_todays_layout_is_taken(tmp_path: Path) -> None:
    """Whole numbers where the packaged file has decimals, words in capitals, shorter lists with their points."""
    unit = tmp_path / "unit_settings.toml"
    lines = (
        "[find]", "tracing_stops_minutes = 45", "acidosis_ph_below = [7.0]", "[find.points]", "acidosis = [5]",
        "[import.event_words]", '"Sr called" = "senior_called"', "[import.ranges]", "toco = [0, 200]",
        "[trends]", "rules = []",
    )  # fmt: skip
    unit.write_text("\n".join(lines), encoding="utf-8")
    found = load_settings(unit)
    assert (found.find.tracing_stops_minutes, found.find.points.acidosis) == (45.0, (5.0,))
    assert (found.import_.event_words, found.import_.ranges.toco) == ({"Sr called": "senior_called"}, (0.0, 200.0))
    assert found.trends.rules == ()


@pytest.mark.parametrize("name", [*RETIRED, "response.triggers.figo-2015/pathological.lead_minutes"])
def test_a_retired_key_is_refused_with_what_holds_in_its_place(tmp_path: Path, name: str) -> None:
    table, key = name.rsplit(".", 1)
    first, _, rest = table.partition(".triggers.")
    heading = f'{first}.triggers."{rest}"' if rest else table
    unit = tmp_path / "unit_settings.toml"
    unit.write_text(f"[{heading}]\n{key} = 1\n", encoding="utf-8")
    with pytest.raises(SettingsError) as refused:
        load_settings(unit)
    text = str(refused.value).replace('"', "")
    assert text.startswith(f"unit_settings.toml: {name}: found a key that is no longer read; ")
    named = re.findall(r"set ([a-z_]+)(?: and ([a-z_]+))? in", text)
    assert named or "take the key out" in text or "set the keys of [response.decision_in_force]" in text
    packaged = plain(load_settings())
    every = json.dumps(packaged)
    for each in (one for pair in named for one in pair if one):
        assert f'"{each}"' in every

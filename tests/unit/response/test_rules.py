"""The clock's settings: complete, typed, and clear about what is wrong with a unit's change."""

import pytest

from audit.errors import SettingsError
from audit.response.rules import BUILT_IN
from audit.settings import load_settings

# The events of the input format (care events file).
EVENTS = {
    "position_change",
    "iv_fluid_bolus",
    "oxytocin_started",
    "oxytocin_increased",
    "oxytocin_reduced",
    "oxytocin_stopped",
    "tocolytic_given",
    "amnioinfusion",
    "oxygen_given",
    "hypotension_treated",
    "scalp_stimulation",
    "fetal_blood_sample",
    "senior_called",
    "senior_at_bedside",
    "decision_for_birth",
    "theatre_arrival",
    "incision",
    "instrument_applied",
    "birth",
    "epidural",
    "membranes_ruptured",
    "pushing_started",
}


def unit(tmp_path, text: str):
    file = tmp_path / "unit_settings.toml"
    file.write_text(text, encoding="utf-8")
    return load_settings(file).response


def test_every_event_is_in_one_class_and_every_built_in_trigger_has_a_rule():
    settings = load_settings().response
    listed = [event for events in settings.event_classes.values() for event in events]
    assert sorted(listed) == sorted(EVENTS)
    assert set(settings.rules) == BUILT_IN
    for rule in settings.rules.values():
        assert rule.source
        assert not rule.counts & (settings.event_classes["test"] | settings.event_classes["never_counts"])


def test_a_unit_can_change_and_add_triggers(tmp_path):
    settings = unit(
        tmp_path,
        """
        [response.triggers."figo-2015/pathological"]
        target_minutes = 10
        [response.triggers."nichd-2008/long_category_ii"]
        target_minutes = 20
        decided_by = "escalation"
        counts = ["escalation", "fetal_blood_sample"]
        categories = ["II", "III"]
        for_minutes = 45
        """,
    )
    assert settings.rules["figo-2015", "pathological"].target_minutes == 10.0
    mine = settings.rules["nichd-2008", "long_category_ii"]
    assert mine.counts == {"senior_called", "senior_at_bedside", "fetal_blood_sample"}
    assert (mine.categories, mine.for_minutes) == (("II", "III"), 45.0)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[response.triggers."figo-2015/pathological"]\ncounts = ["chat"]', "found 'chat'"),
        (
            '[response.triggers."figo-2015/pathological"]\ntarget_minutes = -1',
            "found -1, expected a number from 1",
        ),
        (
            '[response.triggers."figo-2015/mine"]\ntarget_minutes = 5\ncounts = ["decision"]',
            "expected categories and",
        ),
        ('[response.triggers."figo-2015/mine"]\ncounts = ["decision"]', "target_minutes: missing, expected"),
        (
            '[response.triggers."mine"]\ntarget_minutes = 5\ncounts = ["decision"]',
            "expected a standard and a name",
        ),
        ('[response.triggers."figo-2015/mine"]\ntarget = 5', "target: unknown key"),
        ('[response.triggers."figo-2015/pathological"]\ncounts = "decision"', "expected a list of"),
        ("[response]\nafter_end_minutes = -2", "response.after_end_minutes: found -2"),
    ],
)
def test_a_wrong_change_is_an_error_that_names_the_key(tmp_path, text, says):
    with pytest.raises(SettingsError, match="response") as error:
        unit(tmp_path, text)
    assert says in str(error.value)

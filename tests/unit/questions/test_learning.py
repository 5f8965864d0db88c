"""Good care and near misses, counted by hand."""

import pytest

from audit.questions import learning
from audit.settings import load_settings

SETTINGS = load_settings()
STANDARD = "nice-ng229"


def found(unit, **more):
    return learning.document(unit.con, SETTINGS, period="2031-03", with_outcome=True, **more)


def labour(unit, case_id, status, minutes=None, **outcome):
    unit.case(case_id)
    unit.tracing(case_id)
    unit.outcome(case_id, **outcome)
    unit.episode(case_id, status, minutes, standard=STANDARD, lasted_minutes=90.0)


def recorded(unit, case_id, minute):
    unit.insert("assessments", case_id=case_id, fetus="A", at_s=6000 + 60.0 * minute, standard=STANDARD,
                category="pathological", assessor="midwife")  # fmt: skip


def test_good_care_is_early_recording_and_a_call_at_once_and_nothing_late(unit):
    for case_id, status in (("c1", "in_time"), ("c2", "in_time"), ("c3", "late"), ("c4", "in_time")):
        labour(unit, case_id, status, 8.0)
    recorded(unit, "c1", 10.0)
    unit.event("c1", 6000 + 15 * 60.0, "senior_called")
    recorded(unit, "c2", 10.5)
    unit.event("c2", 6000 + 16 * 60.0, "senior_called")
    recorded(unit, "c3", 1.0)
    unit.event("c4", 6000 - 60.0, "senior_called")
    rows = {row["case_id"]: row["reasons"] for row in found(unit)["good_care"]}
    assert rows == {
        "c1": ["recorded as such within 10 min of being recognisable", "a senior was called within 5 min"],
        "c4": ["a senior was called before it had to be recognised"],
    }


@pytest.mark.parametrize(
    ("status", "outcome", "reasons"),
    [
        ("in_time", {"cord_artery_ph": 7.09}, 1), ("in_time", {"cord_artery_ph": 7.10}, 0),
        ("in_time", {"cord_artery_ph": 7.09, "neonatal_unit_admission": True}, 0),
        ("late", {"cord_artery_ph": 7.20}, 1), ("late", {"cord_artery_ph": 7.19}, 0), ("late", {"apgar_5": 6}, 0),
        ("late", {"apgar_5": None}, 0), ("none_recorded", {"cord_artery_ph": None}, 1), ("in_time", {}, 0),
        ("late", {"died": "neonatal_early"}, 0),
    ],
)  # fmt: skip
def test_near_misses_are_well_and_might_not_have_been(unit, status, outcome, reasons):
    labour(unit, "c1", status, None if status == "none_recorded" else 40.0, **outcome)
    assert sum(len(row["reasons"]) for row in found(unit)["near_miss"]) == reasons

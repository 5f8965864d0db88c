"""Labours for the list of cases to discuss: one with nothing to discuss, and what the list says of a case."""

from audit.questions import cases_to_discuss
from audit.settings import load_settings

SETTINGS = load_settings()
POINTS = SETTINGS.find.points
# what a row of `decelerations` must have
FALL = {"depth_bpm": 40.0, "toco_usable": True, "shallow": False, "kind_certain": True, "kind": "variable"}


def document(unit, **asked):
    return cases_to_discuss.document(unit.con, SETTINGS, **asked)


def plain(unit, case_id="c1", *, outcome=None, fetus="A", **more):
    """A labour with nothing to discuss: read, events, good outcome."""
    unit.case(case_id, **({"birth_s": 18600.0} | more))
    unit.tracing(case_id, fetus)
    unit.outcome(case_id, fetus, **(outcome or {}))
    unit.event(case_id)


def kinds(unit, case_id="c1", **asked):
    """{kind: points} of a case; None when it is not listed."""
    for case in document(unit, **asked)["cases"]:
        if case["case_id"] == case_id:
            heaviest: dict[str, float] = {}
            for reason in case["reasons"]:
                heaviest[reason["kind"]] = max(reason["points"], heaviest.get(reason["kind"], 0.0))
            return heaviest
    return None


def with_a_usual_month(unit):
    """Four labours whose record is complete."""
    for k in range(4):
        plain(unit, f"usual{k}")

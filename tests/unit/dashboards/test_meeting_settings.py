"""Every key of the meeting's settings shows on the page that it is for."""

import json
import tomllib

import pytest

from audit.people import agenda, batches
from audit.people.batches import Plan, Window
from audit.settings import PACKAGED_FILE
from tests import page_databases
from tests.signing_in import sign_in

pytestmark = pytest.mark.slow  # a page for each key

MEETING = tomllib.loads(PACKAGED_FILE.read_text(encoding="utf-8"))["meeting"]
CASES = ("C-001", "C-002", "C-003")
# Each row: who is signed in, and another value. The chair sees the meeting, a reader strips, the lead makes batches.
OTHER = {
    "care_grades": ("chair", ["A", "B", "C", "D"]),
    "care_grade_words": ("chair", ["good", "fair", "poor", "bad"]),
    "care_scale": ("chair", "unit's own 0-3"),
    "factors": ("chair", ["handover"]),
    "issues": ("chair", ["seen late"]),
    "stages": ("chair", ["labour"]),
    "avoidability": ("chair", ["yes", "no"]),
    "attending_roles": ("chair", ["obstetrician", "midwife", "sonographer"]),
    "quorum_persons": ("chair", 5),
    "quorum_roles": ("chair", ["midwife"]),
    "owner_roles": ("chair", ["theatre lead"]),
    "family_questions": ("chair", True),
    "reader_notes": ("reader", True),
    "window_minutes": ("lead", 20),
    "control_fraction": ("lead", 2.0),
    "repeat_fraction": ("lead", 0.3),
}


@pytest.fixture
def own(databases, tmp_path):
    """A small database of this test alone, with an agenda and a batch."""
    db = databases["own"] = page_databases.small_database(tmp_path)
    for case_id in CASES:
        for period in ("2031-04", "2031-05"):
            agenda.add(db, period, case_id, who="lead")
    batches.make(
        db,
        Plan(name="First", standard="figo-2015", windows=(Window("C-001", "A", 0.0, 1800.0),), readers=("R1",)),
        who="lead",
    )
    return db


def shown(open_page, role):
    """Labels, choices and values of the inputs of their page."""
    page = open_page("own", "meeting" if role == "chair" else "read_strips")
    opened = sign_in(page, role, "R1" if role == "reader" else "")
    if role == "chair":
        opened.selectbox(key="period").set_value("2031-04").run()
    assert not opened.exception
    inputs = [*opened.radio, *opened.selectbox, *opened.multiselect, *opened.slider, *opened.number_input,
              *opened.text_input, *opened.text_area]  # fmt: skip
    said = [(each.value,) for each in opened.caption]
    return [*said, *((each.label, str(getattr(each, "options", "")), str(each.value)) for each in inputs)]


def test_every_key_is_tried():
    assert set(OTHER) == set(MEETING)


@pytest.mark.parametrize("key", OTHER)
def test_another_value_shows_on_its_page(open_page, own, key):
    role, value = OTHER[key]
    before = shown(open_page, role)
    (own.parent / "unit_settings.toml").write_text(f"[meeting]\n{key} = {json.dumps(value)}\n", encoding="utf-8")
    assert shown(open_page, role) != before

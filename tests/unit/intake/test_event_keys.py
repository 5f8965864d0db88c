"""Care events with the source's own key: what is corrected takes the former's place, and can be taken back.

The rule is that of the contract of this program (an event is the same by case, kind and key); there is no published
one.
"""

from pathlib import Path

import pytest

from audit.analysis.job import analyse
from audit.errors import AuditError
from audit.intake.checks.care_events import read_events
from audit.intake.door.remarks import Remarks
from audit.intake.door.report import ImportReport
from audit.intake.door.shape import shape
from audit.intake.formats.tables import SmallTable
from audit.intake.importer import import_paths
from audit.intake.undo import undo
from audit.settings import load_settings
from tests.asking import ask

pytestmark = pytest.mark.slow

SETTINGS = load_settings()
HEAD = "case_id,at_s,event,event_id\n"
FIRST = f"{HEAD}C1,100,senior_called,E1\nC1,190,birth,E2\nC2,50,epidural,E1\nC2,60,senior_called,E3\n"


def take(db: Path, folder: Path, text: str, name: str = "events.csv", **options: bool) -> ImportReport:
    (folder / name).write_text(text, encoding="utf-8")
    return import_paths(db, [folder / name], settings=SETTINGS, **options)


def events(db: Path, columns: str = "case_id, at_s, event") -> list[tuple]:
    return ask(db, f"select {columns} from care_events order by case_id, at_s, event")


def test_a_corrected_time_takes_the_place_of_the_former_and_only_of_that(db, tmp_path):
    take(db, tmp_path, FIRST)
    report = take(db, tmp_path, f"{HEAD}C1,112,senior_called,E1\nC1,205,birth,E2\n")
    assert (report.exit_code, report.files[0].outcome) == (0, "replaced")
    expected = [("C1", 112, "senior_called"), ("C1", 205, "birth"), ("C2", 50, "epidural"), ("C2", 60, "senior_called")]
    assert events(db) == expected
    undo(db, 2, spoken_of={})
    expected[:2] = [("C1", 100, "senior_called"), ("C1", 190, "birth")]
    assert events(db) == expected


@pytest.mark.parametrize(
    ("second", "expected"),
    [
        ("C2,61,senior_called,E3", [50, 61]),  # the same case, kind and key
        ("C2,61,epidural,E3", [50, 60, 61]),  # another kind
        ("C2,61,senior_called,E4", [50, 60, 61]),  # another key
        ("C2,61,senior_called,", [50, 60, 61]),  # none
        ("C2,60,senior_called,", [50, 60]),  # what is stored already
        ("C2,60,senior_called,E9", [50, 60]),
    ],
)
def test_case_kind_and_key_make_an_event(db, tmp_path, second, expected):
    take(db, tmp_path, FIRST)
    assert take(db, tmp_path, f"{HEAD}{second}\n").exit_code == 0
    assert [at_s for case_id, at_s, _ in events(db) if case_id == "C2"] == expected


def test_two_keys_may_change_their_times(db, tmp_path):
    take(db, tmp_path, f"{HEAD}C1,100,position_change,E1\nC1,200,position_change,E2\n")
    take(db, tmp_path, f"{HEAD}C1,200,position_change,E1\nC1,100,position_change,E2\n")
    assert events(db, "at_s, event_id") == [(100, "E2"), (200, "E1")]


def test_a_former_file_offered_again_changes_nothing_and_the_newest_new_one_counts(db, tmp_path):
    take(db, tmp_path, FIRST)
    take(db, tmp_path, f"{HEAD}C1,112,senior_called,E1\n", "second.csv")
    report = take(db, tmp_path, FIRST)
    assert (report.exit_code, report.files[0].outcome) == (0, "unchanged")
    assert "1 of its events were corrected by a later file, which stays" in report.lines()[0]
    assert events(db)[0] == ("C1", 112, "senior_called")
    take(db, tmp_path, f"{HEAD}C1,100,senior_called,E1\n", "third.csv")
    assert events(db)[0] == ("C1", 100, "senior_called")


def test_events_that_came_without_keys_take_them_and_what_is_left_out_stays(db, tmp_path):
    take(db, tmp_path, "case_id,at_s,event,urgency\nC1,100,decision_for_birth,2\n")
    take(db, tmp_path, f"{HEAD}C1,100,decision_for_birth,E1\n")
    assert events(db, "at_s, urgency, event_id") in ([(100, 2, None)], [(100, 2, "E1")])
    take(db, tmp_path, "case_id,at_s,event,urgency,event_id\nC1,100,decision_for_birth,2,E1\n")
    take(db, tmp_path, f"{HEAD}C1,130,decision_for_birth,E1\n")
    assert events(db, "at_s, urgency, event_id") == [(130, 2, "E1")]


def test_a_key_twice_in_a_file_is_kept_out_and_one_of_two_lines_is_not_stored():
    columns = {"case_id": ["C1"] * 3, "at_s": ["100", "120", "130"], "event": ["epidural", "epidural", "incision"]}
    remarks = Remarks(9)
    rows = read_events(SmallTable({**columns, "event_id": ["E1", "E1", "a\nb"]}, [2, 3, 4]), remarks, SETTINGS)
    assert [(remark.row_number, remark.column_name) for remark in remarks.all()] == [(3, "event_id"), (4, "event_id")]
    assert [(row.at_s, row.event_id) for row in rows] == [(100, "E1"), (130, None)]


@pytest.mark.parametrize("value", ["E1", "e5", ".e3", "."])
def test_what_only_looks_like_an_exponent_is_text(value):
    assert shape(value).startswith("text of ")


def test_keys_that_may_identify_are_stored_as_keyed_pseudonyms_which_stay_the_same(db, tmp_path):
    report = take(db, tmp_path, f"{HEAD}C1,100,epidural,quill-tessa-7\n")
    assert "under keyed pseudonyms" in report.lines()[0]
    take(db, tmp_path, f"{HEAD}C1,160,epidural,quill-tessa-7\n")
    [(at_s, event_id)] = events(db, "at_s, event_id")
    assert at_s == 160
    assert event_id.startswith("P-")
    assert b"quill" not in db.read_bytes()
    db.with_suffix(".key").unlink()
    with pytest.raises(AuditError, match="key is missing"):
        take(db, tmp_path, f"{HEAD}C1,170,epidural,quill-tessa-7\n")


def test_a_correction_makes_only_its_own_case_stale_and_undoing_it_none(db, tmp_path):
    rows = "".join(f"{case_id},{k / 2},{140 + k % 7},{k % 40}\n" for case_id in ("C1", "C2") for k in range(2400))
    take(db, tmp_path, f"case_id,t_s,fhr_bpm,toco\n{rows}", "tracing.csv")
    take(db, tmp_path, FIRST)
    assert analyse(db, settings=SETTINGS, workers=1).read == 2
    take(db, tmp_path, f"{HEAD}C2,70,senior_called,E3\n")
    assert analyse(db, settings=SETTINGS, workers=1).read == 1
    undo(db, 3, spoken_of={})
    assert events(db)[3] == ("C2", 60, "senior_called")
    assert analyse(db, settings=SETTINGS, workers=1).read == 0

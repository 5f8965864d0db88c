"""Events, reads and births through the import: added once, replaced when asked, held against what is stored."""

from pathlib import Path

import pytest

from audit.errors import SettingsError
from audit.intake.door.report import ImportReport
from audit.intake.importer import import_paths
from audit.questions.check import stored_ranges
from audit.settings import load_settings
from audit.store import database
from tests.asking import ask

pytestmark = pytest.mark.slow

SETTINGS = load_settings()
EVENTS = "case_id,at_s,event\nC1,100,senior_called\nC1,190,birth\n"
READS = "case_id,reader,start_s,end_s,standard,category\nC1,R1,0,180,figo-2015,normal\nC1,R2,0,180,nichd-2008,II\n"


def take(db: Path, *paths: Path, **options: bool) -> ImportReport:
    return import_paths(db, list(paths), settings=SETTINGS, **options)


def tracing(path: Path, *, seconds: int) -> Path:
    rows = (f"C1,{k / 4},{120 + k % 30},{k % 40}" for k in range(seconds * 4))
    path.write_text("case_id,t_s,fhr_bpm,toco\n" + "\n".join(rows) + "\n")
    return path


def test_events_are_added_once_and_replaced_when_asked(db, tmp_path):
    (tmp_path / "a.csv").write_text(EVENTS)
    (tmp_path / "b.csv").write_text(EVENTS + "C1,120,decision_for_birth\n")
    take(db, tmp_path / "a.csv")
    assert take(db, tmp_path / "b.csv").files[0].outcome == "stored"
    assert ask(db, "select at_s from care_events order by 1") == [(100.0,), (120.0,), (190.0,)]
    assert take(db, tmp_path / "a.csv", replace=True).files[0].outcome == "unchanged"
    (tmp_path / "c.csv").write_text("case_id,at_s,event\nC1,101,senior_called\nC1,190,birth\n")
    assert take(db, tmp_path / "c.csv", replace=True).files[0].outcome == "replaced"
    assert ask(db, "select at_s from care_events order by 1") == [(101.0,), (190.0,)]


def test_a_unit_maps_its_own_words_to_events_and_may_keep_details(db, tmp_path):
    unit = tmp_path / "unit_settings.toml"
    unit.write_text('[import]\nstore_detail = true\n[import.event_words]\n"Sr called" = "senior_called"\n')
    (tmp_path / "e.csv").write_text(
        "case_id,at_s,event,detail\nC1,5,SR  Called,Category 2\nC1,6,Senior-called,by phone to T. Quill\n"
    )
    report = import_paths(db, [tmp_path / "e.csv"], settings=load_settings(unit))
    assert report.exit_code == 0
    assert "1 details were not stored (words that are not known)" in report.lines()[0]
    assert ask(db, "select at_s, event, detail from care_events order by 1") == [
        (5.0, "senior_called", "category 2"),
        (6.0, "senior_called", None),
    ]
    unit.write_text('[import.event_words]\n"x" = "no_such_event"\n')
    with pytest.raises(SettingsError, match="no_such_event"):
        import_paths(db, [tmp_path / "e.csv"], settings=load_settings(unit))


def test_details_are_not_stored_by_default_and_that_is_said(db, tmp_path):
    (tmp_path / "e.csv").write_text("case_id,at_s,event,detail\nC1,5,birth,by phone\n")
    report = take(db, tmp_path / "e.csv")
    assert report.exit_code == 0
    assert "1 details were not stored" in report.lines()[0]
    assert ask(db, "select detail from care_events") == [(None,)]


def test_rejected_words_are_taken_once_the_settings_know_them(db, tmp_path):
    (tmp_path / "e.csv").write_text("case_id,at_s,event\nC1,5,FBS\n")
    assert take(db, tmp_path / "e.csv").exit_code == 3
    unit = tmp_path / "unit_settings.toml"
    unit.write_text('[import.event_words]\nFBS = "fetal_blood_sample"\n')
    assert import_paths(db, [tmp_path / "e.csv"], settings=load_settings(unit)).exit_code == 0
    assert ask(db, "select event from care_events") == [("fetal_blood_sample",)]


def test_a_window_outside_the_tracing_is_rejected(db, tmp_path):
    take(db, tracing(tmp_path / "t.csv", seconds=600))
    (tmp_path / "r.csv").write_text(READS.replace("0,180", "0,1800"))
    report = take(db, tmp_path / "r.csv")
    assert (report.exit_code, report.rows_rejected) == (3, 2)
    assert "expected a window inside the tracing of case C1, 0 to 600 s" in report.lines()[1]


def test_a_read_that_was_changed_is_refused_and_replaced_when_asked(db, tmp_path):
    (tmp_path / "a.csv").write_text(READS)
    (tmp_path / "b.csv").write_text(READS.replace("normal", "pathological"))
    take(db, tmp_path / "a.csv")
    report = take(db, tmp_path / "b.csv")
    assert (report.exit_code, report.rows_accepted, report.rows_rejected) == (3, 1, 1)
    assert "category normal (file: pathological)" in report.lines()[1]
    take(db, tmp_path / "b.csv", replace=True)
    assert ask(db, "select category from reads order by 1") == [("II",), ("pathological",)]


def test_birth_far_from_the_tracings_end_is_flagged_whichever_comes_first(db, tmp_path):
    (tmp_path / "c.csv").write_text("case_id,period,birth_s\nC1,2025-03,90000\n")
    tracing(tmp_path / "t.csv", seconds=200)
    for order in (("c.csv", "t.csv"), ("t.csv", "c.csv")):
        other = tmp_path / f"{order[0]}.duckdb"
        said = [line for name in order for line in take(other, tmp_path / name).lines()]
        assert any("h after the tracing's end" in line for line in said)


URGENT = """case_id,at_s,event,urgency,detail
C1,100,decision_for_birth,2,
C1,110,decision_for_birth,,category 1
C1,120,decision_for_birth,5,
C1,130,senior_called,1,
"""


def test_an_urgency_is_stored_with_its_decision_whatever_is_kept_of_details(db, tmp_path):
    (tmp_path / "a.csv").write_text(URGENT)
    report = take(db, tmp_path / "a.csv")
    assert ask(db, "select at_s, urgency, detail from care_events order by 1") == [
        (100.0, 2, None), (110.0, 1, None), (120.0, None, None), (130.0, None, None),
    ]  # fmt: skip
    kept_out = ask(db, "select row_number, column_name, value from import_rejects order by 1")
    assert kept_out == [(4, "urgency", "a number of 1 digit"), (5, "urgency", "a number of 1 digit")]
    assert report.files[0].outcome == "stored"


def test_a_decision_that_was_stored_without_its_urgency_takes_it_and_keeps_it(db, tmp_path):
    bare = "case_id,at_s,event\nC1,100,decision_for_birth\nC1,90,senior_called\n"
    (tmp_path / "bare.csv").write_text(bare)
    (tmp_path / "told.csv").write_text("case_id,at_s,event,urgency\nC1,100,decision_for_birth,2\n")
    (tmp_path / "again.csv").write_text(bare + "C1,95,senior_at_bedside\n")
    for name in ("bare.csv", "told.csv", "again.csv"):
        take(db, tmp_path / name)
    events = ask(db, "select at_s, event, urgency from care_events order by 1")
    assert events == [(90, "senior_called", None), (95, "senior_at_bedside", None), (100, "decision_for_birth", 2)]


DEATHS = """case_id,period,apgar_5,died,cooled,seizures,transferred
C1,2031-03,0,intrapartum,no,no,no
C2,2031-03,4,Neonatal_Early,yes,yes,true
C3,2031-03,9,no,no,no,no
C4,2031-03,9,last week,no,no,no
C5,2031-03,7,antepartum,yes,no,no
"""


def test_deaths_and_what_followed_birth_are_stored_as_known_words(db, tmp_path):
    (tmp_path / "cases.csv").write_text(DEATHS)
    take(db, tmp_path / "cases.csv")
    assert ask(db, "select case_id, died, cooled, seizures, transferred from outcomes order by 1") == [
        ("C1", "intrapartum", False, False, False), ("C2", "neonatal_early", True, True, True),
        ("C3", None, False, False, False), ("C4", None, False, False, False),
        ("C5", "antepartum", True, False, False),
    ]  # fmt: skip
    said = ask(db, "select row_number, severity, reason from import_rejects order by 1")
    assert [(row, severity) for row, severity, _ in said] == [(5, "rejected"), (6, "flagged")]
    assert "cooled, apgar_5" in said[1][2]


def test_a_file_that_an_earlier_reader_took_is_read_again_and_its_new_column_stored(tmp_path):
    """As a database from before decisions had an urgency holds it: the event without, the file known by its hash."""
    file = tmp_path / "events.csv"
    file.write_text("case_id,at_s,event,urgency\nC1,600,decision_for_birth,2\n")
    first = take(tmp_path / "unit.duckdb", file)
    assert first.exit_code == 0
    with database.open_for_writing(tmp_path / "unit.duckdb") as con:
        con.execute("update care_events set urgency = null")
        con.execute("update imports set reader = null")
    assert take(tmp_path / "unit.duckdb", file).files[0].outcome == "replaced"
    assert ask(tmp_path / "unit.duckdb", "select at_s, event, urgency from care_events") == [
        (600.0, "decision_for_birth", 2)
    ]
    # and once more it is known
    assert take(tmp_path / "unit.duckdb", file).files[0].message == "imported before, nothing changed"


def test_case_ids_that_lost_their_zeros_are_told(db, tmp_path):
    (tmp_path / "a.csv").write_text("case_id,period\n007,2031-04\n12,2031-04\n")
    (tmp_path / "b.csv").write_text("case_id,at_s,event\n7,100,birth\n12,100,birth\n120,100,birth\n")
    first, second = take(db, tmp_path / "a.csv", tmp_path / "b.csv").files
    assert "zeros" not in str(first.message)
    assert "1 case id differs from another by leading zeros alone" in str(second.message)


def test_what_the_import_stores_is_no_problem_of_the_check(db, tmp_path):
    """The lowest and the highest value of every column of an outcome, and one put in past the highest."""
    spans = stored_ranges(SETTINGS)
    columns = [f"case_id,period,{','.join(spans['names'])}"]
    lowest = [max(value, -5.0) for value in spans["lows"]]  # a lower base deficit is kept out as a base excess
    lines = [f"C{k},2031-03,{','.join(map(str, values))}" for k, values in enumerate((lowest, spans["highs"]))]
    (tmp_path / "cases.csv").write_text("\n".join(columns + lines) + "\n")
    take(db, tmp_path / "cases.csv")
    with database.open_for_writing(db) as con:
        stored = f"select {', '.join(spans['names'])} from outcomes inner join cases using (case_id) order by case_id"
        assert con.execute(stored).fetchall() == [tuple(lowest), tuple(spans["highs"])]
        assert database.rows(con, "check/ranges", spans).empty
        con.execute("update outcomes set cord_lactate_mmol_l = 35.1 where case_id = 'C1'")
        con.execute("insert into cases (case_id, parity) values ('C9', 21)")  # without an outcome
        problems = database.rows(con, "check/ranges", spans)["problem"].tolist()
    assert problems == [
        "cord_lactate_mmol_l: found 35.1, expected 0.0 to 35.0",
        "parity: found 21.0, expected 0.0 to 20.0",
    ]

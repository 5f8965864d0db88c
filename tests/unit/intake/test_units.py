"""Which unit a case is of: by the import's option or by a column, codes only. Common practice, no source."""

import pytest

from audit.errors import UsageError
from audit.intake.importer import import_paths
from audit.settings import load_settings
from tests.asking import ask

pytestmark = pytest.mark.slow

SETTINGS = load_settings()


def taken(db, file, text, **asked):
    file.write_text(text, encoding="utf-8")
    return import_paths(db, [file], settings=SETTINGS, **asked)


def units(db):
    return dict(ask(db, "select case_id, unit from cases order by case_id"))


def test_the_option_gives_a_unit_to_what_has_none_and_the_column_goes_before_it(tmp_path):
    db = tmp_path / "unit.duckdb"
    taken(db, tmp_path / "a.csv", "case_id,period,unit\nC1,2031-03,U1\nC2,2031-03,\n", unit="U2")
    taken(db, tmp_path / "b.csv", "case_id,at_s,event\nC3,60,position_change\n", unit="U2")
    taken(db, tmp_path / "c.csv", "case_id,period\nC4,2031-03\n")
    assert units(db) == {"C1": "U1", "C2": "U2", "C3": "U2", "C4": None}


def test_a_case_known_from_its_events_keeps_the_unit_when_its_row_comes_without_one(tmp_path):
    db = tmp_path / "unit.duckdb"
    taken(db, tmp_path / "b.csv", "case_id,at_s,event\nC3,60,position_change\n", unit="U2")
    taken(db, tmp_path / "c.csv", "case_id,period\nC3,2031-03\n")
    assert units(db) == {"C3": "U2"}


def test_the_same_case_id_of_two_units_is_refused_and_nothing_of_the_file_stored(tmp_path):
    db = tmp_path / "unit.duckdb"
    taken(db, tmp_path / "a.csv", "case_id,period\nC1,2031-03\n", unit="U1")
    events = taken(db, tmp_path / "b.csv", "case_id,at_s,event\nC2,60,iv_fluid_bolus\nC1,9,iv_fluid_bolus\n", unit="U2")
    tracing = taken(
        db,
        tmp_path / "t.csv",
        "case_id,t_s,fhr_bpm,toco\n" + "".join(f"C1,{k / 4},140,10\n" for k in range(8)),
        unit="U2",
    )
    cases = taken(db, tmp_path / "c.csv", "case_id,period\nC1,2031-03\nC5,2031-03\n", unit="U2")
    assert [report.files[0].outcome for report in (events, tracing)] == ["refused", "refused"]
    assert "is stored for unit U1" in str(events.files[0].message)
    assert (cases.files[0].rows_accepted, cases.files[0].rows_rejected) == (1, 1)
    told = " ".join(cases.lines())
    assert "case C1 is stored for unit U1" in told
    assert "--replace" not in told  # which would take the other unit's labour away
    assert units(db) == {"C1": "U1", "C5": "U2"}


def test_a_name_is_no_code(tmp_path):
    db = tmp_path / "unit.duckdb"
    report = taken(db, tmp_path / "a.csv", "case_id,period,unit\nC1,2031-03,Invented Hospital\n")
    assert units(db) == {"C1": None}
    assert report.files[0].values_rejected == 1
    assert "Invented" not in " ".join(report.lines())
    with pytest.raises(UsageError, match="expected a code such as U1"):
        import_paths(db, [tmp_path / "a.csv"], settings=SETTINGS, unit="Invented Hospital")

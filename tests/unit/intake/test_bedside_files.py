"""What staff recorded at the time, risk factors and the unit's own counts through the import.

Columns and coded words: the contract of input files. That a row is stored whole, in part or not at all, with its
reason: the same rules as for the other kinds.
"""

from pathlib import Path

import pytest

from audit.errors import SettingsError
from audit.intake.door.report import ImportReport
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.vocabulary import EQUITY_FIELDS
from tests.asking import ask

pytestmark = pytest.mark.slow

SETTINGS = load_settings()
HEAD = "case_id,at_s,standard,category,assessor"
ONE = "C1,3600,nice-ng229,suspicious,midwife"


def take(db: Path, text: str, **options: bool) -> ImportReport:
    file = db.parent / "file.csv"
    file.write_text(text)
    return import_paths(db, [file], settings=SETTINGS, **options)


def test_an_assessment_is_stored_with_what_it_says_and_offered_again_changes_nothing(db):
    text = (
        f"{HEAD},baseline_bpm,decelerations,risk\n{ONE},150,late,epidural; Meconium\n"
        "C1,7200,nice-ng229,normal,Second person,,none,none\n"
    )
    report = take(db, text)
    assert (report.files[0].kind, report.files[0].rows_accepted, report.exit_code) == ("assessments", 2, 0)
    assert take(db, text).files[0].outcome == "unchanged"
    found = ask(db, "select at_s, category, assessor, baseline_bpm, decelerations, risk from assessments order by 1")
    assert found == [
        (3600.0, "suspicious", "midwife", 150.0, "late", "meconium epidural"),
        (7200.0, "normal", "second_person", None, "none", ""),
    ]


def test_times_before_the_first_sample_are_kept_and_those_long_after_birth_are_not(db):
    take(db, "case_id,period,birth_s\nC1,2031-03,7200\n")
    report = take(db, f"{HEAD}\nC1,-600,nice-ng229,normal,midwife\n{ONE}\nC1,200000,nice-ng229,normal,midwife\n")
    assert [row[0] for row in ask(db, "select at_s from assessments order by 1")] == [-600.0, 3600.0]
    (remark,) = report.files[0].rejects
    assert (remark.row_number, remark.column_name) == (4, "at_s")


BAD_ROWS = [
    ("C1,3600,nice-ng229,II,midwife", "category", "normal, suspicious, pathological"),
    ("C1,3600,own,normal,midwife", "standard", "nichd-2008"),
    ("C1,3600,nice-ng229,normal,Tessa Quill", "assessor", "a role (midwife"),
    ("C1,3600,nice-ng229,normal,", "assessor", "a role (midwife"),
    ("C1,,nice-ng229,normal,midwife", "at_s", "found no time"),
    (",60,nice-ng229,normal,midwife", "case_id", "pseudonymous"),
]


def test_a_row_that_cannot_be_stored_is_told_with_its_column(db):
    report = take(db, "\n".join([HEAD, *(row for row, _, _ in BAD_ROWS), ONE]) + "\n")
    assert report.exit_code == 3
    for k, (remark, (_, column, says)) in enumerate(zip(report.files[0].rejects, BAD_ROWS, strict=True)):
        assert (remark.row_number, remark.column_name) == (k + 2, column)
        assert says in remark.reason
    assert "Quill" not in "\n".join(report.lines())
    assert ask(db, "select at_s from assessments") == [(3600.0,)]


def test_two_that_contradict_each_other_are_both_kept_out_and_a_stored_one_stays_unless_replaced(db):
    report = take(db, f"{HEAD}\n{ONE}\nC1,3600,nice-ng229,normal,midwife\n")
    assert report.files[0].rows_rejected == 2
    take(db, f"{HEAD}\n{ONE}\n")
    other = f"{HEAD}\nC1,3600,nice-ng229,normal,midwife\n"
    assert take(db, other).exit_code == 3
    assert ask(db, "select category from assessments") == [("suspicious",)]
    assert take(db, other, replace=True).files[0].outcome == "replaced"
    assert ask(db, "select category from assessments") == [("normal",)]


def test_a_unit_names_roles_of_its_own(db, tmp_path):
    unit = tmp_path / "unit_settings.toml"
    unit.write_text('[import.assessor_words]\n"ST3" = "obstetrician"\n"ward lead" = "coordinator"\n')
    (tmp_path / "a.csv").write_text(f"{HEAD}\nC1,60,nice-ng229,normal,st3\nC1,60,nice-ng229,normal,Ward-Lead\n")
    report = import_paths(db, [tmp_path / "a.csv"], settings=load_settings(unit))
    assert report.exit_code == 0
    assert ask(db, "select assessor from assessments order by 1") == [("coordinator",), ("obstetrician",)]
    unit.write_text('[import.assessor_words]\n"TQ" = "Tessa Quill"\n')
    with pytest.raises(SettingsError, match=r"assessor_words\.TQ: found 'Tessa Quill'"):
        load_settings(unit)


def test_risk_factors_of_a_case_are_coded_and_a_word_that_is_none_is_told(db):
    head = "case_id,period,risk_factors,auscultated_until_s,monitored_because\n"
    report = take(
        db, f"{head}C1,2031-03,induction|epidural,-1800,oxytocin\nC2,2031-03,none,,\nC3,2031-03,tall,,\nC4,2031-03,,,\n"
    )
    (remark,) = report.files[0].rejects
    assert (remark.row_number, remark.column_name) == (4, "risk_factors")
    found = ask(db, "select risk_factors, auscultated_until_s, monitored_because from cases order by case_id")
    assert found == [
        ("epidural induction", -1800.0, "oxytocin"), ("", None, None), (None, None, None), (None, None, None)
    ]  # fmt: skip


def test_a_month_of_the_unit_is_stored_and_filled_up_and_held_against_what_is_stored(db):
    report = take(db, "period,births,auscultated\n2031-03,118,41\n2031-04,96,\n")
    assert (report.files[0].kind, report.exit_code) == ("unit_months", 0)
    assert take(db, "period,births,caesareans\n2031-04,96,24\n").files[0].outcome == "stored"
    assert take(db, "period,births\n2031-04,97\n").exit_code == 3
    assert take(db, "period,births\n2031-04,97\n", replace=True).files[0].outcome == "replaced"
    found = ask(db, "select period, unit, births, auscultated, caesareans from unit_months order by 1")
    assert found == [("2031-03", "", 118, 41, None), ("2031-04", "", 97, None, 24)]


BAD_COUNTS = [
    ("2031-01,,", "births", 0), ("2031-2,30,", "period", 0), ("2031-03,-1,", "births", 0),
    ("2031-04,30,31", "caesareans", 1), ("2031-05,30,half", "caesareans", 1), ("2031-06,30.5,", "births", 0),
]  # fmt: skip


def test_counts_that_cannot_be_true_are_kept_out(db):
    report = take(db, "\n".join(["period,births,caesareans", *(row for row, _, _ in BAD_COUNTS)]) + "\n")
    told = [(remark.row_number, remark.column_name) for remark in report.files[0].rejects]
    assert told == [(k + 2, column) for k, (_, column, _) in enumerate(BAD_COUNTS)]
    stored = [(row[:7], 30, None) for row, _, kept in BAD_COUNTS if kept]
    assert ask(db, "select period, births, caesareans from unit_months order by 1") == stored


def test_rows_of_cases_with_a_count_of_births_are_cases(db):
    assert take(db, "case_id,period,births\nC1,2031-03,1\n").files[0].kind == "cases"


def test_bands_are_those_of_the_settings_and_other_text_is_not_stored(db):
    head = "case_id,period,language_need,ethnicity_group,deprivation_fifth,age_band,body_mass_band\n"
    report = take(
        db, f"{head}C1,2031-03,Interpreter,MIXED,3,20 to 24,25_to_29.9\nC2,2031-03,Tessa Quill,,6,,\nC3,2031-03,,,,,\n"
    )
    told = [(remark.row_number, remark.column_name) for remark in report.files[0].rejects]
    assert told == [(3, "language_need"), (3, "deprivation_fifth")]
    found = ask(db, f"select {', '.join(EQUITY_FIELDS)} from cases order by case_id")
    assert found == [("interpreter", "mixed", "3", "20_to_24", "25_to_29.9"), (None,) * 5, (None,) * 5]


def test_a_unit_lists_bands_of_its_own_and_they_are_codes(db, tmp_path):
    unit = tmp_path / "unit_settings.toml"
    unit.write_text('[equity.bands]\nage_band = ["under_30", "30_and_over"]\n')
    (tmp_path / "c.csv").write_text("case_id,period,age_band\nC1,2031-03,Under 30\nC2,2031-03,under_20\n")
    report = import_paths(db, [tmp_path / "c.csv"], settings=load_settings(unit))
    assert [remark.row_number for remark in report.files[0].rejects] == [3]
    assert ask(db, "select age_band from cases order by case_id") == [("under_30",), (None,)]
    unit.write_text('[equity.bands]\nage_band = ["under_30", "Tessa Quill"]\n')
    with pytest.raises(SettingsError, match=r"equity\.bands\.age_band: found 'Tessa Quill'"):
        load_settings(unit)

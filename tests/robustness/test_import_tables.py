# ruff: noqa: E501 (one bad file a line reads best)
"""Cases, care events and reads whose values cannot be true, by value and against each other."""

from pathlib import Path

import pytest

from tests.robustness.import_support import Hostile, check


def case(name: str, column: str, value: str, says: str, **more: object) -> Hostile:
    """A case whose one value is kept out; the row is stored without it."""
    data = f"case_id,period,{column}\nC1,2025-03,{value}\n".encode()
    return Hostile(f"{name}.csv", data, says, 2, column, accepted=1, **more)  # type: ignore[arg-type]


def cases(name: str, text: str, says: str, row: int, column: str, **more: object) -> Hostile:
    return Hostile(f"{name}.csv", text.encode(), says, row, column, **more)  # type: ignore[arg-type]


def event(name: str, row: str, says: str, column: str, **more: object) -> Hostile:
    """One good event in line 2 and a bad one in line 3."""
    data = f"case_id,at_s,event\nC1,100,epidural\n{row}\n".encode()
    return Hostile(f"{name}.csv", data, says, 3, column, **{"accepted": 1, "rejected": 1, **more})  # type: ignore[arg-type]


READS = "case_id,reader,start_s,end_s,standard,category,baseline_bpm,variability,would_act,occasion\n"


def read(name: str, row: str, says: str, column: str, **more: object) -> Hostile:
    """One good read in line 2 and a bad one in line 3."""
    data = f"{READS}C1,R1,0,1800,figo-2015,normal,140,moderate,no,1\n{row}\n".encode()
    return Hostile(f"{name}.csv", data, says, 3, column, **{"accepted": 1, "rejected": 1, **more})  # type: ignore[arg-type]


def value(name: str, row: str, says: str, column: str) -> Hostile:
    """A read that is stored without one value."""
    return read(name, row, says, column, accepted=2, rejected=0)


TWO = "case_id,period,fetus,birth_s\n"
FLAG = "flagged"
CASES = [
    case("ph_no_point", "cord_artery_ph", "72.1", "a decimal point is missing"),
    case("ph_no_point_hundreds", "cord_artery_ph", "721", "a decimal point is missing"),
    case("ph_hydrogen", "cord_artery_ph", "58", "hydrogen ion concentration"),
    case("ph_zero", "cord_artery_ph", "0", "expected 6.3 to 7.7"),
    case("ph_negative", "cord_vein_ph", "-7.2", "expected 6.3 to 7.7"),
    case("ph_word", "cord_artery_ph", "low", "expected a number"),
    case("ph_bound", "cord_artery_ph", "<7.0", "not a bound"),
    case("ph_infinite", "cord_artery_ph", "1e999", "expected a finite number"),
    case("pco2_mmhg", "cord_artery_pco2_kpa", "45", "mmHg (7.5 mmHg are 1 kPa)"),
    case("vein_pco2_mmhg", "cord_vein_pco2_kpa", "38", "this looks like mmHg"),
    case("pco2_zero", "cord_artery_pco2_kpa", "0", "expected 1.5 to 25"),
    case("base_excess", "cord_artery_base_deficit_mmol_l", "-12", "base excess, change its sign"),
    case("base_excess_large", "cord_artery_base_deficit_mmol_l", "-26", "base excess, change its sign"),
    case("deficit_huge", "cord_artery_base_deficit_mmol_l", "120", "expected -15 to 40"),
    case("lactate_mg_dl", "cord_lactate_mmol_l", "54", "expected 0 to 35"),
    case("apgar_11", "apgar_5", "11", "an Apgar score is at most 10"),
    case("apgar_half", "apgar_1", "8.5", "expected a whole number"),
    case("apgar_negative", "apgar_10", "-1", "expected 0 to 10"),
    case("apgar_slash", "apgar_1", "9/10", "expected a number"),
    case("weight_kg", "birth_weight_g", "3.4", "kilograms (1 kg is 1000 g)"),
    case("weight_huge", "birth_weight_g", "34000", "expected 250 to 7000"),
    case("admission_maybe", "neonatal_unit_admission", "maybe", "expected true or false"),
    case("admission_two", "neonatal_unit_admission", "2", "expected true or false"),
    case("encephalopathy_4", "encephalopathy_grade", "4", "expected 0 to 3"),
    case("gestation_400", "gestation_weeks", "400", "expected 20 to 45"),
    case("gestation_days", "gestation_weeks", "280", "days (divide by 7)"),
    # 39+4 is weeks and days; a week has no eighth day
    case("gestation_plus", "gestation_weeks", "39+8", "expected 0 to 6 days"),
    case("parity_negative", "parity", "-1", "expected 0 to 20"),
    case("parity_half", "parity", "1.5", "expected a whole number"),
    case("plurality_0", "plurality", "0", "expected 1 to 6"),
    case("birth_before_start", "birth_s", "-20", "found birth before the tracing's first sample"),
    case("birth_after_a_month", "birth_s", "2600000", "expected 0 to 604800"),
    case("sensor_other", "fhr_sensor", "doppler2", "expected ultrasound, scalp_electrode, both"),
    case("toco_sensor_other", "toco_sensor", "belt", "expected external, intrauterine"),
    case("mode_free_text", "mode_of_birth", "x" * 60, "a word of your own in [import.words.mode_of_birth]"),
    case("shift_markup", "shift", "<script>", "a word of your own in [import.words.shift]"),
    case("gestation_unusual", "gestation_weeks", "44", "found 44, expected 23 to 43", severity=FLAG),
    case("ph_unusual", "cord_artery_ph", "6.65", "found 6.65, expected 6.7 to 7.5", severity=FLAG),
    cases("period_13", "case_id,period\nC1,2025-13\n", "the month of birth as YYYY-MM", 2, "period", rejected=1),
    cases("period_empty", "case_id,period\nC1,\n", "the month of birth as YYYY-MM", 2, "period", rejected=1),
    cases("period_year", "case_id,period\nC1,2025\n", "the month of birth as YYYY-MM", 2, "period", rejected=1),
    cases("period_words", "case_id,period\nC1,March 2025\n", "the month of birth as YYYY-MM", 2, "period", rejected=1),
    cases("period_slash", "case_id,period\nC1,03/2025\n", "the month of birth as YYYY-MM", 2, "period", rejected=1),
    cases("period_other_digits", "case_id,period\nC1,\u0662\u0660\u0662\u0665-\u0660\u0663\n", "YYYY-MM", 2, "period", rejected=1),
    cases("period_far", "case_id,period\nC1,0025-03\n", "the month of birth as YYYY-MM", 2, "period", rejected=1),
    cases("case_empty", "case_id,period\n,2025-03\n", "found no case_id", 2, "case_id", rejected=1),
    cases("fetus_sign", "case_id,period,fetus\nC1,2025-03,*\n", "found another fetus", 2, "fetus", rejected=1),
    cases("row_twice", "case_id,period\nC1,2025-03\nC1,2025-03\n", "the same twice", 3, "case_id", accepted=1, rejected=1),
    cases("rows_differ", "case_id,period,parity\nC1,2025-03,0\nC1,2025-03,1\n", "that differ in parity; none is kept", 2, "case_id", rejected=2),
    cases("stage_after_birth", "case_id,period,second_stage_s,birth_s\nC1,2025-03,9000,8000\n", "expected birth after it", 2, "second_stage_s", accepted=1),
    cases("twin_births", f"{TWO}C1,2025-03,A,100\nC1,2025-03,B,900\n", "100 of fetus A is stored", 3, "birth_s", accepted=2, severity=FLAG),
    cases("second_twin_alone", "case_id,period,fetus\nC1,2025-03,b\n", "found fetus B of a case and no fetus A in this file", 2, "fetus", accepted=1, severity=FLAG),
    cases("twin_of_one", "case_id,period,fetus,plurality\nC1,2025-03,A,1\nC1,2025-03,B,1\n", "found plurality 1 and fetus B", 3, "plurality", accepted=2, severity=FLAG),
    cases("deficit_sign_by_gas", "case_id,period,cord_artery_ph,cord_artery_pco2_kpa,cord_artery_base_deficit_mmol_l\nC1,2025-03,7.20,7.0,-5.5\n", "this looks like base excess, change its sign", 2, "cord_artery_base_deficit_mmol_l", accepted=1),
    cases("deficit_against_gas", "case_id,period,cord_artery_ph,cord_artery_pco2_kpa,cord_artery_base_deficit_mmol_l\nC1,2025-03,7.30,6.0,19\n", "expected about", 2, "cord_artery_base_deficit_mmol_l", accepted=1, severity=FLAG),
    cases("vessels_swapped", "case_id,period,cord_artery_ph,cord_vein_ph\nC1,2025-03,7.30,7.20\n", "the samples may be swapped", 2, "cord_artery_ph", accepted=1, severity=FLAG),
    cases("vessels_same", "case_id,period,cord_artery_ph,cord_vein_ph\nC1,2025-03,7.30,7.31\n", "both may be from one vessel", 2, "cord_artery_ph", accepted=1, severity=FLAG),
    cases("excess_column", "case_id,period,cord_artery_base_deficit_mmol_l\n" + "".join(f"C{k},2025-03,-{k}.5\n" for k in range(3)), "a column of mostly negative numbers", 2, "cord_artery_base_deficit_mmol_l", accepted=3),
    cases("apgar_falls", "case_id,period,apgar_1,apgar_5\nC1,2025-03,9,2\n", "found 2 after 9 at one minute", 2, "apgar_5", accepted=1, severity=FLAG),
]  # fmt: skip
EVENTS = [
    event("event_unknown", "C1,200,dancing", "map a word of your own in [import.event_words]", "event"),
    event("event_empty", "C1,200,", "found no event", "event"),
    event("event_time_word", "C1,later,birth", "expected a number", "at_s"),
    event("event_time_empty", "C1,,birth", "found no time", "at_s"),
    event("event_days_before", "C1,-200000,epidural", "expected -172800 to 604800", "at_s"),
    event("event_month_later", "C1,3000000,epidural", "expected -172800 to 604800", "at_s"),
    event("event_case_empty", ",200,birth", "found no case_id", "case_id"),
    event("event_twice", "C1,100,epidural", "the same event as in row 2", "event"),
    Hostile("event_after_birth.csv", b"case_id,at_s,event\nC1,1000,birth\nC1,40000,incision\n", "10.8 h after birth at 1000 s", 3, "at_s", accepted=1, rejected=1),
    Hostile("event_soon_after.csv", b"case_id,at_s,event\nC1,1000,birth\nC1,8200,incision\n", "found incision 2.0 h after birth", 3, "at_s", accepted=2, severity=FLAG),
    Hostile("two_births.csv", b"case_id,at_s,event\nC1,1000,birth\nC1,2000,birth\n", "found births at 1000, 2000 s for a case of 1", 2, "event", rejected=2),
]  # fmt: skip
READ_FILES = [
    read("read_standard", "C1,R1,0,900,figo-1999,normal,,,,1", "expected nichd-2008, figo-2015, nice-ng229, figo-1986", "standard"),
    read("read_category", "C1,R1,0,900,figo-2015,II,,,,1", "expected normal, suspicious, pathological, not assessable", "category"),
    read("read_category_other", "C1,R1,0,900,nichd-2008,normal,,,,1", "expected I, II, III, not assessable", "category"),
    read("read_category_empty", "C1,R1,0,900,nichd-2008,,,,,1", "found nothing, expected I, II, III", "category"),
    read("read_end_first", "C1,R1,900,900,figo-2015,normal,,,,1", "at or before the start", "end_s"),
    read("read_start_negative", "C1,R1,-1,900,figo-2015,normal,,,,1", "expected 0 to 604800", "start_s"),
    read("read_end_word", "C1,R1,0,end,figo-2015,normal,,,,1", "expected a number", "end_s"),
    read("read_start_empty", "C1,R1,,900,figo-2015,normal,,,,1", "found no time", "start_s"),
    read("read_reader_empty", "C1,,0,900,figo-2015,normal,,,,1", "found no reader", "reader"),
    read("read_case_empty", ",R1,0,900,figo-2015,normal,,,,1", "found no case_id", "case_id"),
    read("read_occasion_0", "C1,R1,0,900,figo-2015,normal,,,,0", "1 = first read, 2 = repeat", "occasion"),
    read("read_occasion_word", "C1,R1,0,900,figo-2015,normal,,,,first", "1 = first read, 2 = repeat", "occasion"),
    read("read_twice", "C1,R1,0,1800,figo-2015,normal,140,moderate,no,1", "expected it once", "occasion"),
    value("read_baseline", "C1,R1,0,900,figo-2015,normal,400,,,1", "expected 30 to 250", "baseline_bpm"),
    value("read_variability", "C1,R1,0,900,figo-2015,normal,140,some,,1", "expected absent, minimal, moderate, marked", "variability"),
    value("read_would_act", "C1,R1,0,900,figo-2015,normal,140,,perhaps,1", "expected true or false", "would_act"),
    Hostile("read_differently.csv", f"{READS}C1,R1,0,900,figo-2015,normal,,,,1\nC1,R1,0,900,figo-2015,pathological,,,,1\n".encode(), "read differently; none is kept", 2, "occasion", rejected=2),
]  # fmt: skip


@pytest.mark.parametrize("file", [*CASES, *EVENTS, *READ_FILES], ids=lambda file: file.name)
def test_what_cannot_be_true_is_kept_out_and_the_rest_kept(file: Hostile, tmp_path: Path):
    check(file, tmp_path)

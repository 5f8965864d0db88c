# ruff: noqa: E501 (one bad file a line reads best)
"""Tracing files whose rows cannot be true: times, values, cases, sampling."""

from pathlib import Path

import pytest

from tests.robustness.import_support import Hostile, check

HEADER = "case_id,t_s,fhr_bpm,toco\n"


def rows(*extra: str, first: int = 8, header: str = HEADER) -> bytes:
    """Eight good rows at 4 Hz in lines 2 to 9, then the extra rows from line 10 on."""
    good = [f"C1,{k / 4},{140 + k},{10 + k}" for k in range(first)]
    return (header + "\n".join([*good, *extra]) + "\n").encode()


def bad(name: str, extra: str, says: str, column: str | None, *, kept: bool = False, **more: object) -> Hostile:
    """One bad row in line 10, after eight good ones: kept without its bad value, or kept out."""
    counts = {"accepted": 9, "rejected": 0} if kept else {"accepted": 8, "rejected": 1}
    return Hostile(f"{name}.csv", rows(extra), says, 10, column, **{**counts, **more})  # type: ignore[arg-type]


NUMBER = "expected a number"
FILES = [
    bad("time_word", "C1,soon,140,1", NUMBER, "t_s"),
    bad("time_empty", "C1,,140,1", "found no time", "t_s"),
    bad("time_nan", "C1,NaN,140,1", "found no time", "t_s"),
    bad("time_null", "C1,null,140,1", "found no time", "t_s"),
    bad("time_infinite", "C1,inf,140,1", "found no time", "t_s"),
    bad("time_negative", "C1,-0.25,140,1", "expected 0 to", "t_s"),
    bad("time_too_late", "C1,700000,140,1", "expected 0 to", "t_s"),
    bad("time_hex", "C1,0x10,140,1", NUMBER, "t_s"),
    bad("time_decimal_comma", 'C1,"2,25",140,1', "a decimal point, not a comma", "t_s"),
    bad("time_unit", "C1,2.25s,140,1", NUMBER, "t_s"),
    bad("time_twice", "C1,1.75,147,17", "a second time", "t_s"),
    Hostile("time_twice_other_value.csv", rows("C1,1.75,150,17"), "with different values", 9, "t_s", accepted=7, rejected=2),
    bad("time_between", "C1,1.8,150,17", "less than half a step", "t_s"),
    bad("fhr_word", "C1,2,loss,1", NUMBER, "fhr_bpm", kept=True),
    bad("fhr_comma", 'C1,2,"140,5",1', "a decimal point, not a comma", "fhr_bpm", kept=True),
    bad("fhr_negative", "C1,2,-1,1", "expected 0 to 300", "fhr_bpm", kept=True),
    bad("fhr_huge", "C1,2,301,1", "expected 0 to 300", "fhr_bpm", kept=True),
    bad("fhr_infinite", "C1,2,inf,1", "expected 0 to 300", "fhr_bpm", kept=True),
    bad("fhr_minus_infinite", "C1,2,-inf,1", "expected 0 to 300", "fhr_bpm", kept=True),
    bad("fhr_overflow", "C1,2,1e999,1", "expected 0 to 300", "fhr_bpm", kept=True),
    bad("fhr_sentinel", "C1,2,65535,1", "expected 0 to 300", "fhr_bpm", kept=True),
    bad("fhr_formula", "C1,2,=1+1,1", NUMBER, "fhr_bpm", kept=True),
    bad("fhr_two_points", "C1,2,1.4.0,1", NUMBER, "fhr_bpm", kept=True),
    bad("fhr_bound", "C1,2,>240,1", "not a bound", "fhr_bpm", kept=True),
    bad("toco_word", "C1,2,140,off", NUMBER, "toco", kept=True),
    bad("toco_far_below", "C1,2,140,-51", "expected -50 to 300", "toco", kept=True),
    bad("toco_far_above", "C1,2,140,301", "expected -50 to 300", "toco", kept=True),
    bad("toco_infinite", "C1,2,140,inf", "expected -50 to 300", "toco", kept=True),
    bad("case_empty", ",2,140,1", "found no case_id", "case_id"),
    bad("case_blank", "  ,2,140,1", "found no case_id", "case_id"),
    bad("case_long", f"{'C' * 257},2,140,1", "a pseudonymous code of at most 256 characters", "case_id"),
    bad("case_control", "C\x07-2,2,140,1", "a pseudonymous code of at most", "case_id"),
    Hostile("fetus_long.csv", rows("C1,0,140,1,ABCDEFGHI", first=0, header="case_id,t_s,fhr_bpm,toco,fetus\n"), "found another fetus", 2, "fetus", rejected=1),
    Hostile("fetus_sign.csv", rows("C1,0,140,1,?", first=0, header="case_id,t_s,fhr_bpm,toco,fetus\n"), "found another fetus", 2, "fetus", rejected=1),
    Hostile("fetus_second_alone.csv", rows("C1,0,140,1,b", "C1,0.25,140,1,b", first=0, header="case_id,t_s,fhr_bpm,toco,fetus\n"), "found fetus B of a case and no fetus A in this file", 2, "fetus", accepted=2, severity="flagged"),
    Hostile("mhr_word.csv", rows("C1,0,140,1,80", "C1,0.25,140,1,x", first=0, header="case_id,t_s,fhr_bpm,toco,mhr_bpm\n"), NUMBER, 3, "mhr_bpm", accepted=2),
    Hostile("mhr_huge.csv", rows("C1,0,140,1,80", "C1,0.25,140,1,999", first=0, header="case_id,t_s,fhr_bpm,toco,mhr_bpm\n"), "expected 0 to 300", 3, "mhr_bpm", accepted=2),
    Hostile("too_fast.csv", rows(*[f"C1,{k / 25},140,1" for k in range(50)], first=0), "found 25 samples a second, expected 0.5 to 10", 2, "t_s", rejected=50),
    Hostile("milliseconds.csv", rows(*[f"C1,{k * 250},140,1" for k in range(50)], first=0), "found 0.004 samples a second", 2, "t_s", rejected=50),
    Hostile("too_slow.csv", rows(*[f"C1,{k * 3},140,1" for k in range(50)], first=0), "found 0.333 samples a second", 2, "t_s", rejected=50),
    Hostile("whole_seconds.csv", rows(*[f"C1,{k // 4},{140 + k},1" for k in range(40)], first=0), "with different values", 2, "t_s", rejected=40),
    Hostile("hertz.csv", rows(*[f"C1,{k / 4},2.3,1" for k in range(40)], first=0), "is the column in another unit?", 2, "fhr_bpm", rejected=40),
    Hostile("interval_ms.csv", rows(*[f"C1,{k / 4},290,1" for k in range(40)], first=0), "is the column in another unit?", 2, "fhr_bpm", rejected=40),
    Hostile("all_words.csv", rows(*["C1,a,b,c"] * 5, first=0), NUMBER, 2, "t_s", rejected=5),
    Hostile("all_bad_cases.csv", rows(*[f",{k},140,1" for k in range(5)], first=0), "found no case_id", 2, "case_id", rejected=5),
    Hostile("median_low.csv", rows(*[f"C1,{k / 4},70,1" for k in range(40)], first=0), "found a median of 70 bpm", 2, "fhr_bpm", accepted=40, severity="flagged"),
    Hostile("backwards.csv", rows(*[f"C1,{(39 - k) / 4},140,1" for k in range(40)], first=0), "put in order of time", 3, "t_s", accepted=40, severity="flagged"),
    Hostile("toco_drift.csv", rows(*[f"C1,{k / 4},140,-20" for k in range(40)], first=0), "found -20, expected -10 to 150; 40 such samples", 2, "toco", accepted=40, severity="flagged"),
]  # fmt: skip


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_what_cannot_be_true_is_kept_out_and_the_rest_kept(file: Hostile, tmp_path: Path):
    check(file, tmp_path)

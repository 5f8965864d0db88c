"""What could be read in two ways is asked: each of these was once taken for something else without a word.

Invented rows. Day numbers of a spreadsheet: ECMA-376 part 1, 18.17.4.1; the others are habits of the trade, no source.
"""

import re

import pytest

from audit.intake.guess import guess

_EVENTS = ("Birth", "Epidural")


def _file(folder, head, rows):
    file = folder / "export.csv"
    file.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return guess(file, 64)


@pytest.mark.parametrize(
    ("head", "row", "asked"),
    [
        # hours, minutes and seconds with nothing between
        ("Case,Time,Event", lambda k: f"C{k},0{k}{10 + k}{20 + k},{_EVENTS[k % 2]}", "at_s"),
        ("Case,Time,Event", lambda k: f"C{k},1{k % 7}{10 + k}{20 + k},{_EVENTS[k % 2]}", "at_s"),
        ("Case,Time,FHR,Toco", lambda k: f"C1,{142250 + k % 10 + 50 * (k // 10)},{138 + k},{10 + k}", "t_s"),
        # days and their parts, as a spreadsheet counts them
        ("Case,Time,Event", lambda k: f"C{k},47942.{5000 + k},{_EVENTS[k % 2]}", "at_s"),
        # minutes since admission, over more than four days; samples
        ("Fallnummer;Zeit;Ereignis", lambda k: f"F{k};{(15, 340, 6100)[k % 3] + k};Geburt", "at_s"),
        ("Case,Time of birth,Arterial pH", lambda k: f"C{k},{6100 + 60 * k},7.{20 + k}", "birth_s"),
        # the vein's pH is the higher one: common practice, no source
        ("Case,Month of birth,UA pH,UV pH", lambda k: f"C{k},2031-04,7.{30 + k},7.{20 + k}", "cord_artery_ph"),
        # one row a minute, or a second
        ("Case,Time,FHR,Toco", lambda k: f"C1,{k},{138 + k % 9},{10 + k % 20}", "t_s"),
        ("Fall;Geburtsmonat;SSW;NA-pH", lambda k: f"F{k};2031-04;{38 + k % 4}.;7,{20 + k}", "gestation_weeks"),
        # since the start, or after midnight
        ("Case,Time,Event", lambda k: f"C1,{20 + k}:00:00,{_EVENTS[k % 2]}", "at_s"),
        ("Case,Time,FHR,Toco", lambda k: f"C1,0:00:0{k},{138 + k % 9},{10 + k % 20}", "t_s"),
        ("Case,Date of birth,UA,UV pH", lambda k: f"C{k},2031-04-{13 + k},7.{20 + k},7.{30 + k}", "toco"),
        ("Case,Seconds,FHR,Toco", lambda k: f"C1,{k / 4},{138 + k % 9},{k % 12}", "toco"),
        ("Case,Seconds,FHR,Toco (kPa)", lambda k: f"C1,{k / 4},{138 + k % 9},{(10 + k % 20) / 10}", "toco"),
        ("Case,Date of birth,Birth weight", lambda k: f"C{k},2031-04-{13 + k},{4.8 + k / 10:g}", "birth_weight_g"),
    ],
)
def test_what_could_be_something_else_is_asked_and_not_proposed(tmp_path, head, row, asked):
    found = _file(tmp_path, head, [row(k) for k in range(9)])
    assert asked not in found.columns
    assert any(asked in question for question in found.open_questions)


@pytest.mark.parametrize(
    ("head", "row", "units"),
    [
        ("Case,Seconds,FHR,Toco", lambda k: f"C1,{k},{138 + k % 9},{10 + k % 20}", {}),
        ("Case,Time,FHR,Toco", lambda k: f"C1,{k / 4},{138 + k % 9},{10 + k % 20}", {}),
        ("Case,Time [s],FHR,Toco", lambda k: f"C1,{k},{138 + k % 9},{10 + k % 20}", {}),
        ("Case,Month of birth,Gestation (days)", lambda k: f"C{k},04/2031,{266 + k}",
         {"period": "date", "gestation_weeks": "days"}),
        ("Case,Seconds,FHR,Toco (mmHg)", lambda k: f"C1,{k / 4},{138 + k % 9},{10 + k % 20}", {}),
        ("Case,Date of birth,Birth weight", lambda k: f"C{k},2031-04-{13 + k},{2.8 + k / 10:g}",
         {"period": "date", "birth_weight_g": "kg"}),
        ("Case,Date of birth,Birth weight (lb)", lambda k: f"C{k},2031-04-{13 + k},{6.4 + k / 10:g}",
         {"period": "date", "birth_weight_g": "lb"}),
        ("Case,Date of birth,Birth weight", lambda k: f"C{k},2031-04-{13 + k},{6 + k % 3} lb {k} oz",
         {"period": "date", "birth_weight_g": "lb+oz"}),
    ],
)  # fmt: skip
def test_what_is_plain_is_proposed(tmp_path, head, row, units):
    found = _file(tmp_path, head, [row(k) for k in range(9)])
    assert found.ready
    assert found.units == units


def test_rows_that_are_counted_are_asked_however_many_there_are(tmp_path):
    found = _file(tmp_path, "Case,Time,FHR,Toco", [f"C1,{k},{138 + k % 9},{10 + k % 20}" for k in range(2000)])
    assert "t_s" not in found.columns
    assert any("seconds or sample numbers" in question for question in found.open_questions)


def test_a_unit_s_words_for_events_are_asked_by_their_row_and_answered(tmp_path):
    rows = [f"C{k},{600 + k},{('Birth', 'Dr Quill came', 'dr quill CAME', 'Bolus')[k % 4]}" for k in range(8)]
    found = _file(tmp_path, "Export of the ward\nCase,Seconds,Event", rows)
    (came, bolus) = (question for question in found.questions if "the word of row" in question)
    assert "row 4 means" in came  # below a title and the headings
    assert "its 4 rows are kept out" in came
    assert "quill" not in "\n".join(map(str, found.questions)).lower()
    answers = {came.choices[0].key: "senior_at_bedside"}
    found = guess(tmp_path / "export.csv", 64, answers)
    assert found.words == {"Birth": "birth", "Dr Quill came": "senior_at_bedside"}
    assert [str(question) for question in found.questions if "the word of" in question] == [str(bolus)]


@pytest.mark.parametrize(
    ("rate", "key", "says", "markers"),
    [
        (lambda k: "--" if k % 9 < 2 else 130 + k % 9, "no_signal.fhr_bpm", "texts", ("--",)),
        (lambda k: (-1, 999)[k % 2] if k % 9 < 4 else 130 + k % 9, "no_signal.fhr_bpm", "-1+999", ("-1", "999")),
        (lambda k: 30 if k % 4 < 2 else 130 + k % 9, "no_signal.fhr_bpm", "30", ("30",)),
        (lambda k: 30 if k % 4 < 2 else 130 + k % 9, "units.fhr_bpm", "as given", ()),
    ],
)
def test_what_may_stand_for_no_signal_is_asked_and_answered(tmp_path, rate, key, says, markers):
    rows = [f"{k / 4},{rate(k)},{10 + k % 20}" for k in range(200)]
    assert "fhr_bpm" not in _file(tmp_path, "Seconds,FHR,Toco", rows).columns
    found = guess(tmp_path / "export.csv", 64, {key: says})
    assert found.columns["fhr_bpm"] == "FHR"
    assert found.no_signal == markers
    assert key in found.used


@pytest.mark.parametrize(
    ("name", "says", "case_id"),
    [("C7.2031.csv", "name", "C7"), ("CTG_C7-A.csv", "part2", "C7"), ("_C7 strip.csv.gz", "part1", "C7")],
)
def test_a_case_id_in_the_files_name_is_asked_and_answered(tmp_path, name, says, case_id):
    (tmp_path / "1.csv").write_text("\n".join(["Seconds,FHR,Toco", *(f"{k / 4},{130 + k % 9},9" for k in range(99))]))
    asked = guess(tmp_path / "1.csv", 64, name=name)
    assert not asked.ready
    assert "C7" not in "".join(choice.words for question in asked.questions for choice in question.choices)
    found = guess(tmp_path / "1.csv", 64, {"case_id_from_file": says}, name)
    assert found.ready
    assert re.search(found.case_id_from_file, name)[1] == case_id
    assert "case_id_from_file" in found.toml("m")

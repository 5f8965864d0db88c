"""Files with our own column names in other habits hold what the plain file holds, and say how they were read."""

import csv
import io
from pathlib import Path

import pytest

from audit.intake.contents import Content, read_content
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.formats import streamed
from audit.intake.formats.habits import delimiter_of, encoding_of
from audit.intake.formats.numbers_in_text import why_not_a_number
from audit.intake.writing.ledger import Ledger
from audit.settings import load_settings

SETTINGS = load_settings()
CASES = [
    ["case_id", "period", "gestation_weeks", "cord_artery_ph", "birth_weight_g", "birth_s", "mode_of_birth"],
    ["C1", "2031-04", "39.5", "7.12", "3450", "7200.5", "spontaneous vaginal"],
    ["C2", "2031-04", "40", "7.123", "1234", "60", "ventouse, then forceps"],
]
SAMPLES = [["case_id", "t_s", "fhr_bpm", "toco"]] + [
    ["C1", f"{k / 4:g}", "" if k == 7 else f"{130 + k % 9 / 4:g}", f"{k % 40}"] for k in range(400)
]
EVENTS = [["case_id", "at_s", "event"], ["C1", "61.5", "epidural"], ["C1", "1234", "birth"]]
READS = [
    ["case_id", "reader", "start_s", "end_s", "standard", "category", "baseline_bpm"],
    ["C1", "R1", "0", "1800", "figo-2015", "normal", "137.5"],
]
TABLES = {"cases": CASES, "tracing": SAMPLES, "care_events": EVENTS, "reads": READS}
NUMBERS = {"gestation_weeks", "cord_artery_ph", "birth_s", "t_s", "fhr_bpm", "at_s", "baseline_bpm"}


def written(table: list[list[str]], delimiter: str, decimal: str, encoding: str) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter)
    header, *rows = table
    writer.writerow(header)
    for row in rows:
        writer.writerow(
            [cell.replace(".", decimal) if name in NUMBERS else cell for name, cell in zip(header, row, strict=True)]
        )
    return out.getvalue().encode(encoding)


def read(data: bytes, folder: Path) -> tuple[Content, Remarks]:
    file, remarks = folder / "file.csv", Remarks(100)
    file.write_bytes(data)
    content = read_content(file, Ledger(), remarks, SETTINGS)
    assert isinstance(content, Content)
    return content, remarks


def held(content: Content) -> str:
    tracings = [
        (t.case_id, t.rows, [(s.start_s, s.fhr_cbpm.tolist(), s.toco_hundredths.tolist()) for s in t.stretches])
        for t in content.tracings or ()
    ]
    return repr((content.kind, content.table, tracings))


@pytest.mark.parametrize("kind", TABLES)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252", "latin-1"])
@pytest.mark.parametrize(
    ("delimiter", "decimal"), [(",", "."), (";", ","), ("\t", ","), (";", "."), (",", ","), ("|", ".")]
)
def test_the_same_content_whatever_the_habit(
    kind: str, delimiter: str, decimal: str, encoding: str, tmp_path: Path
) -> None:
    plain, before = read(written(TABLES[kind], ",", ".", "utf-8"), tmp_path)
    found, remarks = read(written(TABLES[kind], delimiter, decimal, encoding), tmp_path)
    assert held(found) == held(plain)
    assert remarks.listed == before.listed
    said = " ".join(remarks.messages)
    assert ("decimal commas" in said) == (decimal == ",")
    assert ("columns" in said) == (delimiter != ",")
    assert ("UTF-16" in said) == (encoding == "utf-16")


@pytest.mark.parametrize("encoding", ["cp1252", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("titles", ["Geburtshilfe, März\r\n", "Liste;;\r\n\r\nStand;;\r\n"])
def test_titles_above_our_columns_are_passed_over_and_rows_keep_their_numbers(
    titles: str, encoding: str, tmp_path: Path
) -> None:
    rows = "case_id;at_s;event\r\nC1;5,5;epidural\r\nC1;soon;birth\r\nC1;7\r\n"
    content, remarks = read((titles + rows).encode(encoding), tmp_path)
    above = titles.count("\n")
    assert [(event.at_s, event.row_number) for event in content.table] == [(5.5, above + 2)]
    assert sorted(remark.row_number for remark in remarks.listed) == [above + 3, above + 4]
    assert f"the header stands in row {above + 1}; what stands above it is not stored" in remarks.messages


def test_a_tracing_below_a_title_is_that_without(tmp_path: Path) -> None:
    plain = written(SAMPLES, ",", ".", "utf-8")
    assert held(read(b"Export\n" + plain, tmp_path)[0]) == held(read(plain, tmp_path)[0])


@pytest.mark.parametrize("encoding", ["cp1252", "latin-1", "utf-8", "utf-16"])
def test_letters_beyond_ascii_are_the_same_in_every_encoding(encoding: str, tmp_path: Path) -> None:
    data = "case_id;at_s;event;Bemerkung\r\nC1;5,5;epidural;Prüfung Größe\r\n".encode(encoding)
    content, remarks = read(data, tmp_path)
    assert [(event.at_s, event.event) for event in content.table] == [(5.5, "epidural")]
    assert not remarks.rows_rejected


# Completed weeks and days, as NICE NG207 and WHO write gestational age (39+4): days are sevenths of a week.
@pytest.mark.parametrize("typed", ["39+4", " 39 + 4", "39+4/7", "39 4/7", "39w4d", "39 weeks 4 days", "39W 4D"])
def test_weeks_and_days_are_sevenths(typed: str, tmp_path: Path) -> None:
    content, remarks = read(f"case_id;period;gestation_weeks\nC1;2031-04;{typed}\n".encode(), tmp_path)
    assert content.table[0].facts["gestation_weeks"] == pytest.approx(39 + 4 / 7, abs=5e-5)
    assert not remarks.values_rejected


def test_weeks_with_decimals_beside_weeks_and_days_are_kept_out(tmp_path: Path) -> None:
    content, remarks = read(
        b"case_id;period;gestation_weeks\nC1;2031-04;39+4\nC2;2031-04;39,4\nC3;2031-04;40\n", tmp_path
    )
    assert [case.facts["gestation_weeks"] for case in content.table] == [pytest.approx(39.5714), None, 40]
    assert "39.4 weeks or 39+4" in remarks.listed[0].reason


@pytest.mark.parametrize("typed", ["39+7", "39-4", "39+", "+4", "3+9", "39+10", "39/40"])
def test_what_is_no_weeks_and_days_is_kept_out(typed: str, tmp_path: Path) -> None:
    content, remarks = read(f"case_id,period,gestation_weeks\nC1,2031-04,{typed}\n".encode(), tmp_path)
    assert content.table[0].facts["gestation_weeks"] is None
    assert remarks.values_rejected == 1


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        (["C1;2031-04;7,12;1,234"], 1.234),  # another number says that commas are decimal
        (["C1;2031-04;7,123;1,234"], 1.234),  # a pH of 7123 there is not
        (["C1;2031-04;;0,250"], 0.25),
        (["C1;2031-04;;1234"], 1234.0),
        (["C1;2031-04;;1,5"], 1.5),
        (["C1;2031-04;7.12;1.234"], 1.234),
    ],
)
def test_the_rest_of_the_file_says_what_a_comma_is(rows: list[str], expected: float, tmp_path: Path) -> None:
    content, _ = read("\n".join(["case_id;period;cord_artery_ph;birth_s", *rows]).encode(), tmp_path)
    assert content.table[0].facts["birth_s"] == expected


def test_what_could_be_two_numbers_is_refused_with_its_place(tmp_path: Path) -> None:
    data = b"case_id;period;birth_s\nC1;2031-04;60\nC2;2031-04;1,234\n"
    with pytest.raises(FileRefused, match="a decimal mark, or one between thousands") as refused:
        read(data, tmp_path)
    assert (refused.value.remark.row_number, refused.value.remark.column_name) == (3, "birth_s")


def test_a_decimal_comma_far_down_a_tracing_is_found(tmp_path: Path) -> None:
    rows = [f"C1;{k};14{k % 10};10" for k in range(100_000)] + ["C1;100000;140,5;10"]
    content, remarks = read("\n".join(["case_id;t_s;fhr_bpm;toco", *rows]).encode(), tmp_path)
    assert not remarks.values_rejected
    assert next(iter(content.tracings or ())).rows == 100_001


def test_a_large_file_is_read_in_its_own_habit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(streamed, "LARGE_BYTES", 100)
    found, remarks = read(written(SAMPLES, ";", ",", "utf-8-sig"), tmp_path)
    assert found.streamed
    held_in_blocks = held(found)
    plain, _ = read(written(SAMPLES, ",", ".", "utf-8"), tmp_path)
    assert held_in_blocks == held(plain)
    assert "read with semicolons between the columns and decimal commas" in remarks.messages


def test_the_sign_that_gives_our_columns_stands_between_them() -> None:
    assert delimiter_of("case_id;period;pH, artery, first, second") == ";"
    assert delimiter_of("case_id,period;x;y;z,parity") == ","
    assert delimiter_of("a\tb\tc") == "\t"


# WHATWG Encoding Standard, 4.2: the labels 'latin1' and 'iso-8859-1' mean windows-1252.
def test_encodings_are_told_from_the_bytes() -> None:
    assert encoding_of("é".encode("latin-1")) == encoding_of("€".encode("cp1252")) == "Windows-1252"
    assert encoding_of("é".encode()) == encoding_of(b"plain") == "UTF-8"
    assert encoding_of("é".encode("utf-16")) == "UTF-16"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("2031-03-01 10:00:00", "a date"), ("01.03.2031 10:30", "a date"), ("1/3/2031", "a date"),
        ("2031-03-01T10:00+02:00", "a date"), ("10:30", "a time of the clock"), ("1.2.3", None), ("7.12.2031.5", None),
    ],
)  # fmt: skip
def test_a_date_or_a_time_of_the_clock_is_told_to_need_a_mapping(text, says):
    found = why_not_a_number(text)
    assert ("needs a mapping that says so" in found and str(says) in found) is (says is not None)

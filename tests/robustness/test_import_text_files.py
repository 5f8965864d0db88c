# ruff: noqa: E501 (one bad file a line reads best)
"""CSV files that are broken as files: encoding, delimiters, quotes, rows of the wrong length, compression."""

import gzip
from pathlib import Path

import pytest

from tests.robustness.import_support import Hostile, check

HEADER = b"case_id,t_s,fhr_bpm,toco\n"
ROWS = b"C1,0,140,10\nC1,0.25,141,11\nC1,0.5,142,12\n"
GOOD = HEADER + ROWS
CASES = b"case_id,period,parity\n"


def hostile(name: str, data: bytes, says: str, **more: object) -> Hostile:
    return Hostile(name, data, says, **more)  # type: ignore[arg-type]


EMPTY = "the file is empty"
NOT_UTF8 = "that is not UTF-8"
QUOTE = "quote that is not closed"
FILES = [
    hostile("empty.csv", b"", EMPTY),
    hostile("blank.csv", b"\n\n\r\n  \n", EMPTY),
    hostile("mark_only.csv", b"\xef\xbb\xbf", EMPTY),
    hostile("mark_blank.csv", b"\xef\xbb\xbf\r\n\r\n", EMPTY),
    hostile("header_only.csv", HEADER, "a header and no rows"),
    hostile("header_no_newline.csv", HEADER.strip(), "a header and no rows"),
    hostile("header_blank_rows.csv", HEADER + b"\n\n\n", "a header and no rows"),
    hostile("cases_header_only.csv", CASES, "a header and no rows"),
    hostile("first_row_empty.csv", b"\nward,bed\n1,2\n", "an empty first row", row=1),
    hostile("utf16_no_mark.csv", GOOD.decode().encode("utf-16-le"), "zero byte", row=1),
    hostile("utf32.csv", GOOD.decode().encode("utf-32"), "UTF-32", row=1),
    hostile("latin1.csv", CASES + "C1,2025-03,z\xe9ro\n".encode("latin-1"), "expected a number", row=2, column="parity", accepted=1),
    hostile("cp1252.csv", CASES + b"C1,2025-03,1\nC2,2025-03,\x80\n", "expected a number", row=3, column="parity", accepted=2),
    hostile("latin1_header.csv", "case_id,p\xe9riod\nC1,2025-03\n".encode("latin-1"), "columns t_s, fhr_bpm, toco are missing", row=1, column="t_s"),
    hostile("cut_in_a_letter.csv", GOOD + "C1,0.75,1\u00e9".encode()[:-1], "found 3 values", row=5, accepted=3, rejected=1),
    hostile("overlong.csv", GOOD + b"C1,\xc0\xaf,140,1\n", "expected a number", row=5, column="t_s", accepted=3, rejected=1),
    hostile("surrogate.csv", GOOD + b"C1,\xed\xa0\x80,140,1\n", "expected a number", row=5, column="t_s", accepted=3, rejected=1),
    hostile("two_encodings.csv", CASES + "C1,2025-03,é\n".encode() + b"C2,2025-03,\xe9\n", NOT_UTF8, row=3),
    hostile("no_code_page.csv", CASES + b"C1,2025-03,\x81\n", NOT_UTF8, row=2),
    hostile("marked_but_other.csv", b"\xef\xbb\xbf" + CASES + b"C1,2025-03,\xe9\n", NOT_UTF8, row=2),
    hostile("utf16_cut.csv", b"\xff\xfe" + GOOD.decode().encode("utf-16-le")[:-1], "damaged UTF-16"),
    hostile("thousand_or_not.csv", b"case_id;period;birth_s\nC1;2025-03;1,234\n", "a comma before three figures", row=2, column="birth_s"),
    hostile("thousand_or_not_point.csv", b"case_id;period;birth_s\nC1;2025-03;1.234\n", "a point before three figures", row=2, column="birth_s"),
    hostile("thousand_or_not_quoted.csv", b'case_id,period,birth_s\nC1,2025-03,"1,234"\n', "a comma before three figures", row=2, column="birth_s"),
    hostile("both_marks.csv", b"case_id;period;cord_artery_ph\nC1;2025-03;7,12\nC2;2025-03;7.12\n", "decimal points (row 3) and decimal commas (row 2)", row=3, column="cord_artery_ph"),
    hostile("point_among_commas.csv", b"case_id;period;cord_artery_ph;birth_s\nC1;2025-03;7,12;1.234\n", "a decimal point in a file with decimal commas", row=2, column="birth_s", accepted=1),
    hostile("eight_days.csv", b"case_id,period,gestation_weeks\nC1,2025-03,39+8\n", "weeks and 8 days", row=2, column="gestation_weeks", accepted=1),
    hostile("nul.csv", GOOD + b"C1,0.75,\x00140,1\n", "zero byte", row=5),
    hostile("nul_header.csv", b"case_id,t_s\x00,fhr_bpm,toco\n" + ROWS, "zero byte", row=1),
    hostile("nul_tail.csv", GOOD + b"\x00" * 512, "zero byte", row=5),
    hostile("semicolon_rows.csv", HEADER + ROWS.replace(b",", b";"), "found 1 value in the row, expected 4", row=2, rejected=3),
    hostile("decimal_commas.csv", HEADER + b"C1,0,0,140,5,10,0\n", "decimal comma", row=2, rejected=1),
    hostile("long_row.csv", GOOD + b"C1,0.75,140,1,9\n", "found 5 values in the row, expected 4", row=5, accepted=3, rejected=1),
    hostile("short_row.csv", GOOD + b"C1,0.75,140\n", "found 3 values in the row, expected 4", row=5, accepted=3, rejected=1),
    hostile("cut_off_row.csv", GOOD + b"C1,0.7", "found 2 values in the row, expected 4", row=5, accepted=3, rejected=1),
    hostile("long_row_after_blank.csv", GOOD + b"\n\nC1,0.75,140,1,9\n", "found 5 values", row=7, accepted=3, rejected=1),
    hostile("cases_long_row.csv", CASES + b"C1,2025-03,1\nC2,2025-03,1,4\n", "found 4 values", row=3, accepted=1, rejected=1),
    hostile("cases_short_row.csv", CASES + b"C1,2025-03,1\n\nC2\n", "found 1 value", row=4, accepted=1, rejected=1),
    hostile("doubled_column.csv", b"case_id,t_s,fhr_bpm,fhr_bpm,toco\nC1,0,1,1,1\n", "stands twice", row=1, column="fhr_bpm"),
    hostile("doubled_by_case.csv", b"case_id,t_s,fhr_bpm,FHR_BPM,toco\nC1,0,1,1,1\n", "stands twice", row=1, column="fhr_bpm"),
    hostile("nameless_column.csv", b"case_id,t_s,,fhr_bpm,toco\nC1,0,1,1,1\n", "column 3 has no name", row=1),
    hostile("trailing_comma_header.csv", b"case_id,t_s,fhr_bpm,toco,\nC1,0,1,1,\n", "column 5 has no name", row=1),
    hostile("no_header.csv", ROWS, "none of the known kinds", row=1),
    hostile("other_table.csv", b"bed,colour\n1,red\n", "none of the known kinds", row=1),
    hostile("one_column.csv", b"fhr\n140\n141\n", "none of the known kinds", row=1),
    hostile("no_toco.csv", b"case_id,t_s,fhr_bpm\nC1,0,140\n", "the column toco is missing", row=1, column="toco"),
    hostile("no_case.csv", b"t_s,fhr_bpm,toco\n0,140,1\n", "the column case_id is missing", row=1, column="case_id"),
    hostile("no_event.csv", b"case_id,at_s\nC1,5\n", "the column event is missing", row=1, column="event"),
    hostile("no_period.csv", b"case_id,parity,birth_s,apgar_5\nC1,1,5,9\n", "period is missing", row=1, column="period"),
    hostile("reads_two_missing.csv", b"case_id,reader,start_s,end_s\nC1,R1,0,5\n", "standard, category are missing", row=1, column="standard"),
    hostile("two_kinds.csv", b"case_id,t_s,fhr_bpm,toco,at_s,event\nC1,0,140,1,5,birth\n", "tracing and care_events in one table", row=1),
    hostile("open_quote.csv", HEADER + b'C1,0,140,10\nC1,0.25,"140,10\nC1,0.5,140,10\n', QUOTE, row=3),
    hostile("quote_over_lines.csv", HEADER + b'"C1\n",0,140,10\n', QUOTE, row=2),
    hostile("open_quote_header.csv", b'"case_id,t_s,fhr_bpm,toco\n' + ROWS, QUOTE, row=1),
    hostile("cases_open_quote.csv", CASES + b'C1,2025-03,1\nC2,"2025-03,1\n', "not well-formed CSV", row=3),
    hostile("cases_quote_over_lines.csv", CASES + b'C1,"2025-03\n",1\n', "over several lines", row=2),
    hostile("cases_stray_quote.csv", CASES + b'C1,"2025"-03,1\n', "not well-formed CSV", row=2),
    hostile("huge_value.csv", CASES + b"C1,2025-03," + b"9" * 5000 + b"\n", "a value of 5,000 characters", row=2, column="parity"),
    hostile("enormous_value.csv", CASES + b"C1,2025-03," + b"x" * 200_000 + b"\n", "not well-formed CSV", row=2),
    hostile("enormous_line.csv", HEADER + b"C1,0," + b"1" * 9_000_000 + b",1\n", "one row a line of less than 4 MiB"),
    hostile("long_number.csv", GOOD + b"C1,0.75,1" + b"0" * 400 + b",1\n", "expected 0 to 300", row=5, column="fhr_bpm", accepted=4),
    hostile("wide_header.csv", b"case_id," + b"x" * 30_000 + b"\nC1,1\n", "a first row of 30,008 characters", row=1),
    hostile("noise.csv", b"\x89\x01\x02\x03\x04\x05\x06" * 600, "a binary file of no known kind"),
    hostile("picture.csv", b"\x89PNG\r\n\x1a\n" + bytes(64), "a picture"),
    hostile("photo.csv", b"\xff\xd8\xff\xe0" + bytes(64), "a picture"),
    hostile("document.csv", b"%PDF-1.7\n" + b"x" * 64, "a PDF document"),
    hostile("workbook.csv", b"PK\x03\x04" + bytes(64), "zip archive is damaged"),
    hostile("old_workbook.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(64), "an old Excel"),
    hostile("page.csv", b"<html><body>case_id,period</body></html>", "an XML or HTML document"),
    hostile("data.xml", b"<?xml version='1.0'?><a/>", "an XML or HTML document"),
    hostile("data.json", b'{"case_id": "C1"}', "a JSON document"),
    hostile("list.csv", b'[{"case_id": "C1"}]', "a JSON document"),
    hostile("lite.csv", b"SQLite format 3\x00" + bytes(64), "a SQLite database"),
    hostile("packed.csv.bz2", b"BZh91AY&SY" + bytes(32), "compressed with bzip2"),
    hostile("packed.csv.xz", b"\xfd7zXZ\x00" + bytes(32), "compressed with xz"),
    hostile("packed.csv.zst", b"\x28\xb5\x2f\xfd" + bytes(32), "compressed with zstandard"),
    hostile("packed.7z", b"7z\xbc\xaf\x27\x1c" + bytes(32), "a 7z archive"),
    hostile("tracing.edf", b"0       " + b" " * 248, "EDF recording"),
    hostile("cut.csv.gz", gzip.compress(GOOD)[:-12], "cut off before its end"),
    hostile("cut_early.csv.gz", gzip.compress(GOOD)[:9], "cut off before its end"),
    hostile("magic_only.csv.gz", b"\x1f\x8b", "cut off before its end"),
    hostile("wrong_check.csv.gz", gzip.compress(GOOD)[:-8] + bytes(8), "the gzip file is damaged"),
    hostile("flipped.csv.gz", gzip.compress(GOOD)[:12] + b"\xff" * 8 + gzip.compress(GOOD)[20:], "the gzip file is damaged"),
    hostile("empty.csv.gz", gzip.compress(b""), EMPTY),
    hostile("twice.csv.gz", gzip.compress(gzip.compress(GOOD)), "another gzip file inside the gzip file"),
    hostile("picture.csv.gz", gzip.compress(b"\x89PNG\r\n\x1a\n" + bytes(64)), "a picture"),
    hostile("bomb.csv.gz", gzip.compress(HEADER + b"C1,0,140,1\n" * 3_000_000), "unpacks to more than"),
    hostile("garbage_after.csv.gz", gzip.compress(GOOD) + b"garbage", "the gzip file is damaged"),
]  # fmt: skip


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_a_broken_file_is_refused_or_its_bad_rows_are(file: Hostile, tmp_path: Path):
    check(file, tmp_path)

"""Mappings of Parquet files, and of rows that hold several samples: the same as one sample a row."""

from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from audit.errors import SettingsError
from audit.intake.contents import Content, read_content
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.folders import Candidate, in_order
from audit.intake.formats import conversions
from audit.intake.formats.numbers_in_text import Unclear
from audit.intake.importer import import_paths
from audit.intake.mapped import chosen
from audit.intake.writing.ledger import Ledger
from audit.settings import Settings, load_settings
from tests.asking import ask

# 40 s at 4 samples a second; a heart rate of 999 is no signal
FHR = np.where(np.arange(160) == 7, 999, 130 + np.arange(160) % 9)
TOCO = 10 + np.arange(40)
HEAD = '[import.mapping.m]\nkind = "tracing"\nno_signal = ["999"]\n'
BESIDE = f"""{HEAD}row_s = 1.0
columns = {{case_id = "Case", t_s = "Sec", toco = "UA"}}
samples = {{fhr_bpm = ["HR1", "HR2", "HR3", "HR4"]}}
"""
IN_A_CELL = f"""{HEAD}row_s = 1.0
samples_between = " "
columns = {{case_id = "Case", t_s = "Sec", fhr_bpm = "HR", toco = "UA"}}
"""


def with_mapping(folder: Path, toml: str) -> Settings:
    (folder / "unit_settings.toml").write_text(toml, encoding="utf-8")
    return load_settings(folder / "unit_settings.toml")


def read(file: Path, folder: Path, toml: str) -> tuple[Content, Remarks]:
    settings, remarks = with_mapping(folder, toml), Remarks(1000)
    content = read_content(file, Ledger(), remarks, settings, chosen(settings, ["m"])[0])
    assert isinstance(content, Content)
    return content, remarks


def written(folder: Path, text: str) -> Path:
    (folder / "export.csv").write_text(text, encoding="utf-8")
    return folder / "export.csv"


def samples(content: Content) -> tuple[list[int], list[int]]:
    [tracing] = content.tracings or ()
    [stretch] = tracing.stretches
    return stretch.fhr_cbpm.tolist(), stretch.toco_hundredths.tolist()


@pytest.fixture
def one_a_row(tmp_path: Path) -> tuple[list[int], list[int]]:
    rows = (f"C1,{k / 4},{'' if rate == 999 else rate},{TOCO[k // 4]}\n" for k, rate in enumerate(FHR))
    file = written(tmp_path, "case_id,t_s,fhr_bpm,toco\n" + "".join(rows))
    content = read_content(file, Ledger(), Remarks(9), load_settings())
    assert isinstance(content, Content)
    return samples(content)


def test_four_samples_in_columns_are_those_of_four_rows(tmp_path, one_a_row):
    rows = (f"C1;{k};{';'.join(map(str, FHR[4 * k : 4 * k + 4]))};{TOCO[k]}\n" for k in range(40))
    content, remarks = read(written(tmp_path, "Case;Sec;HR1;HR2;HR3;HR4;UA\n" + "".join(rows)), tmp_path, BESIDE)
    assert samples(content) == one_a_row
    assert not remarks.listed


def test_four_samples_in_a_cell_are_those_of_four_rows(tmp_path, one_a_row):
    rows = [f"C1,{k},{' '.join(map(str, FHR[4 * k : 4 * k + 4]))},{TOCO[k]}\n" for k in range(40)]
    content, remarks = read(written(tmp_path, "Case,Sec,HR,UA\n" + "".join(rows)), tmp_path, IN_A_CELL)
    assert samples(content) == one_a_row
    assert not remarks.listed
    rows[3] = "C1,3,140 141 142,13\n"
    content, remarks = read(written(tmp_path, "Case,Sec,HR,UA\n" + "".join(rows)), tmp_path, IN_A_CELL)
    assert [(remark.row_number, remark.column_name) for remark in remarks.listed] == [(5, "fhr_bpm")]
    assert [k for k, rate in enumerate(samples(content)[0]) if rate < 0] == [7, 12, 13, 14, 15]


def test_lists_in_parquet_are_several_samples(tmp_path, one_a_row):
    lists = [[None if rate == 999 else float(rate) for rate in FHR[4 * k : 4 * k + 4]] for k in range(40)]
    table = pa.table({"Case": ["C1"] * 40, "Sec": np.arange(40), "HR": lists, "UA": TOCO.astype("float32")})
    pq.write_table(table, tmp_path / "export.parquet")
    content, _ = read(tmp_path / "export.parquet", tmp_path, IN_A_CELL)
    assert samples(content) == one_a_row


def test_clock_times_of_rows_with_several_samples_keep_their_places(tmp_path, one_a_row):
    rows = (f"C1;23:59:{40 + k:02d};" if k < 20 else f"C1;00:00:{k - 20:02d};" for k in range(40))
    rows = (f"{head}{';'.join(map(str, FHR[4 * k : 4 * k + 4]))};{TOCO[k]}\n" for k, head in enumerate(rows))
    clock = BESIDE.replace("row_s", 'units = {t_s = "clock"}\ntime_zone = "Europe/Dublin"\nrow_s')
    content, _ = read(written(tmp_path, "Case;Sec;HR1;HR2;HR3;HR4;UA\n" + "".join(rows)), tmp_path, clock)
    assert samples(content) == one_a_row


CASES = """[import.mapping.m]
kind = "cases"
columns = {case_id = "Nr", period = "Born", cord_artery_ph = "pH", birth_weight_g = "Weight"}
units = {period = "date", birth_weight_g = "kg"}
"""


@pytest.mark.parametrize("decimal", ["auto", ","])
def test_types_of_parquet_are_read_as_their_text(tmp_path, decimal):
    table = pa.table(
        {
            "Nr": [12, 13],
            "Born": [date(2031, 4, 14), None],
            "pH": pa.array([7.1, 7.25], pa.float32()),
            "Weight": [3.45, float("nan")],
            "Name": ["Tessa Quill", "x"],
        }
    )
    pq.write_table(table, tmp_path / "export.parquet")
    content, remarks = read(
        tmp_path / "export.parquet",
        tmp_path,
        CASES.replace("[import.mapping.m]", f'[import.mapping.m]\ndecimal = "{decimal}"'),
    )
    [case] = content.table
    assert (case.case_id, case.facts["period"]) == ("12", "2031-04")
    assert (case.outcome["cord_artery_ph"], case.outcome["birth_weight_g"]) == (7.1, 3450)
    assert [remark.row_number for remark in remarks.listed] == [3]  # no month
    assert "Quill" not in repr((content, remarks))


def test_a_parquet_file_with_the_columns_of_a_mapping_is_found_in_a_folder(tmp_path):
    born = [datetime(2031, 4, 14) + timedelta(days=k) for k in range(3)]
    pq.write_table(
        pa.table({"Nr": ["a"] * 3, "Born": born, "pH": [7.1] * 3, "Weight": [3.1] * 3}), tmp_path / "x.parquet"
    )
    [mapping] = chosen(with_mapping(tmp_path, CASES), ["m"])
    found = in_order([Candidate(tmp_path / "x.parquet", 1, named=False)], tmp_path / "u.duckdb", [mapping])
    assert [(sighted.kind, sighted.mapping) for sighted in found] == [("cases", mapping)]


def test_damaged_parquet_and_bytes_are_refused(tmp_path):
    file = tmp_path / "export.parquet"
    pq.write_table(pa.table({"Nr": [b"x"], "Born": ["2031-04-01"], "pH": [7.1], "Weight": [3.1]}), file)
    with pytest.raises(FileRefused, match="found bytes"):
        read(file, tmp_path, CASES)
    file.write_bytes(file.read_bytes()[:60])
    with pytest.raises(FileRefused, match="not a whole Parquet file"):
        read(file, tmp_path, CASES)


@pytest.mark.parametrize(
    ("toml", "key"),
    [
        (BESIDE.replace("row_s = 1.0", ""), "row_s"),
        (BESIDE.replace('["HR1", "HR2", "HR3", "HR4"]', '["HR1"]'), "samples.fhr_bpm"),
        (BESIDE.replace("fhr_bpm = [", "t_s = ["), "samples.t_s"),
        (IN_A_CELL.replace('samples_between = " "', ""), "row_s"),
        (CASES.replace('kind = "cases"', 'kind = "cases"\nrow_s = 1.0\nsamples_between = "/"'), "samples"),
    ],
)
def test_what_does_not_go_together_is_refused(tmp_path, toml, key):
    with pytest.raises(SettingsError, match=f"import.mapping.m.{key}"):
        with_mapping(tmp_path, toml)


# 1 lb = 453.59237 g = 16 oz (NIST Special Publication 811, appendix B.8)
@pytest.mark.parametrize(
    ("typed", "unit", "grams"),
    [
        ("7 lb 4 oz", "lb+oz", 3288.545), ("7lb 4.0oz", "lb+oz", 3288.545), ("7-4", "lb+oz", 3288.545),
        ("7 lbs", "lb+oz", 3175.147), ("7.25", "lb", 3288.545), ("116", "oz", 3288.545),
        ("7 lb 16 oz", "lb+oz", "7 lb 16 oz"), ("7.4", "lb+oz", "7.4"),
    ],
)  # fmt: skip
def test_pounds_and_ounces_become_grams(typed, unit, grams):
    found = conversions.value(typed, "birth_weight_g", unit, ".")
    assert found == (pytest.approx(grams, abs=0.001) if isinstance(grams, float) else grams)
    assert isinstance(found, Unclear) == (typed == "7.4")  # 7 lb 4 oz, or 7.4 lb


@pytest.mark.parametrize(
    ("typed", "stored"),
    [
        ("Diabetes / Mekonium", "meconium diabetes"), ("Mekonium & diabetes", "meconium diabetes"),
        ("Zustand nach Sectio, Fieber", "fever_or_sepsis previous_caesarean"), ("keine", ""), ("Mekonium; Quill", None),
    ],
)  # fmt: skip
def test_several_risk_factors_of_a_cell_are_read_in_the_units_own_words(tmp_path, typed, stored):
    toml = """[import.mapping.m]
kind = "cases"
columns = {case_id = "Fall", period = "Monat", risk_factors = "Risiken"}
[import.mapping.m.words.risk_factors]
Mekonium = "meconium"
Fieber = "fever_or_sepsis"
"Zustand nach Sectio" = "previous_caesarean"
keine = "none"
"""
    content, remarks = read(written(tmp_path, f"Fall|Monat|Risiken\nC1|2031-04|{typed}\n"), tmp_path, toml)
    assert [case.facts["risk_factors"] for case in content.table] == [stored]
    assert remarks.values_rejected == (stored is None)


# 13 is no month, so the file's dates are not written as the mapping says, and 04/05 may be April or May
@pytest.mark.parametrize(
    ("dates", "stored"),
    [
        (["04/13/2031", "04/05/2031", "04/04/2031"], [("C2", "2031-04")]),
        (["13/04/2031", "04/05/2031"], [("C0", "2031-04"), ("C1", "2031-05")]),
    ],
)
def test_dates_that_deny_the_order_of_the_mapping_are_kept_out(tmp_path, dates, stored):
    toml = """[import.mapping.m]
kind = "cases"
columns = {case_id = "Case", period = "Born"}
units = {period = "date"}
"""
    rows = "".join(f"C{k},{date}\n" for k, date in enumerate(dates))
    content, remarks = read(written(tmp_path, f"Case,Born\n{rows}"), tmp_path, toml)
    assert [(case.case_id, case.facts["period"]) for case in content.table] == stored
    assert any("date_order (dmy)" in said for said in remarks.messages) == (len(stored) == 1)


def test_several_mappings_in_one_run_each_read_the_files_that_fit_them(tmp_path: Path) -> None:
    def said(columns: str) -> str:
        return f'kind = "cases"\ncolumns = {{case_id = "Nr", period = "Monat"{columns}}}\n'

    (tmp_path / "unit_settings.toml").write_text(
        "".join(
            f"[import.mapping.{name}]\n{said(columns)}"
            for name, columns in (("ward", ', cord_artery_ph = "pH"'), ("list", ', apgar_5 = "A5"'), ("short", ""))
        )
    )
    (tmp_path / "one.csv").write_text("Nr,Monat,pH\nC1,2031-04,7.21\n")
    (tmp_path / "two.csv").write_text("Nr,Monat,A5\nC2,2031-04,9\n")
    settings = load_settings(tmp_path / "unit_settings.toml")
    files = [tmp_path / "one.csv", tmp_path / "two.csv"]
    doubtful = import_paths(tmp_path / "u.duckdb", files[:1], settings=settings, mapping=["ward", "short"])
    assert doubtful.files[0].outcome == "refused"
    assert "fits 2 of the mappings" in str(doubtful.files[0].message)
    report = import_paths(tmp_path / "u.duckdb", files, settings=settings, mapping=["ward", "list"])
    assert [(file.outcome, file.rows_accepted) for file in report.files] == [("stored", 1), ("stored", 1)]
    rows = ask(tmp_path / "u.duckdb", "select case_id, cord_artery_ph, apgar_5 from outcomes order by case_id")
    assert rows == [("C1", 7.21, None), ("C2", None, 9)]

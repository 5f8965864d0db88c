"""A unit's own exports under a mapping: units, words and shapes become ours, clocks keep lengths, no date stays."""

from pathlib import Path

import duckdb
import numpy as np
import openpyxl
import pytest

from audit.errors import SettingsError, UsageError
from audit.intake.contents import Content, read_content
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.importer import import_paths
from audit.intake.mapped import chosen
from audit.intake.writing.ledger import Ledger
from audit.settings import Settings, load_settings
from audit.store import database
from tests.asking import ask

pytestmark = pytest.mark.slow


def with_mapping(folder: Path, toml: str) -> Settings:
    file = folder / "unit_settings.toml"
    file.write_text(toml, encoding="utf-8")
    return load_settings(file)


def read(data: str | bytes, folder: Path, toml: str, name: str = "export.csv") -> tuple[Content, Remarks]:
    settings, remarks, file = with_mapping(folder, toml), Remarks(1000), folder / name
    file.write_bytes(data if isinstance(data, bytes) else data.encode())
    content = read_content(file, Ledger(), remarks, settings, chosen(settings, ["m"])[0])
    assert isinstance(content, Content)
    return content, remarks


CASES = """
[import.mapping.m]
kind = "cases"
[import.mapping.m.columns]
case_id = "Fallnummer"
period = "Geburtsdatum"
gestation_weeks = "SSW"
cord_artery_ph = "NA-pH"
cord_artery_base_deficit_mmol_l = "BE"
cord_artery_pco2_kpa = "pCO2"
cord_lactate_mmol_l = "Laktat"
birth_weight_g = "Gewicht"
neonatal_unit_admission = "Verlegung"
[import.mapping.m.units]
period = "date"
gestation_weeks = "weeks+days"
cord_artery_base_deficit_mmol_l = "base excess"
cord_artery_pco2_kpa = "mmHg"
cord_lactate_mmol_l = "mg/dL"
birth_weight_g = "kg"
[import.mapping.m.words]
neonatal_unit_admission = {ja = "yes", nein = "no"}
"""


def test_units_words_and_dates_become_ours(tmp_path: Path) -> None:
    text = "Fallnummer;Geburtsdatum;SSW;NA-pH;BE;pCO2;Laktat;Gewicht;Verlegung;Name\n"
    text += "C1;14.04.2031;39+4;7,12;-8,5;60;36,03;3,45;Ja;Tessa Quill\nC2;2031-05-02;40.1;7,3;2;;;3,1;nein;x\n"
    content, remarks = read(text.encode("cp1252"), tmp_path, CASES)
    one, two = content.table
    assert one.facts == {"period": "2031-04", "gestation_weeks": 39.5714}
    # 1 kPa = 7.50062 mmHg (SI: 1 mmHg = 133.322 Pa); lactic acid 90.08 g/mol, so 36.03 mg/dL are 4.0 mmol/L
    assert one.outcome == {
        "cord_artery_ph": 7.12,
        "cord_artery_base_deficit_mmol_l": 8.5,
        "cord_artery_pco2_kpa": pytest.approx(60 / 7.50062, abs=1e-3),
        "cord_lactate_mmol_l": pytest.approx(4.0, abs=1e-3),
        "birth_weight_g": 3450,
        "neonatal_unit_admission": True,
    }
    assert (two.facts["gestation_weeks"], two.outcome["neonatal_unit_admission"]) == (40.1429, False)
    assert "Quill" not in repr((content, remarks))
    assert any("columns that the mapping does not name are not stored: 1 of 10" in said for said in remarks.messages)


# days are sevenths of a week (NICE NG207, WHO); one decimal above 6 says that decimals may be parts of a week
@pytest.mark.parametrize(
    ("typed", "weeks"),
    [
        (["39.4", "39,4", "39 4/7", "39w4d", "39+4", "39/4"], [39.5714] * 6),
        (["39.4", "39.7", "39+4", "39"], [None, None, 39.5714, 39.0]),
        (["39,40", "39,4"], [None, None]),
    ],
)
def test_a_decimal_that_is_no_day_is_not_taken_for_weeks_in_a_column_of_days(
    typed: list[str], weeks: list[float | None], tmp_path: Path
) -> None:
    rows = "".join(f"C{k};2031-04-01;{cell};7.2;1;60;36;3;ja\n" for k, cell in enumerate(typed, start=1))
    content, remarks = read(
        f"Fallnummer;Geburtsdatum;SSW;NA-pH;BE;pCO2;Laktat;Gewicht;Verlegung\n{rows}", tmp_path, CASES
    )
    assert [case.facts["gestation_weeks"] for case in content.table] == weeks
    assert sum("is it 39.4 weeks or 39+4" in remark.reason for remark in remarks.listed) == weeks.count(None)


WIDE = """
[import.mapping.m]
kind = "tracing"
no_signal = ["-1", "999"]
case_id_from_file = "^([A-Z][0-9]+)_"
lines_before_header = 2
[import.mapping.m.columns]
t_s = "ms"
toco = "UP"
[import.mapping.m.units]
t_s = "milliseconds"
[import.mapping.m.fetus]
A = {fhr_bpm = "FHF1"}
B = {fhr_bpm = "FHF2"}
"""


def test_two_fetuses_in_columns_and_a_case_a_file(tmp_path: Path) -> None:
    rows = [
        f"{k * 250}\t{k % 50}\t{130 + k % 5 if k != 7 else 999}\t{-1 if k < 9 else 150 + k % 5}" for k in range(400)
    ]
    content, remarks = read("\n".join(["Export", "Ward 3", "ms\tUP\tFHF1\tFHF2", *rows]), tmp_path, WIDE, "C7_2031.txt")
    found = {tracing.fetus: tracing for tracing in content.tracings or ()}
    assert {tracing.case_id for tracing in found.values()} == {"C7"}
    assert (found["A"].rows, found["B"].rows) == (400, 400)
    a, b = found["A"].stretches[0], found["B"].stretches[0]
    assert np.flatnonzero(a.fhr_cbpm < 0).tolist() == [7]
    assert np.flatnonzero(b.fhr_cbpm < 0).tolist() == list(range(9))
    assert a.fhr_cbpm[:3].tolist() == [13000, 13100, 13200]
    assert not remarks.rows_rejected


def test_a_file_name_that_identifies_becomes_a_keyed_pseudonym(tmp_path: Path) -> None:
    toml = WIDE.replace("^([A-Z][0-9]+)_", "^(.*)[.]txt$")
    text = "x\nx\nms\tUP\tFHF1\tFHF2\n" + "\n".join(f"{k * 250}\t1\t140\t" for k in range(300))
    content, remarks = read(text, tmp_path, toml, "Quill Tessa.txt")
    (tracing,) = content.tracings or ()  # nothing was recorded of a second fetus
    assert tracing.case_id.startswith("P-")
    assert remarks.pseudonyms == {tracing.case_id}


def test_a_file_name_that_does_not_fit_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileRefused, match="case_id_from_file"):
        read("x\nx\nms\tUP\tFHF1\tFHF2\n0\t1\t140\t1\n", tmp_path, WIDE, "other.txt")


COUNTED = """
[import.mapping.m]
kind = "tracing"
samples_per_s = 4.0
columns = {case_id = "Fall", t_s = "Nr", fhr_bpm = "FHF", toco = "Druck"}
units = {t_s = "samples", toco = "kPa"}
"""


def test_counted_samples_and_kilopascals_become_seconds_and_mmhg(tmp_path: Path) -> None:
    rows = "\n".join(f"C1;{k};{140 + k % 7};{1 + k % 7}" for k in range(400))
    content, _ = read(f"Fall;Nr;FHF;Druck\n{rows}", tmp_path, COUNTED)
    (tracing,) = content.tracings or ()
    (stretch,) = tracing.stretches
    assert (stretch.sample_rate_hz, stretch.samples) == (4.0, 400)
    # 1 kPa = 7.50062 mmHg (SI: 1 mmHg = 133.322 Pa)
    assert stretch.toco_hundredths[:3].tolist() == [750, 1500, 2250]


CLOCK = """
[import.mapping.m]
kind = "tracing"
time_zone = "Europe/Berlin"
[import.mapping.m.columns]
case_id = "Fall"
t_s = "Zeit"
fhr_bpm = "FHF"
toco = "Toko"
[import.mapping.m.units]
t_s = "clock"
[import.mapping.e]
kind = "care_events"
time_zone = "Europe/Berlin"
[import.mapping.e.columns]
case_id = "Fall"
at_s = "Uhrzeit"
event = "Ereignis"
[import.mapping.e.units]
at_s = "clock"
[import.mapping.e.words.event]
Geburt = "birth"
PDA = "epidural"
"""


def clock_rows(start: str, seconds: int, change: tuple[int, int] = (10**9, 0), step_s: int = 1) -> list[str]:
    """Rows whose wall clock starts at `start` and moves by `change[1]` s after `change[0]` s have passed."""
    first = np.datetime64(start)
    out = []
    for k in range(0, seconds, step_s):
        wall = first + np.timedelta64(k + (change[1] if k >= change[0] else 0), "s")
        date, time = str(wall).split("T")
        year, month, day = date.split("-")
        out.append(f"C1;{day}.{month}.{year} {time};{140 + k % 7};{k % 30}")
    return out


HEADER = "Fall;Zeit;FHF;Toko"


def length_of(content: Content) -> tuple[float, float]:
    (tracing,) = content.tracings or ()
    first, last = tracing.stretches[0], tracing.stretches[-1]
    return first.start_s, last.start_s + last.samples / last.sample_rate_hz


# Clocks in Germany go forward at 01:00 UTC on the last Sunday of March and back at 01:00 UTC on the last of October
# (Directive 2000/84/EC); 30 March and 26 October in 2031.
@pytest.mark.parametrize(
    ("start", "change"),
    [
        ("2031-04-02T23:30:00", (10**9, 0)),  # midnight
        ("2031-03-30T01:30:00", (1800, 3600)),  # forward: 01:59:59 is followed by 03:00:00
        ("2031-10-26T02:30:00", (1800, -3600)),  # back: 02:59:59 is followed by 02:00:00
        ("2031-12-31T23:30:00", (10**9, 0)),
    ],
)
def test_midnight_and_both_clock_changes_keep_true_lengths(start: str, change: tuple[int, int], tmp_path: Path) -> None:
    content, remarks = read("\n".join([HEADER, *clock_rows(start, 7200, change)]), tmp_path, CLOCK)
    assert length_of(content) == (0.0, 7200.0)
    assert not remarks.rows_rejected
    assert content.clocks["C1"].local_s == int(start[11:13]) * 3600 + int(start[14:16]) * 60


@pytest.mark.parametrize("start", ["2031-03-30T01:30:00", "2031-10-26T01:30:00"])
def test_a_recorder_that_was_not_set_keeps_its_own_time(start: str, tmp_path: Path) -> None:
    content, remarks = read("\n".join([HEADER, *clock_rows(start, 7200)]), tmp_path, CLOCK)
    assert length_of(content) == (0.0, 7200.0)
    assert "its own time was kept" in remarks.listed[0].reason


def test_a_recording_that_begins_in_the_second_hour_of_that_name(tmp_path: Path) -> None:
    content, _ = read("\n".join([HEADER, *clock_rows("2031-10-26T02:30:00", 3600)]), tmp_path, CLOCK)
    assert length_of(content) == (0.0, 3600.0)
    assert content.clocks["C1"].utc_offset_s == 3600  # winter time


def test_clock_times_without_a_date_pass_midnight_and_the_hour_set_back(tmp_path: Path) -> None:
    rows = [
        row.replace("02.04.2031 ", "").replace("03.04.2031 ", "") for row in clock_rows("2031-04-02T23:30:00", 3600)
    ]
    content, _ = read("\n".join([HEADER, *rows]), tmp_path, CLOCK)
    assert length_of(content) == (0.0, 3600.0)
    rows = [row.replace("26.10.2031 ", "") for row in clock_rows("2031-10-26T02:30:00", 7200, (1800, -3600))]
    content, remarks = read("\n".join([HEADER, *rows]), tmp_path, CLOCK)
    assert length_of(content) == (0.0, 7200.0)
    assert "goes back by an hour" in remarks.listed[0].reason


def test_events_find_their_place_on_the_tracing_later_and_no_date_is_kept(tmp_path: Path) -> None:
    settings, db = with_mapping(tmp_path, CLOCK), tmp_path / "unit.duckdb"
    tracing, events = tmp_path / "t.csv", tmp_path / "e.csv"
    tracing.write_text("\n".join([HEADER, *clock_rows("2031-10-26T01:30:00", 10_800, (5400, -3600), 2)]))
    assert import_paths(db, [tracing], settings=settings, mapping="m").exit_code == 0
    rows = ["Fall;Uhrzeit;Ereignis", "C1;26.10.2031 01:45;PDA", "C1;26.10.2031 03:10;senior_called"]
    rows += ["C1;26.10.2031 03:25;Geburt", "C1;26.10.2031 02:20;scalp_stimulation", "C2;26.10.2031 02:20;birth"]
    events.write_text("\n".join(rows))
    report = import_paths(db, [events], settings=settings, mapping="e")
    with database.open_for_reading(db) as con:
        found = con.execute("select event, at_s from care_events order by at_s").fetchall()
        clocks = con.execute("select case_id, local_s, utc_offset_s from case_clocks").fetchall()
    # 01:45 is 15 min after the first sample; from 01:30 summer time to 03:10 winter time pass 2 h 40 min
    assert found == [("epidural", 900.0), ("senior_called", 9600.0), ("birth", 10_500.0)]
    assert clocks == [("C1", 5400.0, 7200.0)]
    reasons = [remark.reason for remark in report.files[0].remarks]
    assert any("shows twice" in reason for reason in reasons)
    assert any("without one" in reason for reason in reasons)
    everything = repr(duckdb.connect(str(db), read_only=True).execute("select * from care_events").fetchall())
    assert "2031" not in everything
    again = import_paths(db, [tracing, events], settings=settings, mapping="m")
    assert again.files[0].outcome == "unchanged"


def test_a_second_piece_of_a_recording_follows_the_first(tmp_path: Path) -> None:
    settings, db = with_mapping(tmp_path, CLOCK), tmp_path / "unit.duckdb"
    pieces = [("b.csv", "2031-04-03T00:30:00"), ("a.csv", "2031-04-02T23:30:00"), ("c.csv", "2031-04-02T22:00:00")]
    for name, start in pieces:
        (tmp_path / name).write_text("\n".join([HEADER, *clock_rows(start, 1200, step_s=2)]))
    assert import_paths(db, [tmp_path / "a.csv", tmp_path / "b.csv"], settings=settings, mapping="m").exit_code == 0
    assert ask(db, "select start_s from tracings order by start_s") == [(0.0,), (3600.0,)]
    refused = import_paths(db, [tmp_path / "c.csv"], settings=settings, mapping="m").files[0]
    assert refused.rows_accepted == 0
    assert "import the earlier one first" in refused.remarks[0].reason


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ('kind = "cases"\n[import.mapping.m.columns]\ncase_id = "a"', "missing period"),
        ('kind = "cases"\n[import.mapping.m.columns]\ncase_id = "a"\nname = "b"', "columns.name: no column of cases"),
        ('kind = "case"\n[import.mapping.m.columns]\ncase_id = "a"', "kind"),
        ('kind = "cases"\ndelimiter = "x"\n[import.mapping.m.columns]\ncase_id = "a"', "delimiter"),
        ('kind = "cases"\ncase_id_from_file = "x"\n[import.mapping.m.columns]\nperiod = "a"', "one group"),
        ('kind = "cases"\ncase_id_from_file = "("\n[import.mapping.m.columns]\nperiod = "a"', "regular expression"),
        ('kind = "cases"\ntime_zone = "Moon"\n[import.mapping.m.columns]\nperiod = "a"', "time_zone"),
        (
            'kind = "cases"\n[import.mapping.m.units]\nbirth_weight_g = "stone"\n[import.mapping.m.columns]\na = "a"',
            "g, kg",
        ),
        (
            'kind = "care_events"\n[import.mapping.m.units]\nat_s = "clock"\n[import.mapping.m.columns]\na = "a"',
            "time_zone",
        ),
        (
            'kind = "tracing"\n[import.mapping.m.columns]\nt_s = "a"\n[import.mapping.m.fetus]\nG = {fhr_bpm = "b"}',
            "A to F",
        ),
        ('kind = "cases"\nclock_offset_s = 1e6\n[import.mapping.m.columns]\nperiod = "a"', "clock_offset_s"),
        ('kind = "cases"\ncolour = 1\n[import.mapping.m.columns]\nperiod = "a"', "unknown key"),
    ],
)
def test_a_mapping_that_cannot_be_used_is_named_with_its_key(line: str, says: str, tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=says) as error:
        chosen(with_mapping(tmp_path, f"[import.mapping.m]\n{line}\n"), "m")
    assert "unit_settings.toml: import.mapping.m" in str(error.value)


def test_a_name_that_is_no_mapping_is_a_wrong_use(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"expected one in unit_settings\.toml: e, m"):
        chosen(with_mapping(tmp_path, CLOCK), "other")


def test_columns_that_the_file_lacks_are_counted_and_not_named(tmp_path: Path) -> None:
    with pytest.raises(FileRefused, match="8 of the 9 columns") as refused:
        read("Fallnummer;Tessa Quill\nC1;1\n", tmp_path, CASES)
    assert "Quill" not in str(refused.value)


def test_an_offset_between_two_clocks_is_kept_in_the_settings(tmp_path: Path) -> None:
    db = tmp_path / "unit.duckdb"
    settings = with_mapping(
        tmp_path, CLOCK.replace('kind = "care_events"', 'kind = "care_events"\nclock_offset_s = -300.0')
    )
    (tmp_path / "t.csv").write_text("\n".join([HEADER, *clock_rows("2031-04-02T10:00:00", 3600, step_s=2)]))
    (tmp_path / "e.csv").write_text("Fall;Uhrzeit;Ereignis\nC1;10:35;PDA\n")
    import_paths(db, [tmp_path / "t.csv"], settings=settings, mapping="m")
    report = import_paths(db, [tmp_path / "e.csv"], settings=settings, mapping="e")
    assert ask(db, "select at_s from care_events") == [(1800.0,)]
    assert "-300 s were added" in str(report.files[0].message)


def test_two_clocks_that_differ_are_told(tmp_path: Path) -> None:
    settings, db = with_mapping(tmp_path, CLOCK), tmp_path / "unit.duckdb"
    rows = [
        row.replace("C1;", f"C{n};")
        for n in range(1, 5)
        for row in clock_rows(f"2031-04-0{n}T10:00:00", 4000, step_s=2)
    ]
    (tmp_path / "t.csv").write_text("\n".join([HEADER, *rows]))
    births = [
        f"C{n};0{n}.04.2031 12:0{n % 2 + 5};Geburt" for n in range(1, 5)
    ]  # an hour after the ends, by another clock
    (tmp_path / "e.csv").write_text("\n".join(["Fall;Uhrzeit;Ereignis", *births]))
    import_paths(db, [tmp_path / "t.csv"], settings=settings, mapping="m")
    said = str(import_paths(db, [tmp_path / "e.csv"], settings=settings, mapping="e").files[0].message)
    assert "59 min after the ends of their tracings (4 cases)" in said
    assert "clock_offset_s" in said


def test_a_workbook_a_case_gives_its_own_name(tmp_path: Path) -> None:
    settings, db = with_mapping(tmp_path, WIDE.replace("lines_before_header = 2\n", "")), tmp_path / "unit.duckdb"
    book = openpyxl.Workbook()
    book.active.append(["ms", "UP", "FHF1", "FHF2"])
    for k in range(300):
        book.active.append([k * 250, 10, 140 + k % 3, 150])
    book.save(tmp_path / "C7_ctg.xlsx")
    report = import_paths(db, [tmp_path / "C7_ctg.xlsx"], settings=settings, mapping="m")
    assert [(file.rows_accepted, file.rows_rejected) for file in report.files] == [(600, 0)]
    assert ask(db, "select case_id, fetus from tracings order by fetus") == [
        ("C7", "A"),
        ("C7", "B"),
    ]


@pytest.mark.parametrize(("typed", "stored"), [("NA", True), ("n/a", True), ("#N/A", False), ("--", False)])
def test_what_programs_write_for_no_case_is_told_or_kept_out(typed: str, stored: bool, tmp_path: Path) -> None:
    header = "Fallnummer;Geburtsdatum;SSW;NA-pH;BE;pCO2;Laktat;Gewicht;Verlegung"
    text = f"{header}\n{typed};2031-04-01;39+4;7.2;1;60;36;3;ja\n"
    content, remarks = read(text, tmp_path, CASES)
    assert (len(content.table), remarks.rows_rejected) == ((1, 0) if stored else (0, 1))
    assert any("as a case id, which many programs write where there is none" in m for m in remarks.messages) == stored

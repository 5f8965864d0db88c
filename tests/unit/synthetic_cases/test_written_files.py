"""The written files keep to the input formats (names, ranges, words), and the same seed gives the same bytes."""

import csv
import gzip
import hashlib
import re
from collections import Counter

import numpy as np
import pyarrow.compute as pc
import pyarrow.parquet as pq
import pytest

from audit.settings import load_settings
from audit.vocabulary import EQUITY_FIELDS
from synthetic_cases.write import write_unit

pytestmark = pytest.mark.slow  # a unit of eight months is written

# The input formats as the project documents them, written out here so that a slip in the writer is seen.
TRACING = {"case_id", "t_s", "fhr_bpm", "toco", "fetus", "mhr_bpm"}
CASE = {
    *("case_id", "period", "gestation_weeks", "parity", "plurality", "onset_of_labour", "second_stage_s", "birth_s"),
    *("mode_of_birth", "shift", "fhr_sensor", "toco_sensor", "fetus", "cord_artery_ph"),
    *("cord_artery_base_deficit_mmol_l", "cord_artery_pco2_kpa", "cord_vein_ph", "cord_vein_pco2_kpa"),
    *("cord_lactate_mmol_l", "apgar_1", "apgar_5", "apgar_10", "birth_weight_g", "neonatal_unit_admission"),
    *("encephalopathy_grade", "died", "cooled", "seizures", "transferred"),
}
EVENTS = {
    *("position_change", "iv_fluid_bolus", "oxytocin_started", "oxytocin_increased", "oxytocin_reduced"),
    *("oxytocin_stopped", "tocolytic_given", "amnioinfusion", "oxygen_given", "hypotension_treated"),
    *("scalp_stimulation", "fetal_blood_sample", "senior_called", "senior_at_bedside", "decision_for_birth"),
    *("theatre_arrival", "incision", "instrument_applied", "birth", "epidural", "membranes_ruptured"),
    "pushing_started",
}
READ = {
    *("case_id", "reader", "start_s", "end_s", "standard", "category", "fetus", "baseline_bpm", "variability"),
    *("accelerations", "decelerations", "contractions_per_10_min", "would_act", "outcome_hidden", "occasion"),
}
THREE = {"normal", "suspicious", "pathological"}
CATEGORIES = {"nichd-2008": {"I", "II", "III"}, "figo-2015": THREE, "nice-ng229": THREE}


def _digests(folder):
    return {
        str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


def test_the_same_seed_gives_the_same_bytes_whatever_the_number_of_workers(tmp_path):
    for name, workers in (("one", 1), ("two", 2)):
        write_unit(tmp_path / name, seed=3, months=2, per_month=3, workers=workers)
    write_unit(tmp_path / "other", seed=4, months=2, per_month=3, workers=1)
    one, two, other = (_digests(tmp_path / name) for name in ("one", "two", "other"))
    assert one == two
    assert one["files/tracings_2025-03.parquet"] != other["files/tracings_2025-03.parquet"]


def test_progress_counts_the_months(tmp_path):
    calls = []
    summary = write_unit(tmp_path, months=2, per_month=1, progress=lambda *a: calls.append(a), workers=1)
    assert calls == [(1, 2), (2, 2)]
    assert summary.cases == 2
    assert summary.last_period == "2025-04"


def test_the_truth_is_not_among_the_files_for_the_importer(unit):
    assert {p.suffix for p in unit.summary.files.iterdir()} == {".csv", ".gz", ".parquet"}
    assert [p.name for p in unit.summary.truth.iterdir()] == ["truth.json"]
    assert unit.summary.truth not in unit.summary.files.parents
    assert unit.summary.files not in unit.summary.truth.parents


def test_columns_are_those_of_the_input_formats(unit):
    assert set(unit.cases[0]) == CASE | {
        *("risk_factors", "auscultated_until_s", "monitored_because"),
        *("language_need", "ethnicity_group", "deprivation_fifth", "age_band", "body_mass_band"),
    }
    assert set(unit.care_events[0]) == {"case_id", "at_s", "event", "urgency"}
    assert set(unit.reads[0]) == READ
    for path in unit.summary.files.glob("*.parquet"):
        assert set(pq.read_schema(path).names) == TRACING
    for path in unit.summary.files.glob("tracing_*.csv*"):
        with gzip.open(path, "rt") if path.suffix == ".gz" else path.open() as text:
            assert set(next(csv.reader(text))) == {"case_id", "t_s", "fhr_bpm", "toco"}


def test_every_case_has_one_tracing_and_it_is_4_hz_and_in_range(unit):
    found = Counter()
    for path in unit.summary.files.glob("*.parquet"):
        table = pq.read_table(path)
        found.update(pc.unique(table["case_id"]).to_pylist())
        fhr, toco = table["fhr_bpm"], table["toco"]
        assert 45 <= pc.min(fhr).as_py() < pc.max(fhr).as_py() <= 240
        assert 0 <= pc.min(toco).as_py() < pc.max(toco).as_py() <= 100
        assert set(pc.unique(table["fetus"]).to_pylist()) <= {"A", "B"}
        first = table.filter(pc.equal(table["case_id"], table["case_id"][0]))["t_s"].to_numpy()
        assert first[0] == 0
        np.testing.assert_array_equal(np.diff(first), 0.25)
    found.update(p.name.split(".")[0].removeprefix("tracing_") for p in unit.summary.files.glob("tracing_*.csv*"))
    assert set(found.values()) == {1}
    assert set(found) == {row["case_id"] for row in unit.cases}


def test_tracings_last_two_to_nine_hours(unit):
    hours = [case["fetuses"]["A"]["duration_s"] / 3600 for case in unit.truth["cases"]]
    assert 2 <= min(hours) < max(hours) <= 9
    assert 4 < np.mean(hours) < 6


def test_case_rows_are_plausible_and_no_value_is_out_of_order(unit):
    duration = {c["case_id"]: c["fetuses"]["A"]["duration_s"] for c in unit.truth["cases"]}
    for row in unit.cases:
        assert re.fullmatch(r"2025-(0[3-9]|10)", row["period"])
        birth = float(row["birth_s"])
        assert duration[row["case_id"]] <= birth <= duration[row["case_id"]] + 90 * 60
        if row["second_stage_s"]:
            assert 0 < float(row["second_stage_s"]) < birth
        assert 24 <= int(row["gestation_weeks"]) <= 42
        assert row["shift"] in ("day", "night")
        assert row["fhr_sensor"] in ("ultrasound", "scalp_electrode")
        assert row["toco_sensor"] in ("external", "intrauterine")
        assert row["mode_of_birth"] in ("spontaneous_vaginal", "instrumental_vaginal", "caesarean")
        if row["cord_artery_ph"]:
            assert 6.8 < float(row["cord_artery_ph"]) < 7.5
            assert 4 < float(row["cord_artery_pco2_kpa"]) < 12
        if row["apgar_5"]:
            assert 0 <= int(row["apgar_5"]) <= 10
            assert 900 <= int(row["birth_weight_g"]) <= 5200


def test_care_events_use_the_documented_words_and_end_with_the_birth(unit):
    assert {row["event"] for row in unit.care_events} <= EVENTS
    by_case = {}
    for row in unit.care_events:
        by_case.setdefault(row["case_id"], []).append((float(row["at_s"]), row["event"]))
    births = {row["case_id"]: float(row["birth_s"]) for row in unit.cases}
    for case_id, events in by_case.items():
        assert events == sorted(events, key=lambda e: e[0])
        assert events[-1][1] == "birth"
        assert min(abs(at - births[case_id]) for at, event in events if event == "birth") < 1
        at = {event: when for when, event in events}
        if "incision" in at:
            assert at["decision_for_birth"] < at["theatre_arrival"] < at["incision"] < at["birth"]


def test_reads_use_the_documented_words_and_half_hour_windows_inside_the_tracing(unit):
    duration = {c["case_id"]: c["fetuses"]["A"]["duration_s"] for c in unit.truth["cases"]}
    for row in unit.reads:
        assert row["category"] in CATEGORIES[row["standard"]] | {"not assessable"}
        start, end = float(row["start_s"]), float(row["end_s"])
        assert end - start == 1800
        assert 0 <= start < end <= duration[row["case_id"]]
        assert row["outcome_hidden"] == "true"
    keys = [(r["case_id"], r["reader"], r["start_s"], r["standard"], r["occasion"]) for r in unit.reads]
    assert len(set(keys)) == len(keys)


def test_nothing_that_could_name_a_person_or_a_place_is_written(unit):
    allowed = re.compile(r"[KR]?\d[\d.:-]*|-?[\d.]+|R\d|[a-z]+(_[a-z]+)*|[IVAB]+|[a-z]+-(ng)?\d+|not assessable|")
    for table in (unit.cases, unit.care_events, unit.reads):
        values = {value for row in table for cell in row.values() for value in cell.split(", ")}
        values -= {band for name in EQUITY_FIELDS for band in load_settings().equity.bands.of(name)}
        assert [v for v in values if not allowed.fullmatch(v)] == []
        free = {v for v in values if re.fullmatch(r"[a-z]+(_[a-z]+)*", v)}
        assert len(free) < 40


@pytest.mark.parametrize("name", ["cases", "care_events", "reads"])
def test_files_are_utf8_with_one_header_and_plain_line_ends(unit, name):
    data = (unit.summary.files / f"{name}.csv").read_bytes()
    assert b"\r" not in data
    assert data.decode("utf-8").isascii()
    assert data.endswith(b"\n")

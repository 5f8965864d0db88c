"""The 359 recordings of the open intrapartum database through the import.

Source of the expected values: V. Chudacek et al., "Open access intrapartum CTG database", BMC Pregnancy and
Childbirth 2014, 14:16: header fields and signals of the records themselves, read here by independent code, the
checksums that the archive wrote into each header, and L. Hruban et al., J Eval Clin Pract 2015 (expert readings).
"""

import csv
import re
from pathlib import Path

import numpy as np
import pytest

from audit.intake.door.report import ImportReport
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database
from audit.store.tracings import load_many
from tests.asking import ask

RECORDS = 359


@pytest.fixture(scope="module")
def imported(ctu_uhb: Path, tmp_path_factory) -> tuple[Path, ImportReport]:
    db = tmp_path_factory.mktemp("open") / "unit.duckdb"
    return db, import_paths(db, [ctu_uhb], settings=load_settings())


def header_facts(file: Path) -> dict[str, str]:
    """Comment fields of a header, by a reading of its own: name and last word of each comment line."""
    facts = {}
    for text in file.read_text().splitlines():
        match = re.match(r"#(.+?)\s+(\S+)\s*$", text)
        if match and not text.startswith("#-"):
            facts[match[1].strip()] = match[2]
    return facts


def number(text: str) -> float | None:
    value = float(text)
    return None if np.isnan(value) else value


def test_every_recording_is_stored_and_only_impossible_values_are_kept_out(imported):
    db, report = imported
    assert report.count("stored") == RECORDS + 1
    assert report.count("refused") == 0
    assert [file.path.name for file in report.files if file.path and file.outcome == "left_alone"] == ["README.md"]
    # one record gives a pCO2 of 0.7 kPa, below any limit; it is the only value kept out
    rejected = ask(db, "select source, column_name, value from import_rejects where reason like '%without it%'")
    assert [(source.endswith(".hea"), column) for source, column, _ in rejected] == [(True, "pCO2")]
    # the file by its tag and the value by its shape: neither is stored as it was typed
    assert "2030" not in rejected[0][0]
    assert "0.7" not in rejected[0][2]
    assert ask(db, "select cord_artery_pco2_kpa from outcomes where case_id = '2030'") == [(None,)]
    # no file and no row was rejected, so what follows in a chain of commands goes on
    assert ask(db, "select count(*) from import_rejects where severity = 'rejected'") == [(0,)]
    assert report.exit_code == 0


def test_every_sample_is_the_archives_own(imported, ctu_uhb):
    """Against numpy's own reading of the signal files, and the header's checksums."""
    db, _ = imported
    with database.open_for_reading(db) as con:
        stored = load_many(con, [(file.stem, "A") for file in ctu_uhb.glob("*.hea")])
    assert len(stored) == RECORDS
    for (record, _), tracing in stored.items():
        digital = np.fromfile(ctu_uhb / f"{record}.dat", dtype="<i2").reshape(-1, 2)
        signal_lines = (ctu_uhb / f"{record}.hea").read_text().splitlines()[1:3]
        for k, line in enumerate(signal_lines):
            assert (int(digital[:, k].sum(dtype=np.int64)) - int(line.split()[6])) % 65536 == 0
        fhr = np.where(digital[:, 0] == 0, np.nan, digital[:, 0] / 100)
        np.testing.assert_allclose(tracing.fhr_bpm, fhr, rtol=0, atol=1e-9, err_msg=record)
        np.testing.assert_allclose(tracing.toco, digital[:, 1] / 100, rtol=0, atol=1e-9, err_msg=record)
        assert tracing.start_s == 0.0


def test_every_outcome_and_fact_is_the_headers(imported, ctu_uhb):
    db, _ = imported
    rows = ask(
        db,
        "select case_id, cord_artery_ph, cord_artery_base_deficit_mmol_l, apgar_1, apgar_5, birth_weight_g,"
        " gestation_weeks, parity, second_stage_s, birth_s, mode_of_birth, fhr_sensor, onset_of_labour, period"
        " from cases join outcomes using (case_id) where fetus = 'A'",
    )
    assert len(rows) == RECORDS
    sensors = {"1": "ultrasound", "2": "scalp_electrode", "12": "both", "-1": None}
    for record, ph, deficit, one, five, weight, weeks, parity, stage, birth, mode, sensor, onset, period in rows:
        file = ctu_uhb / f"{record}.hea"
        facts = header_facts(file)
        samples = int(file.read_text().split()[3])
        assert (ph, deficit) == (number(facts["pH"]), number(facts["BDecf"])), record
        assert (one, five) == (number(facts["Apgar1"]), number(facts["Apgar5"])), record
        assert (weight, weeks, parity) == tuple(number(facts[n]) for n in ("Weight(g)", "Gest. weeks", "Parity")), (
            record
        )
        at = int(facts["Pos. II.st."])
        assert stage == (None if at == -1 else at / 4), record
        assert birth == samples / 4 + 60 * float(facts["Sig2Birth"]), record
        assert mode == {"1": "vaginal", "2": "caesarean"}[facts["Deliv. type"]], record
        assert sensor == sensors[facts["Rec. type"]], record
        assert onset == {"0": "spontaneous", "1": "induced"}[facts["Induced"]], record
        assert period is None


def test_two_records_whose_values_are_printed_in_the_literature(imported):
    """Record 1104: pH 6.92, base deficit 23.75; record 1189: pH 7.36, base deficit 0.43."""
    db, _ = imported
    rows = ask(
        db,
        "select case_id, cord_artery_ph, cord_artery_base_deficit_mmol_l from outcomes"
        " where case_id in ('1104', '1189') order by 1",
    )
    assert rows == [("1104", 6.92, 23.75), ("1189", 7.36, 0.43)]


def test_every_expert_reading_becomes_a_read_of_its_window(imported, ctu_uhb):
    db, _ = imported
    words = {"1": "normal", "2": "suspicious", "3": "pathological"}
    expected = []
    looks: dict[tuple[str, str], int] = {}
    for row in csv.DictReader((ctu_uhb / "expert_evaluations.csv").read_text().splitlines()):
        record, expert = row["rec_id"], row["expert_id"]
        looks[record, expert] = looks.get((record, expert), 0) + 1
        file = ctu_uhb / f"{record}.hea"
        at, end_s = int(header_facts(file)["Pos. II.st."]), int(file.read_text().split()[3]) / 4
        stage_s = end_s if at == -1 else at / 4
        windows = ((stage_s - 3600, stage_s - 1800), (stage_s - 1800, stage_s), (stage_s, end_s))
        for step, (start, end) in zip(("eval_step1", "eval_step2", "eval_step3"), windows, strict=True):
            if row[step] in words:
                expected.append((record, f"expert-{expert}", start, end, words[row[step]], looks[record, expert]))
    found = ask(
        db, "select case_id, reader, start_s, end_s, category, occasion from reads where standard = 'figo-1986'"
    )
    assert sorted(found) == sorted(expected)
    assert len(found) == ask(db, "select count(*) from reads")[0][0]


def test_importing_it_again_changes_nothing(imported, ctu_uhb):
    db, first = imported
    before = ask(db, "select count(*), max(import_id) from imports")
    again = import_paths(db, [ctu_uhb], settings=load_settings())
    assert again.count("unchanged") == RECORDS + 1
    assert again.rows_accepted == first.rows_accepted
    assert ask(db, "select count(*), max(import_id) from imports") == before

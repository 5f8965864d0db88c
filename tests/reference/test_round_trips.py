"""Recordings of the open database written to another format by an independent library, and imported again.

The samples must be those of the database within the resolution of the format, and the findings identical: the formats
here hold hundredths, which is what is stored. Sources: the open intrapartum database (Chudacek et al., BMC Pregnancy
and Childbirth 2014); packages `edfio`, `wfdb`, `pyarrow`, `pandas`; JSON of the FHIR R4 datatype SampledData.
"""

import json
import os
import shutil
import zipfile

import edfio
import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import wfdb

from audit.analysis.job import analyse
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database

# every eighteenth or so; all twenty with EVERY_ROUND_TRIP=1, which takes some minutes
EVERY = (
    "1150", "1002", "1033", "1064", "2012", "1093", "1121", "1156", "1183", "1216",
    "1244", "1275", "1305", "1348", "1380", "1412", "1441", "1466", "1493", "2015",
)  # fmt: skip
RECORDS = EVERY if os.environ.get("EVERY_ROUND_TRIP") else EVERY[::7]
FOUND = ("decelerations", "accelerations", "contractions", "epochs", "minute_categories", "concern_episodes")
SETTINGS = load_settings()
STEPS = (0, 30000)


def read(folder, record):
    """Heart rate and toco in whole hundredths, 0 where the database has none, as its own package reads them."""
    found = wfdb.rdrecord(str(folder / record))
    names = [name.upper() for name in found.sig_name]
    fhr, uc = (np.nan_to_num(found.p_signal[:, names.index(name)]) for name in ("FHR", "UC"))
    return np.round(fhr, 2), np.round(uc, 2)


def as_edf(folder, record, fhr, uc):
    # a digital step of exactly 0.01: 30,000 steps from 0 to 300
    signals = [
        edfio.EdfSignal(
            values, 4, label=label, physical_dimension=unit, physical_range=(0, 300), digital_range=(0, 30000)
        )
        for values, label, unit in ((fhr, "FHR", "bpm"), (uc, "UC", ""))
    ]
    edfio.Edf(signals, data_record_duration=0.25).write(folder / f"{record}.edf")


def as_wfdb(code):
    def write(folder, record, fhr, uc):
        wfdb.wrsamp(record, fs=4, units=["bpm", "nd"], sig_name=["FHR", "UC"],
                    d_signal=np.stack([np.round(fhr * 100), np.round(uc * 100)], axis=1).astype(int),
                    fmt=[code] * 2, adc_gain=[100.0, 100.0], baseline=[0, 0], write_dir=str(folder))  # fmt: skip

    return write


def as_fhir(folder, record, fhr, uc):
    def observation(code, system, values, unit):
        data = {"origin": {"value": 0, "code": unit}, "period": 250, "factor": 0.01, "dimensions": 1,
                "data": " ".join(str(round(100 * value)) for value in values)}  # fmt: skip
        return {"resourceType": "Observation", "status": "final", "effectiveDateTime": "2031-03-01T00:00:00Z",
                "encounter": {"reference": f"Encounter/{record}"}, "valueSampledData": data,
                "code": {"coding": [{"system": system, "code": code}]}}  # fmt: skip

    both = (observation("55283-6", "http://loinc.org", fhr, "/min"), observation("UA", "urn:unit", uc, ""))
    (folder / f"{record}.ndjson").write_text("\n".join(map(json.dumps, both)), encoding="utf-8")


def as_parquet(folder, record, fhr, uc):
    table = {"case_id": [record] * len(fhr), "t_s": np.arange(len(fhr)) / 4, "fhr_bpm": fhr, "toco": uc}
    pq.write_table(pa.table(table), folder / f"{record}.parquet")


def as_csv(folder, record, fhr, uc):
    table = {"case_id": [record] * len(fhr), "t_s": np.arange(len(fhr)) / 4, "fhr_bpm": fhr, "toco": uc}
    pd.DataFrame(table).to_csv(folder / f"{record}.csv", sep=";", decimal=",", index=False)


def as_zip(folder, record, fhr, uc):
    inner = folder / "inner"
    inner.mkdir()
    as_wfdb("16")(inner, record, fhr, uc)
    with zipfile.ZipFile(folder / f"{record}.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        for file in sorted(inner.iterdir()):
            archive.write(file, f"ward/{file.name}")
    shutil.rmtree(inner)


WAYS = {
    "edf": as_edf,
    "wfdb 16": as_wfdb("16"),
    "wfdb 24": as_wfdb("24"),
    "wfdb 516": as_wfdb("516"),
    "fhir": as_fhir,
    "parquet": as_parquet,
    "csv": as_csv,
    "zip": as_zip,
}


def findings(db):
    with database.open_for_reading(db) as con:
        found = {}
        for table in FOUND:
            frame = con.table(table).df().drop(columns=["run_id"])
            found[table] = sorted(map(repr, frame.itertuples(index=False, name=None)))
        minutes = con.execute("select case_id, fetus, start_s, fhr_cbpm, toco_hundredths from tracing_minutes"
                              " order by all").fetchall()  # fmt: skip
    return found, minutes


def imported(folder, files, way):
    import msgspec

    options = msgspec.structs.replace(SETTINGS.import_, fhir_codes={"urn:unit|UA": "toco"})
    db = folder / "unit.duckdb"
    report = import_paths(db, files, settings=msgspec.structs.replace(SETTINGS, import_=options))
    assert all(file.outcome in ("stored", "left_alone") for file in report.files), (way, report.lines())
    analyse(db, settings=SETTINGS, workers=1)
    return findings(db)


@pytest.fixture(scope="module")
def truth(ctu_uhb, tmp_path_factory):
    """The recordings' own samples as a plain tracing file."""
    folder = tmp_path_factory.mktemp("plain")
    rows = ["case_id,t_s,fhr_bpm,toco"]
    for record in RECORDS:
        fhr, uc = read(ctu_uhb, record)
        rows += [f"{record},{k / 4:g},{a:g},{b:g}" for k, (a, b) in enumerate(zip(fhr, uc, strict=True))]
    file = folder / "all.csv"
    file.write_text("\n".join(rows), encoding="utf-8")
    return imported(folder, [file], "csv")


@pytest.mark.parametrize("way", WAYS)
def test_a_recording_that_went_through_another_format_reads_the_same(ctu_uhb, tmp_path, truth, way):
    folder = tmp_path / "in"
    folder.mkdir()
    for record in RECORDS:
        WAYS[way](folder, record, *read(ctu_uhb, record))
    found, minutes = imported(tmp_path, [folder], way)
    assert minutes == truth[1]
    assert sum(map(len, found.values())) > 100
    assert found == truth[0]
    shutil.rmtree(folder)

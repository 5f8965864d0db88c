"""Good files with random damage: whatever happens to the bytes, the import answers and the store stays consistent."""

import gzip
import io
import random
import shutil
from pathlib import Path

import pandas as pd
import pytest

from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database

ROWS = 60
# ruff: noqa: E501 (texts of whole files)
TRACING = "case_id,t_s,fhr_bpm,toco\n" + "".join(f"C1,{k / 4},{140 + k % 7},{k % 40}\n" for k in range(ROWS))
CASES = "case_id,period,parity,birth_s,cord_artery_ph,fetus\n" + "".join(
    f"C{k},2025-03,1,900,7.2{k},A\n" for k in range(9)
)
READS = "case_id,reader,start_s,end_s,standard,category\n" + "".join(
    f"C1,R{k},0,900,figo-2015,normal\n" for k in range(9)
)
HEADER = "R1 1 4 8\nR1.dat 16 100(0)/bpm 12 0 1 36 0 FHR\n#pH           7.2\n#Pos. II.st.  4\n#Sig2Birth    0\n"
SIGNAL = b"".join(k.to_bytes(2, "little") for k in range(1, 9))
TROUBLE = [
    "\x00",
    '"',
    ",",
    "\n",
    "\r",
    ";",
    "-",
    "1e999",
    "nan",
    "\ufeff",
    "é",
    "=",
    " ",
    "9" * 30,
    "inf",
    "\t",
    "٣",
    "'",
    "{",
]
SEEDS = range(60)


def parquet_of(text: str) -> bytes:
    sink = io.BytesIO()
    pd.read_csv(io.StringIO(text)).to_parquet(sink)
    return sink.getvalue()


GOOD: dict[str, bytes] = {
    "tracing.csv": TRACING.encode(),
    "cases.csv": CASES.encode(),
    "reads.csv": READS.encode(),
    "tracing.csv.gz": gzip.compress(TRACING.encode()),
    "tracing.parquet": parquet_of(TRACING),
    "cases.parquet": parquet_of(CASES),
    "R1.hea": HEADER.encode(),
}


def damaged(data: bytes, rng: random.Random) -> bytes:
    """One to four random changes: a byte, a cut, a doubled piece, a piece of trouble."""
    out = bytearray(data)
    for _ in range(rng.randint(1, 4)):
        at = rng.randrange(len(out) + 1)
        match rng.randrange(5):
            case 0 if at < len(out):
                out[at] = rng.randrange(256)
            case 1:
                del out[at : at + rng.randint(1, 12)]
            case 2:
                out[at:at] = out[at : at + rng.randint(1, 40)]
            case 3:
                out[at:at] = rng.choice(TROUBLE).encode()
            case _:
                del out[at if rng.random() < 0.2 else len(out) :]
    return bytes(out)


@pytest.fixture(scope="module")
def empty(tmp_path_factory) -> Path:
    file = tmp_path_factory.mktemp("empty") / "unit.duckdb"
    with database.open_for_writing(file):
        pass
    return file


@pytest.mark.parametrize("name", GOOD)
def test_random_damage_never_ends_in_an_error_of_the_program(name: str, empty: Path, tmp_path: Path):
    """All damaged copies in one folder: each gets its line, and samples, minutes and rejects fit their imports."""
    folder = tmp_path / "in"
    for seed in SEEDS:
        here = folder / f"{seed:03d}"
        here.mkdir(parents=True)
        (here / name).write_bytes(damaged(GOOD[name], random.Random(f"{name} {seed}")))
        if name == "R1.hea":
            (here / "R1.dat").write_bytes(SIGNAL)
    db = Path(shutil.copyfile(empty, tmp_path / "unit.duckdb"))
    report = import_paths(db, [folder], settings=load_settings())
    assert len(report.files) >= len(SEEDS)
    assert "Traceback" not in "\n".join(report.lines())
    refused = [file for file in report.files if file.outcome == "refused"]
    assert refused
    assert not [file.message for file in refused if "could not be read (" in (file.message or "")]
    with database.open_for_reading(db) as con:
        bad = con.execute(
            "select t.case_id, t.samples, sum(len(m.fhr_cbpm)) from tracings as t"
            " join tracing_minutes as m using (case_id, fetus, start_s) group by all having t.samples <> sum(len(m.fhr_cbpm))"
        ).fetchall()
        listed = con.execute("select count(*) from import_rejects where severity = 'rejected'").fetchall()[0][0]
        orphans = con.execute(
            "select count(*) from import_rejects where import_id not in (from imports select import_id)"
        )
        assert orphans.fetchall() == [(0,)]
    assert bad == []
    assert listed > 0

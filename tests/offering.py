"""A few files of one small unit, offered to an import in every way, and what it leaves in the store."""

from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from audit.intake.door.report import ImportReport
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database

SETTINGS = load_settings()
HEADER = "case_id,t_s,fhr_bpm,toco\n"
TABLES = ("cases", "outcomes", "care_events", "assessments", "unit_months", "reads", "tracings", "tracing_minutes")


def take(db: Path, *paths: Path, **options: bool) -> ImportReport:
    return import_paths(db, list(paths), settings=SETTINGS, **options)


def content(db: Path) -> dict[str, list[tuple]]:
    """Everything imported, without the numbers of the imports."""
    with database.open_for_reading(db) as con:
        return {
            table: sorted(
                con.execute(
                    f"select * exclude (import_id) from {table}"
                    if table in ("care_events", "reads", "tracings")
                    else f"select * from {table}"
                ).fetchall(),
                key=repr,
            )
            for table in TABLES
        }


def samples(case_id: str = "C1", *, rate_hz: float = 4.0, seconds: float = 200.0, seed: int = 1) -> pa.Table:
    rng = np.random.default_rng(seed)
    count = int(seconds * rate_hz)
    fhr = np.round(rng.uniform(110, 160, count) * 4) / 4
    return pa.table(
        {
            "case_id": [case_id] * count,
            "t_s": np.round(np.arange(count) / rate_hz, 4),
            "fhr_bpm": pa.array(fhr, mask=rng.random(count) < 0.1),
            "toco": np.round(rng.uniform(0, 90, count)),
        }
    )


def csv_of(table: pa.Table, path: Path) -> Path:
    table.to_pandas().to_csv(path, index=False)
    return path


def parquet_of(table: pa.Table, path: Path) -> Path:
    pq.write_table(table, path)
    return path


CASES = "case_id,period,birth_s,cord_artery_ph\nC1,2025-03,190,7.21\nC2,2025-04,,\n"
EVENTS = "case_id,at_s,event\nC1,100,senior_called\nC1,190,birth\n"
READS = "case_id,reader,start_s,end_s,standard,category\nC1,R1,0,180,figo-2015,normal\nC1,R2,0,180,nichd-2008,II\n"


def folder_of_all(folder: Path) -> Path:
    folder.mkdir()
    (folder / "a_reads.csv").write_text(READS)
    (folder / "b_events.csv").write_text(EVENTS)
    (folder / "c_cases.csv").write_text(CASES)
    csv_of(samples(), folder / "d_tracing.csv")
    (folder / "README.md").write_text("Exported in the night.\n")
    (folder / ".hidden").write_text("x")
    return folder

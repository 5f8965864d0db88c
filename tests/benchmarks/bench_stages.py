"""What a changed setting costs: everything read, a response target changed, a limit of one standard; and one month.

Run by hand: python -m tests.benchmarks.bench_stages DATABASE [CASES]. The database is copied; its settings are the
packaged ones. Processor time of one process, reading and writing the database included, and the size on disk.
"""

import shutil
import sys
import tempfile
import time
from pathlib import Path

from audit.analysis.job import JobSummary, analyse
from audit.settings import Settings, load_settings
from audit.store import database

CHANGES = {
    "everything read": "",
    "a response target changed": '[response.triggers."nichd-2008/category_ii_persistent"]\ntarget_minutes = 20.0\n',
    "a limit of one standard changed": '[figo-2015]\ntachysystole = "> 6"\n',
}


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        db = Path(shutil.copy(sys.argv[1], Path(folder) / "unit.duckdb"))
        with database.open_for_writing(db) as con:
            case_ids = [row[0] for row in con.execute("select distinct case_id from tracings order by 1").fetchall()]
            case_ids = case_ids[: int(sys.argv[2]) if len(sys.argv) > 2 else None]
            months = dict(con.execute("select case_id, period from cases").fetchall())
        month = [case_id for case_id in case_ids if months.get(case_id) == months.get(case_ids[0])]
        hours = 0.0
        for name, change in CHANGES.items():
            settings = _settings(Path(folder), change)
            done = _timed(name, db, settings, case_ids=case_ids, force=not change)
            hours = hours or done.hours
        _timed("one month read again", db, settings, case_ids=month, force=True)
        _timed("nothing due", db, settings, case_ids=case_ids, force=False)
        with database.open_for_reading(db) as con:
            kept = con.execute("select sum(octet_length(content)) from stages").fetchall()[0][0]
        print(f"kept of the stages: {kept / hours / 1000:.1f} kB an hour; file {db.stat().st_size / 1e6:.0f} MB")


def _timed(name: str, db: Path, settings: Settings, *, case_ids: list[str], force: bool) -> JobSummary:
    begun, cpu = time.perf_counter(), time.process_time()
    done = analyse(db, settings=settings, workers=1, case_ids=case_ids, force=force)
    wall_s, cpu_s = time.perf_counter() - begun, time.process_time() - cpu
    print(f"{name:<34}{done.read:>6} tracings: {cpu_s:7.2f} s of processor time, {wall_s:7.2f} s")
    if done.hours:
        print(f"{'':<34}{done.hours:.0f} h, {1000 * cpu_s / done.hours:.2f} ms an hour of tracing")
    return done


def _settings(folder: Path, change: str) -> Settings:
    file = folder / "unit_settings.toml"
    file.write_text(change, encoding="utf-8")
    return load_settings(file)


if __name__ == "__main__":
    main()

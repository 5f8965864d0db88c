"""An import in which a second process reads stores, says and refuses what one process does, also when it is killed."""

import os
import shutil
import signal
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from audit import processes
from audit.intake import read_ahead
from audit.intake.formats import mapped_blocks, streamed
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database, pseudonyms

pytestmark = pytest.mark.slow

HEAD = "case_id,t_s,fhr_bpm,toco"


def rows_of(case: str, count: int = 300, seed: int = 1) -> list[str]:
    rng = np.random.default_rng(seed)
    return [f"{case},{k / 4},{v},{k % 30}" for k, v in enumerate(rng.integers(110, 160, count).tolist())]


OF_THE_HELPER = read_ahead._told_by_the_helper


def in_small_blocks(*given):
    """What the helper does, with small files taken for large ones as in this process."""
    streamed.LARGE_BYTES, streamed._BLOCK_BYTES, mapped_blocks._BLOCK_BYTES = 10_000, 4000, 3000
    yield from OF_THE_HELPER(*given)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Files of every fate: whole, with rejects, refused at once and far down, twice the same, in blocks, mapped."""
    folder = tmp_path / "in"
    folder.mkdir()
    many = [row for k in range(20, 26) for row in rows_of(f"C{k}", seed=k)]
    texts = {
        "a.csv": [HEAD, *rows_of("C1"), "C1,soon,140,1"],
        "b.csv": [HEAD, *rows_of("Quill Tessa", seed=2)],  # no code of the unit's pattern
        "c.csv": [HEAD, *rows_of("C1"), "C1,soon,140,1"],  # the first one again
        "d.csv": [HEAD, 'C4,0,"140,1'],
        "e.csv": [HEAD, *many, "C24,9999,141,x", "C20,999,141,1"],  # large: a case comes back at the end
        "f.csv": [HEAD, *many[:-1], "C25,74.75,x,1", *rows_of("C26", seed=26), *rows_of("Vane", seed=27)],
        "g.csv": [HEAD, *rows_of("C1", seed=9)],  # contradicts what the first one brought
        "h.csv": ["Fall;Zeit;FHF;Toko", *(r.replace(",", ";") for k in (6, 7, 8) for r in rows_of(f"C{k}", seed=k))],
        "cases.csv": ["case_id,period", "C1,2031-04", "C2,2031-13"],
        "events.csv": ["case_id,at_s,event", "C1,20,epidural", "C26,30,senior_called"],
    }
    for name, lines in texts.items():
        (folder / name).write_text("\n".join([*lines, ""]))
    columns = {"t_s": np.arange(900) % 300 / 4, "fhr_bpm": 130 + np.arange(900.0) % 11, "toco": np.zeros(900)}
    table = pa.table({"case_id": [f"C{40 + k // 300}" for k in range(900)], **columns})
    pq.write_table(table, folder / "i.parquet", row_group_size=200)
    return folder


@pytest.fixture
def settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(read_ahead, "_told_by_the_helper", in_small_blocks)
    monkeypatch.setattr(streamed, "LARGE_BYTES", 10_000)
    monkeypatch.setattr(streamed, "_BLOCK_BYTES", 4000)
    monkeypatch.setattr(mapped_blocks, "_BLOCK_BYTES", 3000)
    (tmp_path / "unit_settings.toml").write_text(
        '[import.mapping.m]\nkind = "tracing"\n'
        'columns = {case_id = "Fall", t_s = "Zeit", fhr_bpm = "FHF", toco = "Toko"}\n',
        encoding="utf-8",
    )
    return load_settings(tmp_path / "unit_settings.toml")


def everything(db: Path) -> dict[str, list[tuple]]:
    """All tables; but for the clock of the computer, and what is drawn at random for each database."""
    without = {"imports": ["imported_at"], "import_batches": ["started_at"], "content_history": ["replaced_at"]}
    drawn = {"database_state", "database_marks", "database_seal", "schema_version"}
    with database.open_for_reading(db) as con:
        tables = [
            name for (name,) in con.execute("select table_name from duckdb_tables() where not internal").fetchall()
        ]
        found = {}
        for table in sorted(set(tables) - drawn):
            left_out = without.get(table)
            what = f"* exclude ({', '.join(left_out)})" if left_out else "*"
            found[table] = con.execute(f"select {what} from {table} order by all").fetchall()
    return found


def take(db: Path, empty: Path, folder: Path, settings, *, helper: bool):
    db.parent.mkdir(exist_ok=True)
    shutil.copyfile(empty, db)
    pseudonyms.key_file(db).write_text(bytes(range(32)).hex(), encoding="ascii")
    report = import_paths(db, [folder], settings=settings, mapping="m", helper=helper)
    return report.files, everything(db)


@pytest.fixture
def by_one(tmp_path, empty, folder, settings):
    return take(tmp_path / "one" / "unit.duckdb", empty, folder, settings, helper=False)


def test_two_processes_store_say_and_refuse_what_one_does(tmp_path, empty, folder, settings, by_one):
    by_two = take(tmp_path / "two" / "unit.duckdb", empty, folder, settings, helper=True)
    assert by_two == by_one
    said = {each.path.name: each.outcome for each in by_two[0]}
    assert said["d.csv"] == said["e.csv"] == said["g.csv"] == "refused"
    assert said["f.csv"] == said["h.csv"] == said["i.parquet"] == "stored"
    assert len(by_two[1]["tracings"]) > 10


@pytest.mark.parametrize("after", [0, 1, 7])
def test_a_helper_that_is_killed_changes_nothing(after, tmp_path, empty, folder, settings, by_one, monkeypatch):
    parts, seen = processes.Helper.parts, []

    def killed(self):
        for part in parts(self):
            if len(seen) == after:
                os.kill(self._process.pid, signal.SIGKILL)
                self._process.join()
            seen.append(part)
            yield part

    monkeypatch.setattr(processes.Helper, "parts", killed)
    assert take(tmp_path / "two" / "unit.duckdb", empty, folder, settings, helper=True) == by_one
    assert len(seen) > after


def test_no_process_is_left_behind_and_none_is_started_for_little(tmp_path, empty, folder, settings, monkeypatch):
    started = []
    start = read_ahead._started
    monkeypatch.setattr(read_ahead, "_started", lambda *given: started.append(start(*given)) or started[-1])
    take(tmp_path / "two" / "unit.duckdb", empty, folder, settings, helper=True)
    (helper,) = started
    assert helper._process.exitcode == -signal.SIGKILL
    shutil.copyfile(empty, tmp_path / "small.duckdb")
    import_paths(tmp_path / "small.duckdb", [folder / "a.csv"], settings=settings)
    assert len(started) == 1

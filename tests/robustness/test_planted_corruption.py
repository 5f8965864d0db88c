"""Corruption planted behind the program's back: `check` finds it, and it is not published over good copies.

Common practice, no source: content is held against hashes that were taken when it was written.
"""

import shutil
from pathlib import Path

import duckdb
import numpy as np
import pytest

from audit.analysis import job
from audit.errors import AuditError
from audit.intake.importer import import_paths
from audit.pack.build import write_pack
from audit.questions.check import check
from audit.settings import load_settings
from audit.store import database, published
from audit.store.backup import back_up

SETTINGS = load_settings()
MINUTES = 60


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Path:
    """Three labours with falls, outcomes and care events, analysed and published."""
    folder = tmp_path_factory.mktemp("corrupt")
    files = folder / "files"
    files.mkdir()
    t = np.arange(MINUTES * 240) / 4.0
    for k in (1, 2, 3):
        rng = np.random.default_rng(k)
        fhr = 140 + 6 * np.sin(t / 3) + rng.normal(0, 1, t.size) - 35 * np.exp(-((((t % 240) - 150) / 20) ** 2))
        toco = 10 + 50 * np.exp(-((((t % 240) - 110) / 22) ** 2))
        rows = (f"K{k},{a},{b:.2f},{c:.1f}" for a, b, c in zip(t, fhr, toco, strict=True))
        (files / f"K{k}.csv").write_text("case_id,t_s,fhr_bpm,toco\n" + "\n".join(rows) + "\n")
    (files / "cases.csv").write_text(
        "case_id,period,gestation_weeks,birth_s,mode_of_birth,cord_artery_ph,apgar_5\n"
        "K1,2031-03,40,3600,caesarean,7.05,6\nK2,2031-03,39,3600,spontaneous,7.25,9\nK3,2031-04,41,3600,,7.3,10\n"
    )
    (files / "events.csv").write_text(
        "case_id,at_s,event\nK1,2400,position_change\nK1,3000,decision_for_birth\nK2,2000,senior_called\n"
    )
    (files / "reads.csv").write_text(
        "case_id,reader,start_s,end_s,standard,category,outcome_hidden\n"
        "K1,R1,0,1800,figo-2015,pathological,true\nK1,R2,0,1800,figo-2015,suspicious,true\n"
    )
    db = folder / "unit.duckdb"
    report = import_paths(db, [files], settings=SETTINGS)
    assert report.exit_code == 0, report.lines()
    job.analyse(db, settings=SETTINGS, workers=1)
    published.required(db)
    return db


@pytest.fixture
def db(made, tmp_path) -> Path:
    shutil.copytree(published.folder_of(made), published.folder_of(tmp_path / made.name))
    return Path(shutil.copy(made, tmp_path))


def found(db: Path) -> list[str]:
    try:
        return check(db, SETTINGS).problems
    except AuditError as error:  # a file that does not even open
        return [str(error)]


def test_an_untouched_database_is_clean(db):
    assert check(db, SETTINGS).exit_code == 0, check(db, SETTINGS).lines()


SAMPLES = "update tracing_minutes set {} where case_id = 'K1' and minute = 7"
PLANTED = [
    # samples changed, swapped, doubled, deleted
    SAMPLES.format("fhr_cbpm = list_transform(fhr_cbpm, lambda x: (x + 100)::smallint)"),
    SAMPLES.format("fhr_cbpm = list_concat([12000::smallint], fhr_cbpm[2:])"),
    SAMPLES.format("fhr_cbpm = list_reverse(fhr_cbpm)"),
    SAMPLES.format("fhr_cbpm = toco_hundredths, toco_hundredths = fhr_cbpm"),
    SAMPLES.format("fhr_cbpm = list_concat(fhr_cbpm, fhr_cbpm)"),
    SAMPLES.format("fhr_cbpm = fhr_cbpm[1:200]"),
    SAMPLES.format("toco_hundredths = list_transform(toco_hundredths, lambda x: null::smallint)"),
    "update tracing_minutes set minute = 9 - minute where case_id = 'K1' and minute in (4, 5)",
    "update tracing_minutes set case_id = 'K' || (3 - case_id[2:]::integer)"
    " where minute = 5 and case_id in ('K1', 'K2')",
    "delete from tracing_minutes where case_id = 'K1' and minute = 7",
    "insert into tracing_minutes select * replace (60 as minute) from tracing_minutes"
    " where case_id = 'K1' and minute = 7",
    "update tracing_minutes set minute = minute + 1000 where case_id = 'K1'",
    "update tracings set content_sha256 = sha256('x') where case_id = 'K1'",
    "update tracings set source_rate_hz = 2 where case_id = 'K1'",
    # what the clock found
    "update responses set status = 'in_time'",
    "update responses set minutes_to_response = 1, response_s = recognisable_s + 60",
    "update responses set target_minutes = 90 where case_id = 'K1'",
    "update concern_episodes set recognisable_s = recognisable_s + 120 where case_id = 'K1'",
    "delete from responses where case_id = 'K1'",
    # what the reading found
    "delete from decelerations where case_id = 'K1'",
    "delete from decelerations where case_id = 'K2' and onset_s = (select min(onset_s) from decelerations)",
    "update decelerations set depth_bpm = depth_bpm - 10 where case_id = 'K1'",
    "update decelerations set kind = 'early' where case_id = 'K1'",
    "insert into decelerations select * from decelerations where case_id = 'K1' limit 1",
    "delete from contractions where case_id = 'K1'",
    "update epochs set baseline_bpm = baseline_bpm + 10 where case_id = 'K1'",
    "delete from epochs where case_id = 'K1'",
    "update minute_categories set category = 'normal' where standard <> 'nichd-2008'",
    "delete from minute_categories where at_s > 2000 and case_id = 'K1'",
    "update window_categories set category = 'normal' where category <> 'normal'",
    "update burden set area_bpm_s = area_bpm_s / 2 where case_id = 'K1'",
    "update tracing_states set seen_fraction = 0.5 where case_id = 'K1'",
    # what the files brought
    "update cases set period = '2031-04' where case_id = 'K1'",
    "update cases set mode_of_birth = 'spontaneous' where case_id = 'K1'",
    "insert into cases (case_id, period) values ('K9', '2031-03')",
    "update outcomes set cord_artery_ph = 7.15 where case_id = 'K1'",
    "delete from outcomes where case_id = 'K3'",
    "update care_events set at_s = at_s - 600 where case_id = 'K1'",
    "delete from care_events where case_id = 'K2'",
    "insert into care_events select * replace ('senior_at_bedside' as event) from care_events where case_id = 'K2'",
    "update reads set category = 'normal' where reader = 'R1'",
    "update reads set outcome_hidden = false where reader = 'R2'",
    "delete from imports where kind = 'cases'",
    "update imports set rows_accepted = rows_accepted + 1 where kind = 'cases'",
    "update analysis_runs set settings_sha256 = sha256('x')",
]


@pytest.mark.parametrize("statement", PLANTED)
def test_a_change_behind_its_back_is_found(db, statement):
    with duckdb.connect(str(db)) as con:
        [(changed,)] = con.execute(statement).fetchall()
        assert changed, "nothing was planted"
    assert found(db) != [], statement


def test_a_view_that_says_something_else_is_found(db):
    with duckdb.connect(str(db)) as con:
        con.execute("create or replace view labours as select * from cases")
    assert any("views" in line for line in found(db))


@pytest.mark.parametrize("seed", range(4))
def test_flipped_bytes_are_found_and_not_backed_up(db, tmp_path, seed):
    """Sixteen bytes where a column is kept: DuckDB keeps a checksum of what a block holds; both read all."""
    place = place_in_use(db, seed)
    content = bytearray(db.read_bytes())
    for at in range(place, place + 16):
        content[at] ^= 0xFF
    db.write_bytes(content)
    assert found(db) != []
    with pytest.raises(AuditError, match="damaged"):
        back_up(db, tmp_path / "kept.backup")
    assert not (tmp_path / "kept.backup").exists()


def place_in_use(db: Path, seed: int) -> int:
    """Where in the file one of all columns begins: what is free, or fills a block up, holds nothing to lose.

    DuckDB's description of its storage: three headers of 4,096 bytes, then blocks of one length, numbered from 0, each
    behind a checksum of 8 bytes.
    """
    with duckdb.connect(str(db), read_only=True) as con:
        [(block_bytes,)] = con.execute("select block_size from pragma_database_size()").fetchall()
        places = {
            3 * 4096 + block * block_bytes + 8 + offset
            for (table,) in con.execute("select table_name from duckdb_tables() where not internal").fetchall()
            for block, offset in con.execute(
                "select block_id, block_offset from pragma_storage_info(?) where block_id >= 0", [table]
            ).fetchall()
        }
    return sorted(places)[int(np.random.default_rng(seed).integers(len(places)))]


@pytest.mark.parametrize("lost", [1, 4096, 300_000])
def test_a_truncated_file_is_refused_and_not_published_over_good_copies(db, tmp_path, lost):
    with database.open_for_writing(db) as con:
        con.execute("checkpoint")
    published.required(db)
    before = sorted(file.name for file in published.folder_of(db).iterdir())
    content = db.read_bytes()
    db.write_bytes(content[:-lost])
    more = tmp_path / "more.csv"
    more.write_text("case_id,period\nK7,2031-03\n")
    for attempt in (
        lambda: import_paths(db, [more], settings=SETTINGS),
        lambda: published.required(db),
        lambda: job.analyse(db, settings=SETTINGS, workers=1),
        lambda: back_up(db, tmp_path / "kept.backup"),
    ):
        with pytest.raises(AuditError):
            attempt()
    assert sorted(file.name for file in published.folder_of(db).iterdir()) == before
    assert db.read_bytes() == content[:-lost]


def test_a_killed_command_says_that_nothing_can_be_compared(db):
    with duckdb.connect(str(db)) as con:
        con.execute("update database_state set change_mark = 'killed'")
    assert any("cannot be compared" in problem for problem in found(db))


def test_a_seal_made_anew_after_a_change_is_found_by_what_a_pack_kept(db, tmp_path):
    write_pack(db, period="2031-03", out=tmp_path / "packs", workers=1)
    anchor = tmp_path / "packs" / "anchor_2031-03.json"
    kept = tmp_path / "unit.backup"
    back_up(db, kept)
    assert check(db, SETTINGS, anchors=[anchor, kept]).problems == []
    with duckdb.connect(str(db)) as con:
        con.execute("update responses set status = 'in_time'")
        database._seal(con)
    assert check(db, SETTINGS).problems == []
    [problem] = check(db, SETTINGS, anchors=[anchor]).problems
    assert "anchor_2031-03.json" in problem
    anchor.write_text("no JSON")
    assert "neither" in check(db, SETTINGS, anchors=[anchor]).problems[0]

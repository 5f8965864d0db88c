"""A cell changed, a row deleted or doubled, values swapped between rows, in every table: `check` sees it.

Common practice, no source: content is held against hashes that were taken when it was written. The kinds are those of
`test_planted_corruption.py`, over every table and column there is, so that a new table cannot be forgotten.
"""

import re
from collections.abc import Iterator
from itertools import zip_longest
from pathlib import Path

import duckdb
import numpy as np
import pytest

from audit.analysis import job
from audit.intake.importer import import_paths
from audit.questions.check_content import seal_problems, stretch_problems
from audit.settings import load_settings
from audit.store import database, summaries

UNIT = """
[import.mapping.ward]
kind = "tracing"
columns = {t_s = "Zeit", fhr_bpm = "FHF", toco = "Toko"}
units = {t_s = "clock"}
case_id_from_file = "^(.*)[.]csv$"
time_zone = "Europe/Berlin"
"""
# the state of the file itself, and the seal; `check` has other questions for these
NOT_SEALED = {"schema_version", "database_state", "database_marks", "database_seal", "tracing_minutes"}
# only a fitted file fills these, `content_history` a file that was replaced, `parquet_files` a run read in place
EMPTY = {"second_readings", "second_reading_lane", "second_reading_evidence", "content_history", "parquet_files"}


@pytest.fixture(scope="module")
def con(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    """A unit with something of everything in it; what a test plants is rolled back."""
    folder = tmp_path_factory.mktemp("everywhere")
    db = folder / "unit.duckdb"
    (folder / "unit_settings.toml").write_text(UNIT)
    settings = load_settings(folder / "unit_settings.toml")
    first, second = files_of(folder)
    for incoming, mapping in ((first, None), (folder / "ward", "ward"), (second, None)):
        report = import_paths(db, [incoming], settings=settings, mapping=mapping)
        assert [file.outcome for file in report.files if file.outcome == "refused"] == [], report.lines()
    job.analyse(db, settings=settings, workers=1)
    merged(db, folder)
    with duckdb.connect(str(db)) as con:
        yield con


def merged(db: Path, folder: Path) -> None:
    """What two other units told in summaries."""
    files = []
    for k, (unit, period, standard) in enumerate((("U1", "2031-03", "figo-2015"), ("U2", "2031-04", "nice-ng229"))):
        names = ("analysed", "seen", "with_concern", "newborns", "cord_gases", "complete_of", "complete")
        month = dict.fromkeys(names, k) | {"births": 9 + k}
        wait = {"trigger": f"t{k}", "target_minutes": 15.0 + k, "wait_minutes": 9.0 + k, "episodes": 1 + k}
        at = {"period": period, "standard": standard}
        under, k1 = {**at, "trigger": f"t{k}"}, k + 1
        told = {
            "version": 2, "program_version": f"0.{k}", "settings_sha256": str(k) * 64, "unit": unit,
            "first_period": period, "last_period": period, "hidden": [{}] * k, "months": [{**at, **month}],
            "waits": [{**at, **wait, "status": ("late", "in_time")[k], "ended_by": ("response", "birth")[k]}],
            "chance": [under | {"in_time": k, "counted": k1, "shifts_in_time": [k], "shifts_counted": [k1]}],
            "oxytocin": [at | {"labours": k1, "hours": 4.0 + k, "hours_in_tachysystole": 1.0 + k,
                               "increases_in_concern": k1, "increased_in": k}],
            "oxytocin_waits": [at | {"reason": ("concern", "tachysystole")[k], "minutes": 5.0 + k, "reduced": bool(k),
                                     "waits": k1}],
            "case_mix": [{"standard": (standard, None)[k], "measure": ("concern", "caesarean")[k],
                          "case_mix": ["first birth"] * k, "labours": 5 + k, "events": k1}],
            "agreement": [at | {"family": ("nominal", "computed")[k], "reads": 2 - 2 * k, "category_a": "normal",
                                "category_b": ("normal", "suspicious")[k], "pairs": k1}],
            "areas": [{"period": period, "area_per_seen_hour_bpm_s": 100.0 + k, "tracings": k1}],
            "births_decided": [{"period": period, "kind_of_birth": ("caesarean", "not given")[k], "urgency": k1,
                                "minutes": 20.0 + k, "labours": k1}],
            "hours": [{"period": period, "hours": 9 + k, "assessed": 5 + k, "second_person": k1}],
        }  # fmt: skip
        summaries.write(told, folder / f"{unit}.json", None)
        files.append(summaries.read(folder / f"{unit}.json", None, "U[0-9]"))
    with database.open_for_writing(db) as con:
        summaries.merge(con, files, settings_sha256="", other_settings=True)


def files_of(folder: Path) -> tuple[Path, Path]:
    first, second, ward = (folder / name for name in ("first", "second", "ward"))
    for each in (first, second, ward):
        each.mkdir()
    t = np.arange(40 * 240) / 4.0
    for k in (1, 2):
        rng = np.random.default_rng(k)
        fhr = 140 + 6 * np.sin(t / 3) + rng.normal(0, 1, t.size) - 35 * np.exp(-((((t % 240) - 150) / 20) ** 2))
        fhr[t > 1500] += 20 * (k == 1)
        rise = 25 * np.exp(-((((t % 1200) - 280) / 15) ** 2))
        toco = 10 + 50 * np.exp(-((((t % 240) - 110) / 22) ** 2))
        rows = (f"K{k},{a},{b:.2f},{c:.1f},88" for a, b, c in zip(t, fhr + rise, toco, strict=True))
        (first / f"K{k}.csv").write_text("case_id,t_s,fhr_bpm,toco,mhr_bpm\n" + "\n".join(rows) + "\n")
        clock = (f"{20 + int(a) // 60}:{int(a) % 60:02d}" for a in np.arange(120.0))
        lines = (f"14.03.2031 10:{each};{140 + k};20" for each in clock)
        (ward / f"W{k}.csv").write_text("Zeit;FHF;Toko\n" + "\n".join(lines) + "\n")
    (first / "cases.csv").write_text(
        "case_id,period,gestation_weeks,birth_s,mode_of_birth,cord_artery_ph,apgar_5\n"
        "K1,2031-03,40,2400,caesarean,7.05,6\nK2,2031-03,39,2400,spontaneous,7.25,9\nK3,March,39,,,,\n"
    )
    (first / "events.csv").write_text(
        "case_id,at_s,event\nK1,1600,position_change\nK1,2000,decision_for_birth\nK2,2000,senior_called\n"
    )
    (first / "reads.csv").write_text(
        "case_id,reader,start_s,end_s,standard,category\nK1,R1,0,1800,figo-2015,pathological\nK1,R2,600,2400,figo-2015,normal\n"
    )
    (first / "bedside.csv").write_text(
        "case_id,at_s,standard,category,assessor,baseline_bpm\nK1,1200,nice-ng229,suspicious,midwife,150\n"
        "K1,1800,nice-ng229,normal,midwife,140\n"
    )
    (first / "months.csv").write_text("period,births,labours_monitored\n2031-03,240,200\n2031-04,250,210\n")
    (second / "more.csv").write_text("case_id,at_s,event\nK1,2100,senior_called\nK2,2200,position_change\n")
    return first, second


def columns(con: duckdb.DuckDBPyConnection, table: str) -> list[tuple[str, str]]:
    asked = "select column_name, data_type from duckdb_columns() where table_name = ? and not internal"
    return con.execute(asked, [table]).fetchall()


def tables(con: duckdb.DuckDBPyConnection) -> set[str]:
    return {name for (name,) in con.execute("select table_name from duckdb_tables() where not internal").fetchall()}


def another(name: str, kind: str) -> list[str]:
    """Other values of a column, in SQL; constraints refuse some of them."""
    if kind == "BOOLEAN":
        return [f"not {name}", "true", "false"]
    if kind == "BLOB":
        return [f"{name} || '\\x00'::blob"]
    if kind.startswith("TIMESTAMP"):
        return [f"coalesce({name}, timestamp '2031-01-01') + interval 1 second"]
    if kind.endswith("[]"):
        return [f"list_reverse({name})", "[]"]
    if kind == "VARCHAR":
        words = [word for word in ("normal", "birth", "late", "A", "B", "2031-05", "figo-2015", "nichd-2008", "x")]
        return [*[f"nullif('{word}', {name})" for word in words], "null"]
    return [f"coalesce({name}, 0) + 1", f"coalesce({name}, 1) - 1", f"{name} / 2", "1", "0"]


def possible(con: duckdb.DuckDBPyConnection, statement: str) -> bool:
    """Does it change a row, and does no constraint of the database refuse it?"""
    con.execute("begin")
    try:
        [(changed,)] = con.execute(statement).fetchall()
        return bool(changed)
    except duckdb.ConstraintException:
        return False
    finally:
        con.execute("rollback")


def missed(con: duckdb.DuckDBPyConnection, planted: dict[str, list[str]]) -> tuple[list[str], int]:
    """What `check` does not see, of statements by table; those of different tables are planted together."""
    unseen, tried = [], 0
    for together in zip_longest(*planted.values()):
        here = {table: each for table, each in zip(planted, together, strict=True) if each is not None}
        con.execute("begin")
        for statement in here.values():
            con.execute(statement)
        said = [problem.split(": found")[0].split(": the rows")[0].split()[-1] for problem in seal_problems(con)]
        con.execute("rollback")
        tried += len(here)
        unseen += [statement for table, statement in here.items() if table not in said]
    return unseen, tried


def test_every_table_is_sealed_and_has_rows_here(con: duckdb.DuckDBPyConnection) -> None:
    sealed = {match for match in re.findall(r"from (\w+) as t\b", database.query_text("store/digests"))}
    assert sealed == tables(con) - NOT_SEALED
    empty = {table for table in sealed if con.execute(f"select count(*) from {table}").fetchall() == [(0,)]}
    assert empty <= EMPTY
    assert seal_problems(con) == []


def test_a_changed_cell_is_seen_in_every_column(con: duckdb.DuckDBPyConnection) -> None:
    planted: dict[str, list[str]] = {}
    for table in sorted(tables(con) - NOT_SEALED - EMPTY):
        planted[table] = []
        for name, kind in columns(con, table):
            row = f"rowid = (select min(rowid) from {table})"
            tries = (
                f"update {table} set {name} = {value} where {row} and {name} is distinct from ({value})"
                for value in another(name, kind)
            )
            planted[table] += next(([each] for each in tries if possible(con, each)), [])
    unseen, tried = missed(con, planted)
    assert unseen == []
    assert tried > 150


def test_a_row_deleted_or_doubled_or_swapped_is_seen_in_every_table(con: duckdb.DuckDBPyConnection) -> None:
    planted: dict[str, list[str]] = {}
    for table in sorted(tables(con) - NOT_SEALED - EMPTY):
        first, last = f"(select min(rowid) from {table})", f"(select max(rowid) from {table})"
        statements = [
            f"delete from {table} where rowid = {last}",
            f"insert into {table} select * from {table} where rowid = {last}",
        ]
        for name, _ in columns(con, table):
            swapped = f"(select {name} from {table} as o where o.rowid = {first} + {last} - {table}.rowid)"
            both = f"from {table} where rowid in ({first}, {last})"
            # rows that are alike but for this cell are the same two rows once it is swapped
            differ = f"(select count(distinct {name}) {both}) = 2"
            differ += f" and (select count(*) from (select distinct * exclude ({name}) {both})) = 2"
            statements.append(f"update {table} set {name} = {swapped} where rowid in ({first}, {last}) and {differ}")
        planted[table] = [each for each in statements if possible(con, each)]
    unseen, tried = missed(con, planted)
    assert unseen == []
    assert tried > 100


@pytest.mark.parametrize("channel", ["fhr_cbpm", "toco_hundredths", "mhr_cbpm"])
def test_a_sample_of_every_channel_is_seen(con: duckdb.DuckDBPyConnection, channel: str) -> None:
    changed = f"list_transform({channel}, lambda x, k: if(k = 9, (coalesce(x, 0) + 1)::smallint, x))"
    con.execute("begin")
    con.execute(f"update tracing_minutes set {channel} = {changed} where case_id = 'K1' and minute = 3")
    found = stretch_problems(con)
    con.execute("rollback")
    assert [problem.split(":")[0] for problem in found] == ["K1 A"]

"""Stores of every earlier schema, filled to the last column, come forward with all that they hold.

Common practice, no source. A store of schema N is made by the steps up to N, as they were when N was the newest; each
table then gets two rows with a value in every column.
"""

import shutil
import sqlite3
from datetime import datetime
from pathlib import Path
from typing import Any

import duckdb
import pytest

from audit.errors import AuditError, StoreVersionError
from audit.store import database, objects, people_database

STEPS = [number for number, _ in database.SCHEMA.steps()]
PEOPLE_STEPS = [number for number, _ in people_database._SCHEMA.steps()]
# what the program keeps of the file itself, and draws anew
ITS_OWN = {"schema_version", "database_state", "database_marks", "database_seal"}
# what a step changes on purpose: table and column, and what becomes of the value
CHANGED = {
    # 009: names and values that somebody typed go, a hash and a tag stay
    ("imports", "source"), ("imports", "message"),
    ("import_rejects", "source"), ("import_rejects", "value"), ("import_rejects", "column_name"),
    ("import_rejects", "reason"),
}  # fmt: skip
WORDS: dict[str, tuple[Any, Any]] = {
    "case_id": ("K1", "K2"),
    "fetus": ("A", "B"),
    "period": ("2031-03", "2031-04"),
    "run_id": ("00001-x", "00002-y"),
    "standard": ("figo-2015", "nice-ng229"),
    "category": ("normal", "pathological"),
    "rules_category": ("suspicious", "not assessable"),
    "kind": ("variable", "late"),
    "other_kind": ("early", None),
    "kind_certain": (False, True),
    "falls_taken_as": ("abrupt", "gradual"),
    "span": ("whole", "last_60_min"),
    "variability": ("minimal", "marked"),
    "event": ("decision_for_birth", "senior_called"),
    "status": ("late", "in_time"),
    "state": ("read", "failed"),
    "outcome": ("stored", "replaced"),
    "severity": ("rejected", "flagged"),
    "fhr_sensor": ("both", "ultrasound"),
    "toco_sensor": ("external", "intrauterine"),
    "births": (30, 31),
    "monitored_because": ("oxytocin", "other"),
    "unit": ("U1", "U2"),
    "first_period": ("2031-03", "2031-04"),
    "last_period": ("2031-03", "2031-04"),
    "ended_by": ("response", "birth"),
    "died": ("intrapartum", "neonatal_late"),
    "decided_by": ("first_act", "escalation"),
    "first_act_event": ("position_change", "iv_fluid_bolus"),
    "escalation_event": ("senior_called", "decision_for_birth"),
    "response_event": ("position_change", "senior_called"),
    "oxytocin_event": ("oxytocin_started", "oxytocin_increased"),
    "start_s": (0.25, 60.5),
    "end_s": (1800.25, 1860.5),
    "encephalopathy_grade": (1, 3),
    "urgency": (2, 1),
    "part": ("cases", "tracing"),
    "standing_decision_urgency": (1, 4),
    "family": ("nominal", "computed"),
    "kind_of_birth": ("caesarean", "not given"),
    "measure": ("caesarean", "concern"),
    "reason": ("concern", "tachysystole"),
}
TYPES: dict[str, tuple[Any, Any]] = {
    "VARCHAR": ("one", "two"),
    "BLOB": (b"one", b"two"),
    "BIGINT": (1, 2),
    "BIGINT[]": ([1, 2], []),
    "INTEGER": (1, 2),
    "DOUBLE": (0.125, 1 / 3),
    "BOOLEAN": (True, False),
    "TIMESTAMP": (datetime(2031, 3, 1, 2, 3, 4), datetime(2031, 4, 1, 23, 59, 59, 999999)),
    "VARCHAR[]": (["a", "b"], []),
    "SMALLINT[]": ([14000, None, 13950], [None]),
}


def of_step(db: Path, latest: int) -> duckdb.DuckDBPyConnection:
    """An empty database as the program of that step made it."""
    con = duckdb.connect(str(db))
    con.execute("create table schema_version (version integer, step varchar, applied_at timestamp)")
    for number, step in database.SCHEMA.steps():
        if number <= latest:
            con.execute("begin")
            con.execute(step.read_text(encoding="utf-8"))
            con.execute("insert into schema_version values (?, ?, now()::timestamp)", [number, step.stem])
            con.execute("commit")
    return con


def fill(con: duckdb.DuckDBPyConnection) -> None:
    """Two rows in every table, those that others refer to first."""
    waiting = [name for (name,) in con.execute("select table_name from duckdb_tables()").fetchall()]
    waiting = [name for name in waiting if name not in ITS_OWN]
    while waiting:
        left = []
        for table in waiting:
            columns = con.execute(
                "select column_name, data_type from duckdb_columns() where table_name = ? order by column_index",
                [table],
            ).fetchall()
            marks = ", ".join("?" for _ in columns)
            try:
                for k in (0, 1):
                    con.execute(f"insert into {table} values ({marks})", [value(*column)[k] for column in columns])
            except duckdb.ConstraintException as error:
                if "foreign key" not in str(error):
                    raise
                left.append(table)
        assert len(left) < len(waiting), left
        waiting = left


def value(name: str, kind: str) -> tuple[Any, Any]:
    if name in WORDS:
        return WORDS[name]
    assert kind in TYPES, (name, kind)
    return TYPES[kind]


def contents(con: duckdb.DuckDBPyConnection) -> dict[str, dict[str, list[Any]]]:
    """Every column of every table, in an order that all of its columns give."""
    found = {}
    for (table,) in con.execute("select table_name from duckdb_tables()").fetchall():
        if table not in ITS_OWN:
            answer = con.execute(f"select * from {table}")
            names = [column[0] for column in answer.description]
            rows = sorted(
                answer.fetchall(), key=lambda row: str(row[names.index("case_id")] if "case_id" in names else row)
            )
            found[table] = {name: [row[k] for row in rows] for k, name in enumerate(names)}
    return found


@pytest.mark.parametrize("latest", STEPS)
def test_everything_that_a_former_schema_holds_comes_forward(tmp_path: Path, latest: int) -> None:
    db = tmp_path / "unit.duckdb"
    with of_step(db, latest) as con:
        fill(con)
        before = contents(con)
    assert all(len(values) == 2 for columns in before.values() for values in columns.values())
    with database.open_for_writing(db) as con:
        assert database.schema_version(con) == database.SCHEMA.latest()
        after = contents(con)
    for table, columns in before.items():
        for name, values in columns.items():
            assert name in after[table], f"{table}.{name} is gone"
            if (table, name) not in CHANGED or latest >= 9:
                assert after[table][name] == values, f"{table}.{name}"
            else:
                assert len(after[table][name]) == 2
    with database.open_for_reading(db) as con:
        for name in database.tables(con):
            con.execute(f"select * from {name}").fetchall()  # views too
        assert objects.in_database(con) == NONE  # `check` takes nothing of a former program for somebody else's


@pytest.mark.parametrize("latest", STEPS[:-1])
def test_a_step_that_fails_leaves_the_former_schema_with_its_rows(tmp_path: Path, latest: int, monkeypatch) -> None:
    db = tmp_path / "unit.duckdb"
    with of_step(db, latest) as con:
        fill(con)
        before = contents(con)
    broken = tmp_path / "broken.sql"
    broken.write_text("delete from reads; select error('no such thing')")
    steps = [*((n, step) for n, step in database.SCHEMA.steps() if n <= latest), (latest + 1, broken)]
    monkeypatch.setattr(type(database.SCHEMA), "steps", lambda _self: steps)
    with pytest.raises(AuditError, match="cannot be brought forward by broken"), database.open_for_writing(db):
        pass
    with duckdb.connect(str(db)) as con:
        assert contents(con) == before
        assert con.execute("select max(version) from schema_version").fetchone() == (latest,)


PEOPLE_WORDS: dict[str, tuple[Any, Any]] = {
    "direction": ("rise", "fall"),
    "from_period": ("2031-03", "2031-04"),
    "code": ("R1", "lead"),
    "role": ("reader", "lead"),
    "reader": ("R1", "R2"),
    "period": ("2031-03", "2031-04"),
    "case_id": ("K1", "K2"),
    "start_s": (0.25, 60.5),
    "end_s": (1800.25, 1860.5),
    "place": ("meeting", "case"),
    "confidence": (1, 5),
    "state": ("open", "done"),
    "source": ("page", "file"),
    "concern": (0, 1),
    "drawn_from": (1, 2),
    "closed_by": (None, None),
    "closed_at": (None, None),
    "absorbed_at": (None, None),
}
PEOPLE_TYPES: dict[str, tuple[Any, Any]] = {
    "TEXT": ("one", "two"), "INTEGER": (1, 0), "REAL": (0.125, 1 / 3), "BLOB": (b"\x00\xff", b"x"),
}  # fmt: skip
NONE = objects.Differences((), (), ())
OF_ONE_ROW = ("access",)
NUMBERED = ("_id", "entry", "position", "strip_number", "occasion", "seed")


def people_of_step(file: Path, latest: int) -> sqlite3.Connection:
    con = sqlite3.connect(file)
    con.execute("pragma foreign_keys = on")
    for number, step in people_database._SCHEMA.steps():
        if number <= latest:
            con.executescript(step.read_text(encoding="utf-8"))
    con.execute(f"pragma user_version = {latest:d}")
    return con


def people_tables(con: sqlite3.Connection) -> list[str]:
    names = con.execute(
        "select name from sqlite_schema where type = 'table' and name not like 'sqlite%' order by rowid"
    )
    return [row[0] for row in names.fetchall() if row[0] != "owner"]


def people_contents(con: sqlite3.Connection) -> dict[str, list[Any]]:
    return {
        name: [tuple(row) for row in con.execute(f"select * from {name} order by 1, 2")] for name in people_tables(con)
    }


@pytest.mark.parametrize("latest", PEOPLE_STEPS)
def test_everything_that_people_wrote_comes_forward(tmp_path: Path, latest: int) -> None:
    db = tmp_path / "unit.duckdb"
    with people_of_step(people_database.file_of(db), latest) as con:
        for table in people_tables(con):
            columns = con.execute(f"select name, type from pragma_table_info('{table}')").fetchall()
            for k in (0,) if table in OF_ONE_ROW else (0, 1):
                row = [
                    PEOPLE_WORDS[name][k] if name in PEOPLE_WORDS
                    else k + 1 if name.endswith(NUMBERED)
                    else PEOPLE_TYPES[kind][k]
                    for name, kind in columns
                ]  # fmt: skip
                con.execute(f"insert into {table} values ({', '.join('?' * len(row))})", row)
        con.commit()
        before = people_contents(con)
    con.close()
    assert all(len(rows) == (1 if table in OF_ONE_ROW else 2) for table, rows in before.items())
    with people_database.reading(db) as con:
        after = people_contents(con)
        # tables and columns of later steps begin empty
        assert not any(rows for table, rows in after.items() if table not in before)
        for table, rows in before.items():
            assert [row[: len(rows[0])] for row in after[table]] == rows, table
            assert all(value is None for row in after[table] for value in row[len(rows[0]) :]), table
        assert con.execute("pragma user_version").fetchone()[0] == PEOPLE_STEPS[-1]
    assert people_database.damage(db) == []
    assert objects.in_people(db) == NONE


def test_people_stores_of_newer_programs_are_refused_untouched(tmp_path: Path) -> None:
    db = tmp_path / "unit.duckdb"
    file = people_database.file_of(db)
    with people_of_step(file, PEOPLE_STEPS[-1]) as con:
        con.execute("pragma user_version = 999")
    con.close()
    kept = shutil.copy(file, tmp_path / "kept")
    with pytest.raises(StoreVersionError, match="found schema version 999"), people_database.writing(db):
        pass
    with sqlite3.connect(file) as now, sqlite3.connect(kept) as then:
        assert people_contents(now) == people_contents(then)

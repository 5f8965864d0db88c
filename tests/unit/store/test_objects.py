"""What somebody else puts into a store, takes out of it or makes anew is told; the statements are the engines' own."""

import sqlite3
from pathlib import Path

import pytest

from audit.people import access
from audit.questions.check_content import object_problems
from audit.store import database, objects, people_database

IN_DATABASE = [
    ("create table notes_of_tessa_quill (x integer)", "holds a table that no version of this program makes"),
    ("create view more as select * from cases", "holds a view that no version"),
    ("create macro more(x) as x + 1", "holds a macro that no version"),
    ("create schema more", "holds a schema that no version"),
    ("alter table cases add column more varchar", "holds a column that no version"),
    ("drop view labours", "the view labours is missing"),
    ("create or replace view labours as select * from cases", "the view labours is not as this program makes it"),
    ("create or replace macro in_month(period, asked) as true", "the macro in_month is not as"),
    ("drop table summary_hours", "the table summary_hours is missing"),
    ("create or replace table care_events as select * from care_events", "the rule of care_events is missing"),
]
IN_PEOPLE = [
    ("drop trigger findings_never_go", "the trigger findings_never_go is missing"),
    ("drop trigger log_stays; create trigger log_stays before update on log when false begin select 1; end",
     "the trigger log_stays is not as this program makes it"),
    ("create trigger more after insert on findings begin delete from agenda; end", "holds a trigger that no version"),
    ("create table more (x)", "holds a table that no version"),
    ("drop index disclosures_by_case", "the index disclosures_by_case is missing"),
]  # fmt: skip


def test_what_is_not_of_our_schema_is_told_and_no_foreign_name() -> None:
    with database.in_memory() as con:
        assert object_problems(objects.in_database(con), "the file") == []
        for statement, expected in IN_DATABASE:
            con.execute("begin")
            con.execute(statement)
            said = object_problems(objects.in_database(con), "the file")
            con.execute("rollback")
            assert any(expected in line for line in said), (statement, said)
            assert len(said) == 1 or "replace" in statement, said  # a table's own columns are not told one by one
            assert "quill" not in str(said)


@pytest.mark.parametrize(("statement", "expected"), IN_PEOPLE)
def test_a_trigger_that_is_gone_or_changed_is_told(tmp_path: Path, statement: str, expected: str) -> None:
    db = tmp_path / "unit.duckdb"
    access.choose(db, single_user=True)
    assert object_problems(objects.in_people(db), "people's store") == []
    con = sqlite3.connect(people_database.file_of(db))
    con.executescript(statement)
    con.close()
    [said] = object_problems(objects.in_people(db), "people's store")
    assert said.startswith("people's store: ")
    assert expected in said

"""What undoing rests on: digests that schema steps do not spoil, and a history that is nobody else's.

The rules are those of the issue's own sentence (the state before the batch is restored, and refused where something
else wrote since); there is no published one.
"""

import duckdb
import pytest

from audit.errors import UsageError
from audit.intake.importer import import_paths
from audit.intake.undo import undo
from audit.settings import load_settings
from audit.store import before, database
from tests.asking import ask

pytestmark = pytest.mark.slow  # several imports each
SETTINGS = load_settings()
CASES = "case_id,period,cord_artery_ph\n"
EVENTS = "case_id,at_s,event,event_id\n"


@pytest.fixture
def older(tmp_path):
    """A database as schema version 17 made it: two batches, one of whose cases somebody wrote to since."""
    db = tmp_path / "unit.duckdb"
    with duckdb.connect(str(db)) as con:
        con.execute("create table schema_version (version integer, step varchar, applied_at timestamp)")
        for number, step in database.SCHEMA.steps()[:17]:
            con.execute(step.read_text(encoding="utf-8"))
            con.execute("insert into schema_version values (?, ?, now()::timestamp)", [number, step.stem])
        con.execute("insert into cases (case_id, period) values ('C1', '2031-03'), ('C2', '2031-03')")
        con.execute("insert into care_events (case_id, at_s, event) values ('C1', 5, 'epidural'), ('C2', 7, 'birth')")
        con.execute(
            "insert into import_batches (batch_id, started_at, first_import_id, last_import_id)"
            " values (1, now()::timestamp, 1, 1), (2, now()::timestamp, 2, 2)"
        )
        for batch_id, case_id in ((1, "C1"), (2, "C2")):
            for part in ("cases", "care_events"):
                held = before.digests(con, part, [case_id])[case_id]
                con.execute("insert into batch_cases values (?, ?, ?, true, null, ?)", [batch_id, case_id, part, held])
        con.execute("update care_events set at_s = 8 where case_id = 'C2'")
    return db


def test_steps_that_add_columns_leave_a_batch_that_can_be_taken_back_and_one_that_cannot(older, monkeypatch):
    monkeypatch.setattr(database, "_connect", database.really_connect)
    with pytest.raises(UsageError, match="1 part of its cases was changed since by something other"):
        undo(older, 2, spoken_of={})
    assert undo(older, 1, spoken_of={}).removed == 1
    with database.open_for_reading(older) as con:
        assert con.execute("select case_id from cases").fetchall() == [("C2",)]
        assert con.execute("select case_id, at_s from care_events").fetchall() == [("C2", 8)]


def take(db, folder, name, text, *, replace=False):
    (folder / name).write_text(text, encoding="utf-8")
    return import_paths(db, [folder / name], settings=SETTINGS, replace=replace)


def history(db):
    return ask(db, "select case_id, kind, former_sha256, sha256 from content_history order by all")


def test_an_undo_leaves_the_history_of_earlier_batches_for_a_case_without_a_tracing(db, tmp_path):
    take(db, tmp_path, "first.csv", f"{CASES}C1,2031-03,7.2\n")
    take(db, tmp_path, "second.csv", f"{CASES}C1,2031-03,7.1\n", replace=True)
    kept = history(db)
    assert len(kept) == 1
    take(db, tmp_path, "third.csv", f"{CASES}C1,2031-03,7.05\n", replace=True)
    take(db, tmp_path, "events.csv", f"{EVENTS}C1,100,epidural,E1\n")
    assert len(history(db)) == 2
    undo(db, 4, spoken_of={})
    assert len(history(db)) == 2
    undo(db, 3, spoken_of={})
    assert history(db) == kept
    undo(db, 2, spoken_of={})
    assert history(db) == []


def test_one_batch_that_touches_two_parts_puts_the_history_back_once(db, tmp_path):
    take(db, tmp_path, "first.csv", f"{CASES}C1,2031-03,7.2\n")
    take(db, tmp_path, "second.csv", f"{CASES}C1,2031-03,7.1\n", replace=True)
    kept = history(db)
    both = tmp_path / "both"
    both.mkdir()
    (both / "cases.csv").write_text(f"{CASES}C1,2031-03,7.0\n", encoding="utf-8")
    (both / "events.csv").write_text(f"{EVENTS}C1,100,epidural,E1\n", encoding="utf-8")
    import_paths(db, [both], settings=SETTINGS, replace=True)
    undo(db, 3, spoken_of={})
    assert history(db) == kept


def test_events_corrected_twice_go_back_step_by_step_and_not_out_of_order(db, tmp_path):
    for name, at_s in (("first", 100), ("second", 130), ("third", 160)):
        take(db, tmp_path, f"{name}.csv", f"{EVENTS}C1,{at_s},epidural,E1\n")
    with pytest.raises(UsageError, match="batch 3 wrote to 1 of its cases: take that one back first"):
        undo(db, 2, spoken_of={})

    def now():
        return ask(db, "select at_s, event_id from care_events")

    undo(db, 3, spoken_of={})
    assert now() == [(130, "E1")]
    undo(db, 2, spoken_of={})
    assert now() == [(100, "E1")]
    # a file that was taken back is new again
    take(db, tmp_path, "third.csv", f"{EVENTS}C1,160,epidural,E1\n")
    assert now() == [(160, "E1")]

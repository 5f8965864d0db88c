"""An import taken back: every table is again what it was, findings too; and what stands in the way is told."""

import numpy as np
import pytest
from click.testing import CliRunner

from audit.analysis.job import analyse
from audit.cli import cli
from audit.errors import UsageError
from audit.intake.importer import import_paths
from audit.intake.undo import batches, undo
from audit.settings import load_settings
from audit.store import connection, database
from tests.asking import ask

pytestmark = pytest.mark.slow
SETTINGS = load_settings()
# what an import and its undoing write about themselves
OWN = {
    "database_state",
    "database_marks",
    "database_seal",
    "import_batches",
    "batch_cases",
    "batch_before",
    "schema_version",
}


def tracing(case_id: str, level: float = 140, minutes: int = 45) -> str:
    rng = np.random.default_rng(3)
    t_s = np.arange(0, 60 * minutes, 0.5)
    fhr = level + 6 * np.sin(t_s / 9) + rng.normal(0, 1.5, len(t_s))
    for start in range(300, 60 * minutes - 120, 400):
        fhr -= 45 * np.exp(-(((t_s - start - 40) / 22) ** 2))
    toco = 10 + 50 * np.exp(-((((t_s % 400) - 320) / 25) ** 2))
    rows = (f"{case_id},{a:g},{b:.1f},{c:.0f}" for a, b, c in zip(t_s, fhr, toco, strict=True))
    return "case_id,t_s,fhr_bpm,toco\n" + "\n".join(rows)


def take(db, folder, *, replace=False, **files: str):
    given = folder / f"in{len(list(folder.iterdir()))}"
    given.mkdir()
    for name, text in files.items():
        (given / f"{name}.csv").write_text(text, encoding="utf-8")
    return import_paths(db, [given], settings=SETTINGS, replace=replace)


def contents(db):
    """Every table's rows, but what an import writes about itself."""
    with database.open_for_reading(db) as con:
        names = [row[0] for row in con.execute("select table_name from duckdb_tables() order by 1").fetchall()]
        return {
            name: sorted(map(repr, con.execute(f"select * from {name}").fetchall()))
            for name in names
            if name not in OWN
        }


CASES = "case_id,period,cord_artery_ph\nC1,2031-03,7.2\nC2,2031-03,7.3\n"
EVENTS = "case_id,at_s,event\nC1,900,epidural\nC2,1200,senior_called\n"
MONTHS = "period,births\n2031-03,240\n"


@pytest.fixture
def month(db, tmp_path):
    take(db, tmp_path, cases=CASES, events=EVENTS, c1=tracing("C1"), c2=tracing("C2", 150), months=MONTHS)
    analyse(db, settings=SETTINGS, workers=1)
    return db


def test_a_correction_and_new_cases_taken_back_leave_every_table_as_it_was(month, tmp_path):
    before = contents(month)
    assert before["decelerations"]
    take(
        month,
        tmp_path,
        replace=True,
        cases="case_id,period,cord_artery_ph\nC1,2031-03,7.05\nC3,2031-03,7.25\n",
        events="case_id,at_s,event\nC1,600,epidural\nC3,100,epidural\n",
        c1=tracing("C1", 160),
        c3=tracing("C3"),
        months="period,births\n2031-03,250\n2031-04,230\n",
    )
    analyse(month, settings=SETTINGS, workers=1)
    after = contents(month)
    for name in ("cases", "outcomes", "care_events", "tracings", "tracing_minutes", "decelerations", "unit_months"):
        assert after[name] != before[name], name
    with database.open_for_reading(month) as con:
        newest, _ = batches(con)
    assert (newest["batch_id"], newest["new_cases"], newest["changed_cases"]) == (2, 1, 1)
    with pytest.raises(UsageError, match="batch 2 wrote to 1 of its cases"):
        undo(month, 1, spoken_of={})
    done = undo(month, 2, spoken_of={})
    assert (done.removed, done.restored) == (1, 1)
    found = contents(month)
    kept = {"analysis_runs"}  # runs are history: they took place
    assert {name for name in before if found[name] != before[name]} <= kept
    # what was taken back can come in again, and is then no longer 'imported before'
    again = take(month, tmp_path, cases="case_id,period,cord_artery_ph\nC3,2031-03,7.25\n")
    assert [file.outcome for file in again.files] == ["stored"]


def test_the_first_batch_taken_back_leaves_an_empty_unit(month):
    undo(month, 1, spoken_of={})
    left = {name for name, rows in contents(month).items() if rows}
    assert left <= {"analysis_runs"}
    with pytest.raises(UsageError, match=r"^not taken back, batch 1: it was"):
        undo(month, 1, spoken_of={})


def test_files_that_bring_nothing_new_make_no_batch_and_stand_in_nobodys_way(month, tmp_path):
    take(month, tmp_path, cases=CASES, events=EVENTS)
    with database.open_for_reading(month) as con:
        assert [row["batch_id"] for row in batches(con)] == [1]
    # a longer list with the same cases and one more: the first batch does not depend on it
    take(month, tmp_path, cases=CASES + "C9,2031-04,7.3\n")
    with database.open_for_reading(month) as con:
        newest, _ = batches(con)
    assert (newest["new_cases"], newest["changed_cases"]) == (1, 0)
    undo(month, 1, spoken_of={})
    assert ask(month, "select case_id from cases") == [("C9",)]


def test_what_stands_in_the_way_is_told(month):
    with pytest.raises(UsageError, match="1 of the cases it brought is in agendas"):
        undo(month, 1, spoken_of={"agendas": {"C1", "C7"}})
    with database.open_for_writing(month) as con:
        con.execute("update care_events set at_s = 901 where case_id = 'C1'")
    with pytest.raises(UsageError, match="1 part of its cases was changed since"):
        undo(month, 1, spoken_of={})
    with pytest.raises(UsageError, match="batch 9: there is none"):
        undo(month, 9, spoken_of={})


def test_an_import_that_was_stopped_can_be_taken_back(month, tmp_path, monkeypatch):
    before = contents(month)
    real = database.execute

    def stopped(con, name, params=None):
        if name == "intake/add_events":
            raise KeyboardInterrupt
        return real(con, name, params)

    with monkeypatch.context() as patch:
        patch.setattr(connection, "execute", stopped)
        with pytest.raises(KeyboardInterrupt):
            take(month, tmp_path, cases="case_id,period\nC5,2031-04\n", events="case_id,at_s,event\nC5,5,epidural\n")
    with database.open_for_reading(month) as con:
        assert [row["finished"] for row in batches(con)] == [False, True]
    undo(month, 2, spoken_of={})
    assert contents(month) == before


def test_one_that_was_killed_between_its_two_steps_is_finished_by_the_same_call(month, monkeypatch):
    real = database.execute

    def killed(con, name, params=None):
        if name == "intake/undo_done":
            raise KeyboardInterrupt
        return real(con, name, params)

    with monkeypatch.context() as patch:
        patch.setattr(database, "execute", killed)
        with pytest.raises(KeyboardInterrupt):
            undo(month, 1, spoken_of={})
    undo(month, 1, spoken_of={})
    assert {name for name, rows in contents(month).items() if rows} <= {"analysis_runs"}


def test_the_commands_list_and_take_back(month):
    listed = CliRunner().invoke(cli, ["--db", str(month), "imports"])
    assert "batch 1" in listed.output
    assert "2 cases new" in listed.output
    taken = CliRunner().invoke(cli, ["--db", str(month), "undo", "1"])
    assert taken.exit_code == 0, taken.output
    assert "Batch 1 is taken back: 2 cases are gone" in taken.output
    assert "taken back" in CliRunner().invoke(cli, ["--db", str(month), "imports"]).output


def test_what_is_said_names_only_what_a_batch_held(db, tmp_path):
    for number, text, said in (
        (1, "period,births\n2031-03,240\n", "Batch 1 is taken back: the unit's counts are as they were."),
        (2, "case_id,period\nC1,spring\n", "Batch 2 is taken back: it had stored nothing"),
    ):
        take(db, tmp_path, given=text)
        taken = CliRunner().invoke(cli, ["--db", str(db), "undo", str(number)])
        assert said in taken.output
    with database.open_for_reading(db) as con:
        assert con.execute("select count(*) from import_rejects").fetchone() == (0,)

"""The first hour: a folder whose examples go in whole, a look at the computer, and a move that keeps everything."""

import os
import shutil
from pathlib import Path
from typing import get_args

import pytest
from click.testing import CliRunner

from audit.cli import cli
from audit.errors import AuditError, UsageError
from audit.people import actions
from audit.questions import doctor
from audit.setting_tables.locale import Paper
from audit.settings import settings_for
from audit.store import database, people_database, pseudonyms
from tests.asking import ask

pytestmark = pytest.mark.slow


def run(*args: str):
    return CliRunner().invoke(cli, list(args))


def test_the_examples_of_a_new_folder_go_in_whole_and_its_settings_change_nothing(tmp_path, db):
    folder = tmp_path / "unit"
    made = run("init", str(folder))
    assert made.exit_code == 0, made.output
    assert len(made.output.splitlines()) == 8
    file = Path(shutil.copy(db, folder / "unit.duckdb"))
    taken = run("--db", str(file), "import", str(folder / "examples"))
    assert taken.exit_code == 0, taken.output
    assert "6 stored" in taken.output
    assert ", 0 remarks." in taken.output
    with database.open_for_reading(file) as con:
        for table in ("cases", "care_events", "reads", "assessments", "unit_months", "tracings"):
            assert con.execute(f"select count(*) from {table}").fetchone()[0] > 0, table
    plain = settings_for(tmp_path / "elsewhere.duckdb")
    assert settings_for(file) == plain
    # every commented line is one that could be taken in
    text = (folder / "unit_settings.toml").read_text(encoding="utf-8")
    assert all(f'"{paper}"' in text for paper in get_args(Paper))
    lines = [
        line.removeprefix("# ") for line in text.splitlines() if line.startswith("# ") and ("=" in line or "[" in line)
    ]
    (folder / "unit_settings.toml").write_text("\n".join(lines), encoding="utf-8")
    assert settings_for(file).import_.event_words["FBS"] == "fetal_blood_sample"


def test_init_touches_no_folder_with_files_in_it(tmp_path):
    (tmp_path / "mine.txt").write_text("x", encoding="utf-8")
    found = run("init", str(tmp_path))
    assert isinstance(found.exception, UsageError)


def test_doctor_tells_all_well_and_what_is_not(db, monkeypatch):
    os.chmod(db, 0o600)
    # the disk of the machine that tests may be nearly full
    monkeypatch.setattr(doctor, "_LEAST_FREE", 0)
    found = run("--db", str(db), "doctor")
    assert (found.exit_code, found.output.splitlines()[-1]) == (0, "All well."), found.output
    for word in ("versions", "packages", "fonts", "permissions", "disk", "locks", "database", "clock"):
        assert f"ok   {word}:" in found.output
    monkeypatch.setattr(doctor, "_LEAST_FREE", 10**18)
    if os.name == "posix":
        os.chmod(db, 0o644)
    db.with_name("unit_settings.toml").write_text("[no_such_table]\n", encoding="utf-8")
    os.utime(db, (2**32, 2**32))
    found = {each.what: each for each in doctor.looked_over(db)}
    assert [each.what for each in found.values() if not each.well] == ["permissions", "disk", "settings", "clock"]
    db.write_bytes(b"no database")
    assert not {each.what: each for each in doctor.looked_over(db)}["database"].well


def test_a_link_that_leads_back_to_itself_is_told(tmp_path):
    circle = tmp_path / "unit.duckdb"
    circle.symlink_to(circle)
    for command in ("check", "doctor", "delays"):
        found = run("--db", str(circle), command)
        assert isinstance(found.exception, AuditError)
        assert "leads back to itself" in str(found.exception)


def test_move_keeps_everything_and_leaves_nothing(db, tmp_path):
    actions.add(db, "2031-03", "Look at the forms", owner_role="lead", due_period="2031-04", who="lead")
    key = pseudonyms.beside(db, make=True).of("Quill")
    db.with_name("unit_settings.toml").write_text(
        '[import.event_words]\n"FBS" = "fetal_blood_sample"\n', encoding="utf-8"
    )
    db.with_name("validation.json").write_text("{}", encoding="utf-8")
    with database.open_for_writing(db) as con:
        con.execute("insert into cases (case_id) values ('C7')")
    folder = tmp_path / "new" / "place"
    moved = run("--db", str(db), "move", str(folder))
    assert moved.exit_code == 0, moved.output + str(moved.exception)
    target = folder / db.name
    assert ask(target, "select case_id from cases") == [("C7",)]
    assert [row["action"] for row in people_database.ask(target, "actions_all")] == ["Look at the forms"]
    assert pseudonyms.beside(target, make=False).of("Quill") == key
    assert settings_for(target).import_.event_words == {"FBS": "fetal_blood_sample"}
    assert (folder / "validation.json").read_text(encoding="utf-8") == "{}"
    assert [file.name for file in db.parent.iterdir() if file.is_file() and file.suffix != ".log"] == []


def test_move_refuses_a_folder_with_files_and_says_where_there_is_no_database(db, tmp_path):
    with pytest.raises(UsageError):
        raise run("--db", str(db), "move", str(db.parent)).exception
    with pytest.raises(AuditError, match="no database here"):
        raise run("--db", str(tmp_path / "none.duckdb"), "move", str(tmp_path / "x")).exception
    assert db.is_file()

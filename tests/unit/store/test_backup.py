"""A backup is whole or not there, and restoring it brings everything back after each kind of damage."""

import os
import zipfile
from pathlib import Path

import pytest

from audit.errors import AuditError
from audit.people import findings, verify
from audit.store import backup, database, people_database, pseudonyms


@pytest.fixture
def db(tmp_path: Path) -> Path:
    db = tmp_path / "unit" / "unit.duckdb"
    db.parent.mkdir()
    with database.open_for_writing(db) as con:
        con.execute("insert into cases (case_id, period) values ('C-1', '2031-03')")
    findings.save(db, "2031-03", "C-1", findings.Finding(care_grade="1"), who="chair")
    db.with_name("unit_settings.toml").write_text('[figo-2015]\nedition = "ours"\n')
    pseudonyms.beside(db, make=True)
    return db


@pytest.fixture
def kept(db: Path, tmp_path: Path) -> Path:
    backup.back_up(db, tmp_path / "unit.backup")
    return tmp_path / "unit.backup"


def everything(db: Path) -> tuple[object, ...]:
    with database.open_for_reading(db) as con:
        cases = con.execute("select case_id, period from cases").fetchall()
    settings = db.with_name("unit_settings.toml").read_text()
    return cases, findings.of_case(db, "2031-03", "C-1"), settings, verify.problems(db)


def test_the_key_is_not_in_it_and_nobody_else_can_read_it(db, kept):
    key = pseudonyms.key_file(db).read_text().strip()
    with zipfile.ZipFile(kept) as held:
        names = held.namelist()
        assert not any(key.encode() in held.read(name) for name in names)
    assert names == ["manifest.json", "database.duckdb", "people.sqlite", "unit_settings.toml"]
    assert kept.stat().st_mode & 0o077 == 0
    assert backup.key_is_needed(db) == pseudonyms.key_file(db)


def remove(file: Path) -> None:
    file.unlink()


def cut(file: Path) -> None:
    file.write_bytes(file.read_bytes()[: file.stat().st_size // 2])


def scramble(file: Path) -> None:
    file.write_bytes(os.urandom(file.stat().st_size))


@pytest.mark.parametrize("harm", [remove, cut, scramble])
@pytest.mark.parametrize("which", ["database", "people", "settings"])
def test_after_each_kind_of_damage_it_brings_everything_back(db, kept, harm, which):
    before = everything(db)
    people = people_database.file_of(db)
    for ending in ("-wal", "-shm"):
        people.with_name(people.name + ending).unlink(missing_ok=True)
    harm({"database": db, "people": people, "settings": db.with_name("unit_settings.toml")}[which])
    backup.restore(kept, db, replace=True)
    assert everything(db) == before


def test_what_was_there_is_put_aside_and_only_when_asked(db, kept):
    findings.save(db, "2031-03", "C-1", findings.Finding(care_grade="2"), who="chair")
    with pytest.raises(AuditError, match="--replace"):
        backup.restore(kept, db)
    _, aside = backup.restore(kept, db, replace=True)
    assert findings.of_case(db, "2031-03", "C-1").care_grade == "1"
    assert {file.name.split(".before-")[0] for file in aside} >= {"unit.duckdb", "unit.people.sqlite"}
    assert all(file.exists() for file in aside)


@pytest.mark.parametrize("harm", [cut, scramble])
def test_a_damaged_backup_changes_nothing(db, kept, harm):
    before = everything(db)
    harm(kept)
    with pytest.raises(AuditError, match="nothing was changed"):
        backup.restore(kept, db, replace=True)
    assert everything(db) == before


def test_a_file_changed_within_the_backup_is_found(db, kept, tmp_path):
    other = tmp_path / "other.backup"
    with zipfile.ZipFile(kept) as held, zipfile.ZipFile(other, "w") as made:
        for name in held.namelist():
            made.writestr(name, held.read(name) + (b"#" if name == "unit_settings.toml" else b""))
    with pytest.raises(AuditError, match=r"unit_settings\.toml is not what was backed up"):
        backup.restore(other, db, replace=True)


def test_a_backup_never_replaces_a_file_and_a_failed_one_leaves_none(db, kept, tmp_path, monkeypatch):
    with pytest.raises(AuditError, match="give another one"):
        backup.back_up(db, kept)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(backup.shutil, "copyfile", full)
    with pytest.raises(AuditError, match="No space left"):
        backup.back_up(db, tmp_path / "second.backup")
    assert sorted(file.name for file in tmp_path.iterdir()) == ["unit", "unit.backup"]

"""A backup is whole or not there, and restoring it brings everything back after each kind of damage."""

import random
import shutil
import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner

from audit.cli import cli
from audit.errors import AuditError
from audit.people import findings, verify
from audit.questions.check import check
from audit.questions.doctor import looked_over
from audit.settings import load_settings
from audit.store import backup, database, people_database, pseudonyms
from tests.asking import ask

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a unit and a backup of it."""
    folder = tmp_path_factory.mktemp("made")
    db = folder / "unit" / "unit.duckdb"
    db.parent.mkdir()
    with database.open_for_writing(db) as con:
        con.execute("insert into cases (case_id, period) values ('C-1', '2031-03')")
    findings.save(db, "2031-03", "C-1", findings.Finding(went_well="1"), who="chair")
    db.with_name("unit_settings.toml").write_text('[figo-2015]\nedition = "ours"\n')
    pseudonyms.beside(db, make=True)
    backup.back_up(db, folder / "unit.backup")
    return folder


@pytest.fixture
def db(made_once: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made_once / "unit", tmp_path / "unit")) / "unit.duckdb"


@pytest.fixture
def kept(made_once: Path, tmp_path: Path) -> Path:
    """A backup of it."""
    return Path(shutil.copy(made_once / "unit.backup", tmp_path))


def everything(db: Path) -> tuple[object, ...]:
    cases = ask(db, "select case_id, period from cases")
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
    file.write_bytes(random.Random(8).randbytes(file.stat().st_size))


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
    findings.save(db, "2031-03", "C-1", findings.Finding(went_well="2"), who="chair")
    with pytest.raises(AuditError, match="--replace"):
        backup.restore(kept, db)
    _, aside = backup.restore(kept, db, replace=True)
    assert findings.of_case(db, "2031-03", "C-1").went_well == "1"
    assert {file.name.split(".before-")[0] for file in aside} >= {"unit.duckdb", "unit.people.sqlite"}
    assert all(file.exists() for file in aside)


def of_a_newer_program(file: Path) -> None:
    latest = database.SCHEMA.latest()
    with zipfile.ZipFile(file) as held:
        parts = {name: held.read(name) for name in held.namelist()}
    with zipfile.ZipFile(file, "w") as made:
        for name, content in parts.items():
            made.writestr(name, content.replace(f'"schema": {latest}'.encode(), f'"schema": {latest + 1}'.encode()))


@pytest.mark.parametrize("harm", [cut, scramble, of_a_newer_program])
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


def test_the_key_goes_into_a_file_of_its_own_when_asked_and_comes_back(db, kept, tmp_path):
    key, original = pseudonyms.key_file(db), pseudonyms.key_file(db).read_text()
    backup.back_up(db, tmp_path / "second.backup", key_target=tmp_path / "safe.key")
    assert (tmp_path / "safe.key").read_text() == original
    assert (tmp_path / "safe.key").stat().st_mode & 0o077 == 0
    with zipfile.ZipFile(tmp_path / "second.backup") as held:
        assert not any(original.strip().encode() in held.read(name) for name in held.namelist())
    key.write_text("ab" * 32)
    _, aside = backup.restore(tmp_path / "second.backup", db, replace=True, key=tmp_path / "safe.key")
    assert key.read_text() == original
    assert key.stat().st_mode & 0o077 == 0
    assert [file.read_text() for file in aside if file.name.startswith("unit.key")] == ["ab" * 32]


@pytest.mark.parametrize("content", ["", "not a key", "ab" * 31])
def test_a_file_that_holds_no_key_changes_nothing(db, kept, tmp_path, content):
    (tmp_path / "wrong.key").write_text(content)
    before = sorted(file.name for file in db.parent.iterdir())
    with pytest.raises(AuditError, match="holds no key"):
        backup.restore(kept, db, replace=True, key=tmp_path / "wrong.key")
    assert sorted(file.name for file in db.parent.iterdir()) == before


def test_another_key_changes_nothing_and_a_missing_one_is_told_at_once(db, tmp_path):
    with database.open_for_writing(db) as con:
        con.execute("insert into cases (case_id) values (?)", [pseudonyms.beside(db, make=False).of("Quill")])
    backup.back_up(db, tmp_path / "unit.backup")
    (tmp_path / "other.key").write_text("ab" * 32)
    with pytest.raises(AuditError, match="not the key that the backup's pseudonyms were made with"):
        backup.restore(tmp_path / "unit.backup", db, replace=True, key=tmp_path / "other.key")
    (tmp_path / "new").mkdir()
    elsewhere = tmp_path / "new" / "unit.duckdb"
    found = CliRunner().invoke(cli, ["--db", str(elsewhere), "restore", str(tmp_path / "unit.backup")])
    assert (found.exit_code, "the key is missing" in found.output) == (0, True)


def test_key_and_backup_are_never_one_file_and_replace_none(db, tmp_path):
    with pytest.raises(AuditError, match="give another one"):
        backup.back_up(db, tmp_path / "one", key_target=tmp_path / "one")
    (tmp_path / "there.key").write_text("somebody's")
    with pytest.raises(AuditError, match="give another one"):
        backup.back_up(db, tmp_path / "one", key_target=tmp_path / "there.key")
    pseudonyms.key_file(db).unlink()
    with pytest.raises(AuditError, match="no key"):
        backup.back_up(db, tmp_path / "one", key_target=tmp_path / "safe.key")
    assert not (tmp_path / "one").exists()


def test_what_was_put_aside_is_never_overwritten_though_the_clock_stands_still(db, kept, monkeypatch):
    class Stopped(backup.datetime):
        @classmethod
        def now(cls, tz=None):
            return cls(2031, 3, 1, tzinfo=tz)

    monkeypatch.setattr(backup, "datetime", Stopped)
    for grade in ("2", "3"):
        findings.save(db, "2031-03", "C-1", findings.Finding(went_well=grade), who="chair")
        backup.restore(kept, db, replace=True)
    names = [
        file.name for file in db.parent.iterdir() if ".before-" in file.name and "people.sqlite.before" in file.name
    ]
    assert len(names) == 2


def test_a_fitted_reading_that_is_replaced_is_put_aside(db, tmp_path):
    db.with_name("unit_settings.toml").write_text('[second_reading]\nfile = "fitted.zip"\n')
    db.with_name("fitted.zip").write_bytes(b"one")
    backup.back_up(db, tmp_path / "unit.backup")  # though it is no fitted reading, and the settings are refused
    db.with_name("fitted.zip").write_bytes(b"two")
    _, aside = backup.restore(tmp_path / "unit.backup", db, replace=True)
    assert db.with_name("fitted.zip").read_bytes() == b"one"
    assert b"two" in [file.read_bytes() for file in aside]


def test_what_people_wrote_that_cannot_be_read_is_named_and_no_backup_is_left(db, tmp_path):
    people_database.file_of(db).write_bytes(b"no store" * 99)
    with pytest.raises(AuditError, match=r"unit\.people\.sqlite: cannot be read .* none was written"):
        backup.back_up(db, tmp_path / "new.backup")
    assert not (tmp_path / "new.backup").exists()


@pytest.mark.parametrize("other", ["a folder", "a link to nothing"])
def test_what_is_no_file_where_people_write_is_named_everywhere(db, tmp_path, other):
    store = people_database.file_of(db)
    store.unlink()
    if other == "a folder":
        store.mkdir()
    else:
        store.symlink_to(tmp_path / "gone")
    assert any("found a folder or a link to nothing" in problem for problem in check(db, load_settings()).problems)
    for asked in (
        lambda: backup.back_up(db, tmp_path / "new.backup"),
        lambda: findings.of_case(db, "2031-03", "C-1"),
        lambda: findings.save(db, "2031-03", "C-1", findings.Finding(went_well="2"), who="chair"),
    ):
        with pytest.raises(AuditError, match="found a folder or a link to nothing"):
            asked()
    assert not (tmp_path / "new.backup").exists()


@pytest.mark.parametrize("key", [b"", b"\xff\xfe", b"00" * 32], ids=["empty", "junk", "another's"])
def test_check_and_doctor_name_a_key_that_is_not_the_databases_own(db, key):
    with database.open_for_writing(db) as con:
        con.execute("insert into cases (case_id) values (?)", [pseudonyms.beside(db, make=False).of("away")])
    assert check(db, load_settings()).problems == []
    pseudonyms.key_file(db).write_bytes(key)
    [problem] = check(db, load_settings()).problems
    assert "unit.key" in problem
    assert [each.said for each in looked_over(db) if each.what == "key" and not each.well] == [problem]
    pseudonyms.key_file(db).unlink()
    assert [each.said for each in looked_over(db) if each.what == "key" and "missing" in each.said and not each.well]

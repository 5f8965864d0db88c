"""Files that were moved, renamed or put back: what is read is of this very database, or a sentence says what it is not.

Common practice, no source: files are found by their names, so what they hold has to say whose they are.
"""

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from audit import paths
from audit.cli import cli
from audit.errors import AuditError, StoreBusyError
from audit.intake import importer
from audit.people import findings, verify
from audit.questions.check import check
from audit.questions.doctor import looked_over
from audit.settings import load_settings
from audit.store import backup, database, identity, people_database, published

pytestmark = pytest.mark.slow

FINDING = findings.Finding(went_well="1")


@pytest.fixture(scope="module")
def unit_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two cases, what people wrote of one, and a copy of that state."""
    folder = tmp_path_factory.mktemp("made")
    file = made(folder / "unit.duckdb", "C-1")
    findings.save(file, "2031-03", "C-1", FINDING, who="chair")
    put(file, "C-2")
    published.required(file)
    return folder


@pytest.fixture
def db(unit_folder: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(unit_folder, tmp_path / "unit")) / "unit.duckdb"


def made(file: Path, case_id: str) -> Path:
    """A database of its own: tests' databases are copies of one, and have its identity."""
    put(file, case_id)
    with database.open_for_writing(file) as con:
        con.execute("update database_state set database_id = uuid()::varchar")
    return file


def put(db: Path, case_id: str) -> None:
    with database.open_for_writing(db) as con:
        con.execute("insert into cases (case_id, period) values (?, '2031-03')", [case_id])


def cases(source: published.Source) -> list[str]:
    with published.open_for_reading(source) as con:
        return [row[0] for row in con.execute("select case_id from cases order by all").fetchall()]


@pytest.mark.parametrize("other", ["unit.db", "unit", "unit.duckdb.db"])
def test_two_databases_in_one_folder_share_nothing(db, other):
    second = made(db.with_name(other), "X-1")
    findings.save(second, "2031-03", "X-1", findings.Finding(went_well="2"), who="lead")
    for _ in range(2):
        assert cases(published.required(second)) == ["X-1"]
        assert cases(published.required(db)) == ["C-1", "C-2"]
    if other != "unit":
        assert findings.of_case(db, "2031-03", "X-1") is None
        assert findings.of_case(second, "2031-03", "C-1") is None
        assert published.required(db).note is None
        assert published.required(second).note is None
    else:  # the one name that cannot be told from the other's is told by what the files hold
        put(second, "X-2")
        assert "was written for another database" in published.required(second).note


def test_a_store_of_a_former_version_stays_in_use_where_it_can_be_of_no_other_database(tmp_path):
    db = made(tmp_path / "unit.db", "C-1")
    for ending in ("people.sqlite", "key", "log"):
        tmp_path.joinpath(f"unit.{ending}").touch()
        assert paths.beside(db, ending) == tmp_path / f"unit.{ending}"
    made(tmp_path / "unit.duckdb", "X-1")
    for ending in ("people.sqlite", "key", "log"):
        assert paths.beside(db, ending) == tmp_path / f"unit.db.{ending}"


def test_a_newer_copy_is_not_shown_while_a_restored_database_is_written_to(db, tmp_path, monkeypatch):
    monkeypatch.setattr(database, "LONGEST_WAIT_S", 0.2)
    kept = shutil.copy2(db, tmp_path / "kept.duckdb")
    put(db, "C-3")
    published.required(db)
    shutil.copy2(kept, db)
    with database.open_for_writing(db), pytest.raises(StoreBusyError, match="another process is writing"):
        published.required(db)
    assert cases(published.required(db)) == ["C-1", "C-2"]


def test_an_older_copy_of_the_same_database_still_answers_while_it_is_written_to(db):
    put(db, "C-3")  # as a command leaves it that was killed before it could publish
    with database.open_for_writing(db):
        found = published.required(db)
        assert cases(found) == ["C-1", "C-2"]
        assert "changed since" in found.note


def test_another_database_in_its_place_does_not_answer_with_the_former_ones_copy(db, tmp_path, monkeypatch):
    monkeypatch.setattr(database, "LONGEST_WAIT_S", 0.2)
    shutil.move(made(tmp_path / "west.duckdb", "X-1"), db)
    with database.open_for_writing(db), pytest.raises(StoreBusyError):
        published.required(db)
    assert cases(published.required(db)) == ["X-1"]


def test_a_database_moved_without_what_people_wrote_says_so(db, tmp_path):
    (tmp_path / "new").mkdir()
    moved = Path(shutil.move(db, tmp_path / "new" / "unit.duckdb"))
    note = published.required(moved).note
    assert "what people wrote (1 entries of the log) is not beside the database: put unit.people.sqlite back" in note
    assert any("unit.people.sqlite" in problem for problem in check(moved, load_settings()).problems)
    # where it was there is nothing left that answers, whatever lies there still
    for command in (["pack", "--period", "2031-03", "--out", str(tmp_path / "packs")], ["find"], ["trends"]):
        done = CliRunner().invoke(cli, ["--db", str(db), *command], standalone_mode=False)
        assert isinstance(done.exception, AuditError)
        assert "no database here" in str(done.exception)
    shutil.move(people_database.file_of(db), people_database.file_of(moved))
    assert published.required(moved).note is None
    assert findings.of_case(moved, "2031-03", "C-1") == FINDING


def test_what_people_wrote_for_another_database_is_told(db, tmp_path):
    other = made(tmp_path / "west.duckdb", "C-1")
    findings.save(other, "2031-03", "C-1", FINDING, who="chair")
    put(other, "C-9")  # a command of that database meets its store
    for ending in ("", "-wal", "-shm"):
        file = people_database.file_of(other)
        if file.with_name(file.name + ending).exists():
            shutil.copy(file.with_name(file.name + ending), db.with_name(f"unit.people.sqlite{ending}"))
    assert "unit.people.sqlite is damaged or was written for another database" in published.required(db).note
    assert any("another database" in problem for problem in check(db, load_settings()).problems)


def test_a_database_made_anew_from_its_files_takes_the_former_ones_place(db, monkeypatch):
    monkeypatch.setattr(database, "_connect", database.really_connect)
    db.unlink()
    put(db, "C-1")
    assert published.required(db).note is None
    assert findings.of_case(db, "2031-03", "C-1") == FINDING
    assert verify.problems(db) == []


def test_a_people_store_put_back_from_an_older_day_is_found(db, tmp_path):
    people = people_database.file_of(db)
    kept = Path(shutil.copy(people, tmp_path / "kept.sqlite"))
    for grade in ("2", "3"):
        findings.save(db, "2031-03", "C-2", findings.Finding(went_well=grade), who="chair")
    put(db, "C-3")
    shutil.copy(kept, people)
    assert any("was cut short" in problem for problem in check(db, load_settings()).problems)


def said_of(db: Path) -> list[str]:
    """What pages, `check`, `doctor` and a command that only reads say of what lies beside the database."""
    told = [published.required(db).note or "", *check(db, load_settings()).problems]
    told += [each.said for each in looked_over(db) if not each.well]
    return [*told, CliRunner().invoke(cli, ["--db", str(db), "find"], standalone_mode=False).stderr]


@pytest.fixture
def first_written(tmp_path: Path) -> Path:
    """A database that no command has written to since people began to write."""
    db = made(tmp_path / "new.duckdb", "C-1")
    published.required(db)
    for grade in ("1", "2"):
        findings.save(db, "2031-03", "C-1", findings.Finding(went_well=grade), who="chair")
    return db


def test_a_people_store_lost_before_a_command_next_writes_is_missed(first_written, tmp_path):
    db = first_written
    assert [told for told in said_of(db) if "people" in told] == []
    people = people_database.file_of(db)
    kept = Path(shutil.move(people, tmp_path / "kept.sqlite"))
    sentence = "what people wrote (2 entries of the log) is not beside the database: put new.people.sqlite back"
    assert len([told for told in said_of(db) if sentence in told]) == 4
    # somebody goes on in a new one, and a command writes: what was there is not forgotten
    findings.save(db, "2031-03", "C-1", findings.Finding(went_well="3"), who="chair")
    put(db, "C-2")
    assert len([told for told in said_of(db) if "entry 2 of the log is not in it" in told]) == 4
    shutil.move(kept, people)
    assert [told for told in said_of(db) if "people" in told] == []


def test_a_restored_backup_is_not_told_for_its_older_log(first_written, tmp_path):
    db = first_written
    backup.back_up(db, tmp_path / "day.backup")
    findings.save(db, "2031-03", "C-1", findings.Finding(went_well="3"), who="chair")
    backup.restore(tmp_path / "day.backup", db, replace=True)
    assert [told for told in said_of(db) if "people" in told] == []


def test_another_database_in_its_place_has_lost_nothing(first_written, tmp_path):
    people_database.file_of(first_written).unlink()
    shutil.move(made(tmp_path / "west.duckdb", "X-1"), first_written)
    assert published.required(first_written).note is None


@pytest.mark.parametrize("copies", ["kept", "deleted"])
def test_part_of_an_import_is_not_taken_for_all_of_it(db, tmp_path, monkeypatch, copies):
    incoming = tmp_path / "in"
    incoming.mkdir()
    for k in range(4):
        (incoming / f"{k}.csv").write_text(f"case_id,period\nD{k},2031-03\n")
    taken = importer._Import.take

    def stopped_at_the_third(running, sighted, read):
        if sighted.candidate.number == 3:
            raise KeyboardInterrupt
        return taken(running, sighted, read)

    monkeypatch.setattr(importer._Import, "take", stopped_at_the_third)
    with pytest.raises(KeyboardInterrupt):
        importer.import_paths(db, [incoming], settings=load_settings())
    monkeypatch.setattr(importer._Import, "take", taken)
    if copies == "deleted":
        shutil.rmtree(published.folder_of(db))
    found = published.required(db)
    assert cases(found) == ["C-1", "C-2", "D0", "D1"]
    assert "the last import was stopped before its end" in found.note
    importer.import_paths(db, [incoming], settings=load_settings())
    found = published.required(db)
    assert cases(found) == ["C-1", "C-2", "D0", "D1", "D2", "D3"]
    assert found.note is None


def test_an_import_that_could_not_begin_leaves_no_remark(db, monkeypatch):
    def broken(*_args, **_kwargs):
        raise AuditError("no key")

    monkeypatch.setattr(importer, "load_ledger", broken)
    with pytest.raises(AuditError, match="no key"):
        importer.import_paths(db, [db.parent], settings=load_settings())
    assert published.required(db).note is None


def test_a_copy_of_the_file_is_the_same_database(db, tmp_path):
    copy = Path(shutil.copy(db, tmp_path / "copy.duckdb"))
    with database.open_for_reading(db) as one, database.open_for_reading(copy) as two:
        assert identity.of(one) == identity.of(two)

"""Commands that only read: they answer from the published copy, also while another process writes, and say so."""

import json
import shutil
from pathlib import Path

import pytest

from audit.cli import main
from audit.store import database, published
from tests import page_databases
from tests.unit.store.test_published import Writer, put

READING = [["delays"], ["find"], ["trends"], ["agreement"], ["find", "--period", "2031-04"]]


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Path:
    return page_databases.small_database(tmp_path_factory.mktemp("made"))


@pytest.fixture
def db(made, tmp_path) -> Path:
    file = Path(shutil.copy(made, tmp_path / "unit.duckdb"))
    published.required(file)
    return file


def run(db: Path, capsys, *arguments: str, expect: int = 0):
    with pytest.raises(SystemExit) as left:
        main(["--db", str(db), *arguments])
    told = capsys.readouterr()
    assert left.value.code == expect, told.err
    return told


@pytest.mark.slow
@pytest.mark.parametrize("arguments", READING, ids=" ".join)
def test_while_another_process_writes_the_copy_answers_the_same_and_says_so(db, capsys, arguments):
    before = run(db, capsys, *arguments, "--json")
    assert "copy" not in before.err
    with Writer(db, "X-999"):
        during = run(db, capsys, *arguments, "--json")
    assert json.loads(during.out) == json.loads(before.out)
    at = published.record_of(db).published_at
    assert f"Note: figures are from the copy published at {at}; the database has changed since." in during.err
    after = run(db, capsys, *arguments, "--json")
    assert "copy" not in after.err


@pytest.mark.slow
def test_a_command_sees_what_was_written_and_never_published(db, capsys):
    considered = json.loads(run(db, capsys, "find", "--json").out)["considered"]
    put(db, "X-999")
    assert json.loads(run(db, capsys, "find", "--json").out)["considered"] == considered + 1


@pytest.mark.slow
def test_the_pack_is_printed_from_the_copy_and_says_in_it_which_state_it_shows(db, capsys, tmp_path):
    with Writer(db, "X-999"):
        told = run(db, capsys, "pack", "--period", "2031-04", "--out", str(tmp_path / "out"), "--for-outside")
    assert "the database has changed since" in told.err
    page = next((tmp_path / "out").glob("*.html")).read_text(encoding="utf-8")
    assert "These figures are from the copy published at" in page
    run(db, capsys, "pack", "--period", "2031-04", "--out", str(tmp_path / "later"), "--for-outside")
    later = next((tmp_path / "later").glob("*.html")).read_text(encoding="utf-8")
    assert "These figures are from the copy" not in later


@pytest.mark.slow
def test_check_says_which_state_the_copy_is_of(db, capsys):
    code = 1  # the small database has readings to look at
    assert "is of the database as it is" in run(db, capsys, "check", expect=code).out
    put(db, "X-999")
    told = run(db, capsys, "check", expect=code).out
    assert "is older than the database" in told
    assert published.required(db).note is None
    assert "is of the database as it is" in run(db, capsys, "check", expect=code).out
    shutil.rmtree(published.folder_of(db))
    assert "no copy that can be read" in run(db, capsys, "check", expect=code).out
    assert not published.folder_of(db).exists()  # looking changes nothing


@pytest.mark.slow
def test_check_looks_through_the_copy_while_another_process_writes(db, capsys):
    free = run(db, capsys, "check", expect=1).out.splitlines()
    with Writer(db, "X-999"):
        held = run(db, capsys, "check", expect=1).out.splitlines()
    assert "another process is writing to the database" in held[1]
    assert held[2:] == free[2:]


def test_check_finds_a_copy_that_is_not_what_its_record_says(db, capsys):
    record = published.folder_of(db) / "current"
    told = json.loads(record.read_text(encoding="utf-8"))
    with database.open_for_writing(published.current(db), changes=False) as con:
        con.execute("delete from reads")
        con.execute("checkpoint")
    facts = published.folder_of(db).joinpath(told["copy"]).stat()
    record.write_text(json.dumps(told | {"copy_is": [facts.st_size, facts.st_mtime_ns]}), encoding="utf-8")
    assert "published copy: 0 reads" in run(db, capsys, "check", expect=1).out


def test_an_import_whose_copy_cannot_be_made_is_still_an_import(db, capsys, tmp_path):
    shutil.rmtree(published.folder_of(db))
    published.folder_of(db).write_text("in the way", encoding="utf-8")
    (tmp_path / "cases.csv").write_text("case_id,period\nC77,2031-04\n", encoding="utf-8")
    told = run(db, capsys, "import", str(tmp_path / "cases.csv"))
    assert "no copy can be made beside it" in told.err
    with database.open_for_reading(db) as con:
        assert con.execute("select count(*) from cases where case_id = 'C77'").fetchone() == (1,)

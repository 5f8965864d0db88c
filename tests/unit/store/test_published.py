"""Published copies: whichever way the database came to differ from its copy, a reader notices."""

import errno
import json
import os
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import BinaryIO

import pytest

from audit.errors import StoreBusyError
from audit.store import database, published

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[3]
# writes a case in another process, says so, and holds the file until its input is closed or it is killed
WRITER = """
import sys
from pathlib import Path
from audit.store import database
with database.open_for_writing(Path(sys.argv[1])) as con:
    if len(sys.argv) > 2:
        con.execute("insert into cases (case_id) values (?)", [sys.argv[2]])
    print("written", flush=True)
    sys.stdin.read()
"""


class Writer:
    """A process that writes to the database and holds it."""

    def __init__(self, db: Path, *case_ids: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(db), *case_ids],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        assert self._process.stdout.readline().strip() == "written"

    def finish(self) -> None:
        self._process.stdin.close()
        self._process.wait()
        self._process.stdout.close()

    def kill(self) -> None:
        self._process.kill()
        self.finish()

    def __enter__(self) -> "Writer":
        return self

    def __exit__(self, *_error: object) -> None:
        if self._process.poll() is None:
            self.kill()


def put(db: Path, case_id: str) -> None:
    with database.open_for_writing(db) as con:
        con.execute("insert into cases (case_id) values (?)", [case_id])


def cases(source: published.Source) -> list[str]:
    with published.open_for_reading(source) as con:
        return [row[0] for row in con.execute("select case_id from cases order by all").fetchall()]


def seen(db: Path) -> list[str]:
    """The cases that a reader sees who is told of no reservation."""
    source = published.required(db)
    assert source.note is None
    assert source.file != db
    return cases(source)


@pytest.fixture(scope="module")
def made_once(schema_only: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a database of one case and a copy of that state."""
    file = Path(shutil.copy(schema_only, tmp_path_factory.mktemp("made") / "unit.duckdb"))
    put(file, "C-1")
    published.required(file)
    return file.parent


@pytest.fixture
def db(made_once: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made_once, tmp_path, dirs_exist_ok=True)) / "unit.duckdb"


def test_a_copy_answers_at_once_while_another_process_holds_the_database(db):
    with Writer(db, "C-2"):
        # the other process holds the file until this block ends
        source = published.required(db)
        assert cases(source) == ["C-1"]
    assert "the database has changed since" in source.note
    assert published.record_of(db).published_at in source.note


def test_what_a_command_wrote_and_did_not_publish_is_seen_by_the_next_reader(db):
    with Writer(db, "C-2") as writer:
        writer.finish()
    assert seen(db) == ["C-1", "C-2"]


def test_who_asks_again_and_again_takes_a_held_database_for_held_until_there_is_a_newer_copy(db):
    with Writer(db, "C-2") as writer:
        older = published.required(db)
        writer.finish()
    assert published.source(db, held_s=3600) == older
    assert seen(db) == ["C-1", "C-2"]
    assert published.source(db, held_s=3600).note is None


def test_what_a_killed_command_had_stored_is_seen_by_the_next_reader(db):
    with Writer(db, "C-2") as writer:
        writer.kill()
    assert seen(db) == ["C-1", "C-2"]


def test_a_database_that_nobody_wrote_to_is_not_copied_again(db):
    before = published.current(db)
    assert seen(db) == ["C-1"]
    published.required(db)
    os.utime(db)  # touched by a backup program
    assert seen(db) == ["C-1"]
    assert published.current(db) == before
    assert len(list(published.folder_of(db).glob("*.duckdb"))) == 1


def test_a_restored_backup_is_noticed_though_size_and_time_are_the_same(db):
    backup = db.with_name("backup.duckdb")
    shutil.copy2(db, backup)
    put(db, "C-2")
    assert seen(db) == ["C-1", "C-2"]
    shutil.copy2(backup, db)
    assert seen(db) == ["C-1"]


def test_another_database_in_its_place_is_noticed(db, schema_only, tmp_path):
    other = Path(shutil.copy(schema_only, tmp_path / "other.duckdb"))
    put(other, "X-1")
    facts = db.stat()
    os.replace(other, db)
    os.utime(db, ns=(facts.st_atime_ns, facts.st_mtime_ns))
    assert seen(db) == ["X-1"]


def test_a_database_that_was_moved_takes_no_copy_of_another_along(db, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    moved = tmp_path / "elsewhere" / "unit.duckdb"
    shutil.copytree(published.folder_of(db), published.folder_of(moved))
    shutil.move(db, moved)
    put(moved, "C-2")
    assert seen(moved) == ["C-1", "C-2"]


def test_two_databases_in_one_folder_have_copies_of_their_own(db, schema_only):
    others = [Path(shutil.copy(schema_only, db.with_name(name))) for name in ("west.duckdb", "unit.db")]
    for file in others:
        put(file, f"of {file.name}")
    for file in others:
        assert seen(file) == [f"of {file.name}"]
    assert seen(db) == ["C-1"]
    assert len({published.folder_of(file) for file in [db, *others]}) == 3


@pytest.mark.parametrize("lost", ["folder", "copy", "record"])
def test_what_was_deleted_is_made_again(db, lost):
    folder = published.folder_of(db)
    if lost == "folder":
        shutil.rmtree(folder)
    else:
        (published.current(db) if lost == "copy" else folder / "current").unlink()
    assert seen(db) == ["C-1"]


@pytest.mark.parametrize(
    "content", [b"", b"{", b"000001.duckdb", b"[1, 2]", b'{"copy": "000001.duckdb"}', b"\xff\xfe\x00", b"null"]
)
def test_a_damaged_record_is_no_record(db, content):
    (published.folder_of(db) / "current").write_bytes(content)
    assert published.current(db) is None
    assert seen(db) == ["C-1"]


def test_a_record_that_names_a_file_outside_is_no_record(db, schema_only):
    record = published.folder_of(db) / "current"
    record.write_text(json.dumps(json.loads(record.read_text(encoding="utf-8")) | {"copy": str(schema_only)}))
    assert seen(db) == ["C-1"]


def test_a_copy_that_somebody_changed_is_made_again(db):
    put(published.current(db), "C-9")
    assert seen(db) == ["C-1"]


def test_without_any_copy_a_reader_is_told_that_somebody_writes(db, monkeypatch):
    monkeypatch.setattr(database, "LONGEST_WAIT_S", 0.2)
    shutil.rmtree(published.folder_of(db))
    with Writer(db), pytest.raises(StoreBusyError, match="another process"):
        published.required(db)


def test_a_reader_in_the_writers_own_process_does_not_see_half(db):
    with database.open_for_writing(db) as con, database.transaction(con):
        con.execute("insert into cases (case_id) values ('C-2')")
        source = published.required(db)
        assert "changed since" in source.note
        assert cases(source) == ["C-1"]
    assert seen(db) == ["C-1", "C-2"]


def test_where_no_copy_can_be_made_the_database_itself_answers_and_says_so(db):
    shutil.rmtree(published.folder_of(db))
    published.folder_of(db).write_text("in the way", encoding="utf-8")
    source = published.required(db)
    assert source.file == db
    assert "from the database itself" in source.note
    assert cases(source) == ["C-1"]
    put(db, "C-2")
    later = published.required(db)
    assert cases(later) == ["C-1", "C-2"]
    assert later.state != source.state  # what pages keep under the former state is not shown


def test_a_folder_that_may_only_be_read(db, monkeypatch):
    published.required(db)
    monkeypatch.setattr(os, "access", lambda path, mode: not (Path(path) == db.parent and mode == os.W_OK))
    assert seen(db) == ["C-1"]  # a copy that is good is read
    put(db, "C-2")
    source = published.required(db)
    assert source.file == db
    assert os.strerror(errno.EACCES) in source.note
    assert cases(source) == ["C-1", "C-2"]


def test_a_full_disk_leaves_no_half_copy(db, monkeypatch):
    def full(_from: object, to: BinaryIO, _piece: int) -> None:
        to.write(b"half")
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    put(db, "C-2")
    monkeypatch.setattr(shutil, "copyfileobj", full)
    source = published.required(db)
    assert cases(source) == ["C-1", "C-2"]
    assert os.strerror(errno.ENOSPC) in source.note
    assert list(published.folder_of(db).glob("*.partial")) == []


def test_nobody_else_opens_the_database_before_its_copy_is_in_force(db, monkeypatch):
    # two that publish at once wrote to one file: a process that closes a file loses its lock on it
    tried = []

    def elsewhere(_: Path) -> None:
        opened = [sys.executable, "-c", "import duckdb, sys; duckdb.connect(sys.argv[1])", str(db)]
        tried.append(subprocess.run(opened, capture_output=True, text=True, check=False).stderr)

    put(db, "C-2")
    monkeypatch.setattr(published, "_sync", elsewhere)
    assert seen(db) == ["C-1", "C-2"]
    assert len(tried) == 2  # copy and record
    assert all("lock" in said for said in tried)


def test_only_the_newest_copies_are_kept_but_none_is_taken_from_its_reader(db):
    held = published.required(db)
    with published.open_for_reading(held):
        for k in range(2, 6):
            put(db, f"C-{k}")
            published.required(db)
        assert held.file.is_file()
        assert len(list(published.folder_of(db).glob("*.duckdb"))) == published.KEEP + 1
    put(db, "C-6")
    published.required(db)
    kept = sorted(published.folder_of(db).glob("*.duckdb"))
    assert len(kept) == published.KEEP
    assert kept[-1] == published.current(db)


def test_a_copy_that_was_never_finished_is_not_the_one_in_force(db):
    before = published.current(db)
    (published.folder_of(db) / "000002.partial").write_bytes(b"half")
    assert published.current(db) == before


def test_no_database_has_no_copy(db, tmp_path):
    assert published.source(tmp_path / "none.duckdb") is None
    db.unlink()
    assert published.source(db) is None


def test_a_foreign_database_gets_no_copy(tmp_path):
    import duckdb

    other = tmp_path / "other.duckdb"
    with duckdb.connect(str(other)) as con:
        con.execute("create table shopping (item varchar)")
    with pytest.raises(database.StoreVersionError, match="did not make"):
        published.source(other)
    assert not published.folder_of(other).exists()


def test_only_readers_of_copies_and_those_who_must_open_the_live_database():
    """Every question goes through the published copy; these have a reason to open the file itself."""
    may = {
        "audit/store/published.py",  # the one way to a copy
        "audit/questions/check.py",  # looks at both
        "audit/store/backup.py",  # asks the very file that is put back whether a key is its own
        "audit/questions/doctor.py",  # says whether the file itself opens
    }
    found = set()
    for room in ("audit", "dashboards"):
        for file in (ROOT / room).rglob("*.py"):
            text = file.read_text(encoding="utf-8")
            if "database.open_for_reading(" in text or "store.open_for_reading(" in text:
                found.add(str(file.relative_to(ROOT)))
    assert found <= may


def test_a_copy_with_the_views_of_another_version_is_made_again(db, monkeypatch):
    before = published.current(db)
    monkeypatch.setattr(published.views, "known", lambda: "views of a later version")
    assert seen(db) == ["C-1"]
    assert published.current(db) != before


def test_who_asks_often_sees_the_newest_copy_and_holds_no_older_one_nor_the_database(db):
    first = published.required(db)
    with published.open_for_question(first) as con:
        put(db, "C-2")
        second = published.required(db)
        with published.open_for_question(second) as other:
            assert other.execute("select count(*) from cases").fetchone() == (2,)
        # a question that is being answered goes on
        assert con.execute("select count(*) from cases").fetchone() == (1,)
    put(db, "C-3")
    put_aside = published.required(db)
    with published.open_for_question(put_aside) as con:
        assert con.execute("select count(*) from cases").fetchone() == (3,)
    assert not first.file.exists()
    itself = published.Source(db, "x", is_copy=False)
    with published.open_for_question(itself) as con:
        assert con.execute("select count(*) from cases").fetchone() == (3,)
    put(db, "C-4")  # nobody holds it


def test_threads_ask_on_one_open_copy(db):
    source = published.required(db)

    def ask(_: int) -> list[str]:
        with published.open_for_question(source) as con:
            return [row[0] for row in con.execute("select case_id from cases").fetchall()]

    with ThreadPoolExecutor(8) as pool:
        assert list(pool.map(ask, range(64))) == [["C-1"]] * 64

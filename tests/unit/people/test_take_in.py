"""Files handed over on the pages: tried, taken in and read by a process of its own, and gone after it."""

import errno
import os
import shutil
import time
from pathlib import Path

import pytest

from audit.commands import take_in as process
from audit.errors import NotAllowedError, UsageError
from audit.intake.looked_at import looked_at
from audit.people import log, take_in
from audit.people.take_in import State
from audit.settings import load_settings
from audit.tables import files_in
from tests import page_databases
from tests.asking import ask

CASES = b"case_id;period;cord_artery_ph\nT1;2031-09;7,12\nT2;2031-13;7,2\n"
EVENTS = b"Nr;Wann;Ereignis\nT1;60;Geburt\n"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return page_databases.small_database(tmp_path_factory.mktemp("made"))


@pytest.fixture
def db(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made.parent, tmp_path / "unit")) / made.name


def start(db: Path, **options: bool) -> None:
    take_in.start(db, {"Quill, Tessa.csv": CASES}, who="lead", run=lambda _: 0, **options)


def stored(db: Path) -> list[tuple[str]]:
    found = ask(db, "select case_id from cases where period = '2031-09'")
    return found


def test_a_try_says_what_would_be_taken_and_stores_nothing(db: Path) -> None:
    start(db, dry_run=True)
    assert process.run(db).stage == "done"
    assert stored(db) == []
    found = take_in.state(db)
    assert found is not None
    assert [row["rows_accepted"] for row in files_in.taken(found.report)] == [1]
    (kept_out,) = files_in.kept_out(found.report)
    assert (kept_out["row"], kept_out["column"]) == (3, "period")
    assert "expected the month of birth as YYYY-MM" in kept_out["reason"]
    assert take_in.words(found, 0) == "Tried; nothing was stored."


@pytest.mark.parametrize("name", ["../../e.csv", "a\0b.csv", "x" * 300 + ".csv", "..", "", "/", "\ud800.csv"])
def test_a_file_of_any_name_is_kept_in_its_folder(db: Path, name: str) -> None:
    take_in.start(db, {name: CASES, "b.csv": CASES}, who="lead", run=lambda _: 0)
    kept = [file for file in take_in.folder_of(db).parent.rglob("*") if file.is_file() and file.read_bytes() == CASES]
    assert len(kept) == 2
    assert {file.parent for file in kept} == {take_in.folder_of(db) / take_in.FILES}
    assert looked_at(name, CASES, load_settings())[0].said.startswith("cases")


@pytest.mark.slow
def test_files_are_taken_in_and_gone_from_the_folder_and_no_name_stays(db: Path) -> None:
    start(db)
    assert process.run(db).stage == "done"
    assert stored(db) == [("T1",)]
    left = [file for file in take_in.folder_of(db).rglob("*") if file.is_file()]
    assert {file.name for file in left} == {"state.json", "choices.json"}
    assert not [file for file in left if b"Quill" in file.read_bytes()]
    assert "Quill" not in repr(log.entries(db))
    assert log.entries(db)[-1]["subject"] == "import"


def no_room(*_: object, **__: object) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_a_full_disk_is_told_while_files_are_handed_over_and_none_stays(
    db: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Path, "write_bytes", no_room)
    with pytest.raises(UsageError, match="the disk is full"):
        start(db)
    assert not take_in.folder_of(db).exists()
    assert take_in.state(db) is None


def test_a_disk_that_is_full_while_files_are_taken_in_is_told(db: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    start(db)
    monkeypatch.setattr(process, "import_paths", no_room)
    found = process.run(db)
    assert "the disk is full" in take_in.words(found, 0)
    assert not (take_in.folder_of(db) / take_in.FILES).exists()


def test_a_mapping_that_is_not_there_fails_with_a_sentence(db: Path) -> None:
    take_in.start(db, {"e.csv": EVENTS}, who="lead", mappings=["ward"], run=lambda _: 0)
    found = process.run(db)
    assert (found.stage, take_in.words(found, 0)[:13]) == ("failed", "mapping: foun")


def test_one_at_a_time_and_for_the_lead_alone(db: Path) -> None:
    start(db)
    take_in.write_state(db, State(stage="importing", pid=1))
    with pytest.raises(UsageError, match="already"):
        start(db)
    with pytest.raises(NotAllowedError):
        take_in.start(db, {"a.csv": CASES}, who="chair", run=lambda _: 0)


def test_a_name_that_leads_elsewhere_stays_in_the_folder(db: Path) -> None:
    take_in.start(db, {"../../out.csv": CASES, "": CASES}, who="lead", run=lambda _: 0)
    names = {file.name for file in (take_in.folder_of(db) / "files").iterdir()}
    assert names == {"out.csv", "file2"}
    assert not (db.parent.parent / "out.csv").exists()


def test_time_left_is_as_fast_as_until_now() -> None:
    now = State(stage="importing", done=10, total=40, began=100, pid=1)
    assert now.left_s(160) == 180.0  # 10 took 60 s, 30 are left
    assert State(stage="importing", total=40, began=100).left_s(160) is None
    assert "10 of 40, about 3 min left" in take_in.words(now, 160)
    now.of_work = 0.5  # the ten were the larger files
    assert now.left_s(160) == 60.0


def test_a_process_that_was_ended_is_told(db: Path) -> None:
    start(db)
    take_in.write_state(db, State(stage="analysing", pid=2**30))
    found = take_in.state(db)
    assert found is not None
    assert "ended before it had finished" in take_in.words(found, 0)


@pytest.mark.slow
def test_the_process_outlives_who_started_it(db: Path) -> None:
    take_in.start(db, {"cases.csv": CASES}, who="lead")
    while (found := take_in.state(db)) is None or found.stage not in ("done", "failed"):
        time.sleep(0.1)
    assert (found.stage, found.error) == ("done", "")
    assert stored(db) == [("T1",)]

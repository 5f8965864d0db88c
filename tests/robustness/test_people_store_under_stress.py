"""The people store when a process is killed while saving, when two save at once, and when DuckDB is held elsewhere."""

import multiprocessing
import os
import random
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from audit.errors import AuditError, StoreBusyError
from audit.people import absorb, batches, log, reads
from audit.people.batches import Plan, Window
from audit.people.reads import Read
from audit.store import database as store
from audit.store import people_database as database
from tests.robustness import kill_marks
from tests.robustness.kill_marks import BLOCK_MOMENTS, Mark

ROOT = Path(__file__).resolve().parents[2]
STRIPS = 400

# Saves reads one after another and says each number only after `save` has returned: that is the acknowledgement.
# How long a save may wait for another is asked elsewhere; here it waits as long as the machine needs.
SAVER = """
import sys
from pathlib import Path
from tests.robustness import kill_marks
from audit.people import reads
from audit.store import people_database as database
from audit.people.reads import Read
database.LONGEST_WAIT_S = 300.0
kill_marks.arm(sys.argv[1])
db, reader = Path(sys.argv[2]), sys.argv[3]
for strip in range(1, int(sys.argv[4]) + 1):
    print(reads.save(db, 1, strip, reader, Read("normal", baseline_bpm=100.0 + strip % 60)), flush=True)
"""
SAVING = "audit.store.people_database:writing"


def batch_for(db: Path, *readers: str) -> int:
    windows = tuple(Window(f"C-{n}", "A", 0.0, 1800.0) for n in range(1, STRIPS + 1))
    return batches.make(db, Plan("Stress", "figo-2015", windows, readers, seed=1), who="lead")


def stored_ids(db: Path) -> set[int]:
    with database.reading(db) as con:
        return {row[0] for row in con.execute("select read_id from strip_reads")}


def test_killed_while_saving_nothing_acknowledged_is_lost(tmp_path: Path) -> None:
    rng = random.Random(12)
    acknowledged: set[int] = set()
    db = tmp_path / "unit.duckdb"
    readers = tuple(f"R{n}" for n in range(12))
    batch_for(db, *readers)
    stored_before = 0
    for number, reader in enumerate(readers):
        mark = Mark(SAVING, rng.randint(2, 30), BLOCK_MOMENTS[number % len(BLOCK_MOMENTS)])
        said = kill_marks.killed(SAVER, db, reader, STRIPS, blocks=[SAVING], mark=mark)
        acknowledged |= {int(line) for line in said}
        assert len(said) == mark.call - 1
        # whole or absent: the save that was cut off is there only when its commit had ended
        stored = len(stored_ids(db))
        assert stored - stored_before == len(said) + (mark.moment == "after")
        stored_before = stored
    assert acknowledged <= stored_ids(db)
    hold_together(db)


def test_killed_in_the_middle_of_writing_to_the_disk_nothing_acknowledged_is_lost(tmp_path: Path) -> None:
    rng = random.Random(13)
    acknowledged: set[int] = set()
    db = tmp_path / "unit.duckdb"
    readers = tuple(f"R{n}" for n in range(4))
    batch_for(db, *readers)
    for reader in readers:
        mark = Mark(longest_file=database.file_of(db).stat().st_size + rng.randint(30_000, 300_000))
        acknowledged |= {int(line) for line in kill_marks.killed(SAVER, db, reader, STRIPS, mark=mark)}
        assert acknowledged <= stored_ids(db)
    assert acknowledged
    hold_together(db)


def hold_together(db: Path) -> None:
    """As many log entries as reads, the chain of the log unbroken, and the file sound."""
    assert len([row for row in log.entries(db) if row["deed"] == "read"]) == len(stored_ids(db))
    assert log.verify(db) == []
    with database.reading(db) as con:
        assert con.execute("pragma integrity_check").fetchone()[0] == "ok"


def test_two_savers_at_once_lose_nothing(tmp_path: Path) -> None:
    db = tmp_path / "unit.duckdb"
    batch_for(db, "R1", "R2")
    with kill_marks.start(SAVER, db, "R1", 150) as one, kill_marks.start(SAVER, db, "R2", 150) as two:
        said = [[line for line in process.communicate()[0].split("\n") if line.isdigit()] for process in (one, two)]
    assert [process.returncode for process in (one, two)] == [0, 0]
    assert sorted(int(number) for number in said[0] + said[1]) == sorted(stored_ids(db))
    assert [(row["reader"], row["read"]) for row in batches.progress(db, 1)] == [("R1", 150), ("R2", 150)]
    assert log.verify(db) == []


def hold(db: str, held: "multiprocessing.synchronize.Event", let_go: "multiprocessing.synchronize.Event") -> None:
    with store.open_for_writing(Path(db)):
        held.set()
        let_go.wait()


def test_a_save_does_not_wait_for_a_command_that_holds_the_database(tmp_path: Path) -> None:
    db = tmp_path / "unit.duckdb"
    batch_for(db, "R1")
    context = multiprocessing.get_context("spawn")
    held, let_go = context.Event(), context.Event()
    holder = context.Process(target=hold, args=(str(db), held, let_go))
    holder.start()
    try:
        held.wait()
        # these come back although the command holds the database until it is told to let go
        reads.save(db, 1, 1, "R1", Read("normal"))
        batches.close(db, 1, who="lead", incomplete=True)
        assert absorb.absorb_reads(db) == absorb.Absorbed(queued=1)
        assert holder.is_alive()
    finally:
        let_go.set()
        holder.join()
    assert absorb.absorb_reads(db) == absorb.Absorbed(batches=1, reads=1)


def test_a_save_behind_a_stuck_writer_is_refused_and_says_so(tmp_path: Path) -> None:
    assert database.LONGEST_WAIT_S < 2.0  # the design's limit for a page
    db = tmp_path / "unit.duckdb"
    batch_for(db, "R1")
    stuck = sqlite3.connect(database.file_of(db), isolation_level=None)
    try:
        stuck.execute("begin immediate")
        with pytest.raises(StoreBusyError, match="save again"):
            reads.save(db, 1, 1, "R1", Read("normal"))
        assert reads.latest(db, 1, 1, "R1") is None
    finally:
        stuck.close()
    reads.save(db, 1, 1, "R1", Read("normal"))
    assert reads.latest(db, 1, 1, "R1") == Read("normal")


def test_two_processes_that_meet_on_a_new_file_both_succeed(tmp_path: Path) -> None:
    code = (
        "import sys\nfrom pathlib import Path\nfrom audit.people import agenda\n"
        "from audit.store import people_database as database\n"
        "database.LONGEST_WAIT_S = 300.0\n"
        "agenda.add(Path(sys.argv[1]), '2031-03', sys.argv[2], who='lead')"
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    for turn in range(5):
        db = tmp_path / f"unit{turn}.duckdb"
        commands = [[sys.executable, "-c", code, str(db), case_id] for case_id in ("C-1", "C-2")]
        processes = [subprocess.Popen(command, env=environment) for command in commands]
        assert [process.wait() for process in processes] == [0, 0]
        assert log.verify(db) == []
        assert len(log.entries(db)) == 2


def save_until_refused(db: Path) -> tuple[int, str]:
    """The last strip that was stored, and the sentence of the first refusal."""
    for strip in range(2, STRIPS):
        try:
            reads.save(db, 1, strip, "R1", Read("normal"))
        except AuditError as error:
            return strip - 1, str(error)
    raise AssertionError("the disk never filled")


def test_a_full_disk_refuses_the_save_in_words_and_keeps_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    db = tmp_path / "unit.duckdb"
    batch_for(db, "R1")
    reads.save(db, 1, 1, "R1", Read("normal"))
    prepare = database._prepare

    def full(con: sqlite3.Connection, file: Path) -> None:
        prepare(con, file)
        pages = con.execute("pragma page_count").fetchone()[0]
        con.execute(f"pragma max_page_count = {pages}")

    with monkeypatch.context() as patch:
        patch.setattr(database, "_prepare", full)
        kept, refusal = save_until_refused(db)
    assert "could not be written" in refusal
    stored = {row["strip_number"] for row in batches.strips(db, 1, "R1") if row["read_id"]}
    assert stored == set(range(1, kept + 1))
    assert log.verify(db) == []
    reads.save(db, 1, kept + 1, "R1", Read("normal"))


@pytest.mark.parametrize("damage", ["truncated", "overwritten", "emptied"])
def test_a_damaged_file_is_named_and_never_crashes(tmp_path: Path, damage: str) -> None:
    db = tmp_path / "unit.duckdb"
    batch_for(db, "R1")
    reads.save(db, 1, 1, "R1", Read("normal"))
    file = database.file_of(db)
    content = bytearray(file.read_bytes())
    if damage == "truncated":
        file.write_bytes(content[: len(content) // 3])
    elif damage == "overwritten":
        content[4096 : len(content) // 2] = b"\xff" * (len(content) // 2 - 4096)
        file.write_bytes(content)
    else:
        file.write_bytes(b"")
    sentences = [
        refusal_of(look, db)
        for look in (log.verify, batches.everything, lambda db: reads.save(db, 1, 2, "R1", Read("normal")))
    ]
    named = [sentence for sentence in sentences if sentence is not None]
    assert all(file.name in sentence or "there is none" in sentence for sentence in named)
    # an emptied file is a new store, and says that there is no such batch; a damaged one says so itself
    assert named


def refusal_of(look: Callable[[Path], object], db: Path) -> str | None:
    """The sentence of a refusal; None without one. Anything but an error of the program's own fails the test."""
    try:
        look(db)
    except AuditError as error:
        return str(error)
    return None

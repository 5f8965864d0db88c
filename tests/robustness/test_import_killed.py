"""An import killed at a mark: what was committed stays, nothing half-written is seen, a rerun completes.

A kill is SIGKILL of the process, or its end in the middle of writing to the disk: a power cut is not tested.
"""

import random
import signal
from pathlib import Path

import numpy as np
import pytest

from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database
from tests.robustness import kill_marks
from tests.robustness.kill_marks import BLOCK_MOMENTS, CALL_MOMENTS, Mark

FILES, SECONDS = 7, 600
IMPORT = """
import sys
from pathlib import Path
from tests.robustness import kill_marks
from audit.intake.importer import import_paths
from audit.settings import load_settings
kill_marks.arm(sys.argv[1])
import_paths(Path(sys.argv[2]), [Path(sys.argv[3])], settings=load_settings(),
             progress=lambda done, *_: print(done, flush=True))
"""
TRANSACTION, QUERY = "audit.store.database:transaction", "audit.store.database:execute"


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("in")
    rng = np.random.default_rng(1)
    for k in range(FILES):
        rows = [f"C{k},{i / 4},{v},{v % 50}" for i, v in enumerate(rng.integers(110, 160, SECONDS * 4))]
        rows.insert(7, f"C{k},x,140,1")  # one reject, so that a transaction writes to every table
        (folder / f"{k:02d}.csv").write_text("case_id,t_s,fhr_bpm,toco\n" + "\n".join(rows) + "\n")
    return folder


@pytest.fixture
def db(tmp_path) -> Path:
    """Where no database is yet: the import that is killed is the one that makes it."""
    return tmp_path / "unit.duckdb"


# a new database is made in as many transactions: one a step, one for the views
OF_THE_SCHEMA = len(database.SCHEMA.steps()) + 1
OF_OPENING = 2  # every command that may change something marks the state as a new one, and an import its batch
BEFORE_FILES = OF_THE_SCHEMA + OF_OPENING


def whole_files(db: Path) -> int:
    """How many files are in, after checking that each is in whole: samples, minutes, import, reject."""
    with database.open_for_writing(db, changes=False) as con:
        rows = con.execute(
            "select i.source, i.rows_accepted, t.samples, m.samples, r.rejects from imports as i"
            " full join (select import_id, sum(samples) as samples from tracings group by 1) as t using (import_id)"
            " full join (select t.import_id, sum(len(m.fhr_cbpm)) as samples from tracing_minutes as m"
            " join tracings as t using (case_id, fetus, start_s) group by 1) as m using (import_id)"
            " full join (select import_id, count(*) as rejects from import_rejects group by 1) as r using (import_id)"
        ).fetchall()
        minutes = con.execute("select count(*) from tracing_minutes").fetchall()[0][0]
    assert all(tuple(row[1:]) == (SECONDS * 4, SECONDS * 4, SECONDS * 4, 1) for row in rows), rows
    assert minutes == len(rows) * SECONDS // 60
    return len(rows)


def told(said: list[str]) -> int:
    """The number of files that the import had last said were done."""
    return int(float(said[-1])) if said else 0  # a file under way counts as a part of one


def completes(db: Path, folder: Path) -> None:
    """A rerun takes what is missing and nothing twice."""
    report = import_paths(db, [folder], settings=load_settings())
    assert report.count("refused") == 0
    assert whole_files(db) == FILES


@pytest.mark.parametrize("moment", BLOCK_MOMENTS)
def test_a_kill_around_the_commit_keeps_exactly_the_files_before_it(db, folder, moment):
    number = random.Random(moment).randint(2, FILES)
    said = kill_marks.killed(
        IMPORT, db, folder, blocks=[TRANSACTION], mark=Mark(TRANSACTION, BEFORE_FILES + number, moment)
    )
    now = whole_files(db)
    assert now == (number if moment == "after" else number - 1)
    assert now >= told(said), "a file that was told as done was lost"
    completes(db, folder)


def test_kills_between_the_writes_of_a_file_lose_nothing_and_a_rerun_completes(db, folder):
    rng = random.Random(7)
    done = 0
    while done < FILES - 1:
        # each file that is taken runs at least three queries inside its transaction
        mark = Mark(QUERY, rng.randint(3, 3 * (FILES - done)), rng.choice(CALL_MOMENTS))
        said = kill_marks.killed(IMPORT, db, folder, calls=[QUERY], mark=mark)
        now = whole_files(db)
        assert now >= done, "a committed file was lost"
        assert now >= told(said), "a file that was told as done was lost"
        done = now
        # files that were taken are passed over, also those with rejects: so the next new file's is this
        kill_marks.killed(IMPORT, db, folder, blocks=[TRANSACTION], mark=Mark(TRANSACTION, OF_OPENING + 1, "after"))
        done += 1
        assert whole_files(db) == done
    completes(db, folder)


def test_killed_while_it_makes_the_database_the_next_import_makes_it(db, folder):
    """Between the first commit of the schema and its way out of the write-ahead log nothing may be lost for ever."""
    # after the first commit, the last step's, the views' and each of opening; one loop takes the steps between them,
    # so three of them are drawn; and at two more places, drawn, just before a commit
    drawn = random.Random(5)
    after = {1, *range(OF_THE_SCHEMA - 1, BEFORE_FILES + 1), *drawn.sample(range(2, OF_THE_SCHEMA - 1), 3)}
    marks = [(number, "after") for number in sorted(after)]
    marks += [(number, "done") for number in drawn.sample(range(1, BEFORE_FILES + 1), 2)]
    for number, moment in marks:
        new = db.with_name(f"{number}-{moment}.duckdb")
        kill_marks.killed(IMPORT, new, folder, blocks=[TRANSACTION], mark=Mark(TRANSACTION, number, moment))
        assert whole_files(new) == 0
    completes(new, folder)


COMMAND = """
import sys
from tests.robustness import kill_marks
from audit.cli import main
kill_marks.arm(sys.argv[1])
main(["--db", sys.argv[2], "import", sys.argv[3]])
"""


@pytest.mark.parametrize(
    ("stop", "number", "moment"),
    [
        (signal.SIGTERM, 1, "done"),
        (signal.SIGHUP, BEFORE_FILES + 3, "begun"),
        (signal.SIGTERM, BEFORE_FILES + 2, "done"),
        (signal.SIGINT, BEFORE_FILES + 3, "after"),
    ],
)
def test_asked_to_stop_an_import_undoes_the_file_it_is_in_and_closes_the_database(db, folder, stop, number, moment):
    mark = Mark(TRANSACTION, number, moment, signal=stop)
    with kill_marks.start(COMMAND, db, folder, blocks=[TRANSACTION], mark=mark) as process:
        process.communicate()
    assert process.returncode == 1, "the contract's code for anything else, not the signal's"
    assert not db.with_name(f"{db.name}.wal").exists(), "the database was not closed in order"
    files = number - BEFORE_FILES - (moment != "after")
    assert whole_files(db) == max(files, 0)
    completes(db, folder)


def test_killed_in_the_middle_of_writing_to_the_disk_nothing_half_written_is_seen(db, folder):
    """The process ends when a file would pass a length drawn from all that a whole import writes."""
    rng = random.Random(9)
    whole = db.with_name("whole.duckdb")
    import_paths(whole, [folder], settings=load_settings())
    for length in sorted(rng.sample(range(4096, whole.stat().st_size - 1), 4)):
        small = db.with_name(f"{length}.duckdb")
        kill_marks.killed(IMPORT, small, folder, mark=Mark(longest_file=length))
        whole_files(small)
        completes(small, folder)

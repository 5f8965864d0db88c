"""Blind reading: who sees what in which order, what a read may hold, and that nothing read is ever lost or changed."""

import math
import sqlite3
from functools import partial
from pathlib import Path
from unittest import mock

import pytest

from audit.errors import AuditError, UsageError
from audit.intake.importer import import_paths
from audit.people import absorb, accounts, batches, disclosures, log, permissions, reads
from audit.people.batches import Plan, Window
from audit.people.permissions import Deed
from audit.people.reads import Read
from audit.settings import load_settings
from audit.store import database as store
from audit.store import people_database as database

pytestmark = pytest.mark.slow

WINDOWS = tuple(Window(f"C-{n}", "A", 600.0, 2400.0, control=n > 8) for n in range(1, 13))


@pytest.fixture
def db(tmp_path: Path) -> Path:
    return tmp_path / "unit.duckdb"


def plan(**changes: object) -> Plan:
    values: dict[str, object] = {
        "name": "March",
        "standard": "figo-2015",
        "windows": WINDOWS,
        "readers": ("R1", "R2"),
        "repeat_fraction": 0.25,
        "seed": 7,
    }
    return Plan(**{**values, **changes})  # type: ignore[arg-type]


def opened(db: Path, case_id: str, who: str, place: str = "case") -> None:
    """An outcome was opened; by a reader too, as units did before there were roles."""
    with mock.patch.dict(permissions.PERMISSIONS, {Deed.SEE_OUTCOMES: permissions.ROLES}):
        if place == "list":
            disclosures.record_shown(db, ["C-0", case_id], who=who)
            return
        disclosures.record(db, case_id, who=who, place=place, period="2031-03")


def strip_of(db: Path, batch_id: int, case_id: str, occasion: int = 1) -> int:
    rows = batches.windows(db, batch_id)
    return next(row["strip_number"] for row in rows if (row["case_id"], row["occasion"]) == (case_id, occasion))


def test_a_batch_holds_every_window_once_and_the_share_of_repeats(db: Path) -> None:
    batch_id = batches.make(db, plan(), who="lead")
    rows = batches.windows(db, batch_id)
    assert sorted(row["case_id"] for row in rows if row["occasion"] == 1) == sorted(w.case_id for w in WINDOWS)
    assert len([row for row in rows if row["occasion"] == 2]) == 3
    assert [row["strip_number"] for row in rows] == list(range(1, 16))


def test_the_order_is_the_readers_own_and_repeats_come_late(db: Path) -> None:
    batch_id = batches.make(db, plan(), who="lead")
    orders = {}
    for reader in ("R1", "R2"):
        rows = batches.strips(db, batch_id, reader)
        assert sorted(row["strip_number"] for row in rows) == list(range(1, 16))
        orders[reader] = [row["strip_number"] for row in rows]
        place = {number: index for index, number in enumerate(orders[reader])}
        for row in batches.windows(db, batch_id):
            if row["occasion"] == 2:
                first = strip_of(db, batch_id, row["case_id"])
                assert place[row["strip_number"]] - place[first] >= 5
    assert orders["R1"] != orders["R2"]
    again = batches.make(db, plan(name="March again"), who="lead")
    assert [row["strip_number"] for row in batches.strips(db, again, "R1")] == orders["R1"]


def test_strip_numbers_do_not_tell_cases_from_controls() -> None:
    numbered = batches.numbered_windows(WINDOWS, 0.0, seed=3)
    controls = [index for index, (window, _) in enumerate(numbered) if window.control]
    assert controls not in ([0, 1, 2, 3], [8, 9, 10, 11])


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"standard": "own"}, "standard"),
        ({"windows": ()}, "no strip"),
        ({"windows": (WINDOWS[0], WINDOWS[0])}, "twice"),
        ({"readers": ()}, "no reader"),
        ({"readers": ("R1", "R1")}, "twice"),
        ({"readers": ("Anna Berg",)}, "reader code"),
        ({"repeat_fraction": 1.2}, "share repeated"),
        ({"name": " "}, "name"),
    ],
)
def test_an_impossible_plan_is_refused_whole(db: Path, changes: dict[str, object], words: str) -> None:
    with pytest.raises(UsageError, match=words):
        batches.make(db, plan(**changes), who="lead")
    assert batches.everything(db) == []


def test_a_correction_is_a_new_row_and_the_newest_counts(db: Path) -> None:
    batch_id = batches.make(db, plan(), who="lead")
    reads.save(db, batch_id, 3, "R1", Read("normal", baseline_bpm=140.0), seconds_spent=31.5)
    full = Read(
        "pathological",
        baseline_bpm=145.0,
        variability="minimal",
        accelerations="absent",
        decelerations=("late", "variable"),
        recurrent=True,
        contractions_per_10_min=4.5,
        would_act=True,
        confidence=4,
    )
    reads.save(db, batch_id, 3, "R1", full, seconds_spent=12.0)
    assert reads.latest(db, batch_id, 3, "R1") == full
    assert reads.latest(db, batch_id, 3, "R2") is None
    assert batches.one(db, batch_id)["reads"] == 1
    progress = batches.progress(db, batch_id)
    assert [(row["reader"], row["strips"], row["read"]) for row in progress] == [("R1", 15, 1), ("R2", 15, 0)]
    assert [row["read"] for row in batches.for_reader(db, "R1")] == [1]
    con = sqlite3.connect(database.file_of(db))
    try:
        for statement in ("update strip_reads set category = 'normal'", "delete from strip_reads"):
            with pytest.raises(sqlite3.IntegrityError, match="never"):
                con.execute(statement)
        assert con.execute("select count(*) from strip_reads").fetchone() == (2,)
    finally:
        con.close()


@pytest.mark.parametrize(
    ("read", "words"),
    [
        (Read("II"), "category"),
        (Read("normal", variability="low"), "variability"),
        (Read("normal", accelerations="some"), "accelerations"),
        (Read("normal", decelerations=("big",)), "decelerations"),
        (Read("normal", decelerations=("none", "late")), "decelerations"),
        (Read("normal", baseline_bpm=29.0), "baseline_bpm"),
        (Read("normal", baseline_bpm=251.0), "baseline_bpm"),
        (Read("normal", baseline_bpm=math.nan), "baseline_bpm"),
        (Read("normal", contractions_per_10_min=-1.0), "contractions"),
        (Read("normal", confidence=6), "confidence"),
        (Read("normal", note="thick line"), "notes are off"),
    ],
)
def test_a_read_outside_its_vocabulary_or_range_is_refused(db: Path, read: Read, words: str) -> None:
    batch_id = batches.make(db, plan(), who="lead")
    with pytest.raises(UsageError, match=words):
        reads.save(db, batch_id, 1, "R1", read)
    assert reads.latest(db, batch_id, 1, "R1") is None


@pytest.mark.parametrize("baseline_bpm", [30.0, 250.0])
def test_a_read_on_the_edge_of_its_range_is_stored(db: Path, baseline_bpm: float) -> None:
    batch_id = batches.make(db, plan(), who="lead")
    reads.save(db, batch_id, 1, "R1", Read("normal", baseline_bpm=baseline_bpm))
    found = reads.latest(db, batch_id, 1, "R1")
    assert found is not None
    assert found.baseline_bpm == baseline_bpm


def test_a_closed_batch_takes_no_more_reads(db: Path) -> None:
    batch_id = batches.make(db, plan(), who="lead")
    reads.save(db, batch_id, 1, "R1", Read("normal"))
    batches.close(db, batch_id, who="lead", incomplete=True)
    batches.close(db, batch_id, who="lead", incomplete=True)
    assert [row["deed"] for row in log.entries(db)] == ["made", "read", "closed"]
    with pytest.raises(AuditError, match="closed"):
        reads.save(db, batch_id, 1, "R1", Read("pathological"))
    assert reads.latest(db, batch_id, 1, "R1") == Read("normal")
    assert batches.for_reader(db, "R1") == []


def test_a_reader_not_on_the_batch_cannot_read_it(db: Path) -> None:
    batch_id = batches.make(db, plan(), who="lead")
    with pytest.raises(AuditError, match="not handed out"):
        reads.save(db, batch_id, 1, "R9", Read("normal"))
    with pytest.raises(AuditError, match="not handed out"):
        reads.save(db, batch_id, 99, "R1", Read("normal"))
    with pytest.raises(AuditError, match="there is none"):
        reads.save(db, batch_id + 1, 1, "R1", Read("normal"))


def stored_reads(db: Path) -> list[tuple[object, ...]]:
    with store.open_for_reading(db) as con:
        return con.execute(
            "select case_id, reader, category, decelerations, outcome_hidden, occasion from reads order by all"
        ).fetchall()


def make_database(db: Path) -> None:
    with store.open_for_writing(db):
        pass


def test_closed_batches_move_into_the_database_once(db: Path) -> None:
    make_database(db)
    batch_id = batches.make(db, plan(windows=WINDOWS[:6], repeat_fraction=1 / 6), who="lead")
    repeated = next(row["case_id"] for row in batches.windows(db, batch_id) if row["occasion"] == 2)
    other = "C-1" if repeated == "C-2" else "C-2"
    reads.save(db, batch_id, strip_of(db, batch_id, repeated, 2), "R1", Read("normal"))
    reads.save(db, batch_id, strip_of(db, batch_id, repeated, 1), "R1", Read("suspicious"))
    reads.save(db, batch_id, strip_of(db, batch_id, other), "R1", Read("normal", decelerations=("early", "late")))
    assert absorb.absorb_reads(db) == absorb.Absorbed()
    batches.close(db, batch_id, who="lead", incomplete=True)
    assert absorb.absorb_reads(db) == absorb.Absorbed(batches=1, reads=3)
    expected = sorted(
        [
            (repeated, "R1", "suspicious", None, True, 1),
            (repeated, "R1", "normal", None, True, 2),
            (other, "R1", "normal", "late", True, 1),
        ],
        key=str,
    )
    assert sorted(stored_reads(db), key=str) == expected
    assert absorb.absorb_reads(db) == absorb.Absorbed()
    assert sorted(stored_reads(db), key=str) == expected


def test_a_second_batch_of_the_same_window_is_a_repeat_and_an_informed_one_is_apart(db: Path) -> None:
    make_database(db)
    for changes in ({}, {}, {"outcome_shown": True}, {}):  # after the third the reader knows how it ended
        batch_id = batches.make(db, plan(windows=WINDOWS[:1], repeat_fraction=0.0, **changes), who="lead")
        reads.save(db, batch_id, 1, "R1", Read("normal"))
        batches.close(db, batch_id, who="lead", incomplete=True)
    absorb.absorb_reads(db)
    assert [row[4:] for row in stored_reads(db)] == [(False, 1), (False, 2), (True, 1), (True, 2)]


@pytest.mark.parametrize(
    ("who", "place", "blind"),
    [
        ("reader:R1", "case", False),  # opened it himself
        ("reader:R2", "case", True),  # another did
        ("lead", "case", True),
        ("unit", "case", False),  # nobody signed in: it may have been anybody
        ("chair", "meeting", False),  # everybody at the meeting saw it
        ("reader:R1", "list", False),  # it stood on a page beside others
        ("unit", "list", False),
        ("lead", "list", True),
    ],
)
def test_who_knew_the_outcome_did_not_read_blind(db: Path, who: str, place: str, blind: bool) -> None:
    """Blind = the outcome was not known to the reader when the read was saved, whatever the batch was meant to be."""
    make_database(db)
    batch_id = batches.make(db, plan(windows=WINDOWS[:1], repeat_fraction=0.0), who="lead")
    opened(db, "C-1", who, place)
    reads.save(db, batch_id, 1, "R1", Read("normal"))
    batches.close(db, batch_id, who="lead", incomplete=True)
    absorb.absorb_reads(db)
    assert stored_reads(db) == [("C-1", "R1", "normal", None, blind, 1)]


def test_a_file_calls_no_read_blind_whose_reader_was_told_the_outcome_here(db: Path, tmp_path: Path) -> None:
    """A reader with an account here: what was opened before the file came decides. Of others the file alone says it."""
    for reader in ("R1", "R2"):
        accounts.make(db, "reader", reader)
    opened(db, "C1", "reader:R1")
    opened(db, "C2", "chair", "meeting")
    lines = [f"C{case},{reader},600,2400,figo-2015,normal,true" for case in (1, 2, 3) for reader in ("R1", "R2", "R3")]
    file = tmp_path / "reads.csv"
    file.write_text("case_id,reader,start_s,end_s,standard,category,outcome_hidden\n" + "\n".join(lines) + "\n")
    knew = partial(disclosures.known_to_readers, db)
    report = import_paths(db, [file], settings=load_settings(), knew=knew)
    assert "3 reads of labours whose outcome was opened here" in report.files[0].message
    assert {row[:2] for row in stored_reads(db) if row[4] is False} == {("C1", "R1"), ("C2", "R1"), ("C2", "R2")}
    # what was taken as blind stays so when a longer list holds it again
    opened(db, "C3", "reader:R1")
    file.write_text(file.read_text() + "C4,R1,600,2400,figo-2015,normal,true\n")
    import_paths(db, [file], settings=load_settings(), knew=knew)
    assert ("C3", "R1", "normal", None, True, 1) in stored_reads(db)


def test_a_read_corrected_after_the_outcome_was_opened_leaves_the_blind_one(db: Path, monkeypatch) -> None:
    make_database(db)
    batch_id = batches.make(db, plan(windows=WINDOWS[:2], repeat_fraction=0.0), who="lead")
    opened(db, "C-2", "reader:R1")
    strip = strip_of(db, batch_id, "C-1")
    reads.save(db, batch_id, strip, "R1", Read("normal"))
    reads.save(db, batch_id, strip, "R1", Read("suspicious"))
    opened(db, "C-1", "reader:R1")
    # a clock that is set back changes no order
    monkeypatch.setattr(log, "utc_now", lambda: "2000-01-01T00:00:00.000+00:00")
    reads.save(db, batch_id, strip, "R1", Read("pathological"))
    batches.close(db, batch_id, who="lead", incomplete=True)
    absorb.absorb_reads(db)
    expected = [("C-1", "R1", "pathological", None, False, 1), ("C-1", "R1", "suspicious", None, True, 1)]
    assert stored_reads(db) == expected


def test_reads_that_an_older_program_moved_as_blind_are_moved_anew(db: Path) -> None:
    make_database(db)
    batch_id = batches.make(db, plan(windows=WINDOWS[:1], repeat_fraction=0.0), who="lead")
    opened(db, "C-1", "reader:R1")
    reads.save(db, batch_id, 1, "R1", Read("normal"))
    batches.close(db, batch_id, who="lead", incomplete=True)
    absorb.absorb_reads(db)
    with store.open_for_writing(db) as con:
        con.execute("update reads set outcome_hidden = true")
    with database.writing(db) as con:
        con.execute("pragma user_version = 1")
        con.execute("drop table owner")
        for trigger in (
            "findings_never_go",
            "findings_keep_their_case",
            "actions_never_go",
            "actions_keep_their_case",
        ):
            con.execute(f"drop trigger {trigger}")
        for table in ("access", "meetings", "issues", "agreed", "strip_marks", "family_questions"):  # of later steps
            con.execute(f"drop table {table}")
        for column in ("probability", "seed", "drawn_from"):
            con.execute(f"alter table agenda drop column {column}")
    absorb.absorb_reads(db)
    assert stored_reads(db) == [("C-1", "R1", "normal", None, False, 1)]


def test_a_move_that_was_cut_short_is_made_good(db: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    make_database(db)
    batch_id = batches.make(db, plan(windows=WINDOWS[:1], repeat_fraction=0.0), who="lead")
    reads.save(db, batch_id, 1, "R1", Read("normal"))
    batches.close(db, batch_id, who="lead", incomplete=True)

    def cut(*_: object) -> None:
        raise RuntimeError("cut short")

    with monkeypatch.context() as patch:
        patch.setattr(absorb, "_mark", cut)
        with pytest.raises(RuntimeError):
            absorb.absorb_reads(db)
    assert absorb.absorb_reads(db) == absorb.Absorbed(batches=1, reads=1)
    assert stored_reads(db) == [("C-1", "R1", "normal", None, True, 1)]


def test_reads_wait_while_there_is_no_database(db: Path) -> None:
    batch_id = batches.make(db, plan(windows=WINDOWS[:1], repeat_fraction=0.0), who="lead")
    batches.close(db, batch_id, who="lead", incomplete=True)
    assert absorb.absorb_reads(db) == absorb.Absorbed(queued=1)
    make_database(db)
    assert absorb.absorb_reads(db) == absorb.Absorbed(batches=1, reads=0)


def test_reads_that_came_by_file_count_before_those_made_here(db: Path) -> None:
    make_database(db)
    with store.open_for_writing(db) as con:
        con.execute("insert or ignore into cases (case_id) values ('C-1')")
        con.execute(
            "insert into reads (case_id, fetus, reader, start_s, end_s, standard, category, occasion, import_id)"
            " values ('C-1', 'A', 'R1', 600, 2400, 'figo-2015', 'suspicious', 1, 5)"
        )
    batch_id = batches.make(db, plan(windows=WINDOWS[:1], repeat_fraction=0.0), who="lead")
    reads.save(db, batch_id, 1, "R1", Read("normal"))
    batches.close(db, batch_id, who="lead", incomplete=True)
    absorb.absorb_reads(db)
    assert [(row[2], row[5]) for row in stored_reads(db)] == [("normal", 2), ("suspicious", 1)]

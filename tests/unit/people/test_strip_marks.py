"""Marks on strips: kept in order of time, with who left them, and taken off again; the log has both."""

import pytest

from audit.errors import UsageError
from audit.people import log, strip_marks, verify


@pytest.fixture
def db(tmp_path):
    return tmp_path / "unit.duckdb"


def test_marks_stand_in_order_of_time_and_only_on_their_strip(db):
    strip_marks.add(db, "C-1", "A", 720.5, "second look", who="viewer")
    strip_marks.add(db, "C-1", "A", 60, "first fall", who="chair")
    strip_marks.add(db, "C-1", "B", 30, "the other", who="lead")
    assert [(row["at_s"], row["label"], row["left_by"]) for row in strip_marks.of_strip(db, "C-1", "A")] == [
        (60.0, "first fall", "chair"), (720.5, "second look", "viewer"),
    ]  # fmt: skip
    assert strip_marks.of_strip(db, "C-2", "A") == []


def test_a_mark_taken_off_stays_in_the_log_and_the_store_holds_together(db):
    number = strip_marks.add(db, "C-1", "A", 60, "first fall", who="lead")
    strip_marks.remove(db, number, who="chair")
    strip_marks.remove(db, number, who="chair")  # nothing to take off
    assert strip_marks.of_strip(db, "C-1", "A") == []
    assert [row["deed"] for row in log.entries(db)] == ["added", "removed"]
    strip_marks.add(db, "C-1", "A", 61, "again", who="lead")
    assert verify.problems(db) == []


@pytest.mark.parametrize(("at_s", "label"), [(60, ""), (60, "x" * 81), (float("nan"), "where")])
def test_a_mark_without_words_or_time_is_refused(db, at_s, label):
    with pytest.raises(UsageError):
        strip_marks.add(db, "C-1", "A", at_s, label, who="lead")

"""A batch on paper: the form, what comes back, what is refused row by row."""

import csv
import io
import json
import shutil
import zipfile
from pathlib import Path

import pytest

from audit.errors import AuditError
from audit.pack.handout import handout_zip
from audit.people import batches, handout, log, reads, verify
from audit.people.batches import Plan, Window
from audit.people.reads import Read
from audit.store import published
from tests.page_databases import small_database

WINDOWS = tuple(Window(case_id, "A", 1800.0, 3600.0) for case_id in ("C-001", "C-002", "C-004"))


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    db = small_database(tmp_path_factory.mktemp("made"))
    batches.make(db, Plan("April", "figo-2015", WINDOWS, ("R1", "R2"), seed=2), who="lead")
    return db.parent


@pytest.fixture
def db(made_once: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made_once, tmp_path, dirs_exist_ok=True)) / "unit.duckdb"


def filled(db: Path, **cells: str) -> str:
    rows = list(csv.DictReader(io.StringIO(handout.empty_form(db, 1, "R1"))))
    rows[0] |= cells
    out = io.StringIO()
    writer = csv.DictWriter(out, handout.COLUMNS)
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def test_the_form_has_the_readers_order_and_no_case(db: Path) -> None:
    form = handout.empty_form(db, 1, "R1")
    rows = list(csv.DictReader(io.StringIO(form)))
    assert [int(row["strip"]) for row in rows] == [row["strip_number"] for row in batches.strips(db, 1, "R1")]
    assert {row["reader"] for row in rows} == {"R1"}
    assert "C-0" not in form


def test_a_filled_row_is_stored_and_an_empty_one_is_skipped(db: Path) -> None:
    text = filled(
        db, category="suspicious", baseline_bpm="142,5", decelerations="late; variable", recurrent="yes",
        would_act="no", confidence="4",
    )  # fmt: skip
    assert handout.take_back(db, 1, text, file_name="reads.csv") == handout.TakenBack(1, ())
    number = batches.strips(db, 1, "R1")[0]["strip_number"]
    assert reads.latest(db, 1, number, "R1") == Read(
        "suspicious", baseline_bpm=142.5, decelerations=("late", "variable"), recurrent=True, would_act=False,
        confidence=4,
    )  # fmt: skip
    # the same file again adds nothing
    assert handout.take_back(db, 1, text, file_name="reads.csv").stored == 0


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"category": "II"}, "category"),
        ({"category": "normal", "baseline_bpm": "high"}, "expected a number"),
        ({"category": "normal", "baseline_bpm": "29"}, "expected 30 to 250"),
        ({"category": "normal", "would_act": "perhaps"}, "expected yes or no"),
        ({"category": "normal", "batch": "7"}, "expected 1"),
        ({"category": "normal", "reader": "R9"}, "not handed out"),
        ({"category": "normal", "strip": "99"}, "not handed out"),
        ({"category": "normal", "decelerations": "deep"}, "decelerations"),
        ({"category": "normal", "strip": "inf"}, "expected a number"),
        ({"category": "normal", "strip": "1e400"}, "expected a number"),
        ({"category": "normal", "strip": "9" * 30}, "expected a number"),
        ({"category": "normal", "strip": "1.5"}, "expected a whole number"),
        ({"category": "normal", "strip": ""}, "expected the number of a strip"),
        ({"category": "normal", "baseline_bpm": "nan"}, "expected a number"),
        ({"category": "normal", "baseline_bpm": "-inf"}, "expected a number"),
        ({"category": "normal", "baseline_bpm": "1_40"}, "expected a number"),
        ({"category": "normal", "baseline_bpm": "140;5"}, "expected a number"),
        ({"category": "normal", "confidence": "2.7"}, "expected a whole number"),
        ({"category": "normal", "confidence": "100000"}, "expected 1 to 5"),
        ({"category": "normal", "contractions_per_10_min": "999999"}, "expected 0 to"),
    ],
)
def test_a_row_that_cannot_be_stored_is_named_and_the_rest_is_kept(db: Path, cells: dict[str, str], words: str) -> None:
    found = handout.take_back(db, 1, filled(db, **cells), file_name="reads.csv")
    assert found.stored == 0
    assert len(found.problems) == 1
    assert found.problems[0].startswith("reads.csv: row 2: ")
    assert words in found.problems[0]


def test_another_file_is_refused_with_what_was_expected(db: Path) -> None:
    with pytest.raises(AuditError, match="column strip, reader, category is missing"):
        handout.take_back(db, 1, "a,b\n1,2\n", file_name="other.csv")


def test_a_form_saved_with_semicolons_is_taken(db: Path) -> None:
    text = filled(db, category="suspicious", baseline_bpm="142,5").replace('"', "")
    lines = [line.replace("142,5", "142#5").replace(",", ";").replace("#", ",") for line in text.splitlines()]
    assert handout.take_back(db, 1, "\n".join(lines), file_name="reads.csv").stored == 1
    number = batches.strips(db, 1, "R1")[0]["strip_number"]
    found = reads.latest(db, 1, number, "R1")
    assert found is not None
    assert found.baseline_bpm == 142.5


def test_a_decimal_comma_without_quotes_is_told(db: Path) -> None:
    text = filled(db, category="suspicious", baseline_bpm="142,5").replace('"', "")
    found = handout.take_back(db, 1, text, file_name="reads.csv")
    assert found.stored == 0
    assert "1 value more than columns" in found.problems[0]


@pytest.mark.parametrize("text", ['strip,reader,category\n1,R1,"nor\nmal', "x" * 2_000_000, "a\0b", '"' * 7])
def test_what_is_no_form_is_refused_in_a_sentence(db: Path, text: str) -> None:
    with pytest.raises(AuditError, match="expected"):
        handout.take_back(db, 1, text, file_name="reads.csv")


def test_the_log_names_who_took_a_form_back_and_whose_read_it_is(db: Path) -> None:
    handout.take_back(db, 1, filled(db, category="normal"), file_name="reads.csv", who="lead")
    entry = log.entries(db)[-1]
    assert (entry["who"], entry["deed"]) == ("lead", "read")
    assert json.loads(entry["subject_key"])["reader"] == "R1"
    assert verify.problems(db) == []


@pytest.mark.slow
def test_the_files_handed_out_tell_nothing_but_the_signal(db: Path) -> None:
    copy = published.required(db)
    with zipfile.ZipFile(io.BytesIO(handout_zip(db, copy, 1))) as packed:
        names = packed.namelist()
        assert names == ["R1/strips.html", "R1/reads.csv", "R2/strips.html", "R2/reads.csv"]
        for name in names:
            text = packed.read(name).decode("utf-8")
            for secret in ("C-00", "R2" if name.startswith("R1") else "R1/", "spontaneous", "recognisable", "control"):
                assert secret not in text, (name, secret)
        page = packed.read("R1/strips.html").decode("utf-8")
    assert page.count("<figure") == 3
    assert "<script" not in page
    assert "not a medical device" in page

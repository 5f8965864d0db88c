"""Every query says its question, its row, its parameters and its columns, and what it says is what it does."""

import re
from pathlib import Path

import duckdb
import pytest

from audit.store import database, views

QUERIES = Path(__file__).resolve().parents[3] / "queries"
FILES = sorted(file for file in QUERIES.glob("*/*.sql") if file.parent.name not in ("schema", "people", "views"))
VIEWS = sorted(file for file in views.files() if "-- view:" in file.read_text(encoding="utf-8"))
CHANGES_ROWS = "(changes rows)"


@pytest.fixture(scope="module")
def con(tmp_path_factory):
    with database.open_for_writing(tmp_path_factory.mktemp("queries") / "empty.duckdb") as connection:
        yield connection


def _header(text: str, key: str) -> list[str]:
    return re.findall(rf"^-- {key}: *(.*)$", text, flags=re.MULTILINE)


@pytest.mark.parametrize("file", FILES, ids=lambda file: f"{file.parent.name}/{file.stem}")
def test_a_query_says_its_question_and_its_row(file):
    text = file.read_text(encoding="utf-8")
    assert len(_header(text, "question")) == 1
    assert len(_header(text, "row")) == 1


@pytest.mark.parametrize("file", FILES, ids=lambda file: f"{file.parent.name}/{file.stem}")
def test_a_query_has_the_parameters_and_columns_it_says(file, con):
    text = file.read_text(encoding="utf-8")
    statements = duckdb.extract_statements(text)
    said = {line.split()[0] for line in _header(text, "param")}
    found = set().union(*(statement.named_parameters for statement in statements))
    assert found == said
    if CHANGES_ROWS in text:
        return
    assert len(statements) == 1
    columns = [line.split()[0].rstrip(",") for line in _header(text, "column")]
    described = con.execute(f"describe {text.rstrip().rstrip(';')}", {name: None for name in said} or None).fetchall()
    assert [row[0] for row in described] == columns


@pytest.mark.parametrize("file", VIEWS, ids=lambda file: file.stem)
def test_a_view_has_the_name_and_the_columns_it_says(file, con):
    text = file.read_text(encoding="utf-8")
    assert _header(text, "view") == [file.stem]
    assert len(_header(text, "row")) == 1
    said = [tuple(line.split(", ", 1)[0].split(" ", 1)) for line in _header(text, "column")]
    described = con.execute(f"describe {file.stem}").fetchall()
    assert [(row[0], row[1].lower()) for row in described] == said


def test_every_view_and_macro_is_used_by_a_question():
    questions = "".join(file.read_text(encoding="utf-8") for file in FILES)
    for file in views.files():
        assert re.search(rf"\b(from|join|where|and) {file.stem}\b", questions), file.name


def test_what_a_view_states_is_stated_nowhere_else():
    """Doubles that disagreed once: what an outcome, a birth time, a stage, a last hour or a chosen month is."""
    marks = (
        "'second'",
        "event = 'birth'",
        "event <> 'birth'",
        "apgar_10 is not null",
        "span = 'last_60_min'",
        "$period is null",
        "coalesce(c.period",
    )
    for file in FILES:
        text = file.read_text(encoding="utf-8")
        assert not [mark for mark in marks if mark in text], file.name


def test_every_column_of_the_schema_says_its_unit_or_meaning(con):
    bare = con.execute(
        "select table_name, column_name from duckdb_columns()"
        " where not internal and comment is null and table_name <> 'schema_version'"
    ).fetchall()
    assert bare == []


def test_no_table_takes_nan(con):
    """A NaN passes `check (x > 0)` and turns every average into NaN; every double column refuses it or is a key."""
    with pytest.raises(duckdb.ConstraintException):
        con.execute("insert into outcomes (case_id, fetus, cord_artery_ph) values ('c', 'A', 'nan'::double)")

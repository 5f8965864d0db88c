"""`--unit`: what one unit's cases say, held against a database from which the others were taken."""

import json
import shutil
from pathlib import Path

import pyarrow.parquet as pq
import pypdf
import pytest
from click.testing import CliRunner

from audit.cli import cli
from audit.people import actions
from audit.store import database, published
from tests import page_databases
from tests.asking import ask

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def db(tmp_path_factory) -> Path:
    """The small unit, every second case of which is another unit's."""
    file = Path(
        shutil.copy(page_databases.small_database(tmp_path_factory.mktemp("made")), tmp_path_factory.mktemp("two"))
    )
    with database.open_for_writing(file) as con:
        ids = [row[0] for row in con.execute("select case_id from cases order by 1").fetchall()]
        con.execute("update cases set unit = case when list_contains(?, case_id) then 'U1' else 'U2' end", [ids[::2]])
    published.required(file)
    return file


def run(db: Path, *args: str):
    return CliRunner().invoke(cli, ["--db", str(db), *args])


def ids(db: Path, unit: str) -> set[str]:
    return {row[0] for row in ask(db, "select case_id from cases where unit = ?", [unit])}


def test_export_takes_out_one_units_cases_and_their_actions(db, tmp_path):
    mine, theirs = sorted(ids(db, "U1")), sorted(ids(db, "U2"))
    for case_id in (mine[0], theirs[0], None):
        told = {"owner_role": "lead midwife", "due_period": "2031-05", "who": "lead", "case_id": case_id}
        actions.add(db, "2031-03", "Chart within reach", **told)
    asked = ["export", "cases", "findings", "episodes", "reads", "events", "actions", "minutes"]
    assert run(db, *asked, "--unit", "U1", "--format", "parquet", "--out", str(tmp_path / "one")).exit_code == 0
    assert run(db, *asked, "--format", "parquet", "--out", str(tmp_path / "all")).exit_code == 0
    for file in sorted((tmp_path / "one").glob("*.parquet")):
        if file.stem == "dictionary":
            continue
        found = pq.read_table(file)["case_id"].to_pylist()
        every = pq.read_table(tmp_path / "all" / file.name)["case_id"].to_pylist()
        assert found == [case_id for case_id in every if case_id in mine], file.stem
    assert pq.read_table(tmp_path / "one" / "actions.parquet")["case_id"].to_pylist() == [mine[0]]


def test_agreement_of_one_unit_is_that_of_its_reads_alone(db, tmp_path):
    alone = Path(shutil.copy(db, tmp_path))
    with database.open_for_writing(alone) as con:
        con.execute("delete from reads where case_id in (select case_id from cases where unit = 'U2')")
    published.required(alone)
    found = json.loads(run(db, "agreement", "--unit", "U1", "--json").stdout)
    expected = json.loads(run(alone, "agreement", "--json").stdout)
    assert found["windows"] > 0
    assert {**found, "stale": None} == {**expected, "stale": None}
    refused = run(db, "agreement", "--unit", "U9")
    assert "found 'U9', expected one of U1, U2" in str(refused.exception)


def test_a_pack_of_one_unit_is_for_outside_and_says_whose_it_is(db, tmp_path):
    [(period,)] = ask(db, "select max(period) from cases where unit = 'U1'")
    refused = run(db, "pack", "--period", period, "--unit", "U1", "--out", str(tmp_path))
    assert "expected one for outside" in str(refused.exception)
    made = run(db, "pack", "--period", period, "--unit", "U1", "--for-outside", "--out", str(tmp_path))
    assert made.exit_code == 0, made.output
    (page,) = tmp_path.glob("*.html")
    assert page.stem.endswith("_U1_outside")
    text = page.read_text(encoding="utf-8")
    assert ", unit U1, for outside the unit" in text
    (paper,) = tmp_path.glob("*.pdf")
    printed = [each.extract_text() for each in pypdf.PdfReader(paper).pages]
    assert f"Review of {period}, unit U1" in " ".join(printed[0].split())
    assert all(f"Labours of {period}, unit U1" in " ".join(each.split()) for each in printed)
    assert not any("U2" in each for each in [text, *printed])

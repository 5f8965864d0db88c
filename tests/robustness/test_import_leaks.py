"""What the door keeps out is not told by its JSON report either, nor kept by what names files to their owner.

`audit.read_csv` and `validate` name the file that somebody gave them, on his own screen: nothing of it is
stored or logged.
"""

import logging
from pathlib import Path

import pytest
from click.testing import CliRunner

import audit
from audit import logs
from audit.cli import cli
from audit.store import database
from tests.identifier_corpus import found_in
from tests.robustness.test_import_identifiers import (
    CELLS,
    IN_A_LOG,
    check_nothing_left,
    plant,
    run,
    the_same_key,
)

PLANTED = "Quill_Tessa_14.03.2031"


@pytest.fixture
def incoming(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    the_same_key(monkeypatch)
    (tmp_path / "in").mkdir()
    logging.getLogger("audit").handlers.clear()
    return tmp_path / "in"


def test_the_json_report_holds_no_identifier(incoming: Path, tmp_path: Path) -> None:
    for kind in ("case_id", "numbers", "header"):
        plant(incoming, kind)
    code, said = run(tmp_path, "import", "--json", str(incoming))
    assert code in (0, 3)
    assert '"files"' in said
    check_nothing_left(tmp_path, said, CELLS, IN_A_LOG)


def test_what_names_a_file_to_its_owner_leaves_no_name_behind(incoming: Path, tmp_path: Path) -> None:
    file = incoming / f"{PLANTED}.csv"
    file.write_text("case_id,t_s,fhr_bpm,toco\nTessa Quill,0,14o,1\nTessa Quill,0.25,140,1\n")
    db = tmp_path / "unit.duckdb"
    with database.open_for_writing(db):
        pass
    with logs.beside(db), pytest.warns(UserWarning, match="left out"):
        audit.read_csv(str(file))
    folder = incoming / PLANTED
    folder.mkdir()
    (folder / "expert_evaluations.csv").write_text(f"{PLANTED}\n")
    for command in (["validate", str(folder)], ["which", "1", str(file)], ["import", str(file)]):
        CliRunner().invoke(cli, ["--db", str(db), *command], standalone_mode=False)  # refused, or rejects
    kept = [path for path in tmp_path.rglob("*") if path.is_file() and incoming not in path.parents]
    assert db.with_suffix(".log") in kept
    for path in kept:
        assert found_in(path.read_bytes(), ["Quill", "14.03.2031"]) == [], path.name

"""Identifiers planted in every place that somebody can type in: none is in anything that the program keeps or says.

The kinds are those of `tests/identifier_corpus.py` (45 CFR 164.514(b)(2)(i) and national numbers). What people write
and confirm is the one place for words: it stays in their store and in the pack for the unit, and nowhere else.
"""

import logging
import shutil
import zipfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pypdf
import pytest
from click.testing import CliRunner

from audit.cli import cli
from audit.errors import UsageError
from audit.people import agenda, findings, rules
from audit.store import backup, database, published
from tests.identifier_corpus import found_in
from tests.robustness.test_import_identifiers import CELLS, IN_A_LOG, KINDS_OF_FILES, plant, table, the_same_key

MINUTES = 40
CONFIRMED = "Did Tessa Brenlund call Dr Quilova at 4827163950?"
NAMES_IN_IT = ["Brenlund", "Quilova", "4827163950"]
COMMANDS = (
    ["find"], ["find", "--json"], ["delays"], ["delays", "--json"], ["trends"], ["trends", "--json"], ["agreement"],
    ["agreement", "--json"], ["check"],
)  # fmt: skip


def tracing_files(folder: Path, name: str) -> None:
    """A labour that is found: falls, a low pH, an act; in files whose names and extra columns say who it was."""
    t = np.arange(MINUTES * 240) / 4.0
    rng = np.random.default_rng(3)
    fhr = 140 + 6 * np.sin(t / 3) + rng.normal(0, 1, t.size) - 35 * np.exp(-((((t % 240) - 150) / 20) ** 2))
    rows = [["case_id", "t_s", "fhr_bpm", "toco", "patient"]]
    rows += [
        ["A1", f"{a}", f"{b:.2f}", "10", CELLS[k % len(CELLS)]] for k, (a, b) in enumerate(zip(t, fhr, strict=True))
    ]
    (folder / f"{name}.csv").write_text(table(rows), encoding="utf-8")
    (folder / f"{name} outcome.csv").write_text(
        f"case_id,period,birth_s,cord_artery_ph,apgar_5,mode_of_birth\nA1,2031-03,{60 * MINUTES},7.02,5,{name}\n",
        encoding="utf-8",
    )
    (folder / f"{name} events.csv").write_text(
        f"case_id,at_s,event,detail\nA1,1500,senior_called,{name}\nA1,2000,decision_for_birth,\n", encoding="utf-8"
    )
    reads = [["case_id", "reader", "start_s", "end_s", "standard", "category"]]
    reads += [["A1", reader, "0", "1800", "figo-2015", "pathological"] for reader in (name, "R2", *CELLS[::110])]
    (folder / f"{name} reads.csv").write_text(table(reads), encoding="utf-8")


def written(folder: Path) -> Iterator[tuple[str, bytes]]:
    """Every file of the unit with what can be read in it: text of pages, parts of slides, members of zips."""
    for file in sorted(each for each in folder.rglob("*") if each.is_file()):
        if "in" in file.relative_to(folder).parts:
            continue
        yield file.name, f"{file.relative_to(folder)} ".encode() + file.read_bytes()
        if file.suffix == ".pdf":
            with pypdf.PdfReader(file) as pages:
                yield file.name, f"{pages.metadata} {' '.join(page.extract_text() for page in pages.pages)}".encode()
        if zipfile.is_zipfile(file):
            with zipfile.ZipFile(file) as held:
                for name in held.namelist():
                    yield f"{file.name}/{name}", held.read(name)


def words_in(db: Path) -> bytes:
    """Every value of every column that can hold words."""
    with database.open_for_reading(db) as con:
        texts = con.execute(
            "select table_name, column_name from duckdb_columns() where not internal and data_type like 'VARCHAR%'"
        )
        return repr(
            [con.execute(f"select distinct {name} from {table}").fetchall() for table, name in texts.fetchall()]
        ).encode()


@pytest.fixture(scope="module")
def unit(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A unit's folder after a month's work on planted files, and all that was said meanwhile."""
    folder = tmp_path_factory.mktemp("leak")
    incoming = folder / "in"
    incoming.mkdir()
    (folder / "unit_settings.toml").write_text("[import]\nstore_detail = true\n", encoding="utf-8")
    logging.getLogger("audit").handlers.clear()
    for kind in KINDS_OF_FILES:
        if kind != "reader":  # as many readers as planted texts would be compared in millions of pairs
            plant(incoming, kind)
    tracing_files(incoming, next(cell for cell in CELLS if "/" not in cell and " " in cell))
    db, said = folder / "unit.duckdb", []

    def ran(*arguments: str) -> None:
        done = CliRunner().invoke(cli, ["--db", str(db), *arguments], standalone_mode=False)
        assert done.exception is None, (arguments, done.exc_info)
        said.append(done.output + done.stderr)

    with pytest.MonkeyPatch.context() as patch:
        the_same_key(patch)
        ran("import", str(incoming))
    ran("import", str(incoming))  # known files are told in other words
    ran("analyse", "--workers", "1")
    agenda.add(db, "2031-03", "A1", who="lead", question="Was the decision late?")
    warned: set[str] = set()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(rules, "warned_of", lambda: warned)
        with pytest.raises(UsageError, match="what looks like"):
            findings.save(db, "2031-03", "A1", findings.Finding(learning_point=CONFIRMED), who="lead")
        findings.save(db, "2031-03", "A1", findings.Finding(learning_point=CONFIRMED), who="lead")
    for command in COMMANDS:
        ran(*command)
    ran("pack", "--period", "2031-03", "--out", str(folder / "packs"))
    ran("backup", str(folder / "unit.backup"), "--key", str(folder / "apart.key"))
    return folder, "\n".join(said)


def test_the_month_was_worked_on(unit):
    folder, said = unit
    assert "A1" in said
    names = {name for name, _ in written(folder)}
    wanted = {f"pack_2031-03.{ending}" for ending in ("pdf", "html", "pptx")}
    wanted |= {"trends.csv", "anchor_2031-03.json", "unit.log", "unit.people.sqlite", "unit.backup/database.duckdb"}
    assert wanted <= names
    assert found_in("\n".join(CELLS).encode(), CELLS) == CELLS


def test_nothing_planted_is_stored(unit, tmp_path):
    folder, _ = unit
    for db in (folder / "unit.duckdb", published.current(folder / "unit.duckdb")):
        assert found_in(words_in(db), CELLS) == []
    backup.restore(folder / "unit.backup", tmp_path / "unit.duckdb")
    with database.open_for_writing(tmp_path / "unit.duckdb"):
        pass
    assert found_in(words_in(tmp_path / "unit.duckdb"), CELLS) == []


def test_nothing_planted_is_in_any_file_or_said(unit):
    folder, said = unit
    assert found_in(said.encode(), IN_A_LOG) == []
    for name, text in written(folder):
        assert found_in(text, IN_A_LOG) == [], name


def test_what_people_confirmed_is_in_their_store_and_the_units_pack_alone(unit, tmp_path):
    folder, said = unit
    assert found_in(said.encode(), NAMES_IN_IT) == []
    with_it = {name for name, text in written(folder) if found_in(text, NAMES_IN_IT)}
    may = ("unit.people.sqlite", "unit.backup/people.sqlite", "pack_2031-03.", "findings.csv", "summary.csv")
    assert [name for name in with_it if not name.startswith(may)] == []
    assert {"unit.people.sqlite", "pack_2031-03.html"} & with_it
    out = tmp_path / "outside"
    done = CliRunner().invoke(
        cli, ["--db", str(folder / "unit.duckdb"), "pack", "--period", "2031-03", "--out", str(out), "--for-outside"],
        standalone_mode=False,
    )  # fmt: skip
    assert done.exception is None, done.exc_info
    assert {name for name, text in written(out) if found_in(text, NAMES_IN_IT)} == set()


def test_without_their_store_nothing_of_what_people_wrote_is_left(unit, tmp_path):
    """Taken away or lost: no command says it from elsewhere, and no other file holds it."""
    folder, _ = unit
    for file in folder.iterdir():  # a backup holds their store too
        if file.is_file() and not file.name.startswith(("unit.people.", "unit.backup")):
            shutil.copy(file, tmp_path)
    said = []
    for command in (*COMMANDS, ["pack", "--period", "2031-03", "--out", str(tmp_path / "packs")]):
        done = CliRunner().invoke(cli, ["--db", str(tmp_path / "unit.duckdb"), *command], standalone_mode=False)
        said.append(f"{done.output} {done.stderr} {done.exception}")
    assert "A1" in "\n".join(said)
    assert found_in("\n".join(said).encode(), [*IN_A_LOG, *NAMES_IN_IT]) == []
    for name, text in written(tmp_path):
        assert found_in(text, [*IN_A_LOG, *NAMES_IN_IT]) == [], name

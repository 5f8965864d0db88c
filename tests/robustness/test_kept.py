"""Nothing is lost and a sentence says why: commands beside each other, folders that may only be read, a damaged store
of what people wrote, a clock that goes back.

Common practice, no source.
"""

import ctypes
import os
import random
import shutil
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from audit.analysis import job
from audit.cli import cli
from audit.errors import AuditError
from audit.intake.importer import import_paths
from audit.intake.writing import journal, ledger, noted
from audit.people import findings
from audit.questions.check import check
from audit.settings import load_settings
from audit.store import database, people_database, published

ROOT = Path(__file__).resolve().parents[2]
SETTINGS = load_settings()
FINDING = findings.Finding(went_well="1")
MINUTES = 40


def tracing(case_id: str, seed: int) -> str:
    rng = np.random.default_rng(seed)
    t = np.arange(MINUTES * 240) / 4.0
    fhr = 140 + 6 * np.sin(t / 3) + rng.normal(0, 1, t.size) - 35 * np.exp(-((((t % 240) - 150) / 20) ** 2))
    toco = 10 + 50 * np.exp(-((((t % 240) - 110) / 22) ** 2))
    rows = (f"{case_id},{a},{b:.2f},{c:.1f}" for a, b, c in zip(t, fhr, toco, strict=True))
    return "case_id,t_s,fhr_bpm,toco\n" + "\n".join(rows) + "\n"


def files(folder: Path, *case_ids: str) -> Path:
    folder.mkdir()
    for k, case_id in enumerate(case_ids):
        (folder / f"{case_id}.csv").write_text(tracing(case_id, k))
    cases = "".join(f"{case_id},2031-03,{60 * MINUTES},7.2\n" for case_id in case_ids)
    (folder / "cases.csv").write_text(f"case_id,period,birth_s,cord_artery_ph\n{cases}")
    return folder


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three labours, analysed and published, and a finding."""
    folder = tmp_path_factory.mktemp("kept")
    db = folder / "unit.duckdb"
    import_paths(db, [files(folder / "in", "A1", "A2", "A3")], settings=SETTINGS)
    job.analyse(db, settings=SETTINGS, workers=1)
    findings.save(db, "2031-03", "A1", FINDING, who="chair")
    published.required(db)
    return folder


@pytest.fixture
def db(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "unit")) / "unit.duckdb"


def begun(db: Path, *arguments: str, without_rights: bool = False) -> subprocess.Popen:
    command = [sys.executable, "-m", "audit", "--db", str(db), *arguments]
    env = os.environ | {"PYTHONPATH": str(ROOT)}
    return subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True, env=env,
        preexec_fn=_as_others_may if without_rights else None,
    )  # fmt: skip


def _as_others_may() -> None:
    """Let rights count for the administrator too: capabilities(7), CAP_DAC_OVERRIDE and CAP_DAC_READ_SEARCH."""
    if os.geteuid() == 0:
        for capability in (1, 2):
            ctypes.CDLL(None).prctl(24, capability, 0, 0, 0)  # PR_CAPBSET_DROP


def ended(process: subprocess.Popen) -> tuple[int, str, str]:
    said, errors = process.communicate()
    assert "Traceback" not in errors, errors
    assert "not your mistake" not in errors, errors
    return process.returncode, said, errors


def ran(db: Path, *arguments: str, without_rights: bool = False) -> tuple[int, str, str]:
    return ended(begun(db, *arguments, without_rights=without_rights))


def both(db: Path, first: list[str], second: list[str]) -> None:
    """Start two commands at once; one that did not get its turn says so, and does its work when asked again."""
    for arguments, (code, _, errors) in zip(
        (first, second), [ended(process) for process in (begun(db, *first), begun(db, *second))], strict=True
    ):
        if code:
            assert "another process is writing to it and did not finish within 10 s; try again later" in errors
            assert ran(db, *arguments)[0] == 0


def labours(db: Path) -> list[str]:
    with published.open_for_reading(published.required(db)) as con:
        return [row[0] for row in con.execute("select case_id from cases order by all").fetchall()]


def test_an_import_beside_an_import(db: Path, tmp_path: Path) -> None:
    one, two = files(tmp_path / "one", "B1", "B2"), files(tmp_path / "two", "C1", "C2")
    both(db, ["import", str(one)], ["import", str(two)])
    assert labours(db) == ["A1", "A2", "A3", "B1", "B2", "C1", "C2"]
    assert check(db, SETTINGS).problems == []
    assert published.required(db).note is None


def test_an_analysis_beside_an_import(db: Path, tmp_path: Path) -> None:
    both(db, ["analyse", "--force", "--workers", "1"], ["import", str(files(tmp_path / "one", "B1"))])
    assert labours(db) == ["A1", "A2", "A3", "B1"]
    assert ran(db, "analyse", "--workers", "1")[0] == 0
    assert check(db, SETTINGS).exit_code == 0


def test_a_pack_beside_an_analysis(db: Path, tmp_path: Path) -> None:
    out = tmp_path / "packs"
    both(db, ["analyse", "--force", "--workers", "1"], ["pack", "--period", "2031-03", "--out", str(out)])
    assert (out / "pack_2031-03.pdf").read_bytes().startswith(b"%PDF")
    assert ran(db, "pack", "--period", "2031-03", "--out", str(tmp_path / "alone"))[0] == 0
    # counts and figures of the month are those of a pack that nobody disturbed
    for table in ("trends.csv", "sources.csv"):
        there, alone = (next(folder.rglob(table)).read_text() for folder in (out, tmp_path / "alone"))
        assert there == alone
    assert check(db, SETTINGS).exit_code == 0


@pytest.fixture
def readable_only(db: Path):
    everything = [db.parent, *db.parent.rglob("*")]
    for file in everything:
        file.chmod(0o555 if file.is_dir() else 0o444)
    yield db
    for file in everything:
        file.chmod(0o755 if file.is_dir() else 0o644)


def test_in_a_folder_that_may_only_be_read_everything_is_read_and_nothing_written(readable_only):
    db = readable_only
    before = {file: file.read_bytes() for file in db.parent.rglob("*") if file.is_file()}
    code, _, errors = ran(db, "trends", without_rights=True)  # asks what people wrote as well
    assert (code, "figures are from the database itself: no copy can be made" in errors) == (0, True), errors
    assert ran(db, "check", without_rights=True)[0] == 0
    code, _, errors = ran(db, "import", str(db.parent / "in"), without_rights=True)
    assert (code, "may not be opened by this user" in errors) == (1, True), errors
    assert {file: file.read_bytes() for file in db.parent.rglob("*") if file.is_file()} == before


@pytest.mark.parametrize("harm", ["scrambled", "cut", "empty", "another's"])
def test_a_damaged_store_of_what_people_wrote_is_told_and_left_as_it_is(db, tmp_path, harm):
    people = people_database.file_of(db)
    kept = Path(shutil.copy(people, tmp_path / "kept"))
    content = people.read_bytes()
    people.write_bytes(
        {
            "scrambled": random.Random(8).randbytes(len(content)),
            "cut": content[: len(content) // 2],
            "empty": b"",
            "another's": b"x" * 99,
        }[harm]
    )
    spoilt = people.read_bytes()
    assert any("people's store" in problem or "the log" in problem for problem in check(db, SETTINGS).problems)
    assert "unit.people.sqlite is damaged or" in published.required(db).note
    for command in ("find", "trends"):
        done = CliRunner().invoke(cli, ["--db", str(db), command], standalone_mode=False)
        if done.exception is not None:
            assert isinstance(done.exception, AuditError), done.exc_info
            assert "unit.people.sqlite" in str(done.exception)
    if harm != "empty":
        assert people.read_bytes() == spoilt
    shutil.copy(kept, people)
    assert findings.of_case(db, "2031-03", "A1") == FINDING
    assert check(db, SETTINGS).exit_code == 0


def test_a_clock_set_back_hides_no_replaced_file(db, tmp_path, monkeypatch):
    files = {name: tmp_path / f"{name}.csv" for name in ("one", "two")}
    for name, grade in (("one", "39"), ("two", "41")):
        files[name].write_text(f"case_id,period,gestation_weeks\nA1,2031-03,{grade}\n")
    for day, name in ((20, "one"), (10, "two"), (5, "one"), (1, "two")):
        for module in (journal, ledger, noted):
            monkeypatch.setattr(module, "now", lambda day=day: datetime(2031, 5, day))
        import_paths(db, [files[name]], settings=SETTINGS, replace=True)
        with database.open_for_reading(db) as con:
            weeks = con.execute("select gestation_weeks from cases where case_id = 'A1'").fetchone()
        assert weeks == ({"one": 39.0, "two": 41.0}[name],)
    assert check(db, SETTINGS).problems == []


def test_a_clock_set_back_changes_neither_the_copy_nor_the_log(db, monkeypatch):
    class Back(datetime):
        @classmethod
        def now(cls, tz=None):
            return cls(2001, 1, 1, tzinfo=tz)

    monkeypatch.setattr(published, "datetime", Back)
    monkeypatch.setattr(findings.log, "datetime", Back)
    findings.save(db, "2031-03", "A2", FINDING, who="chair")
    with database.open_for_writing(db) as con:
        con.execute("insert into cases (case_id) values ('Z9')")
    assert "Z9" in labours(db)
    assert check(db, SETTINGS).problems == []

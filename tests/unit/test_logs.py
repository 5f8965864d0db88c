"""The log beside the database: what it says of commands, runs and failures, and what it never says."""

import json
import logging
import os
import re
import stat
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import pytest

from audit import logs, processes
from audit.analysis import guarded
from audit.cli import main
from audit.intake import importer
from audit.store import database, published

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "synthetic_cases" / "sample" / "files"
# what must be found nowhere in a log: it stands for a name, a value, the text of an error
POISON = "Zzyzx-Quillfeather"


def run(db: Path, *arguments: str) -> int:
    with pytest.raises(SystemExit) as left:
        main(["--db", str(db), *arguments])
    return int(left.value.code)


def log_of(db: Path) -> str:
    file = logs.file_of(db)
    return file.read_text(encoding="utf-8") if file.is_file() else ""


@pytest.fixture
def db(tmp_path: Path) -> Path:
    """The invented sample, imported."""
    file = tmp_path / "unit.duckdb"
    assert run(file, "import", str(SAMPLE), "--quiet") == 0
    return file


def poisoned(*_arguments: object, **_more: object) -> None:
    """Fails as code fails that quotes what it met."""
    try:
        raise KeyError(POISON)
    except KeyError as error:
        raise ValueError(f"row 7: {POISON}") from error


def test_a_command_leaves_its_start_and_its_end(db):
    text = log_of(db)
    assert re.search(r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ INFO \d+ audit\.cli: import started, version ", text)
    assert re.search(r"audit\.cli: import ended with 0 after \d+\.\d s$", text, flags=re.MULTILINE)
    assert "audit.store.published: published 000001-" in text
    assert run(db, "delays", "--period", "June") == 2
    assert re.search(r"delays ended with 2 after \d+\.\d s \(UsageError\)$", log_of(db), flags=re.MULTILINE)
    assert "June" not in log_of(db)


def test_an_import_names_no_file_and_no_value(db, tmp_path):
    bad = tmp_path / f"{POISON}.csv"
    bad.write_text(f"case_id,period\nC1,2031-03\nC2,{POISON}\n", encoding="utf-8")
    assert run(db, "import", str(bad)) == 3
    text = log_of(db)
    assert POISON not in text
    assert "file 1 of 1: cases stored, 1 rows stored, 1 kept out" in text
    assert [file.name for file in SAMPLE.rglob("*") if file.is_file() and file.name in text] == []


def test_a_failed_reading_keeps_its_reason_and_the_places_without_the_text(monkeypatch):
    monkeypatch.setattr(guarded, "read_case", poisoned)
    failed = guarded.guarded_read(None, None)
    assert failed.reason == f"ValueError: row 7: {POISON}"  # stored beside the tracing, as before
    assert POISON not in failed.places
    assert failed.places.startswith("ValueError\n  audit/analysis/guarded.py:")
    assert "KeyError\n  tests/unit/test_logs.py:" in failed.places


def test_the_places_come_back_from_a_worker_process():
    work = partial(guarded.guarded_read, settings=None)
    for failed in processes.in_order(work, [None, None], workers=2):
        assert failed.places.startswith("AttributeError\n  audit/analysis/guarded.py:")


def test_an_error_that_a_worker_lets_out_is_told_with_the_places_there(tmp_path):
    missing = tmp_path / POISON
    with pytest.raises(OSError) as caught:
        list(processes.in_order(Path.read_text, [missing, missing], workers=2))
    places = logs.places(caught.value)
    assert "pathlib.py:" in places
    assert POISON not in places


def test_a_failed_tracing_is_logged_by_its_key(db, monkeypatch, capsys):
    monkeypatch.setattr(guarded, "read_case", poisoned)
    assert run(db, "analyse", "--workers", "1") == 3
    text, told = log_of(db), capsys.readouterr()
    assert POISON in told.out  # the person who asked is told
    assert POISON not in text
    assert re.search(
        r"WARNING \d+ audit\.analysis\.job: \S+ A could not be read\n    ValueError\n      audit/analysis", text
    )


def test_an_unforeseen_error_is_one_sentence_and_its_places_are_in_the_log(db, monkeypatch, capsys):
    monkeypatch.setattr("audit.questions.delays.document", poisoned)
    assert run(db, "delays") == 1
    told, text = capsys.readouterr(), log_of(db)
    assert told.err == ("Error: something went wrong that is not your mistake (ValueError); details in unit.log\n")
    assert POISON not in text
    assert "ERROR" in text
    assert "delays ended with 1" in text
    assert "    ValueError\n      audit/cli.py:" in text
    assert str(ROOT) not in text


def test_an_unforeseen_error_in_the_import_transaction_says_nothing_of_the_row(db, monkeypatch, tmp_path, capsys):
    monkeypatch.setitem(importer._WRITERS, "cases", poisoned)
    (tmp_path / "cases.csv").write_text(f"case_id,period\nC{7},2031-03\n", encoding="utf-8")
    assert run(db, "import", str(tmp_path / "cases.csv")) == 1
    assert POISON not in log_of(db) + capsys.readouterr().err


def test_an_error_of_the_database_that_quotes_a_value_is_logged_without_it(db):
    import duckdb

    with logs.beside(db), database.open_for_writing(db) as con:
        with pytest.raises(duckdb.Error, match=POISON) as caught:
            con.execute(f"select '{POISON}'::double")
        logging.getLogger("audit.test").error("as it happens", exc_info=caught.value)
    assert "ConversionException" in log_of(db)
    assert POISON not in log_of(db)


def test_without_a_database_there_is_no_log_and_the_sentence_says_how_to_see_more(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("audit.commands.delays.opened", poisoned)
    assert run(tmp_path / "none.duckdb", "delays") == 1
    told = capsys.readouterr().err
    assert "INTRAPARTUM_AUDIT_DEBUG=1" in told
    assert POISON not in told
    assert list(tmp_path.iterdir()) == []


def test_only_its_owner_can_read_the_log(db):
    before = os.umask(0)
    try:
        logs.file_of(db).unlink()
        run(db, "trends", "--json")
    finally:
        os.umask(before)
    assert stat.S_IMODE(logs.file_of(db).stat().st_mode) == 0o600


def test_the_log_is_put_aside_when_it_is_full_and_the_oldest_goes(db, monkeypatch):
    monkeypatch.setattr(logs, "LOG_BYTES", 2000)
    monkeypatch.setattr(logs, "LOG_FILES", 3)
    with logs.beside(db):
        for k in range(200):
            logging.getLogger("audit.test").info("line %d", k)
    found = sorted(db.parent.glob("unit.log*"))
    assert [file.name == "unit.log" for file in found] == [True, False, False]
    assert all(file.stat().st_size <= 2000 for file in found)
    assert all(stat.S_IMODE(file.stat().st_mode) == 0o600 for file in found)
    assert "line 199" in log_of(db)


def test_two_processes_share_a_log_that_is_put_aside(db):
    code = (
        "import logging, sys; from pathlib import Path; from audit import logs; logs.LOG_BYTES = 20000;"
        " logs.keep(Path(sys.argv[1]));"
        " [logging.getLogger('audit.test').info('of %s: %d', sys.argv[2], k) for k in range(300)]"
    )
    logs.file_of(db).unlink()
    both = [
        subprocess.Popen([sys.executable, "-c", code, str(db), name], env=os.environ | {"PYTHONPATH": str(ROOT)})
        for name in ("one", "two")
    ]
    assert [process.wait() for process in both] == [0, 0]
    text = "".join(file.read_text(encoding="utf-8") for file in db.parent.glob("unit.log*"))
    for name in ("one", "two"):
        assert set(re.findall(rf"of {name}: (\d+)$", text, flags=re.MULTILINE)) == {str(k) for k in range(300)}


def test_a_log_that_cannot_be_written_stops_nothing(db, capsys):
    logs.file_of(db).unlink()
    logs.file_of(db).mkdir()
    assert run(db, "trends", "--json") == 0
    told = capsys.readouterr()
    json.loads(told.out)
    assert "Traceback" not in told.err


def test_waiting_for_another_writer_is_logged(db):
    from tests.unit.store.test_published import Writer

    with Writer(db) as writer, logs.beside(db):
        with pytest.raises(database.StoreBusyError), database.open_for_writing(db, wait_s=0.3):
            pass
        writer.finish()
    assert re.search(r"audit\.store\.database: gave up after waiting 0\.\d s for the database", log_of(db))


def test_warnings_reach_the_terminal_and_what_is_said_elsewhere_does_not(db, capsys):
    with logs.beside(db):
        logger = logging.getLogger("audit.test")
        logger.info("quiet")
        logger.warning("told once", extra=logs.SAID)
        logger.warning("worth knowing")
    assert capsys.readouterr().err == "Warning: worth knowing\n"
    assert "told once" in log_of(db)


def test_nothing_is_sent_anywhere_after_the_command(db):
    before = log_of(db)
    logging.getLogger("audit.test").error("after the end")
    assert log_of(db) == before


def test_times_are_utc(db):
    stamp = log_of(db).split("Z", 1)[0]
    assert abs(time.mktime(time.strptime(stamp, "%Y-%m-%dT%H:%M:%S")) - time.mktime(time.gmtime())) < 600


def test_the_copy_of_a_page_is_of_the_state_that_the_log_says_was_published(db):
    assert f"published {published.current(db).name}, " in log_of(db)

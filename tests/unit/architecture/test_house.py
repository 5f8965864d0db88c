"""The shape of the house: sizes, directions, and words that do not belong in it."""

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

from tests.conftest import LONGEST

ROOT = Path(__file__).resolve().parents[3]
SOURCES = sorted(
    file
    for room in ("audit", "dashboards", "synthetic_cases")
    for file in (ROOT / room).rglob("*.py")
    if "_bundled" not in file.parts
)
MOST_LINES = 400
LONGER_FOR_A_REASON: dict[str, str] = {}


@cache
def _imports(file: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


def test_no_module_is_longer_than_a_reader_can_hold():
    long = {str(f.relative_to(ROOT)): len(f.read_text(encoding="utf-8").splitlines()) for f in SOURCES}
    long = {name: lines for name, lines in long.items() if lines > MOST_LINES and name not in LONGER_FOR_A_REASON}
    assert long == {}


def test_init_files_hold_no_logic():
    for file in SOURCES:
        # the package's own face looks its few names up when they are asked for
        if file.name == "__init__.py" and file.parent.name != "audit":
            tree = ast.parse(file.read_text(encoding="utf-8"))
            kinds = {type(node).__name__ for node in tree.body}
            assert kinds <= {"Expr", "Assign", "Import", "ImportFrom"}, file


def test_the_pure_rooms_know_no_store_frame_or_page():
    banned = (
        "duckdb",
        "pandas",
        "streamlit",
        "altair",
        "pyarrow",
        "audit.store.database",
        "audit.analysis.job",
        "audit.intake",
    )
    for room in ("audit/tracing", "audit/standards"):
        for file in (ROOT / room).rglob("*.py"):
            wrong = [name for name in _imports(file) for ban in banned if name == ban or name.startswith(ban + ".")]
            assert wrong == [], file


def test_only_the_pages_know_streamlit_and_nothing_in_audit_knows_the_pages():
    for file in (ROOT / "audit").rglob("*.py"):
        names = _imports(file)
        assert not any(name.split(".")[0] == "streamlit" for name in names), file
        assert not any(name.split(".")[0] == "dashboards" for name in names), file


def test_few_modules_open_duckdb():
    allowed = {"audit/store/database.py", "audit/store/connection.py"}
    found = {
        str(file.relative_to(ROOT)) for file in SOURCES if "duckdb" in {name.split(".")[0] for name in _imports(file)}
    }
    assert found <= allowed


def test_pages_hold_no_query_text():
    pattern = re.compile(
        r"\b(select|insert into|update|delete from)\b[\s\S]{0,200}\b(from|values|set)\b", re.IGNORECASE
    )
    for file in (ROOT / "dashboards").rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and "\n" in node.value:
                assert not pattern.search(node.value), f"{file}: {node.value[:60]}"


# names of vocabularies look like addresses and are never asked: SVG's (W3C), LOINC's in FHIR resources
NOWHERE = {
    "a path of one machine": re.compile(r"(?<![\w.}\])])/(?:tmp|root|home|work|Users|mnt)/"),
    "an address outside this computer": re.compile(
        r"https?://(?!127\.0\.0\.1|localhost|www\.w3\.org|loinc\.org\b)(?=[\w])"
    ),
    "a promise instead of work": re.compile(r"\b(?:TO[D]O|FIX[M]E|XX[X])\b"),
}


@pytest.mark.parametrize("what", NOWHERE)
def test_what_must_stand_nowhere_in_the_sources(what):
    files = [*SOURCES, *(ROOT / "queries").rglob("*.sql"), ROOT / "README.md", ROOT / "DEVELOPERS.md"]
    found = {str(f.relative_to(ROOT)): NOWHERE[what].findall(f.read_text(encoding="utf-8")) for f in files}
    assert {name: hits for name, hits in found.items() if hits} == {}


@pytest.mark.parametrize(
    ("what", "text"),
    [
        ("a path of one machine", f"open('{'/'}tmp/a.csv')"),
        ("an address outside this computer", "see https:" + "//example.invalid/page"),
        ("a promise instead of work", "# TO" + "DO: later"),
    ],
)
def test_what_must_stand_nowhere_would_be_seen(what, text):
    assert NOWHERE[what].search(text)


def test_no_test_asks_how_fast_the_machine_is():
    clock = re.compile(r"\b(?:process_time|monotonic|perf_counter)\(\)|\btimeout=[12]?\d(?:\.\d+)?\b")
    # programs, not tests; the one that plants faults asks which tests are quick only to begin with them
    programs = {"benchmarks", "mutation"}
    files = [file for file in (ROOT / "tests").rglob("*.py") if not programs & {*file.parts}]
    found = {str(f.relative_to(ROOT)): clock.findall(f.read_text(encoding="utf-8")) for f in files}
    assert {name: hits for name, hits in found.items() if hits} == {}


def test_a_file_of_tests_is_no_longer_than_that_or_says_why_on_top():
    long = [file for file in sorted((ROOT / "tests").rglob("*.py")) if len(_lines(file)) > MOST_LINES]
    assert [file.name for file in long if f"Over {MOST_LINES} lines: " not in "\n".join(_lines(file)[:15])] == []


def test_the_files_of_tests_that_are_begun_first_are_there():
    assert [name for name in LONGEST if not (ROOT / "tests" / name).is_file()] == []


def _lines(file: Path) -> list[str]:
    return file.read_text(encoding="utf-8").splitlines()


def test_help_runs_without_a_database():
    done = subprocess.run(
        [sys.executable, "-m", "audit", "--help"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0
    assert "Not for care in progress" in done.stdout


def _loaded_with(commands: str) -> set[str]:
    """The large libraries that come with the modules of these commands."""
    modules = ", ".join(f"audit.commands.{name}" for name in commands.split())
    large = "{'scipy.stats', 'scipy.signal', 'pandas', 'altair'}"
    asked = f"import sys, {modules}; print(*{large} & sys.modules.keys())"
    done = subprocess.run([sys.executable, "-c", asked], cwd=ROOT, capture_output=True, text=True, check=True)
    return set(done.stdout.split())


@pytest.mark.slow
def test_commands_that_make_no_figure_do_not_wait_for_the_libraries_of_figures():
    quick = "account backup dashboard doctor import_files imports init move restore undo which"
    assert _loaded_with(quick) == set()


@pytest.mark.slow
def test_what_reads_tracings_does_not_wait_for_the_libraries_of_statistics():
    assert _loaded_with("analyse") == {"pandas"}

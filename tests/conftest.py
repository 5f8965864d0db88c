"""Shared by all tests: which part a test belongs to, the open database, and that what CI lacks fails there."""

import os
import re
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import coverage
import hypothesis
import pytest

ROOT = Path(__file__).resolve().parent.parent

# the same examples in every run, however long one takes
hypothesis.settings.register_profile(
    "tests", derandomize=True, deadline=None, suppress_health_check=[hypothesis.HealthCheck.too_slow]
)
hypothesis.settings.load_profile("tests")

# a folder whose tests bear its name as their mark; what bears none of these marks is the quick part
FOLDERS = ("reference", "robustness", "browser", "accuracy", "install")

# the files that take longest: begun first, so that no worker is left with one of them when the others have ended
LONGEST = tuple(
    f"{name}.py"
    for name in (
        "accuracy/test_against_experts", "robustness/test_analysis_killed", "robustness/test_import_killed",
        "reference/test_second_reading_open_recordings", "unit/questions/test_summary", "unit/settings/test_every_key",
        "robustness/test_nothing_leaks", "browser/test_meeting_month_walk", "browser/test_first_screen",
        "unit/intake/test_importer", "browser/test_pages", "install/test_install", "robustness/test_pack_killed",
        "unit/pack/test_pack_files", "browser/test_reading_two_browsers", "robustness/test_disk_refuses",
        "browser/test_case",
    )
)  # fmt: skip

HOW_TO_GET_THE_DATABASE = (
    "The open intrapartum database (Chudacek 2014) is not here. Download its WFDB records and the file "
    "expert_evaluations.csv from the archive that publishes it, put them in one folder and set CTU_UHB_DIR to it."
)


# what says so on top is slow from its first test to its last
ALL_SLOW = re.compile(r"^pytestmark = (?:pytest\.mark\.slow|\[.*\bpytest\.mark\.slow\b.*\])$", re.MULTILINE)

# what was compiled once serves every worker, every later run and every process that a test starts
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave unread what holds nothing of the quick part: its oracles take long to import."""
    if config.option.markexpr != "quick" or not collection_path.is_relative_to(ROOT / "tests"):
        return None
    parts = collection_path.relative_to(ROOT / "tests").parts
    if parts and parts[0] in FOLDERS:
        return True
    is_test = collection_path.name.startswith("test_") and collection_path.suffix == ".py"
    return True if is_test and ALL_SLOW.search(collection_path.read_text(encoding="utf-8")) else None


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark each test with its part; the longest files come first."""
    for item in items:
        folder = item.path.relative_to(ROOT / "tests").parts[0]
        if folder in FOLDERS:
            item.add_marker(folder)
        elif item.get_closest_marker("slow") is None:
            item.add_marker("quick")
    place = {ROOT / "tests" / name: number for number, name in enumerate(LONGEST)}
    items.sort(key=lambda item: place.get(item.path, len(place)))


# Tests that nobody counts the lines of: counting makes a page half as slow again, a key of the settings twice as slow,
# and these run what other tests ran.
UNCOUNTED = tuple(
    ROOT / "tests" / name
    for name in (
        "install", "reference", "accuracy", "browser/test_pages.py", "browser/test_meeting_month_walk.py",
        "robustness/test_nothing_leaks.py", "unit/settings/test_every_key.py", "unit/settings/test_every_review_key.py",
        "unit/analysis/test_stages.py",
    )
)  # fmt: skip


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_protocol(item: pytest.Item) -> None:
    """Where lines are counted, in this process and those that it starts, begin or cease to with the next test."""
    # set where a process was told to count as it began
    counting = getattr(coverage.process_startup, "coverage", None)
    if counting is None:
        return
    due = not any(item.path.is_relative_to(place) for place in UNCOUNTED)
    told, kept = "COVERAGE_PROCESS_START", "COVERAGE_PROCESS_START_LATER"
    if due and kept in os.environ:
        os.environ[told] = os.environ.pop(kept)
        counting.start()
    elif not due and told in os.environ:
        os.environ[kept] = os.environ.pop(told)
        counting.stop()


@pytest.fixture(scope="session", autouse=True)
def _nothing_stays_behind(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """What lies in the system's temporary folder goes with the run: of browsers, kernels, killed processes too.

    Not below the folders of the tests: a socket's path may have a hundred characters or so.
    """
    tmp_path_factory.getbasetemp()  # chosen before the other changes
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as room, pytest.MonkeyPatch.context() as patch:
        patch.setenv("TMPDIR", room)
        patch.setattr(tempfile, "tempdir", room)
        yield


@pytest.fixture(autouse=True)
def _main_module_comes_back() -> Iterator[None]:
    """A page that is driven without a browser leaves itself as the main module, and later processes would run it."""
    main = sys.modules["__main__"]
    yield
    sys.modules["__main__"] = main


def absent(sentence: str) -> None:
    """Skip with a sentence on a user's machine; fail in CI, where everything must be there."""
    if os.environ.get("CI", "").lower() in ("1", "true", "yes"):
        pytest.fail(sentence)
    pytest.skip(sentence)


@pytest.fixture(scope="session")
def ctu_uhb() -> Path:
    """The folder of the open database."""
    folder = Path(os.environ.get("CTU_UHB_DIR", ROOT.parent / "shared" / "data" / "ctu-uhb"))
    if not folder.is_dir():
        absent(HOW_TO_GET_THE_DATABASE)
    return folder


@pytest.fixture(scope="session")
def worked_examples() -> Path:
    """The folder of published worked examples with their data."""
    folder = Path(os.environ.get("WORKED_EXAMPLES_DIR", ROOT.parent / "shared" / "reference" / "data"))
    if not folder.is_dir():
        absent("The folder of published worked examples is not here; set WORKED_EXAMPLES_DIR to it.")
    return folder

"""A database without content for each test of the import: made once a file of tests, and copied."""

import shutil
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from audit.intake.door.report import FileOutcome
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database


@pytest.fixture(scope="module")
def empty(tmp_path_factory) -> Path:
    file = tmp_path_factory.mktemp("empty") / "unit.duckdb"
    with database.open_for_writing(file):
        pass
    return file


@pytest.fixture
def db(tmp_path: Path, empty: Path) -> Path:
    return Path(shutil.copyfile(empty, tmp_path / "unit.duckdb"))


@pytest.fixture
def offered(db: Path, tmp_path: Path) -> Callable[[Sequence[bytes | str], str], list[FileOutcome]]:
    """Offer many files in one import, by what they hold and how their names end: what became of each, in order."""

    def offer(contents: Sequence[bytes | str], ending: str) -> list[FileOutcome]:
        files = [tmp_path / f"C{k}{ending}" for k in range(len(contents))]
        for file, content in zip(files, contents, strict=True):
            file.write_bytes(content if isinstance(content, bytes) else content.encode())
        outcomes = import_paths(db, files, settings=load_settings()).files
        found = {file: [outcome for outcome in outcomes if outcome.path == file] for file in files}
        assert [len(each) for each in found.values()] == [1] * len(files)
        return [outcome for (outcome,) in found.values()]

    return offer

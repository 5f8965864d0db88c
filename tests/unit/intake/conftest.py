"""A database without content for each test of the import: made once a file of tests, and copied."""

import shutil
from pathlib import Path

import pytest

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

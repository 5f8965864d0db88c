"""Fixtures shared by all tests: the open database, and that what CI lacks fails while what a laptop lacks skips."""

import os
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

HOW_TO_GET_THE_DATABASE = (
    "The open intrapartum database (Chudacek 2014) is not here. Download its WFDB records and the file "
    "expert_evaluations.csv from the archive that publishes it, put them in one folder and set CTU_UHB_DIR to it."
)


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

"""A small invented unit, written once: all months and all planted cases, fewer ordinary ones."""

import csv
import json
from pathlib import Path
from types import SimpleNamespace

import pytest

from synthetic_cases.write import write_unit


@pytest.fixture(scope="session")
def unit(tmp_path_factory):
    """The written unit: `summary`, `truth`, and the rows of each CSV file as dictionaries of text."""
    folder: Path = tmp_path_factory.mktemp("unit")
    summary = write_unit(folder, per_month=12, workers=1)
    rows = {
        name: _rows(summary.files / f"{name}.csv")
        for name in ("cases", "care_events", "reads", "assessments", "unit_months")
    }
    truth = json.loads((summary.truth / "truth.json").read_text())
    return SimpleNamespace(summary=summary, truth=truth, **rows)


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="") as text:
        return list(csv.DictReader(text))

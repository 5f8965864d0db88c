"""The example notebook runs from its first cell to its last."""

from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

FILE = Path(__file__).resolve().parents[2] / "synthetic_cases" / "first_look.ipynb"
pytestmark = pytest.mark.install


def test_the_example_notebook_runs():
    made = nbformat.read(FILE, as_version=4)
    assert all(not cell.get("outputs") for cell in made.cells)  # committed without what a run printed
    NotebookClient(
        made, timeout=300, kernel_name="python3", resources={"metadata": {"path": str(FILE.parent)}}
    ).execute()
    shown = [output for cell in made.cells for output in cell.get("outputs", [])]
    assert not any(output.output_type == "error" for output in shown)
    assert any(kind == "image/svg+xml" for output in shown for kind in output.get("data", {}))

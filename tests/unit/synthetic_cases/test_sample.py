"""The committed sample is what the generator makes, small, and complete."""

import csv
import gzip
import json
from pathlib import Path

import numpy as np
import pytest

import synthetic_cases
from synthetic_cases.sample_files import write_sample

SAMPLE = Path(synthetic_cases.__file__).parent / "sample"


def _columns(path):
    with gzip.open(path, "rt") if path.suffix == ".gz" else path.open() as text:
        rows = list(csv.DictReader(text))
    return {name: [row[name] for row in rows] for name in rows[0]}


def test_the_sample_is_small_and_has_every_kind_of_input_file():
    files = sorted(p.name for p in (SAMPLE / "files").iterdir())
    assert files == ["care_events.csv", "cases.csv", "reads.csv", "tracing_S001.csv", "tracing_S002.csv.gz"]
    assert sum(p.stat().st_size for p in SAMPLE.rglob("*") if p.is_file()) < 300_000


@pytest.mark.slow
def test_the_generator_still_makes_the_sample(tmp_path):
    write_sample(tmp_path)
    for name in ("care_events.csv", "cases.csv", "reads.csv"):
        assert (tmp_path / "files" / name).read_text() == (SAMPLE / "files" / name).read_text()
    for name in ("tracing_S001.csv", "tracing_S002.csv.gz"):
        made, kept = _columns(tmp_path / "files" / name), _columns(SAMPLE / "files" / name)
        assert made["t_s"] == kept["t_s"]
        # Another processor may round a stored quarter of a beat the other way.
        same = np.mean([a == b for a, b in zip(made["fhr_bpm"], kept["fhr_bpm"], strict=True)])
        assert same > 0.999


def test_the_truth_beside_it_names_its_cases():
    truth = json.loads((SAMPLE / "truth.json").read_text())
    assert [case["case_id"] for case in truth["cases"]] == ["S001", "S002"]
    assert truth["cases"][0]["responses"][0]["pattern"] == "recurrent_late"
    assert {row for row in _columns(SAMPLE / "files" / "cases.csv")["case_id"]} == {"S001", "S002"}

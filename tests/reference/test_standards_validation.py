"""The whole validation on a few real records: same answer however it is run, and the contract's document.

Sources: recordings of Chudacek 2014 (BMC Pregnancy and Childbirth 14:16), readings of Hruban 2015 (J Eval Clin Pract).
No figure is expected here: agreement itself is held in the accuracy suite.
"""

import json
import math
from pathlib import Path

import msgspec
import pytest

from audit.setting_types import changed
from audit.settings import Settings, load_settings
from audit.validate.readings import REPORTING, part_of
from audit.validate.records import EXPERTS_FILE, read_database_record, record_names
from audit.validate.report import html_of
from audit.validate.run import run_validation

KEYS = {
    "windows",
    "kappa_linear",
    "kappa_linear_low",
    "kappa_linear_high",
    "agreement",
    "experts",
    "auc",
    "part",
}


@pytest.fixture(scope="module")
def few(ctu_uhb: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("few")
    for header in sorted(ctu_uhb.glob("*.hea"))[:10]:
        for file in (header, header.with_suffix(".dat")):
            (folder / file.name).symlink_to(file)
    (folder / EXPERTS_FILE).symlink_to(ctu_uhb / EXPERTS_FILE)
    return folder


@pytest.fixture(scope="module")
def settings() -> Settings:
    loaded = load_settings()
    return msgspec.structs.replace(loaded, validate=changed(loaded.validate, draws=100))


def test_windows_of_a_record_follow_the_databases_description(ctu_uhb: Path) -> None:
    # Record 1002: 19,200 samples at 4 Hz, second stage at sample 14,400, so 3,600 s of 4,800 s (its header).
    record = read_database_record(ctu_uhb, "1002")
    assert record.second_stage_s == 3600.0
    assert record.windows == {
        "eval_step1": (0.0, 1800.0),
        "eval_step2": (1800.0, 3600.0),
        "eval_step3": (3600.0, 4800.0),
    }
    assert record.birth_s == 4800.0
    assert record.ph == 7.0


def test_the_document_is_the_contracts_and_the_workers_do_not_matter(
    few: Path, settings: Settings, tmp_path: Path
) -> None:
    calls: list[tuple[int, int]] = []
    one = run_validation(few, settings, lambda done, total: calls.append((done, total)), workers=1)
    two = run_validation(few, settings, workers=2)
    document = one.to_json()
    assert set(document) >= KEYS
    assert json.dumps(document, allow_nan=False) == json.dumps(two.to_json(), allow_nan=False)
    assert document["part"] == "reporting"
    assert {"measure", "outcome", "estimate", "low", "high"} <= set(document["auc"][0])
    # without a second reading no other recording is read
    reported = [name for name in record_names(few) if part_of(name) == REPORTING]
    assert 0 < len(reported) < 10
    assert calls[-1] == (len(reported), len(reported))
    assert all(not math.isnan(a["estimate"]) for a in document["auc"] if a["estimate"] is not None)
    page = tmp_path / "report.html"
    page.write_text(html_of(one), encoding="utf-8")
    text = page.read_text(encoding="utf-8")
    assert text.count("<svg") == 2
    assert "not a medical device" in text
    links = [part.split('"')[0] for part in text.split("http")[1:]]
    assert all("w3.org" in link for link in links)  # names of SVG's own spaces, nothing that is loaded
    assert "kappa" in one.table()

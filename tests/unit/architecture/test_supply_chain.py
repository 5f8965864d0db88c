# ruff: noqa: E501 (one form a line reads best)
"""What is installed at run time: licences, versions that are known to be safe, and no secret in the repository.

Licences are those that the packages state (SPDX expressions, PEP 639, or their classifiers). The floors are from
memory of published advisories (CVE numbers beside them) and want looking after: this check works without a network.
"""

import json
import re
import subprocess
import zipfile
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.version import Version

from tests import bill_of_materials
from tests.bill_of_materials import licences_of, run_time_packages
from tests.conftest import absent

ROOT = Path(__file__).resolve().parents[3]
PERMISSIVE = {
    "MIT", "MIT-CMU", "BSD-2-Clause", "BSD-3-Clause", "Apache-2.0", "0BSD", "Zlib", "CC0-1.0", "PSF-2.0", "ISC", "HPND",
    "Unlicense",
}  # fmt: skip
# a list of certificates under MPL-2.0 that comes with `requests` and is used unchanged: a file licence, not of our code
UNCHANGED = {"certifi": "MPL-2.0"}
FLOORS = {
    "starlette": "0.49.1",  # CVE-2025-62727
    "jinja2": "3.1.6",  # CVE-2025-27516
    "urllib3": "2.6.0",  # CVE-2025-66418, CVE-2025-66471
    "requests": "2.32.4",  # CVE-2024-47081
    "h11": "0.16.0",  # CVE-2025-43859
    "pillow": "11.3.0",  # CVE-2025-48379
    "pyarrow": "14.0.1",  # CVE-2023-47248
    "python-multipart": "0.0.18",  # CVE-2024-53981
    "protobuf": "6.31.1",  # CVE-2025-4565
    "streamlit": "1.43.2",  # an upload's type was checked in the browser only
    "certifi": "2024.7.4",  # CVE-2024-39689
    "idna": "3.7",  # CVE-2024-3651
}
SECRETS = re.compile(
    r"-----BEGIN [A-Z ]*PRIVATE KEY-----|\bAKIA[0-9A-Z]{16}\b|\bgh[pousr]_[A-Za-z0-9]{36}\b|\bxox[abp]-[0-9A-Za-z-]{10,}"
    r"|(?i:\b(?:password|passwd|secret|api_?key|token)\b\s*[=:]\s*[\"'][^\"'\s{}]{12,}[\"'])"
)


def test_only_permissive_licences_at_run_time():
    strange = {
        name: licences_of(package)
        for name, package in run_time_packages().items()
        if not licences_of(package) <= PERMISSIVE
    }
    assert set(strange) <= set(UNCHANGED), strange


@pytest.mark.parametrize("name", FLOORS)
def test_no_version_below_a_known_advisory(name):
    assert Version(metadata.version(name)) >= Version(FLOORS[name])


def test_the_versions_that_ci_installs_are_not_below_either():
    pinned = dict(
        line.split("==") for line in (ROOT / ".ci" / "constraints.txt").read_text().splitlines() if "==" in line
    )
    below = {n: pinned[n] for n in FLOORS if n in pinned and Version(pinned[n]) < Version(FLOORS[n])}
    assert below == {}


def test_the_bill_of_materials_is_that_of_the_requirements_and_of_what_ci_installs():
    kept = json.loads((ROOT / bill_of_materials.FILE).read_text(encoding="utf-8"))
    assert kept == bill_of_materials.document(), f"run `python -m {bill_of_materials.__name__}`"
    listed = {each["name"]: each for each in kept["components"]}
    assert {Requirement(each).name for each in bill_of_materials.declared()} <= set(listed)
    assert all(each["version"] and each["licenses"] for each in listed.values())
    # CycloneDX 1.6, required properties, and each reference leads somewhere
    assert (kept["bomFormat"], kept["specVersion"]) == ("CycloneDX", "1.6")
    references = {each["bom-ref"] for each in kept["components"]} | {kept["metadata"]["component"]["bom-ref"]}
    assert {each["ref"] for each in kept["dependencies"]} == references
    assert all(set(each["dependsOn"]) <= references for each in kept["dependencies"])
    assert "://" not in json.dumps(kept)


@pytest.mark.slow
def test_the_bill_of_materials_lies_in_the_wheel(tmp_path):
    from hatchling.builders.wheel import WheelBuilder

    [made] = WheelBuilder(str(ROOT)).build(directory=str(tmp_path), versions=["standard"])
    with zipfile.ZipFile(made) as wheel:
        [name] = [each for each in wheel.namelist() if "/sboms/" in each]
        assert name.split("/")[0].endswith(".dist-info")  # PEP 770
        assert json.loads(wheel.read(name)) == json.loads((ROOT / bill_of_materials.FILE).read_text(encoding="utf-8"))


def test_no_secret_lies_in_the_repository():
    try:
        listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    except (OSError, subprocess.CalledProcessError):
        absent("This copy is no repository, so there is nothing to search for secrets.")
    found = []
    for name in listed.splitlines():
        file = ROOT / name
        if not file.is_file() or file.suffix in {".parquet", ".gz", ".dat", ".png", ".duckdb"}:
            continue
        found += [
            f"{name}: {hit[0][:20]}" for hit in SECRETS.finditer(file.read_text(encoding="utf-8", errors="replace"))
        ]
    assert found == []


@pytest.mark.parametrize(
    "text", ["-----BEGIN " + "RSA PRIVATE KEY-----", "pass" + 'word = "correct-horse-battery"', "AKIA" + "A" * 16]
)
def test_the_search_finds_a_planted_secret(text):
    assert SECRETS.search(text)

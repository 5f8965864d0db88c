"""What the program needs at run time, with versions and licences: the bill of materials that lies in the wheel.

`python -m tests.bill_of_materials` writes it anew from what is installed; a test holds it to the requirements and to
the versions that CI installs. The format is CycloneDX 1.6 (ECMA-424), its place in the wheel that of PEP 770.
"""

import json
import re
import tomllib
from importlib import metadata
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[1]
FILE = ".ci/sbom.cdx.json"
# how packages without an SPDX expression say it
SAID = {
    "BSD License": "BSD-3-Clause", "MIT License": "MIT", "Apache Software License": "Apache-2.0",
    "Apache License 2.0": "Apache-2.0", "3-Clause BSD License": "BSD-3-Clause",
    "Python Software Foundation License": "PSF-2.0",
    "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
}  # fmt: skip


def _project() -> dict[str, Any]:
    found: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return found


def declared() -> list[str]:
    """Our own requirements, without extras."""
    return list(_project()["dependencies"])


def run_time_packages() -> dict[str, metadata.Distribution]:
    """Our own requirements and what they require, without extras, as installed."""
    found: dict[str, metadata.Distribution] = {}
    waiting = [Requirement(each).name for each in declared()]
    while waiting:
        name = _plain(waiting.pop())
        if name in found:
            continue
        found[name] = metadata.distribution(name)
        waiting += _needed(found[name])
    return found


def _needed(package: metadata.Distribution) -> list[str]:
    required = [Requirement(each) for each in package.requires or []]
    return [each.name for each in required if each.marker is None or each.marker.evaluate({"extra": ""})]


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def _stated(package: metadata.Distribution) -> str:
    stated = package.metadata.get("License-Expression")
    if stated:
        return str(stated)
    classes = [each for each in package.metadata.get_all("Classifier") or [] if each.startswith("License :: ")]
    said = classes[0].rsplit(" :: ", 1)[1] if classes else (package.metadata.get("License") or "").split("\n")[0]
    return SAID.get(said, said)


def licences_of(package: metadata.Distribution) -> set[str]:
    """The licences that a package states, as SPDX names where we know them."""
    return set(re.split(r" (?:AND|OR|WITH) |[() ]+", _stated(package))) - {""}


def document() -> dict[str, Any]:
    """The bill of materials: the same for the same requirements and installed packages."""
    lines = (ROOT / ".ci" / "constraints.txt").read_text(encoding="utf-8").splitlines()
    pinned = {_plain(line.split("==")[0]): line.split("==")[1] for line in lines if "==" in line}
    packages, project = run_time_packages(), _project()
    reference = {name: f"pkg:pypi/{name}@{pinned[name]}" for name in packages}
    own = f"pkg:pypi/{project['name']}@{project['version']}"
    needs = {own: declared(), **{reference[name]: _needed(package) for name, package in packages.items()}}
    return {
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "version": 1,
        "metadata": {
            "component": {
                "type": "application",
                "bom-ref": own,
                "name": project["name"],
                "version": project["version"],
                "licenses": [{"expression": project["license"]}],
            }
        },
        "components": [
            {
                "type": "library",
                "bom-ref": reference[name],
                "name": name,
                "version": pinned[name],
                "purl": reference[name],
                "licenses": [{"expression": _stated(package)}],
            }
            for name, package in sorted(packages.items())
        ],
        "dependencies": [
            {"ref": ref, "dependsOn": sorted({reference[_plain(Requirement(each).name)] for each in required})}
            for ref, required in sorted(needs.items())
        ],
    }


if __name__ == "__main__":
    (ROOT / FILE).write_text(json.dumps(document(), indent=1) + "\n", encoding="utf-8")

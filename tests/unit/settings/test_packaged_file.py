"""Every setting says its unit and source; overrides are checked; equal settings have equal hashes."""

import re
from pathlib import Path

import pytest

from audit.errors import SettingsError
from audit.settings import PACKAGED_FILE, load_settings


def test_every_setting_says_its_unit_and_source():
    bare = []
    for number, line in enumerate(PACKAGED_FILE.read_text(encoding="utf-8").splitlines(), start=1):
        code = line.strip()
        if re.match(r"^[A-Za-z0-9_.\"-]+\s*=", code) and "#" not in code:
            bare.append(f"{number}: {code}")
    assert bare == []


def test_the_hash_depends_on_values_only(tmp_path: Path):
    unit = tmp_path / "unit_settings.toml"
    unit.write_text("# a remark\n", encoding="utf-8")
    assert load_settings(unit).sha256 == load_settings().sha256


def test_an_unknown_key_is_an_error_that_names_it(tmp_path: Path):
    unit = tmp_path / "unit_settings.toml"
    unit.write_text("[tracing]\nno_such_setting = 3\n", encoding="utf-8")
    with pytest.raises(SettingsError, match=r"tracing\.no_such_setting"):
        load_settings(unit)


def test_a_value_of_another_type_is_an_error(tmp_path: Path):
    unit = tmp_path / "unit_settings.toml"
    unit.write_text('[find]\nburden_ranked_at_least = "one"\n', encoding="utf-8")
    with pytest.raises(SettingsError, match="expected a whole number"):
        load_settings(unit)


def test_a_file_that_is_not_toml_is_an_error(tmp_path: Path):
    unit = tmp_path / "unit_settings.toml"
    unit.write_text("[tracing\n", encoding="utf-8")
    with pytest.raises(SettingsError, match="not a TOML file"):
        load_settings(unit)

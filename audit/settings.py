"""The analysis settings: one packaged file, overridden key by key by a unit, hashed into every run."""

import hashlib
import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from audit.errors import SettingsError

PACKAGED_FILE = Path(__file__).with_name("settings.toml")
UNIT_FILE_NAME = "unit_settings.toml"

# Tables in which a unit may add keys of its own (its words for events, its triggers); elsewhere an unknown key is an
# error, because a misspelt threshold that silently changes nothing is worse than a refusal.
OPEN_TABLES = ("import.event_words", "response.triggers")


ANALYSIS_TABLES = (
    "tracing",
    "nichd-2008",
    "figo-2015",
    "figo-1986",
    "nice-ng229",
    "validate",
    "second_reading",
    "burden",
    "response",
)


@dataclass(frozen=True)
class Settings:
    """Nested tables of values, with where each overridden key came from."""

    tables: Mapping[str, Any]
    overridden: tuple[str, ...] = ()

    @cached_property
    def sha256(self) -> str:
        """Hash of every value in force; equal values give equal hashes whatever the order of the file."""
        return _hash_of(self.tables)

    @cached_property
    def analysis_tables(self) -> dict[str, Any]:
        """The tables that a reading depends on. Workers get these and no others."""
        return {name: self.tables[name] for name in ANALYSIS_TABLES}

    @cached_property
    def analysis_sha256(self) -> str:
        """Hash of what a reading depends on: another word for the pack's paper makes no tracing stale."""
        return _hash_of(self.analysis_tables)

    def table(self, name: str) -> dict[str, Any]:
        """One table by its dotted name, as a copy. KeyError when there is none."""
        found: Any = self.tables
        for part in name.split("."):
            found = found[part]
        return dict(found)


def _hash_of(tables: Mapping[str, Any]) -> str:
    text = json.dumps(tables, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def load_settings(unit_file: Path | None = None) -> Settings:
    """The packaged settings with a unit's overrides.

    Raises SettingsError, naming file and key, when the file is not TOML, a key is unknown or a value has another type.
    """
    tables = _read(PACKAGED_FILE)
    overridden: list[str] = []
    if unit_file is not None:
        _override(tables, _read(unit_file), "", unit_file, overridden)
    return Settings(tables, tuple(overridden))


def settings_for(db: Path) -> Settings:
    """The settings in force for a database: the packaged ones and `unit_settings.toml` beside it, if there."""
    folder = db.resolve().parent
    unit_file = folder / UNIT_FILE_NAME
    return _with_second_reading(load_settings(unit_file if unit_file.is_file() else None), folder)


def _with_second_reading(settings: Settings, folder: Path) -> Settings:
    """The settings with the fitted model that they name, so that a change of its content changes their hash."""
    name = settings.table("second_reading")["file"]
    if not name:
        return settings
    file = folder / name
    try:
        model = json.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError as error:
        raise SettingsError(
            f"{UNIT_FILE_NAME}: second_reading.file: found {name!r}, but there is no such file"
        ) from error
    except ValueError as error:
        raise SettingsError(f"{name}: not a fitted reading: {error}") from error
    tables = {**settings.tables, "second_reading": {"file": name, "model": model}}
    return Settings(tables, settings.overridden)


def _read(file: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError as error:
        raise SettingsError(f"{file.name}: no such settings file") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingsError(f"{file.name}: not a TOML file: {error}") from error


def _override(base: dict[str, Any], change: dict[str, Any], prefix: str, file: Path, overridden: list[str]) -> None:
    for key, value in change.items():
        name = f"{prefix}{key}"
        if key not in base:
            if prefix.rstrip(".") in OPEN_TABLES:
                base[key] = value
                overridden.append(name)
                continue
            raise SettingsError(f"{file.name}: {name}: unknown key; expected one of {', '.join(sorted(base))}")
        here = base[key]
        if isinstance(here, dict):
            if not isinstance(value, dict):
                raise SettingsError(f"{file.name}: {name}: found {value!r}, expected a table")
            _override(here, value, f"{name}.", file, overridden)
            continue
        if isinstance(here, float) and isinstance(value, int) and not isinstance(value, bool):
            value = float(value)
        if type(here) is not type(value):
            raise SettingsError(f"{file.name}: {name}: found {value!r}, expected {type(here).__name__}")
        base[key] = value
        overridden.append(name)


def editions(settings: Settings) -> dict[str, str]:
    """The edition in force of every standard whose settings name one."""
    return {
        name: str(table["edition"])
        for name, table in settings.analysis_tables.items()
        if isinstance(table, dict) and "edition" in table
    }


def with_edition(settings: Settings, standard: str, name: str) -> str:
    """The standard's name, with the edition where the name does not say it already."""
    edition = editions(settings).get(standard)
    return name if edition is None or edition == name else f"{name} ({edition})"

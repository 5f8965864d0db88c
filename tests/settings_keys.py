"""Every key of the packaged settings, and the settings with one of them changed by way of a unit's file."""

import json
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from audit.errors import SettingsError
from audit.settings import PACKAGED_FILE, Settings, load_settings

Key = tuple[str, ...]


def _leaves(table: Mapping[str, Any], above: Key = ()) -> Iterator[tuple[Key, Any]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _leaves(value, (*above, key))
        else:
            yield (*above, key), value


EVERY: dict[Key, Any] = dict(_leaves(tomllib.loads(PACKAGED_FILE.read_text(encoding="utf-8"))))


def changed(key: Key, value: Any, folder: Path, *, beside: str = "") -> Settings | None:
    """The settings with one key changed (None = as packaged) and a line beside it; None when that is not valid."""
    table = ".".join(f'"{name}"' for name in key[:-1])
    lines = [f"[{table}]", beside, "" if value is None else f'"{key[-1]}" = {json.dumps(value)}']
    file = folder / "unit_settings.toml"
    file.write_text("\n".join(lines), encoding="utf-8")
    try:
        return load_settings(file)
    except SettingsError:
        return None

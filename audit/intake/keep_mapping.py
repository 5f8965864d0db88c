"""Write a mapping that was confirmed into the unit's settings: whole and valid, or not at all."""

import re
from pathlib import Path

from audit.errors import UsageError
from audit.intake.formats.mapped import check_mapping
from audit.settings import UNIT_FILE_NAME, load_settings, rewritten

_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_-]{0,39}")


def keep_mapping(db: Path, name: str, toml: str) -> None:
    """Add a mapping's text to the settings beside a database.

    Raises UsageError for a name that is taken or no name, and SettingsError for settings that would not be valid; the
    file is as it was then.
    """
    if not _NAME.fullmatch(name):
        raise UsageError(f"mapping: found {name!r}, expected a name of letters, figures, - and _")
    file = db.resolve().parent / UNIT_FILE_NAME
    before = file.read_text(encoding="utf-8") if file.is_file() else ""
    if before and name in load_settings(file).import_.mapping:
        raise UsageError(f"mapping: {name} is in {UNIT_FILE_NAME} already; choose another name, or take it out there")
    with rewritten(file, f"{before.rstrip()}\n\n{toml}".lstrip()) as settings:
        check_mapping(name, settings.import_.mapping[name], UNIT_FILE_NAME)

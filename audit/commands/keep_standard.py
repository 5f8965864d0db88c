"""The unit's choice of a standard, kept in its settings: what the pages and Trends begin with, and the pack's clock."""

import re
from pathlib import Path

from audit.settings import UNIT_FILE_NAME, rewritten

TABLES = ("trends", "pack")


def keep_standard(db: Path, standard: str) -> None:
    """Write the standard into the settings beside a database; what else they hold stays as it is.

    Raises SettingsError where they would not be valid; the file is as it was then.
    """
    file = db.resolve().parent / UNIT_FILE_NAME
    text = file.read_text(encoding="utf-8") if file.is_file() else ""
    for table in TABLES:
        text = _with_standard(text, table, standard)
    with rewritten(file, text):
        pass


def _with_standard(text: str, table: str, standard: str) -> str:
    line = f'standard = "{standard}"'
    head = re.search(rf"^\[{table}\][ \t]*(#.*)?$", text, re.MULTILINE)
    if head is None:
        return f"{text.rstrip()}\n\n[{table}]\n{line}\n".lstrip()
    rest = text[head.end() :]
    end = re.search(r"^\[", rest, re.MULTILINE)
    body, after = (rest, "") if end is None else (rest[: end.start()], rest[end.start() :])
    kept = re.sub(r"^standard[ \t]*=.*\n?", "", body, flags=re.MULTILINE)
    return f"{text[: head.end()]}\n{line}{kept}{after}"

"""Which database the pages were started with, and the settings in force for it."""

import os
from pathlib import Path

from audit.settings import UNIT_FILE_NAME, Settings, settings_for
from audit.store import published

DB_VARIABLE = "INTRAPARTUM_AUDIT_DB"
# a page asks many times which copy is in force; a database that somebody writes to is tried at most this often (s)
HELD_S = 0.5
_Stamp = tuple[int, int, int] | None
# read again only when one of the files is another one: a page asks many times, and reading takes some 50 ms
_KNOWN: dict[Path, tuple[_Stamp, _Stamp, Settings]] = {}


def database() -> Path | None:
    """The database that the pages were started with, or None."""
    named = os.environ.get(DB_VARIABLE, "")
    return Path(named) if named else None


def there() -> Path:
    """The same where a page is not drawn without one."""
    found = database()
    assert found is not None
    return found


def nothing_yet() -> bool:
    """Whether there is no copy to answer from yet: nothing was imported, or the first import is still at work."""
    db = database()
    return db is not None and db.resolve().parent.is_dir() and published.record_of(db) is None


def settings(db: Path) -> Settings:
    """The settings in force for a database. Raises SettingsError where its file cannot be used."""
    folder = db.resolve().parent
    unit = _stamp(folder / UNIT_FILE_NAME)
    known = _KNOWN.get(db)
    if known is not None and known[0] == unit and known[1] == _fitted(folder, known[2]):
        return known[2]
    found = settings_for(db)
    _KNOWN[db] = (unit, _fitted(folder, found), found)
    return found


def _fitted(folder: Path, found: Settings) -> _Stamp:
    return _stamp(folder / found.second_reading.file) if found.second_reading.file else None


def _stamp(file: Path) -> _Stamp:
    try:
        found = file.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino

"""What a helper asks first when something does not work: versions, rights, fonts, locks, disk and clock."""

import os
import platform
import shutil
import sys
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from importlib import metadata
from pathlib import Path

from audit import paths
from audit.errors import AuditError
from audit.settings import settings_for
from audit.store import database, identity, people_database, pseudonyms
from audit.version import __version__
from audit.words import counted

_PACKAGES = ("duckdb", "pyarrow", "pandas", "numpy", "scipy", "streamlit", "altair", "typst", "vl-convert-python")
_OLDEST_PYTHON = (3, 11)
_LEAST_FREE = 2_000_000_000  # bytes; a unit-year and its copies, our choice
_AHEAD = timedelta(minutes=10)  # of the clock against what was written before; our choice
_TEXT = '<svg xmlns="http://www.w3.org/2000/svg" width="60" height="20"><text y="15">bpm</text></svg>'


@dataclass(frozen=True)
class Looked:
    """One thing that was looked at."""

    what: str
    well: bool
    said: str


def looked_over(db: Path) -> list[Looked]:
    """All of it, in the order in which it should be read."""
    return [_python(), _packages(), _fonts(), _folder(db), _disk(db), *_database(db), _settings(db), _clock(db)]


def _python() -> Looked:
    said = (
        f"intrapartum-audit {__version__}, Python {platform.python_version()}, {platform.system()} {platform.machine()}"
    )
    return Looked("versions", sys.version_info[:2] >= _OLDEST_PYTHON, said)


def _packages() -> Looked:
    missing, found = [], []
    for name in _PACKAGES:
        try:
            found.append(f"{name} {metadata.version(name)}")
        except metadata.PackageNotFoundError:
            missing.append(name)
    said = ", ".join(found) + (f"; missing: {', '.join(missing)}: install the program again" if missing else "")
    return Looked("packages", not missing, said)


def _fonts() -> Looked:
    """The fonts of strips and packs come with the packages: draw a word and see that it is there."""
    try:
        import typst
        import vl_convert

        drawn = vl_convert.svg_to_pdf(_TEXT)
        page = typst.compile(b"bpm", format="pdf", ignore_system_fonts=True)
    except Exception as error:
        return Looked("fonts", False, f"a page could not be drawn ({type(error).__name__}); install the program again")
    return Looked("fonts", bool(drawn and page), "come with the program; a strip and a page were drawn with them")


def _folder(db: Path) -> Looked:
    folder = db.resolve().parent
    if not folder.is_dir():
        return Looked("permissions", False, "the folder of the database does not exist; make it, or give another --db")
    if not os.access(folder, os.W_OK | os.X_OK):
        return Looked("permissions", False, "the folder may not be written by this user")
    if os.name == "posix":
        own = [db, people_database.file_of(db), paths.beside(db, "key"), paths.beside(db, "log")]
        open_ones = sum(file.exists() and bool(file.stat().st_mode & 0o077) for file in own)
        if open_ones:
            return Looked("permissions", False, f"{counted(open_ones, 'file', are=True)} open to others: chmod 600")
    return Looked("permissions", True, "the folder may be written, and the files are their owner's alone")


def _disk(db: Path) -> Looked:
    folder = db.resolve().parent
    if not folder.is_dir():
        return Looked("disk", False, "no folder")
    free = shutil.disk_usage(folder).free
    size = db.stat().st_size if db.is_file() else 0
    said = f"{free / 1e9:,.1f} GB free, the database has {size / 1e9:,.2f} GB"
    # an import, its copy for readers and a backup at the same time
    return Looked("disk", free >= max(_LEAST_FREE, 3 * size), said)


def _database(db: Path) -> list[Looked]:
    if not db.is_file():
        return [Looked("database", True, "none yet: `import` makes it")]
    if database.is_held(db):
        return [Looked("locks", True, "another command or import has the database open at this moment")]
    found = [Looked("locks", True, "nobody has the database open")]
    try:
        with database.open_for_reading(db) as con:
            held = database.execute(con, "check/pseudonym").fetchone()
            said, remarks = f"opens, schema {database.schema_version(con)}", identity.remarks(db, identity.of(con))
        found.append(Looked("database", True, said))
        found.append(
            Looked("beside it", not remarks, "; ".join(remarks) or "nothing is missing, nothing is of another")
        )
    except AuditError as error:
        found.append(Looked("database", False, str(error).removeprefix(f"{db}: ")))
        return found
    try:
        key = pseudonyms.beside(db, make=False, in_use=held[0] if held else None)
        found.append(
            Looked("key", True, "of the pseudonyms: keep a copy apart" if key else "none: no pseudonym was needed")
        )
    except AuditError as error:
        found.append(Looked("key", False, str(error)))
    return found


def _settings(db: Path) -> Looked:
    try:
        settings_for(db)
    except AuditError as error:
        return Looked("settings", False, str(error))
    return Looked("settings", True, "fit")


def _clock(db: Path) -> Looked:
    """Log and copies bear this computer's time: one that was set back makes new entries look older than old ones."""
    now = datetime.now(UTC)
    said = f"{now:%Y-%m-%d %H:%M} UTC, {datetime.now().astimezone():%H:%M %Z} here"
    written = [file.stat().st_mtime for file in (db, people_database.file_of(db)) if file.is_file()]
    if written and datetime.fromtimestamp(max(written), UTC) > now + _AHEAD:
        return Looked("clock", False, f"{said}; the database was written later than that: set the clock right")
    return Looked("clock", True, said)

"""Where the queries, pages and samples are: beside `audit/` in a checkout, inside it in an installed wheel."""

import contextlib
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_BUNDLED = _PACKAGE / "_bundled"
# A folder for a while that is as old is in nobody's use any more: the longest import took minutes; our choice
_LEFT_S = 86_400.0


def home() -> Path:
    """The folder that holds `queries/`, `dashboards/` and `synthetic_cases/`."""
    return _BUNDLED if _BUNDLED.is_dir() else _PACKAGE.parent


def queries_folder() -> Path:
    """The folder of SQL files."""
    return home() / "queries"


def dashboards_folder() -> Path:
    """The folder of dashboard pages."""
    return home() / "dashboards"


def beside(db: Path, ending: str) -> Path:
    """A file or folder that belongs to a database: `unit.key` of `unit.duckdb`, `unit.db.key` of `unit.db`.

    Databases whose names differ in the ending alone must not share one. One of a former version, which did not look at
    the ending, stays in use for as long as there is no database that it could be of instead.
    """
    if db.suffix == ".duckdb":
        return db.with_name(f"{db.stem}.{ending}")
    own, former = db.with_name(f"{db.name}.{ending}"), db.with_name(f"{db.stem}.{ending}")
    if former.exists() and not own.exists() and not db.with_name(f"{db.stem}.duckdb").exists():
        return former
    return own


def owner_only(path: Path) -> None:
    """Let nobody but its owner into a file or folder; where the disk knows no such rights it stays as it is."""
    with contextlib.suppress(OSError):
        if path.stat().st_mode & 0o077:  # one that is right already keeps its times
            os.chmod(path, 0o700 if path.is_dir() else 0o600)


def files_for_owner_only() -> None:
    """Whatever this process makes from now on is its owner's alone."""
    os.umask(0o077)


@contextlib.contextmanager
def for_a_while(purpose: str) -> Iterator[Path]:
    """A folder of its owner's alone in the system's temporary one, gone at the end.

    A process that is killed cannot do that: what it left goes a day later, when the next such folder is made.
    """
    beginning = f"intrapartum-audit-{purpose}-"
    for left in Path(tempfile.gettempdir()).glob(f"{beginning}*"):
        with contextlib.suppress(OSError):
            if time.time() - left.lstat().st_mtime > _LEFT_S:
                shutil.rmtree(left)
    with tempfile.TemporaryDirectory(prefix=beginning) as folder:
        yield Path(folder)


def make_importable() -> None:
    """Let `import dashboards` and `import synthetic_cases` work from a checkout and from a wheel alike."""
    folder = str(home())
    if folder not in sys.path:
        sys.path.insert(0, folder)

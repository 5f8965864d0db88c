"""Where the queries, pages and samples are: beside `audit/` in a checkout, inside it in an installed wheel."""

import sys
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_BUNDLED = _PACKAGE / "_bundled"


def home() -> Path:
    """The folder that holds `queries/`, `dashboards/` and `synthetic_cases/`."""
    return _BUNDLED if _BUNDLED.is_dir() else _PACKAGE.parent


def queries_folder() -> Path:
    """The folder of SQL files."""
    return home() / "queries"


def dashboards_folder() -> Path:
    """The folder of dashboard pages."""
    return home() / "dashboards"


def make_importable() -> None:
    """Let `import dashboards` and `import synthetic_cases` work from a checkout and from a wheel alike."""
    folder = str(home())
    if folder not in sys.path:
        sys.path.insert(0, folder)

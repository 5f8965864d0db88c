"""The count of lines that ran must not unload modules; asked for in pyproject.toml by its table of coverage.

Whenever the search path has changed, and the pages' library changes it with every run of a page, the counter forgets
whatever was loaded while it looked where modules come from. What another thread loads meanwhile is lost under its
hands: a KeyError in the middle of an import, and pages that do not start. Nothing is loaded by that look here, since
what to count is told by folders and not by packages.
"""

import contextlib
from typing import Any

from coverage import inorout


def coverage_init(_registry: Any, _options: dict[str, Any]) -> None:
    """Keep what is loaded; the counter calls this in each process that it counts."""
    assert hasattr(inorout, "sys_modules_saved"), "the counter looks for modules in another way now"
    inorout.sys_modules_saved = contextlib.nullcontext

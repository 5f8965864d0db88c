"""Load what every page needs while the browser still loads the pages' scripts: the first page came seconds late.

Most of that time is the statistics library's. Nothing here may touch the pages' library, which is not running yet.
"""

import importlib
import threading
from contextlib import suppress

_NEEDED = ("audit.questions.trends", "audit.questions.cases_to_discuss", "audit.charts.waits")


def _load() -> None:
    with suppress(ImportError):  # the page that needs it says so
        for name in _NEEDED:
            importlib.import_module(name)


_LOADING = threading.Thread(target=_load, name="loading", daemon=True)


def begin() -> None:
    """Begin to load, beside the server that is starting; once."""
    _LOADING.start()


def wait() -> None:
    """Until it is loaded, so that no two threads load the same; at once where nobody began."""
    if _LOADING.is_alive():
        _LOADING.join()

"""Work done before somebody asks: what pages load, and what they answer of a new copy with nothing chosen.

The first page came seconds late, mostly for the statistics library; and the first page of each kind after a command had
written waited for answers that nobody had asked for yet. What is worked out here is kept where the pages keep it.
"""

import gc
import importlib
import logging
import threading
from pathlib import Path

from streamlit import runtime

_log = logging.getLogger(__name__)
_FOLDER = Path(__file__).resolve().parent
# what takes longest; nothing of it touches the pages' library, which is not running yet
_NEEDED = ("audit.questions.trends", "audit.questions.cases_to_discuss", "audit.charts.waits")
_LOOK_S = 2.0  # between two looks at whether there is a newer copy
_LOADED, _OVER = threading.Event(), threading.Event()
# the library remarks on each element that is drawn outside a session; here it is drawn only to be kept
_REMARKS = logging.getLogger("streamlit.runtime.scriptrunner_utils.script_run_context")


def _work() -> None:
    try:
        for name in _NEEDED:
            importlib.import_module(name)
        while not runtime.exists() and not _OVER.wait(0.05):
            pass  # before that the library takes the modules for a script's
        for file in sorted(_FOLDER.glob("*/*_parts.py")):
            if _OVER.is_set():
                return
            importlib.import_module(f"dashboards.{file.parent.name}.{file.stem}")
        from dashboards import beforehand  # not before its modules may be loaded
    except ImportError:  # the page that needs it says so
        return
    finally:
        _LOADED.set()
    known = None
    while not _OVER.is_set():
        newest = beforehand.newest()
        if newest is not None and newest != known:
            known = newest
            try:
                beforehand.work_out(_OVER.is_set)
            except Exception:  # whoever opens the page is told why; the next copy may be a better one
                _log.info("not all was worked out beforehand", exc_info=True)
            gc.collect()
            gc.freeze()
        _OVER.wait(_LOOK_S)


_WORKING = threading.Thread(target=_work, name="beforehand", daemon=True)


def begin() -> None:
    """Begin, beside the server that is starting; once."""
    _REMARKS.addFilter(lambda record: record.threadName != _WORKING.name)
    _WORKING.start()


def end() -> None:
    """Before the process ends: it says of a thread that is inside the database then that it failed."""
    _OVER.set()
    _WORKING.join()


def wait() -> None:
    """Until all is loaded, so that no two threads load the same; at once where nobody began."""
    if _WORKING.is_alive():
        _LOADED.wait()

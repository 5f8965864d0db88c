"""The program's own log: a rotating file beside the database, and warnings on standard error.

It says what was done and when, never what a row holds: messages name keys (case ids, run ids) and counts, and of an
error its type and the places in the code that it came through, not its text, which may quote a value.
"""

import contextlib
import logging
import os
import re
import sys
import time
import traceback
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import TextIOWrapper
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import Any

from audit import paths

# An import, an analysis and a pack a month fill far less than one file a year; nobody need change either.
LOG_BYTES = 1_000_000
LOG_FILES = 5  # the one that is written to and the former ones: their names end with the time when they were put aside
_EARLY = 100  # messages kept until there is a database to lie beside
_REMOTE_PLACE = re.compile(r'^ +File "([^"\n]+\.py)", line (\d+), in (\w+|<\w+>)$', re.MULTILINE)
# `extra` of a message whose matter the user is told in a sentence of its own
SAID: dict[str, Any] = {"said": True}

_OURS = [logging.getLogger(name) for name in ("audit", "dashboards")]
for _logger in _OURS:
    # a program that uses this package decides itself what becomes of its messages
    _logger.addHandler(logging.NullHandler())


def file_of(db: Path) -> Path:
    """The log of a database."""
    return paths.beside(db, "log")


def places(error: BaseException) -> str:
    """The types of an error and of its causes, each with the places it came through; nothing of what they say."""
    lines: list[str] = []
    found: BaseException | None = error
    seen: set[int] = set()
    while found is not None and id(found) not in seen:
        seen.add(id(found))
        frames = traceback.extract_tb(found.__traceback__)
        lines += [type(found).__name__, *(_place(frame.filename, frame.lineno, frame.name) for frame in frames)]
        # what a worker process says of its error comes as a text, and only its places are taken out of it
        remote = _REMOTE_PLACE.findall(str(found)) if type(found).__name__ == "_RemoteTraceback" else []
        lines += [_place(file, line, function) for file, line, function in remote if Path(file).is_file()]
        found = found.__cause__ or found.__context__
    return "\n".join(lines)


class WithoutValues(logging.Formatter):
    """Time, level, process, room and message; of an error what `places` tells of it."""

    def __init__(self) -> None:
        super().__init__("%(asctime)sZ %(levelname)s %(process)d %(name)s: %(message)s", "%Y-%m-%dT%H:%M:%S")
        self.converter = time.gmtime

    def format(self, record: logging.LogRecord) -> str:
        """One line, with the places of an error below it."""
        record.message, record.asctime = record.getMessage(), self.formatTime(record, self.datefmt)
        error = record.exc_info[1] if record.exc_info else None
        below = getattr(record, "places", "") if error is None else places(error)
        return "\n    ".join([self.formatMessage(record), *str(below).splitlines()])


class _OneLine(logging.Formatter):
    """What a terminal shows: no time, no places."""

    def format(self, record: logging.LogRecord) -> str:
        return f"{record.levelname.capitalize()}: {record.getMessage()}"


class _BesideDatabase(RotatingFileHandler):
    """Writes once the database is there, to a file that its owner alone can read; several processes may share it."""

    def __init__(self, db: Path) -> None:
        super().__init__(file_of(db), maxBytes=LOG_BYTES, backupCount=LOG_FILES - 1, encoding="utf-8", delay=True)
        self.setFormatter(WithoutValues())
        self.db = db
        self.written = False
        self._early: list[logging.LogRecord] = []

    def emit(self, record: logging.LogRecord) -> None:
        """Write it, after those that came before there was a place for them."""
        self._early = [*self._early, record][-_EARLY:]
        if not self.db.is_file():
            return
        waiting, self._early = self._early, []
        for each in waiting:
            self._follow()
            self.written = True
            super().emit(each)

    def handleError(self, record: logging.LogRecord) -> None:
        """A log that cannot be written must not stop the work that it tells of."""
        self.written = False

    def _open(self) -> TextIOWrapper:
        return open(self.baseFilename, "a", encoding="utf-8", opener=lambda name, flags: os.open(name, flags, 0o600))

    def doRollover(self) -> None:
        """Put the file aside under a name that no other process gives, so that two that do it at once lose nothing."""
        if self.stream is not None:
            self.stream.close()
            self.stream = None  # as the class itself does
        log = Path(self.baseFilename)
        with contextlib.suppress(FileNotFoundError):  # another process was first
            log.rename(f"{log}.{time.strftime('%Y%m%dT%H%M%SZ', time.gmtime())}-{os.getpid()}-{time.monotonic_ns()}")
        former = sorted(log.parent.glob(f"{log.name}.*"), key=_put_aside_at)
        for file in former[: -self.backupCount]:
            file.unlink(missing_ok=True)

    def _follow(self) -> None:
        """Leave a file that another process has put aside."""
        if self.stream is None:
            return
        with contextlib.suppress(FileNotFoundError):
            if os.path.samestat(os.stat(self.baseFilename), os.fstat(self.stream.fileno())):
                return
        self.stream.close()
        self.stream = None  # as the class itself does when it rotates


_kept: list[logging.Handler] = []
_heard: list[logging.Logger] = []


@contextmanager
def beside(db: Path) -> Iterator[None]:
    """Send what this package says to the log of a database and, from warnings on, to standard error."""
    keep(db)
    try:
        yield
    finally:
        _let_go()


def keep(db: Path, also: Sequence[str] = ()) -> None:
    """As `beside`, for as long as the process lasts, or until it is told of another database.

    `also`: loggers of libraries that say where this package's code failed; what they print is then as silent on values.
    """
    if any(isinstance(handler, _BesideDatabase) and handler.db == db for handler in _kept):
        return
    _let_go()
    terminal = logging.StreamHandler(sys.stderr)
    terminal.setLevel(logging.WARNING)
    terminal.setFormatter(_OneLine())
    terminal.addFilter(lambda record: not getattr(record, "said", False))
    _kept.extend([_BesideDatabase(db), terminal])
    for logger in _OURS:
        logger.setLevel(logging.INFO)
    for logger in (logging.getLogger(name) for name in also):
        for handler in logger.handlers:
            handler.setFormatter(WithoutValues())
        logger.addHandler(_kept[0])
        _heard.append(logger)
    for handler in _kept:
        for logger in _OURS:
            logger.addHandler(handler)
    _heard.extend(_OURS)


def name_in_use() -> str | None:
    """The name of the log file that is being written to; None when there is none, or it cannot be written."""
    for handler in _kept:
        if isinstance(handler, _BesideDatabase) and handler.written:
            return file_of(handler.db).name
    return None


def _let_go() -> None:
    for handler in _kept:
        for logger in _heard:
            logger.removeHandler(handler)
        handler.close()
    _kept.clear()
    _heard.clear()


def _put_aside_at(file: Path) -> tuple[int, str]:
    # last written to when it was put aside; the name parts two of the same moment
    with contextlib.suppress(FileNotFoundError):
        return file.stat().st_mtime_ns, file.name
    return 0, file.name


def _place(file: str, line: int | str | None, function: str) -> str:
    """A place in the code, without the folders of this computer."""
    path = Path(file)
    for above in (paths.home(), *(Path(folder) for folder in sys.path if folder)):
        with contextlib.suppress(ValueError):
            return f"  {path.relative_to(above).as_posix()}:{line} {function}"
    return f"  {path.name}:{line} {function}"

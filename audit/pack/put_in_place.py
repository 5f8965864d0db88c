"""A pack's files put in their places: all of them are on the disk, whole, before the first has its name."""

import contextlib
import os
import shutil
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path

from audit.errors import AuditError

_BEGINS, _ENDS = ".pack_", ".partial"
# none takes so long to write, so what is older was left by a process that was killed; our choice
_LEFT_S = 600.0


def make_folder(folder: Path) -> None:
    """Make a folder for its owner alone. Raises AuditError where none can be made."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise AuditError(f"{folder}: no folder can be made here ({error.strerror}); choose another one") from error


def put_in_place(out: Path, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write files into a folder that is there, by their names below it, replacing those of the same names.

    A disk that is full, or a process that is ended, leaves what was there before. Raises AuditError with the file that
    could not be written.
    """
    _clear(out)
    target = out
    try:
        with tempfile.TemporaryDirectory(prefix=_BEGINS, suffix=_ENDS, dir=out) as name:
            for number, (path, content) in enumerate(files.items()):
                target = out / path
                partial = Path(name, str(number))
                partial.touch(mode=0o600)
                partial.write_bytes(content)
            for number, path in enumerate(files):
                target = out / path
                make_folder(target.parent)
                os.replace(Path(name, str(number)), target)
    except OSError as error:
        raise AuditError(
            f"{target}: could not be written ({error.strerror}); close it elsewhere, or choose another folder"
        ) from error
    return tuple(out / path for path in files)


def _clear(out: Path) -> None:
    """Take away what a killed process left."""
    for folder in out.glob(f"{_BEGINS}*{_ENDS}"):
        with contextlib.suppress(OSError):  # another pack has just taken its own away
            if time.time() - folder.stat().st_mtime > _LEFT_S:
                shutil.rmtree(folder)

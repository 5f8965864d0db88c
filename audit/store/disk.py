"""What a disk or a folder refuses, told in a sentence: no room, no right to write, files that are elsewhere."""

import errno
from pathlib import Path

_FULL_NUMBERS = (errno.ENOSPC, errno.EFBIG, errno.EDQUOT)
_CLOSED_NUMBERS = (errno.EROFS, errno.EACCES, errno.EPERM)
# as the system words them, inside what a library says
_FULL_WORDS = ("No space left", "File too large", "Disk quota exceeded", "disk is full", "out of disk")
_CLOSED_WORDS = ("Read-only file system", "Permission denied", "readonly database")

_GONE_WORDS = ("No files found that match the pattern",)

_FULL = "the disk is full, or a limit for files is reached; what was stored before stays: make room and try again"
_CLOSED = "may not be written or read by this user (the file, its folder or the disk is closed); nothing was changed"

_GONE = (
    "the Parquet files that it reads in place are not where the run left them; put them back, or make it anew with"
    " `analyse --in-place`"
)


def why(error: BaseException, what: Path | None = None) -> str | None:
    """The sentence for an error that comes from the disk, here or further back; None for any other.

    `what`: the file that was being written, when it is known.
    """
    seen: set[int] = set()
    here: BaseException | None = error
    while here is not None and id(here) not in seen:
        seen.add(id(here))
        text = str(here)
        number = here.errno if isinstance(here, OSError) else None
        file = what if what is not None else getattr(here, "filename", None)
        name = f"{file}: " if file else ""
        if number in _FULL_NUMBERS or (number is None and any(words in text for words in _FULL_WORDS)):
            return f"{name}{_FULL}"
        if number in _CLOSED_NUMBERS or (number is None and any(words in text for words in _CLOSED_WORDS)):
            return f"{name}{_CLOSED}"
        if any(words in text for words in _GONE_WORDS):
            return f"{name}{_GONE}"
        here = here.__cause__ or here.__context__
    return None

"""Errors a user can act on, each tied to one exit code of the command line."""

from collections.abc import Iterable

EXIT_DONE = 0
EXIT_OTHER = 1
EXIT_USAGE = 2
EXIT_REJECTS = 3


class AuditError(Exception):
    """Something the user can act on; the message says what was found and what was expected."""

    exit_code = EXIT_OTHER


class UsageError(AuditError):
    """Wrong usage, or a path that does not exist."""

    exit_code = EXIT_USAGE


class SettingsError(AuditError):
    """A settings file that cannot be used; the message names the key."""

    exit_code = EXIT_USAGE


class NotAllowedError(AuditError):
    """What was asked for is not for this role; nothing was done."""


class StoreBusyError(AuditError):
    """Another process holds the database and did not let go in time."""


class ReadInPlaceError(AuditError):
    """The database reads a run's files in place, and nothing is written to it."""


class StoreVersionError(AuditError):
    """The database was written by a newer version of the program, or is not one of ours."""


def one_of(what: str, value: str | None, allowed: Iterable[str]) -> None:
    """Raise UsageError for a word that is none of those allowed; None is no word."""
    known = list(allowed)
    if value is not None and value not in known:
        raise UsageError(f"{what}: found {value!r}, expected one of {', '.join(known)}")

"""How every command that only reads gets its connection."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from audit.store import database, published


@contextmanager
def opened(db: Path) -> Iterator[database.Connection]:
    """The published copy, with a sentence on standard error when it is not the newest state.

    Raises AuditError when there is no database.
    """
    with published.open_for_reading(said(published.required(db, wait_s=published.GLANCE_S))) as con:
        yield con


def renew_copy(db: Path) -> None:
    """After a command has written: let readers see it. What was stored stays stored when no copy can be made now."""
    said(published.required(db, wait_s=database.LONGEST_WAIT_S))


def tell_stale(stale: Mapping[str, Any], *, as_json: bool) -> None:
    """Say above the figures how far they are out of date; beside a document, on standard error."""
    if stale["note"]:
        click.echo(f"Out of date: {stale['note']}", err=as_json)


def said(found: published.Source) -> published.Source:
    """Say on standard error what must be said of a source, and give it back."""
    if found.note:
        click.echo(f"Note: {found.note}.", err=True)
    return found

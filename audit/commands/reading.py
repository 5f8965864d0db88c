"""How every command that only reads gets its connection."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from audit.store import database, published

unit_option = click.option(
    "--unit", default=None, metavar="CODE", help="Only cases of this unit, where there are several."
)


@contextmanager
def opened(db: Path, unit: str | None = None) -> Iterator[database.Connection]:
    """The published copy, of one unit's cases where one is named, with a sentence on standard error when it is old.

    Raises AuditError when there is no database, UsageError for a unit without cases.
    """
    found = said(published.required(db, wait_s=published.GLANCE_S))
    with published.open_for_reading(replace(found, unit=unit)) as con:
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

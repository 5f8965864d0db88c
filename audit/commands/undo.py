"""`undo`: take an import back."""

from pathlib import Path

import click

from audit.commands.reading import renew_copy
from audit.intake.undo import Undone, undo
from audit.people.spoken_of import cases_by_place
from audit.store import database
from audit.words import counted


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit imports
  intrapartum-audit undo 7
Exit codes: 0 taken back, 2 refused with the reasons; nothing was changed."""
)
@click.argument("batch", type=click.IntRange(min=1), metavar="BATCH")
def command(db: Path, batch: int) -> None:
    """Take a batch back: what it brought goes, what it replaced and the findings of that time are there again.

    Refused where a later batch wrote to the same cases, where people have written about cases it brought, and where
    something else changed them since. `imports` lists the batches.
    """
    database.required(db)
    done = undo(db, batch, spoken_of=cases_by_place(db))
    click.echo(f"Batch {batch} is taken back: {_words(done)}.")
    renew_copy(db)


def _words(done: Undone) -> str:
    found = []
    if done.removed or done.restored:
        are = "is as it was" if done.restored == 1 else "are as they were"
        found.append(f"{counted(done.removed, 'case', are=True)} gone, {done.restored:,} {are}")
    if done.counts:
        found.append("the unit's counts are as they were")
    return "; ".join(found) or "it had stored nothing, and what was noted of its files and rejected rows is gone"

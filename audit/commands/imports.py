"""`imports`: what was imported, batch by batch."""

import json
from pathlib import Path

import click

from audit.commands.reading import opened
from audit.intake.undo import batches
from audit.words import counted


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit imports
  intrapartum-audit imports --json"""
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document and nothing else.")
def command(db: Path, as_json: bool) -> None:
    """List the imports, the newest first: each is a batch that `undo` can take back by its number."""
    with opened(db) as con:
        found = batches(con)
    if as_json:
        click.echo(json.dumps({"batches": found}, indent=2, default=str))
        return
    if not found:
        click.echo("No batches yet. Imports of earlier versions are kept, but not as batches.")
    for row in found:
        state = "taken back" if row["undone_at"] else "stands" if row["finished"] else "stopped before the end"
        click.echo(
            f"batch {row['batch_id']}, {row['started_at']:%Y-%m-%d %H:%M} UTC: {counted(row['files'], 'file')},"
            f" {counted(row['rows_accepted'], 'row')} accepted, {row['rows_rejected']:,} rejected;"
            f" {counted(row['new_cases'], 'case')} new, {row['changed_cases']:,} changed; {state}"
        )

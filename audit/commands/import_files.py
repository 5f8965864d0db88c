"""`import`: take files and folders into the database."""

import json
from pathlib import Path

import click

from audit.commands.reading import renew_copy
from audit.intake.importer import import_paths
from audit.progress import bar
from audit.settings import settings_for


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit import cases.csv care_events.csv tracings/
  intrapartum-audit import --dry-run march/
  intrapartum-audit import --mapping ward march/
  intrapartum-audit --db west.duckdb import march/ --replace
Exit codes: 0 everything accepted, 2 wrong usage, 3 some rows or files were rejected (the rest is stored)."""
)
@click.argument("paths", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path), metavar="PATH...")
@click.option("--dry-run", is_flag=True, help="Report the same and write nothing.")
@click.option("--replace", is_flag=True, help="Let changed content take the place of what is stored for the same case.")
@click.option("--mapping", metavar="NAME", help="Read files with other columns as [import.mapping.NAME] says.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document with every remark and nothing else.")
@click.option("--quiet", is_flag=True, help="Print the summary only.")
@click.pass_context
def command(
    ctx: click.Context,
    paths: tuple[Path, ...],
    dry_run: bool,
    replace: bool,
    mapping: str | None,
    as_json: bool,
    quiet: bool,
) -> int:
    """Take files and folders, recognise each file's kind by its content, store what is right.

    Good rows are stored; rejected ones are listed with row, column, what was found and what was expected, and kept in
    the table import_rejects. Importing the same file again changes nothing and says so.
    """
    db: Path = ctx.obj.db
    with bar("Importing") as progress:
        report = import_paths(
            db,
            list(paths),
            settings=settings_for(db),
            dry_run=dry_run,
            replace=replace,
            mapping=mapping,
            progress=progress,
        )
    lines = [json.dumps(report.document(), indent=2)] if as_json else report.lines()
    for line in lines[-1:] if quiet else lines:
        click.echo(line)
    if not dry_run and db.is_file():
        renew_copy(db)
    return report.exit_code

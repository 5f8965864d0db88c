"""`init`: a folder to begin with."""

from pathlib import Path

import click

from audit.commands.first_folder import make


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit init audit_unit
  intrapartum-audit --db audit_unit/unit.duckdb import audit_unit/examples"""
)
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), metavar="FOLDER")
def command(_db: Path, folder: Path) -> None:
    """Make a folder with commented settings, an example of each input file, and a checklist for the IT department.

    The examples are invented. The settings change nothing until a line of them is uncommented.
    """
    for file in make(folder):
        click.echo(file)

"""`doctor`: whether this computer and this folder are fit for the work."""

from pathlib import Path

import click

from audit.errors import EXIT_OTHER
from audit.questions.doctor import looked_over


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit doctor
  intrapartum-audit --db west.duckdb doctor
Exit codes: 0 all well, 1 something to look at."""
)
def command(db: Path) -> int:
    """Tell versions, permissions, fonts, locks, disk and clock, and what is wrong with any of them.

    Nothing is changed. No name, code or figure of a case is in the answer, so it can be sent to whoever helps.
    """
    found = looked_over(db)
    for each in found:
        click.echo(f"{'ok  ' if each.well else 'LOOK'} {each.what}: {each.said}")
    bad = sum(not each.well for each in found)
    click.echo(f"{bad} to look at." if bad else "All well.")
    return EXIT_OTHER if bad else 0

"""`account`: make a role or a reader code known on the machine, the first lead before anybody else."""

from pathlib import Path

import click

from audit.people import accounts
from audit.vocabulary import ROLES


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit account lead
  intrapartum-audit account reader R3
  intrapartum-audit --db west.duckdb account chair"""
)
@click.argument("role", type=click.Choice(ROLES))
@click.argument("code", required=False, default="", metavar="[CODE]")
def command(db: Path, role: str, code: str) -> int:
    """Make a role known, or a reader with a CODE (never a name), and print the PIN to sign in with on the pages.

    Whoever may write to the database's folder may do this; the log keeps it. The PIN is printed this once. The lead
    makes further readers known on the page The unit.
    """
    pin = accounts.make(db, role, code)
    click.echo(f"PIN of {code or role}: {pin}")
    return 0

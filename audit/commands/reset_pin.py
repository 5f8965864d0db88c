"""`reset-pin`: a new PIN for a role or reader code whose PIN was forgotten."""

from pathlib import Path

import click

from audit.people.accounts import reset_pin


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit reset-pin R3
  intrapartum-audit --db west.duckdb reset-pin lead"""
)
@click.argument("code", metavar="CODE")
def command(db: Path, code: str) -> int:
    """Give a code a new PIN and print it. Whoever may write to the database's folder may do this; the log keeps it."""
    click.echo(f"New PIN of {code}: {reset_pin(db, code)}")
    return 0

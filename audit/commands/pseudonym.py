"""`pseudonym`: what a case id is called in the database, for those who have the unit's key."""

from pathlib import Path
from typing import TextIO

import click

from audit.errors import AuditError, UsageError
from audit.store import backup, pseudonyms


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit pseudonym 2031-000417
  intrapartum-audit pseudonym P-k3f9x2m7qa4tz --among ward_list.txt"""
)
@click.argument("code", metavar="CASE_ID|PSEUDONYM")
@click.option(
    "--among",
    type=click.File(encoding="utf-8"),
    metavar="FILE",
    help="A list of case ids, one a line: says in which line the pseudonym's own one stands.",
)
def command(db: Path, code: str, among: TextIO | None) -> int:
    """Work out a pseudonym with the key beside the database, or find the line of a list that it was made from."""
    found = pseudonyms.beside(db, make=False, in_use=backup.pseudonym_in(db))
    if found is None:
        raise AuditError(f"{pseudonyms.key_file(db).name}: there is no key beside the database, so no pseudonym yet")
    if among is None:
        click.echo(found.of(code))
        return 0
    lines = [k for k, line in enumerate(among, start=1) if line.strip() and found.of(line) == code]
    if not lines:
        raise UsageError("no line of the list gives this pseudonym")
    click.echo(f"line {', '.join(map(str, lines))}")
    return 0

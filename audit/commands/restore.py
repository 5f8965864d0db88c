"""`restore`: put a backup in place."""

from pathlib import Path

import click

from audit.errors import AuditError
from audit.people import verify
from audit.store import backup, pseudonyms, published


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit restore unit_2031-03.backup
  intrapartum-audit restore unit_2031-03.backup --replace"""
)
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path), metavar="FILE")
@click.option("--replace", is_flag=True, help="Put aside the database that is there.")
@click.option(
    "--key",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    metavar="FILE",
    help="The key of the pseudonyms from its own file, put back as well.",
)
def command(db: Path, file: Path, replace: bool, key: Path | None) -> int:
    """Check every file of a backup against its hash, then put it in place; what was there is kept beside it."""
    manifest, aside = backup.restore(file, db, replace=replace, key=key)
    click.echo(f"{db}: restored from the backup of {manifest['made_at']}.")
    for kept in aside:
        click.echo(f"Put aside: {kept.name}")
    published.source(db)  # which brings an older one forward
    try:
        pseudonyms.beside(db, make=False, in_use=backup.pseudonym_in(db))
    except AuditError as missing:
        click.echo(missing)
    problems = verify.problems(db)
    for problem in problems:
        click.echo(problem)
    return 1 if problems else 0

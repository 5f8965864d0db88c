"""`backup`: one verified file of everything but the key."""

from pathlib import Path

import click

from audit.store import backup
from audit.words import counted


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit backup unit_2031-03.backup
  intrapartum-audit backup unit_2031-03.backup --key safe/unit.key
  intrapartum-audit --db west.duckdb backup west_2031-03.backup"""
)
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path), metavar="FILE")
@click.option(
    "--key",
    "key_target",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Copy the key of the pseudonyms too, into this file of its own; keep it in another place than the backup.",
)
def command(db: Path, file: Path, key_target: Path | None) -> None:
    """Write the database, what people wrote, settings and the figures that packs quote into one file, and read it back.

    The key of the pseudonyms is never in it: keep a copy of that in another place, or nobody can look a case up again.
    """
    manifest = backup.back_up(db, file, key_target=key_target)
    size = sum(held["bytes"] for held in manifest["files"].values())
    click.echo(f"{file}: {counted(len(manifest['files']), 'file')}, {size / 1e6:.1f} MB, read back and found whole.")
    key = backup.key_is_needed(db)
    if key_target is not None:
        click.echo(f"{key_target}: the key. Who has both files can say which case is whose: keep them apart.")
    elif key is not None:
        click.echo(f"Not in it: the key {key.name}. Keep a copy of it apart from the backup.")

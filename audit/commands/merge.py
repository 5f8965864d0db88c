"""`merge`: summaries of units into a regional database."""

from pathlib import Path

import click

from audit.commands.reading import renew_copy
from audit.settings import settings_for
from audit.store import database, summaries


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit --db region.duckdb merge u1_2031.json u2_2031.json
  intrapartum-audit --db region.duckdb merge --expect U1 --expect U2 --expect U3 summaries/*.json"""
)
@click.argument("files", nargs=-1, required=True, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--expect", "expected", multiple=True, metavar="CODE", help="A unit that should have told.")
@click.option("--other-settings", is_flag=True, help="Take summaries too that were made under other settings.")
@click.option(
    "--key",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Take only what was signed with this key.",
)
def command(
    db: Path, files: tuple[Path, ...], expected: tuple[str, ...], other_settings: bool, key: Path | None
) -> None:
    """Take units' summaries into a database whose pages then show the pooled figures.

    All or none are merged. Which units did not tell of which months is said at the end.
    """
    settings = settings_for(db)
    found = [summaries.read(file, summaries.key_of(key), settings.import_.reader_pattern) for file in files]
    with database.open_for_writing(db) as con:
        done = summaries.merge(
            con, found, settings_sha256=settings.sha256, expected=expected, other_settings=other_settings
        )
    click.echo(f"{done.added} summaries merged, {done.known} known before; units: {', '.join(done.units)}")
    for note in done.notes:
        click.echo(note)
    for period, absent in done.missing.items():
        click.echo(f"Missing in {period}: {', '.join(absent)}")
    renew_copy(db)

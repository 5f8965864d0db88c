"""`check`: verify the database."""

from pathlib import Path

import click

from audit.pack.own_process import folder_of
from audit.questions.check import check
from audit.settings import settings_for


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit check
  intrapartum-audit check --db west.duckdb
  intrapartum-audit check --against packs/anchor_2031-03.json --against unit_2031-03.backup
Exit codes: 0 nothing found, 1 something to look at, listed."""
)
@click.option(
    "--against",
    "anchors",
    multiple=True,
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    metavar="FILE",
    help="A pack's anchor or a backup, which keep the log's head and the seal of their time.",
)
def command(db: Path, anchors: tuple[Path, ...]) -> int:
    """Verify the database: schema version, rows without a counterpart, values out of range, readings out of date.

    Also whether the content is what was stored, and what people wrote is what their log says. The anchors of the packs
    made on the page are looked at without being named.
    """
    own = sorted(folder_of(db).rglob("anchor_*.json"))
    report = check(db, settings_for(db), anchors=[*own, *anchors])
    for line in report.lines():
        click.echo(line)
    return report.exit_code

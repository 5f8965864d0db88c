"""`check`: verify the database."""

import click

from audit.questions.check import check
from audit.settings import settings_for


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit check
  intrapartum-audit check --db west.duckdb
Exit codes: 0 nothing found, 1 something to look at, listed."""
)
@click.pass_context
def command(ctx: click.Context) -> int:
    """Verify the database: schema version, rows without a counterpart, values out of range, readings out of date."""
    report = check(ctx.obj.db, settings_for(ctx.obj.db))
    for line in report.lines():
        click.echo(line)
    return report.exit_code

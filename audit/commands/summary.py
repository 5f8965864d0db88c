"""`summary`: a unit's months for a regional office, without a labour in them."""

from pathlib import Path

import click

from audit.commands.reading import opened, unit_option
from audit.errors import UsageError
from audit.questions import stale, summary
from audit.settings import settings_for
from audit.store import one_unit, summaries


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit summary --period 2031-03 --unit U1 --out u1_2031-03.json
  intrapartum-audit summary --period 2031-01/2031-12 --unit U1 --key region.key --out u1_2031.json"""
)
@click.option(
    "--period", required=True, metavar="YYYY-MM[/YYYY-MM]", help="A month of birth, or the first and the last."
)
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), required=True, metavar="FILE")
@click.option(
    "--least", type=click.IntRange(1), metavar="N", help="Counts below N are hidden [default: from the settings]."
)
@click.option(
    "--key",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Sign with this key, which the regional office has too.",
)
@unit_option
def command(db: Path, period: str, out: Path, least: int | None, key: Path | None, unit: str | None) -> None:
    """Write counts, waits and what agreement rests on of some months into one file: no tracing, no case id.

    Small counts are hidden, and no time or area is a single labour's.

    Read DEVELOPERS.md, 'What a summary reveals', before the first one leaves the house.
    """
    settings = settings_for(db)
    first, _, last = period.partition("/")
    with opened(db) as con:
        known = one_unit.units(con)
    if unit is None and len(known) != 1:
        raise UsageError(f"--unit: expected one of {', '.join(known)}" if known else "--unit: no case here has a unit")
    whose = unit or next(iter(known))
    with opened(db, whose) as con:
        told = summary.document(
            con, settings, unit=whose, first=first, last=last or first,
            least=settings.pack.min_cell if least is None else least,
        )  # fmt: skip
        behind = stale.document(con, settings)
    if behind["note"]:
        click.echo(f"Out of date: {behind['note']}", err=True)
    sha256 = summaries.write(told, out, summaries.key_of(key))
    for row in told["hidden"]:
        click.echo(f"Hidden: {row['period']}, {row['what']}")
    for sentence in summary.in_words(told):
        click.echo(sentence)
    click.echo(
        f"{out}: {len(told['months'])} rows of months, {len(told['waits'])} of waits,"
        f" {len(told['agreement'])} of agreement, {len(told['case_mix'])} of case mix, SHA-256 {sha256}"
    )

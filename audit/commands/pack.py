"""`pack`: print the meeting pack of a month."""

import logging
from pathlib import Path

import click

from audit import months
from audit.commands.reading import tell_stale, unit_option
from audit.errors import UsageError
from audit.pack.build import write_pack
from audit.pack.options import PAPERS, PackOptions
from audit.progress import bar
from audit.settings import settings_for

_log = logging.getLogger(__name__)


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit pack --period 2031-03 --out packs/
  intrapartum-audit pack --period 2031-03 --out packs/ --no-outcome
  intrapartum-audit pack --period 2031-03 --out packs/ --feedback
  intrapartum-audit pack --year 2031 --out reports/
  intrapartum-audit pack --period 2031-03 --out shared/ --for-outside
  intrapartum-audit pack --year 2031 --unit U2 --out reports/"""
)
@click.option("--period", metavar="YYYY-MM", help="Month of birth.")
@click.option(
    "--year", metavar="YYYY", help="Annual report instead, as for outside: the reporting year that begins in it."
)
@click.option(
    "--out", required=True, type=click.Path(file_okay=False, path_type=Path), metavar="FOLDER", help="Where it goes."
)
@click.option("--paper", type=click.Choice(PAPERS), default=None, help="Paper size [default: the unit's settings].")
@click.option("--no-outcome", is_flag=True, help="Leave the outcome pages out, to open outcomes on the screen instead.")
@click.option(
    "--for-outside", is_flag=True, help="For readers outside the unit: no case pages, no actions, small counts hidden."
)
@click.option(
    "--overlapping", is_flag=True, help="Also a report that overlaps with others for outside: other months or units."
)
@click.option("--feedback", is_flag=True, help="Also a sheet for the team of each case: nobody named, no outcome.")
@unit_option
def command(
    db: Path,
    period: str | None,
    year: str | None,
    out: Path,
    paper: str | None,
    no_outcome: bool,
    for_outside: bool,
    overlapping: bool,
    feedback: bool,
    unit: str | None,
) -> None:
    """Write the month's pack as PDF, as one HTML file, as slides (PPTX), and its tables as CSV.

    The cases are those of the month's agenda; without an agenda the first ones of `find`. The pack is de-identified as
    the database is, and holds review figures of single labours all the same: keep it as you keep the database.
    """
    if (period is None) == (year is None):
        found = "neither" if period is None else "both"
        raise UsageError(f"--period and --year: found {found}, expected one of them")
    if feedback and year is not None:
        raise UsageError("--feedback: found together with --year, expected a month: an annual report names no case")
    if feedback and for_outside:
        raise UsageError("--feedback: found together with --for-outside, expected one of the two")
    options = PackOptions.of(settings_for(db)).changed(
        paper=paper,
        outcome="left_out" if no_outcome else None,
        for_outside=for_outside or None,
        overlapping=overlapping or None,
        feedback=feedback or None,
    )
    with bar("Drawing cases") as progress:
        span = period or months.twelve(str(year), begins=options.year_begins)
        written = write_pack(db, period=span, out=out, options=options, unit=unit, progress=progress)
    _log.info("pack: %d cases, %d files", written.cases, len(written.files))
    tell_stale({"note": written.out_of_date}, as_json=True)
    if written.note:
        click.echo(f"Note: {written.note}.", err=True)
    for file in written.files:
        click.echo(str(file))

"""`export`: tables for work elsewhere, and a case's strip."""

from pathlib import Path

import click

from audit import house_style
from audit.commands.reading import opened, tell_stale, unit_option
from audit.errors import UsageError
from audit.months import checked_period
from audit.pack.options import PackOptions
from audit.pack.strips import whole_strip
from audit.paths import owner_only
from audit.questions import merged_labours, stale
from audit.questions.case_file import load_case
from audit.questions.export import TABLES, taken_out
from audit.settings import settings_for
from audit.tables.files_out import FORMATS, write


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit export cases findings episodes --out for_the_analyst
  intrapartum-audit export minutes --format parquet --out minutes
  intrapartum-audit export cases reads actions --period 2031-03 --format xlsx --out march
  intrapartum-audit export --strip C12 --out strips
What goes out holds the unit's own codes and outcomes: keep it where the database may lie."""
)
@click.argument("what", nargs=-1, type=click.Choice(list(TABLES)))
@click.option("--out", type=click.Path(file_okay=False, path_type=Path), required=True, metavar="FOLDER")
@click.option("--format", "kind", type=click.Choice(FORMATS), default="csv", show_default=True)
@click.option("--period", metavar="YYYY-MM", help="Only the cases of this month.")
@unit_option
@click.option("--strip", "case_id", metavar="CASE", help="The case's whole strip at paper scale, as SVG and PDF.")
@click.option("--fetus", metavar="A", help="Of twins, the one whose strip it is.")
def command(
    db: Path,
    what: tuple[str, ...],
    out: Path,
    kind: str,
    period: str | None,
    unit: str | None,
    case_id: str | None,
    fetus: str | None,
) -> None:
    """Write tables as CSV, Parquet or one workbook, with a dictionary of their columns; or a case's strip.

    Text that a spreadsheet could run as a formula gets an apostrophe before it.
    """
    settings = settings_for(db)
    if not what and case_id is None:
        raise UsageError(f"nothing to export: name {', '.join(TABLES)}, or --strip with a case")
    month = None if period is None else checked_period(period)
    files: list[Path] = []
    with opened(db, unit) as con:
        behind = stale.document(con, settings, period=month)
        tell_stale(behind, as_json=True)
        if what:
            if merged := merged_labours.sentence(con, month):
                click.echo(merged, err=True)
            files += write(
                taken_out(con, db, what, month, of_one_unit=unit is not None, out_of_date=behind["note"]),
                out,
                kind,
                style=house_style.of(settings.locale),
                paper=settings.locale.paper,
            )
        if case_id is not None:
            case = load_case(con, case_id, fetus) if fetus else load_case(con, case_id)
            if case is None:
                raise UsageError(f"case {case_id}: no tracing of this case and fetus")
            with house_style.written(house_style.of(settings.locale)):
                picture = whole_strip(case, PackOptions.of(settings))
            out.mkdir(parents=True, exist_ok=True)
            for ending, data in (("svg", picture.svg.encode("utf-8")), ("pdf", picture.pdf)):
                file = out / f"strip_{case.case_id}_{case.fetus}.{ending}"
                file.write_bytes(data)
                owner_only(file)
                files.append(file)
    for file in files:
        click.echo(file)

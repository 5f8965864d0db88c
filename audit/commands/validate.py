"""`validate`: the computed reading beside nine obstetricians, on the open database."""

import json
from pathlib import Path

import click

from audit.errors import UsageError
from audit.progress import bar
from audit.second_reading import fitted_file
from audit.settings import settings_for
from audit.validate.readings import REPORTING, TUNING
from audit.validate.run import run_validation


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit validate ctu-uhb/
  intrapartum-audit validate ctu-uhb/ --json
  intrapartum-audit validate ctu-uhb/ --html report.html
  intrapartum-audit validate ctu-uhb/ --fit second_reading.zip
  intrapartum-audit validate ctu-uhb/ --part tuning"""
)
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="One JSON document on standard output.")
@click.option(
    "--html",
    "html_file",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    metavar="FILE",
    help="Also write a short report with plots.",
)
@click.option(
    "--fit",
    "fit_file",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    metavar="FILE",
    help="Also fit a second reading on all recordings read, judge it on recordings left out, and write it to FILE.",
)
@click.option(
    "--part",
    type=click.Choice((REPORTING, TUNING)),
    default=REPORTING,
    show_default=True,
    help="Recordings to report; with tuning, those on which settings were chosen, and no others are opened.",
)
@click.option("--workers", type=click.IntRange(1, 256), default=None, help="Worker processes [default: one per core].")
def command(
    db: Path,
    folder: Path,
    as_json: bool,
    html_file: Path | None,
    fit_file: Path | None,
    part: str,
    workers: int | None,
) -> int:
    """Run the analysis on the open intrapartum database and report the computed reading beside the experts.

    FOLDER holds the WFDB records and expert_evaluations.csv. Only the part of the recordings that no setting was chosen
    on is reported, unless the tuning part is asked for: then no other recording is opened, and the figures flatter. A
    second reading that is fitted here, or that the unit's settings have switched on, is judged on recordings that it
    was not fitted on. Nothing is stored.
    """
    settings = settings_for(db, second_reading=fit_file is None)
    fitted = None
    if settings.second_reading.file:
        named = db.resolve().parent / settings.second_reading.file
        fitted = fitted_file.kept(named, settings.second_reading.sha256)
    for file in (html_file, fit_file):  # told before the minutes that reading takes
        if file is not None and not file.resolve().parent.is_dir():
            raise UsageError(f"{file}: found no folder to write it into, expected one that is there")
    with bar("Reading recordings") as progress:
        result = run_validation(
            folder, settings, progress, workers=workers, fit=fit_file is not None, fitted=fitted, part=part
        )
    if fit_file is not None and result.second is not None and result.second.fitted is not None:
        fitted_file.write(result.second.fitted, result.second.card, fit_file)
    if html_file is not None:
        from audit.validate.report import html_of  # the plots' library loads slowly and is not always wanted

        html_file.write_text(html_of(result), encoding="utf-8")
    click.echo(json.dumps(result.to_json(), indent=2, allow_nan=False) if as_json else result.table())
    return 0

"""`demo`: make the invented unit, import, analyse, print a pack, open the dashboard."""

from pathlib import Path

import click

from audit import paths
from audit.analysis.job import analyse
from audit.commands.reading import renew_copy
from audit.commands.serve_pages import launch
from audit.errors import EXIT_REJECTS, UsageError
from audit.intake.importer import import_paths
from audit.pack.build import write_pack
from audit.people import access
from audit.progress import bar
from audit.settings import settings_for
from audit.words import number_of

_MARK = "invented_unit.txt"


def _beside_its_files(ctx: click.Context, _param: click.Parameter, folder: Path) -> Path:
    if not ctx.obj.named:
        ctx.obj.db = folder / "unit.duckdb"
    return folder


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit demo
  intrapartum-audit demo --folder invented --no-dashboard"""
)
@click.option(
    "--folder",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("demo"),
    show_default=True,
    metavar="DIR",
    callback=_beside_its_files,
    help="Where the invented unit's files and database go.",
)
@click.option("--no-dashboard", is_flag=True, help="Stop when the pack is written.")
@click.option("--no-browser", is_flag=True, help="Print the dashboard's address and open no browser.")
@click.option(
    "--port", type=click.IntRange(1, 65535), default=None, help="Port of the dashboard [default: a free one]."
)
def command(db: Path, folder: Path, no_dashboard: bool, no_browser: bool, port: int | None) -> int:
    """Make an invented unit with eight months of labours, and go through the whole job with it."""
    settings = settings_for(db)
    _claim(folder)
    paths.make_importable()
    from synthetic_cases.meetings import hold
    from synthetic_cases.write import write_unit

    click.echo(f"Making the invented unit in {folder} ...")
    with bar("Drawing tracings") as progress:
        unit = write_unit(folder, busy_month=120, progress=progress)
    with bar("Importing") as progress:
        imported = import_paths(db, [folder / "files"], settings=settings, progress=progress)
    click.echo(imported.lines()[-1])
    with bar("Reading tracings") as progress:
        read = analyse(db, settings=settings, progress=progress)
    click.echo(read.lines()[-1])
    if db.resolve().parent == folder.resolve():
        access.choose(db, single_user=True)  # invented labours in a folder of their own: nobody to keep out
    renew_copy(db)
    held = hold(db, folder)
    if held.agenda:
        click.echo(
            f"Meetings of {len(unit.periods)} months: {held.agenda} cases discussed, {held.drawn} of them drawn"
            f" at random, {held.clocks} clocks agreed, {held.struck_out} computed events struck out, {held.added} added"
            f" (this moved {number_of(held.moved, 'clock')}),"
            f" {held.issues} issues, {held.family_questions} questions of families"
        )
    # its few cases are drawn in less processor time here than workers take to start
    written = write_pack(db, period=unit.last_period, out=folder / "pack", workers=1)
    click.echo(f"Pack of {unit.last_period}: {written}")
    if imported.exit_code or read.exit_code:
        click.echo("Error: the invented unit should have been accepted whole; see above.", err=True)
        return EXIT_REJECTS
    return 0 if no_dashboard else launch(db, port=port, open_browser=not no_browser)


def _claim(folder: Path) -> None:
    """Use an empty folder or one that an earlier demo made; never write among somebody's own files."""
    if folder.is_dir() and any(folder.iterdir()) and not (folder / _MARK).is_file():
        raise UsageError(f"{folder}: found a folder with other files in it, expected an empty or a new one (--folder)")
    folder.mkdir(parents=True, exist_ok=True)
    (folder / _MARK).write_text(
        "Everything in this folder was made by `intrapartum-audit demo`. No real people or places.\n", encoding="utf-8"
    )

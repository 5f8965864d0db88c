"""`analyse`: read every tracing that is new or changed."""

from pathlib import Path

import click

from audit.analysis.in_place import analyse_in_place
from audit.analysis.job import Cluster, analyse
from audit.commands.reading import renew_copy
from audit.errors import UsageError
from audit.people.absorb import absorb_reads
from audit.progress import bar
from audit.settings import settings_for


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit analyse
  intrapartum-audit analyse --workers 4
  intrapartum-audit analyse --case C-0031 --case C-0032 --force
  intrapartum-audit analyse --scheduler tcp://10.0.0.5:8786 --shared /srv/shared/audit
  intrapartum-audit analyse --scheduler tcp://10.0.0.5:8786 --shared /srv/shared/audit --in-place region.duckdb"""
)
@click.option("--workers", type=click.IntRange(1, 256), default=None, help="Worker processes [default: one per core].")
@click.option("--case", "case_ids", multiple=True, metavar="ID", help="Only this case; may be given several times.")
@click.option(
    "--scheduler", metavar="ADDRESS", help="Read on the workers of this dask.distributed scheduler (extra `cluster`)."
)
@click.option(
    "--shared",
    metavar="FOLDER",
    help="With --scheduler: a folder or address (s3://...) that this machine and all workers reach by the same name.",
)
@click.option(
    "--in-place",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="With --scheduler: read all; samples and findings stay in the shared folder, and FILE reads them there.",
)
@click.option("--force", is_flag=True, help="Read again what was already read.")
def command(
    db: Path,
    workers: int | None,
    case_ids: tuple[str, ...],
    scheduler: str | None,
    shared: str | None,
    in_place: Path | None,
    force: bool,
) -> int:
    """Read every tracing that is new or changed, or whose analysis settings changed, and store what was found.

    One tracing that cannot be read does not stop the rest: it is listed and marked as failed with the reason. What an
    earlier analysis found of it stays, and the next one tries again.

    With --in-place this database stays as it is. FILE is for pages, packs and commands that only read; nothing is
    imported into it or analysed in it. It wants the unit's settings beside it.
    """
    if (scheduler is None) != (shared is None):
        raise UsageError("--scheduler and --shared: found one of them, expected both or neither")
    cluster = None if scheduler is None or shared is None else Cluster(scheduler, shared)
    if in_place is not None and (cluster is None or case_ids):
        raise UsageError("--in-place: expected --scheduler and --shared, and no --case: all tracings are read")
    settings = settings_for(db)
    if in_place is not None and cluster is not None:
        with bar("Reading tracings") as progress:
            summary = analyse_in_place(db, in_place, settings=settings, cluster=cluster, progress=progress)
        for line in summary.lines():
            click.echo(line)
        return summary.exit_code
    absorb_reads(db)
    with bar("Reading tracings") as progress:
        summary = analyse(
            db,
            settings=settings,
            workers=workers,
            case_ids=case_ids,
            force=force,
            cluster=cluster,
            progress=progress,
        )
    for line in summary.lines():
        click.echo(line)
    renew_copy(db)
    return summary.exit_code

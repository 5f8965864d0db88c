"""`trends`: monthly measures with control limits."""

import json
from pathlib import Path
from typing import Any

import click
from rich import box
from rich.console import Console
from rich.table import Table

from audit.commands.reading import opened
from audit.questions import trends
from audit.settings import settings_for

_MINIMUM_WIDTH = 100


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit trends
  intrapartum-audit trends --standard nice-ng229
  intrapartum-audit trends --json"""
)
@click.option("--standard", default=None, metavar="NAME", help="Whose triggers count [default: from the settings].")
@click.option("--json", "as_json", is_flag=True, help="One JSON document on standard output.")
@click.pass_context
def command(ctx: click.Context, standard: str | None, as_json: bool) -> None:
    """Chart the unit's monthly measures, with limits from a stated baseline and signals by named rules.

    A point within the limits is chance as far as anyone can tell; a signal is a reason to look, not a verdict.
    """
    db: Path = ctx.obj.db
    with opened(db) as con:
        found = trends.document(con, settings_for(db), db=db, standard=standard)
    if found["note"]:
        click.echo(found["note"], err=True)
    if as_json:
        click.echo(json.dumps(found, indent=2, allow_nan=False))
    elif not found["note"]:
        _print(found)


def _print(found: dict[str, Any]) -> None:
    console = Console(highlight=False, markup=False)
    console.width = max(console.width, _MINIMUM_WIDTH)
    for measure in found["measures"]:
        console.print(f"{measure['name'].replace('_', ' ')}, {measure['unit']} ({measure['chart']} chart)")
        console.print(f"  {measure['says']}")
        for note in [measure["note"], *(phase["note"] for phase in measure["phases"])]:
            if note:
                console.print(f"  {note}")
        table = Table(box=box.SIMPLE, pad_edge=False)
        for name in ("month", "value", "of", "centre", "low", "high"):
            table.add_column(name, justify="left" if name == "month" else "right", no_wrap=True)
        table.add_column("signal, or why there is no point")
        for point in measure["points"]:
            table.add_row(point["period"], *_figures(point), point["signal"] or point["reason"] or "")
        if measure["points"]:
            console.print(table)


def _figures(point: dict[str, Any]) -> list[str]:
    numbers = ["" if point[name] is None else f"{point[name]:.3g}" for name in ("value", "centre", "low", "high")]
    part = "" if point["numerator"] is None else f"{point['numerator']:g}/"
    of = "" if point["denominator"] is None else f"{part}{point['denominator']:g}"
    return [numbers[0], of, *numbers[1:]]

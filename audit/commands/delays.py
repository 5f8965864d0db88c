"""`delays`: the response clock."""

import json
from pathlib import Path
from typing import Any

import click
from rich import box
from rich.console import Console
from rich.table import Table

from audit.commands.reading import opened
from audit.questions import delays
from audit.settings import settings_for

_MINIMUM_WIDTH = 100


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit delays
  intrapartum-audit delays --period 2031-03 --standard figo-2015
  intrapartum-audit delays --period 2031-03 --json"""
)
@click.option("--period", default=None, metavar="YYYY-MM", help="Only births of this month.")
@click.option("--standard", default=None, metavar="NAME", help="nichd-2008, figo-2015 or nice-ng229 [default: all].")
@click.option("--json", "as_json", is_flag=True, help="One JSON document on standard output.")
@click.pass_context
def command(ctx: click.Context, period: str | None, standard: str | None, as_json: bool) -> None:
    """Say for every concern episode what answered it and after how long, late ones first.

    The clock starts when the published criteria were first met on what had been seen by then. Late is a finding to
    discuss, not a verdict: each case says how many clocks (standards and readers) agree.
    """
    db: Path = ctx.obj.db
    with opened(db) as con:
        found = delays.document(con, settings_for(db), period=period, standard=standard)
    if found["note"]:
        click.echo(found["note"], err=True)
    if as_json:
        click.echo(json.dumps(found, indent=2, allow_nan=False))
    elif found["episodes"]:
        _print(found)


def _print(found: dict[str, Any]) -> None:
    console = Console(highlight=False, markup=False)
    console.width = max(console.width, _MINIMUM_WIDTH)
    counts = ", ".join(f"{n} {status.replace('_', ' ')}" for status, n in found["counts"].items() if n)
    when = found["period"] or "all months"
    console.print(f"{len(found['episodes'])} concern episodes in {when}, {found['analysed']} analysed cases: {counts}.")
    console.print(
        "Editions in force: " + ", ".join(f"{name}: {text}" for name, text in found["editions"].items()) + "."
    )
    table = Table(box=box.SIMPLE, pad_edge=False)
    for name in ("case", "concern", "from", "response", "after", "target", "birth", "status", "late"):
        number = name in ("from", "after", "target", "birth", "late")
        table.add_column(name, justify="right" if number else "left", no_wrap=name not in ("concern", "response"))
    for row in found["episodes"]:
        table.add_row(
            row["case_id"] if row["fetus"] == "A" else f"{row['case_id']} {row['fetus']}",
            f"{row['standard']} {row['trigger'].replace('_', ' ')}",
            _clock(row["recognisable_s"]),
            (row["response_event"] or "-").replace("_", " "),
            _minutes(row["minutes_to_response"]),
            _minutes(row["target_minutes"]),
            _minutes(row["minutes_to_birth"]),
            row["status"].replace("_", " "),
            f"{row['late_under']} of {row['clocks']}",
        )
    console.print(table)
    console.print(
        "from: recognisable, h:min from the first sample. after, target, birth: minutes from there. late: clocks"
        " (standards and readers) that call the case late."
    )


def _minutes(value: float | None) -> str:
    return "-" if value is None else f"{value:.0f}"


def _clock(at_s: float) -> str:
    sign, minutes = ("-" if at_s < 0 else ""), abs(int(at_s // 60))
    return f"{sign}{minutes // 60}:{minutes % 60:02d}"

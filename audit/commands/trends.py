"""`trends`: monthly measures with control limits."""

import json
from pathlib import Path
from typing import Any

import click

from audit.charts.control import measure_title, unit_words
from audit.commands.reading import opened, tell_stale, unit_option
from audit.questions import trends, units
from audit.settings import settings_for
from audit.tables.renderers import console, to_terminal
from audit.tables.trends import ADJUSTED, POINTS_ON_TERMINAL, funnel_table, points_table


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit trends
  intrapartum-audit trends --standard nice-ng229
  intrapartum-audit trends --unit U2
  intrapartum-audit trends --json"""
)
@click.option("--standard", default=None, metavar="NAME", help="Whose triggers count [default: from the settings].")
@unit_option
@click.option("--json", "as_json", is_flag=True, help="One JSON document on standard output.")
def command(db: Path, standard: str | None, unit: str | None, as_json: bool) -> None:
    """Chart the unit's monthly measures, with limits from a stated baseline and signals by named rules.

    A point within the limits is chance as far as anyone can tell; a signal is a reason to look, not a verdict.
    """
    settings = settings_for(db)
    with opened(db, unit) as con:
        found = trends.document(con, settings, db=db, standard=standard)
    with opened(db) as everybody:
        found["units"] = units.document(everybody, settings, standard=found["standard"], unit=unit)
    if found["note"]:
        click.echo(found["note"], err=True)
    tell_stale(found["stale"], as_json=as_json)
    if as_json:
        click.echo(json.dumps(found, indent=2, allow_nan=False))
    elif not found["note"]:
        _print(found)


def _print(found: dict[str, Any]) -> None:
    out = console()
    out.print(found["luck"]["says"])
    for measure in found["measures"]:
        out.print(f"{measure_title(measure['name'])}, {unit_words(measure['unit'])} ({measure['chart']} chart)")
        out.print(f"  {measure['says']}")
        for note in [measure["note"], *(phase["note"] for phase in measure["phases"])]:
            if note:
                out.print(f"  {note}")
        if measure["points"]:
            out.print(to_terminal(points_table(measure, POINTS_ON_TERMINAL)))
    out.print(f"Answered within target, by {found['funnel']['by']}. {found['funnel']['note']}")
    if found["funnel"]["points"]:
        out.print(to_terminal(funnel_table(found["funnel"])))
    if found["units"] is not None:
        _print_units(found["units"])


def _print_units(found: dict[str, Any]) -> None:
    out = console()
    named = "a letter each" if found["unit"] is None else f"{found['unit']}, the others by letters"
    out.print(f"Between {found['units']} units ({named}), in the order of their size.")
    for measure in found["measures"]:
        funnel, adjusted = measure["funnel"], measure["adjusted"]
        out.print(f"{measure_title(measure['name'])}. {measure['says']} {funnel['note']}")
        if funnel["points"]:
            out.print(to_terminal(funnel_table(funnel)))
        if adjusted is not None:
            mix = f" Case mix: {', '.join(adjusted['case_mix'])}." if adjusted["points"] else ""
            out.print(f"Adjusted by case mix. {adjusted['note']}{mix}")
            if adjusted["points"]:
                out.print(to_terminal(ADJUSTED.filled(adjusted["points"])))

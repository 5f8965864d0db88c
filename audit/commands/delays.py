"""`delays`: the response clock."""

import json
from pathlib import Path
from typing import Any

import click

from audit.commands.reading import opened, tell_stale, unit_option
from audit.questions import agreed as of_meetings
from audit.questions import chance, delays, possible
from audit.settings import settings_for
from audit.tables.agreed import AGREED_ON_TERMINAL, ON_TERMINAL
from audit.tables.episodes import EPISODES_ON_TERMINAL
from audit.tables.renderers import console, to_terminal
from audit.words import status_words


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit delays
  intrapartum-audit delays --period 2031-03 --standard figo-2015
  intrapartum-audit delays --agreed
  intrapartum-audit delays --period 2031-03 --json"""
)
@click.option("--period", default=None, metavar="YYYY-MM", help="Only births of this month.")
@click.option("--standard", default=None, metavar="NAME", help="nichd-2008, figo-2015 or nice-ng229 [default: all].")
@click.option("--agreed", is_flag=True, help="The clocks that meetings agreed on, beside the computed ones.")
@unit_option
@click.option("--json", "as_json", is_flag=True, help="One JSON document on standard output.")
def command(db: Path, period: str | None, standard: str | None, agreed: bool, unit: str | None, as_json: bool) -> None:
    """Say for every concern episode what answered it and after how long, late ones first.

    The clock starts when the published criteria were first met on what had been seen by then. Late is a finding to
    discuss, not a verdict: each case says how many clocks (standards and readers) agree.
    """
    settings = settings_for(db)
    with opened(db, unit) as con:
        found = delays.document(con, settings, period=period, standard=standard)
        if agreed:
            found["agreed"] = of_meetings.document(con, db, settings, period=period, standard=standard)
    if found["note"]:
        click.echo(found["note"], err=True)
    if not as_json and (told := possible.sentence(found["possible"], with_case=True)):
        click.echo(told, err=True)
    tell_stale(found["stale"], as_json=as_json)
    if as_json:
        click.echo(json.dumps(found, indent=2, allow_nan=False))
    elif agreed:
        _print_agreed(found["agreed"])
    elif found["episodes"] or found["merged"]:
        _print(found)


def _print_agreed(found: dict[str, Any]) -> None:
    out = console(80)
    if not found["clocks"]:
        out.print("No meeting has agreed on a clock of these.")
    else:
        out.print(to_terminal(AGREED_ON_TERMINAL.filled(found["clocks"]), out.width))
        out.print(ON_TERMINAL)
    if found["figure"] is not None:
        out.print(found["figure"]["sentence"])
    if found["weighted"] is not None:
        out.print(found["weighted"]["sentence"])


def _print(found: dict[str, Any]) -> None:
    out = console()
    counts = ", ".join(f"{n} {status_words(status)}" for status, n in found["counts"].items() if n)
    when = found["period"] or "all months"
    every = len(found["episodes"]) + found["merged"]
    out.print(f"{every} concern episodes in {when}, {found['analysed']} analysed cases: {counts}.")
    out.print(f"By the deciding clock: {chance.sentence(chance.from_fields(found['chance']))}.")
    out.print("Editions in force: " + ", ".join(f"{name}: {text}" for name, text in found["editions"].items()) + ".")
    if not found["episodes"]:
        return
    out.print(to_terminal(EPISODES_ON_TERMINAL.filled(found["episodes"])))
    out.print(
        "From: recognisable, hh:mm from the first sample. After, Target, Birth: minutes from there. Late: clocks"
        " (standards that could be assessed then, readers who read it) under which it is late or unanswered."
    )

"""`agreement`: how far readers agree."""

import json
from pathlib import Path
from typing import Any

import click

from audit import months
from audit.agreement.scales import ITEMS
from audit.commands.reading import opened, tell_stale, unit_option
from audit.people import absorb
from audit.questions import agreement, pooled_agreement, stale
from audit.settings import settings_for
from audit.tables import agreement as tables
from audit.tables.renderers import console, to_terminal
from audit.words import standard_name, words


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit agreement
  intrapartum-audit agreement --period 2031-03 --standard nichd-2008
  intrapartum-audit agreement --item variability --json"""
)
@click.option("--period", default=None, metavar="YYYY-MM", help="Only windows of births of this month.")
@click.option("--standard", default=None, metavar="NAME", help="nichd-2008, figo-2015, nice-ng229 or figo-1986"
              " [default: the one most used].")  # fmt: skip
@click.option("--item", default=None, metavar="ITEM", help=f"One of {', '.join(ITEMS)} [default: category].")
@unit_option
@click.option("--json", "as_json", is_flag=True, help="One JSON document on standard output.")
def command(
    db: Path, period: str | None, standard: str | None, item: str | None, unit: str | None, as_json: bool
) -> None:
    """Say how far readers agree, with 95 % intervals; the computed reading is one more reader, reported apart.

    Reads of closed batches are taken in first. Reads made with the outcome known are left out.
    """
    if period is not None:
        months.checked_period(period)
    settings = settings_for(db)
    moved = absorb.absorb_reads(db)
    if moved.queued:
        click.echo(f"{moved.queued} closed batches wait: another command holds the database.", err=True)
    with opened(db, unit) as con:
        asked = agreement.question(con, standard=standard, item=item, period=period)
        found = agreement.document(con, asked, settings.agreement)
        found["pooled"] = pooled_agreement.document(con, asked, settings.agreement)
        # the computed reading of the readers' windows
        found["stale"] = stale.document(con, settings, period=period)
    tell_stale(found["stale"], as_json=as_json)
    if as_json:
        click.echo(json.dumps(found, indent=2, allow_nan=False))
        return
    _print(found)


def _print(found: dict[str, Any]) -> None:
    out = console()
    out.print(
        f"{words(found['item']).capitalize()} under {standard_name(found['standard'])},"
        f" {found['period'] or 'all months'}: {found['windows']} windows of {found['cases']} cases by"
        f" {found['readers']} readers."
    )
    for said in (found["few_windows"] if found["windows"] else None, found["outcome_said"]):
        if said:
            out.print(said)
    pairs, more = agreement.first_pairs(found["pairs"])
    computed = [{"reader": "computed / consensus", **found["computed"]}]
    for table in (
        tables.MEASURES_ON_PAPER.filled(found["measures"] if found["windows"] else []),
        tables.PAIRS_ON_TERMINAL.filled(pairs),
        tables.REPEATS.filled(found["repeat_reads"]),
        tables.COMPUTED.filled(computed if found["windows"] else []),
    ):
        if table.rows:
            out.print(to_terminal(table))
    for sentence in (more, agreement.pairs_apart(found)):
        if sentence:
            out.print(sentence)
    if (pooled := found["pooled"]) is not None:
        out.print(f"All units with what summaries told, {pooled['windows']} windows; no intervals follow from counts:")
        out.print(to_terminal(tables.MEASURES_ON_PAPER.filled(pooled["measures"])))
        beside = [{"reader": "computed / consensus", **pooled["computed"]}]
        out.print(to_terminal(tables.COMPUTED.filled(beside)))
    if found["windows"]:
        out.print(f"Intervals: {found['method']['interval']}, {found['method']['draws']} draws.")

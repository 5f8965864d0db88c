"""`agreement`: how far readers agree."""

import json
from pathlib import Path
from typing import Any

import click

from audit import months
from audit.agreement.scales import ITEMS
from audit.commands.reading import opened
from audit.people import absorb
from audit.questions import agreement
from audit.settings import settings_for

_WIDTH = 34


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
@click.option("--json", "as_json", is_flag=True, help="One JSON document on standard output.")
@click.pass_context
def command(ctx: click.Context, period: str | None, standard: str | None, item: str | None, as_json: bool) -> None:
    """Say how far readers agree, with 95 % intervals; the computed reading is one more reader, reported apart.

    Reads of closed batches are taken in first. Reads made with the outcome known are left out.
    """
    db: Path = ctx.obj.db
    if period is not None:
        months.checked_period(period)
    moved = absorb.absorb_reads(db)
    if moved.queued:
        click.echo(f"{moved.queued} closed batches wait: another command holds the database.", err=True)
    with opened(db) as con:
        asked = agreement.question(con, standard=standard, item=item, period=period)
        found = agreement.document(con, asked, settings_for(db).agreement)
    if as_json:
        click.echo(json.dumps(found, indent=2, allow_nan=False))
        return
    for line in as_text(found):
        click.echo(line)


def as_text(found: dict[str, Any]) -> list[str]:
    """The document as lines for a terminal."""
    period = found["period"] or "all months"
    lines = [
        f"{found['item']} under {found['standard']}, {period}: {found['windows']} windows of {found['cases']} cases"
        f" by {found['readers']} readers.",
        "",
    ]
    for row in found["measures"]:
        name = row["name"].replace("_", " ") + (f" ({row['category']})" if row["category"] else "")
        lines.append(f"{name:<{_WIDTH}} {figure(row)}")
    if found["pairs"]:
        lines += ["", f"{'pair':<{_WIDTH}} windows  agreement  kappa  linear  quadratic"]
        lines += [_pair(f"{row['reader_a']} / {row['reader_b']}", row) for row in found["pairs"]]
    if found["repeat_reads"]:
        lines += ["", f"{'same reader, read twice':<{_WIDTH}} windows  agreement  kappa  linear  quadratic"]
        lines += [_pair(row["reader"], row) for row in found["repeat_reads"]]
    lines += ["", _pair("computed / consensus of readers", found["computed"])]
    if found["computed"].get("note"):
        lines.append(f"  {found['computed']['note']}")
    lines += ["", f"Intervals: {found['method']['interval']}, {found['method']['draws']} draws."]
    return lines


def figure(row: dict[str, Any]) -> str:
    """An estimate with its interval, or the sentence that says why there is none."""
    if row["estimate"] is None:
        return f"not estimable: {row['note']}"
    interval = "" if row["low"] is None else f" ({row['low']:.2f} to {row['high']:.2f})"
    note = f"  {row['note']}" if row["note"] else ""
    return f"{row['estimate']:.2f}{interval}, n = {row['n']}{note}"


def _pair(name: str, row: dict[str, Any]) -> str:
    cells = [row.get("agreement"), row.get("kappa")]
    cells += [row.get("weighted_kappa_linear"), row.get("weighted_kappa_quadratic")]
    texts = ["-" if value is None else f"{value:.2f}" for value in cells]
    return f"{name:<{_WIDTH}} {row['windows']:>7}  {texts[0]:>9}  {texts[1]:>5}  {texts[2]:>6}  {texts[3]:>9}"

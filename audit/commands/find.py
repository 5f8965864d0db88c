"""`find`: cases worth discussing."""

import json
from pathlib import Path
from typing import Any

import click

from audit.commands.reading import opened, tell_stale, unit_option
from audit.errors import UsageError
from audit.people import agenda
from audit.questions import cases_to_discuss, learning
from audit.questions.presets import side_by_side
from audit.questions.reason_types import Rules
from audit.questions.risk_factors import CHOICES, only_with
from audit.settings import settings_for
from audit.tables import cases as tables
from audit.tables.bedside import LEARNING
from audit.tables.cases import OTHERS, TO_DISCUSS
from audit.tables.renderers import console, to_terminal
from audit.words import number_of, words


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit find
  intrapartum-audit find --period 2031-03
  intrapartum-audit find --period 2031-03 --sample 20
  intrapartum-audit find --period 2031-03 --sample 20 --agenda
  intrapartum-audit find --period 2031-03 --presets
  intrapartum-audit find --period 2031-03 --risk-factor meconium
  intrapartum-audit find --period 2031-03 --json"""
)
@click.option("--period", default=None, metavar="YYYY-MM", help="Only births of this month.")
@click.option("--sample", type=click.IntRange(1), default=None, metavar="N", help="Draw N cases at random too.")
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=1, show_default=True, help="Of the random sample.")
@click.option(
    "--agenda",
    "on_agenda",
    is_flag=True,
    help="Draw from the month's cases that are not on its agenda, and put them there with their probability.",
)
@click.option(
    "--risk-factor", type=click.Choice(CHOICES), default=None, help="Only cases with it; scores stay as they are."
)
@click.option("--presets", is_flag=True, help="Which cases each weighting of [find.presets] would list, side by side.")
@unit_option
@click.option("--json", "as_json", is_flag=True, help="One JSON document on standard output.")
def command(
    db: Path,
    period: str | None,
    sample: int | None,
    seed: int,
    on_agenda: bool,
    risk_factor: str | None,
    presets: bool,
    unit: str | None,
    as_json: bool,
) -> None:
    """List the cases worth discussing, each with its reasons and points, and a few unremarkable ones as controls.

    The list names outcomes: whoever will read strips blind should not read it first.
    """
    if on_agenda and (sample is None or period is None):
        raise UsageError(
            "--agenda: expected --sample with how many to draw, and --period with the month of the meeting"
        )
    settings = settings_for(db)
    with opened(db, unit) as con:
        found = cases_to_discuss.document(con, settings, period=period)
        if presets:
            rules = Rules(settings.find, settings.cord_gas)
            rows = cases_to_discuss.rows_of(con, settings, period)
            found["presets"] = side_by_side(*rows, rules, with_outcome=True)
        drawn = {"sample": 0 if on_agenda else sample or 0, "seed": seed}
        found |= learning.document(con, settings, period=period, with_outcome=True, **drawn)
        every = learning.to_draw_from(con, settings, period) if on_agenda else []
    if on_agenda and sample is not None and period is not None:
        if not every and found["note"]:
            raise UsageError(found["note"])
        found["sample"] = agenda.draw(db, period, every, sample, seed, who="unit")
    if risk_factor is not None:
        found = only_with(found, risk_factor)
    if found["note"]:
        click.echo(found["note"], err=True)
    tell_stale(found["stale"], as_json=as_json)
    if as_json:
        click.echo(json.dumps(found, indent=2, allow_nan=False))
    elif found["considered"]:
        _print(found)


def _print(found: dict[str, Any]) -> None:
    out = console()
    when = found["period"] or "all months"
    those = f" with {words(found['risk_factor'])}" if found.get("risk_factor") else ""
    out.print(f"{len(found['cases'])}{those} of {found['considered']} cases of {when} to discuss.")
    if found["cases"]:
        out.print(to_terminal(TO_DISCUSS.filled(found["cases"])))
    out.print(
        "Deaths, cooling and encephalopathy come first, then the score: each kind of reason once per case, those of the"
        " outcome up to a limit together. The score orders the list; it is no measure of care."
    )
    if "presets" in found:
        beside = found["presets"]
        out.print(f"What each weighting would list; in force: {words(beside['in_force'])}.")
        out.print(to_terminal(tables.presets(list(beside["listed"])).filled(beside["cases"])))
    if found["controls"]:
        out.print(f"Controls, drawn from {found['unremarkable']} unremarkable: {', '.join(found['controls'])}")
    for title, name in (("Good care", "good_care"), ("Near misses", "near_miss")):
        if found[name]:
            out.print(f"{title}: {number_of(len(found[name]), 'case')}.")
            out.print(to_terminal(LEARNING.filled(found[name])))
    if found["sample"] is not None:
        drawn = found["sample"]
        out.print(
            f"Drawn at random: {drawn['size']} of {number_of(drawn['of'], 'case')} with a tracing that was read, each"
            f" with a probability of {drawn['probability'] or 0:.3f} (seed {drawn['seed']}):"
            f" {', '.join(drawn['cases'])}"
        )
        if "certain" in drawn:
            out.print(
                "They are on the agenda now; what the meeting decides on them is weighted back by the probability."
            )
    for remark in found["remarks"]:
        out.print(f"Remark: {remark}.")
    for row in found["left_out"]:
        out.print(f"Left out: {row['case_id']}: {row['reason']}")
    if found["others"]:
        out.print(f"{len(found['others'])} other cases, and why they are not listed:")
        out.print(to_terminal(OTHERS.filled(found["others"])))
    if found["period"] and found["without_month"]:
        many = found["without_month"]
        have = "case has no month of birth and is" if many == 1 else "cases have no month of birth and are"
        out.print(f"{many} {have} on no month's list.")

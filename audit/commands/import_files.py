"""`import`: take files and folders into the database."""

import json
from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path

import click

from audit.commands.reading import renew_copy
from audit.errors import UsageError
from audit.intake.importer import import_paths
from audit.intake.keep_mapping import keep_mapping
from audit.intake.looked_at import looked_into
from audit.intake.proposal import Proposal
from audit.people.disclosures import known_to_readers
from audit.progress import bar
from audit.settings import settings_for


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit import cases.csv care_events.csv tracings/
  intrapartum-audit import --dry-run march/
  intrapartum-audit import --guess outcomes.csv --mapping ward --yes
  intrapartum-audit import --guess acts.csv --answer units.at_s=minutes --yes
  intrapartum-audit import --mapping ward --mapping monitor march/
  intrapartum-audit import --unit U2 from_the_other_site/
  intrapartum-audit --db west.duckdb import march/ --replace
Exit codes: 0 everything accepted, 2 wrong usage, 3 some rows or files were rejected (the rest is stored)."""
)
@click.argument("paths", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path), metavar="PATH...")
@click.option("--dry-run", is_flag=True, help="Report the same and write nothing.")
@click.option("--replace", is_flag=True, help="Let changed content take the place of what is stored for the same case.")
@click.option(
    "--mapping",
    "mappings",
    multiple=True,
    metavar="NAME",
    help="Read files with other columns as [import.mapping.NAME] says; several times for files of several shapes.",
)
@click.option("--unit", metavar="CODE", help="Whose files these are, where several units share a database.")
@click.option(
    "--guess", "guessed", is_flag=True, help="Say what is in a file and propose mappings, named as --mapping."
)
@click.option("--time-zone", default="", metavar="ZONE", help="For --guess: of the file's clock, such as Europe/Paris.")
@click.option(
    "--answer",
    "answers",
    multiple=True,
    metavar="KEY=VALUE",
    help="For --guess: the answer to one of its questions, as it writes them; several times for several.",
)
@click.option("--yes", is_flag=True, help="For --guess: write the proposed mapping into unit_settings.toml.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document with every remark and nothing else.")
@click.option("--quiet", is_flag=True, help="Print the summary only.")
def command(
    db: Path,
    paths: tuple[Path, ...],
    dry_run: bool,
    replace: bool,
    mappings: tuple[str, ...],
    unit: str | None,
    guessed: bool,
    time_zone: str,
    answers: tuple[str, ...],
    yes: bool,
    as_json: bool,
    quiet: bool,
) -> int:
    """Take files and folders, recognise each file's kind by its content, store what is right.

    Good rows are stored; rejected ones are listed with row, column, what was found and what was expected, and kept in
    the table import_rejects. Importing the same file again changes nothing and says so.
    """
    if guessed:
        if len(mappings) > 1:
            raise UsageError("--guess takes one --mapping, the name of what it proposes")
        return _propose(db, paths, (*mappings, "guessed")[0], time_zone, answers, yes)
    if time_zone or answers or yes:
        raise UsageError("--time-zone, --answer and --yes go with --guess")
    with bar("Importing") as progress:
        report = import_paths(
            db,
            list(paths),
            settings=settings_for(db),
            dry_run=dry_run,
            replace=replace,
            mapping=mappings,
            unit=unit,
            knew=partial(known_to_readers, db),
            progress=progress,
        )
    lines = [json.dumps(report.document(), indent=2)] if as_json else report.lines()
    for line in lines[-1:] if quiet else lines:
        click.echo(line)
    if not dry_run and db.is_file():
        renew_copy(db)
    return report.exit_code


def _propose(db: Path, paths: tuple[Path, ...], name: str, time_zone: str, answers: tuple[str, ...], yes: bool) -> int:
    """Show what a mapping of a file would be, and keep it when that is confirmed. Nothing of the file is stored."""
    if len(paths) != 1 or not paths[0].is_file():
        raise UsageError("--guess takes one file")
    given = dict(_answer(each) for each in answers)
    looked = looked_into(paths[0], settings_for(db), lambda _: given)
    if all(each.refused for each in looked):
        raise UsageError(f"the file cannot be looked at: {looked[0].said}")
    proposals: dict[str, Proposal] = {}
    for each in looked:
        if each.proposal is None or len(looked) > 1:
            click.echo(f"{each.place}: {each.said}." if each.place else f"{each.said}.")
        if each.proposal is None:
            continue
        each.proposal.time_zone = time_zone
        called = f"{name}_{len(proposals) + 1}" if proposals else name
        proposals[called] = each.proposal
        for line in each.lines():
            click.echo(line)
        click.echo(f"\n{each.proposal.toml(called)}")
    _answered_once(given, list(proposals.values()))
    if not proposals:
        click.echo("Nothing was stored, and no mapping is needed.")
        return 0
    if not yes:
        click.echo("Nothing was stored. Copy this into unit_settings.toml, or add --yes; then import --mapping " + name)
        return 0
    ready = {called: found for called, found in proposals.items() if found.ready}
    if not ready:
        raise UsageError(
            "not kept: not all that is needed is known; answer what is asked with --answer, or in unit_settings.toml by"
            " hand"
        )
    for called, found in ready.items():
        keep_mapping(db, called, found.toml(called))
    next_one = " ".join(["import", *(f"--mapping {called}" for called in ready), "FILE"])
    click.echo(f"Kept in unit_settings.toml. Nothing of the file was stored; next: {next_one}")
    return 0


def _answer(typed: str) -> tuple[str, str]:
    key, sign, value = (part.strip() for part in typed.partition("="))
    if not (key and sign and value):
        raise UsageError(f"--answer: found {typed!r}, expected a key and a value as the questions give them")
    return key, value


def _answered_once(given: Mapping[str, str], proposals: Sequence[Proposal]) -> None:
    """Refuse an answer that no table asks for, and one that two of them would take. Raises UsageError."""
    for key, value in given.items():
        asking = sum(key in found.used for found in proposals)
        if asking != 1:
            which = "nothing asks for it" if not asking else f"{asking} tables of the file ask for it"
            raise UsageError(f"--answer {key}={value}: {which}; expected an answer to a question of one table")

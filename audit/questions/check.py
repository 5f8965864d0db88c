"""Verify a database: schema version, orphans, unit ranges, stale readings."""

import json
import os
import zipfile
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from audit.analysis.stale_tracings import stale_tracings
from audit.errors import AuditError, StoreBusyError
from audit.intake.formats.tables import OUTCOME_FIELDS
from audit.people import verify
from audit.questions.check_content import against, object_problems, seal_problems, stretch_problems
from audit.settings import Settings
from audit.store import backup, database, identity, in_place, objects, people_database, pseudonyms, published
from audit.store.identity import Identity
from audit.store.published import Record
from audit.words import number_of

_MOST_LINES = 50  # of one kind


@dataclass
class CheckReport:
    """What was looked at and what was found."""

    version: int
    counts: dict[str, int] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    stale: list[str] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)
    copy: str = ""

    @property
    def exit_code(self) -> int:
        """0 when nothing was found, 1 otherwise."""
        return 1 if self.problems or self.stale or self.failed else 0

    def lines(self) -> list[str]:
        """The report as text; long lists are cut, with the total."""
        text = [f"schema version {self.version}", self.copy]
        text += [f"{count} {name.removesuffix('s') if count == 1 else name}" for name, count in self.counts.items()]
        for thing, state, found in (
            ("problem", "", self.problems),
            ("reading", " missing or out of date; run analyse", self.stale),
            ("tracing", " that could not be read", self.failed),
        ):
            text.append(f"{number_of(len(found), thing)}{state}")
            text += [f"  {item}" for item in found[:_MOST_LINES]]
            if len(found) > _MOST_LINES:
                text.append(f"  and {len(found) - _MOST_LINES} more")
        return text


def check(db: Path, settings: Settings, *, anchors: Sequence[Path] = ()) -> CheckReport:
    """Look through a database and its published copy without changing either.

    `anchors` : files of packs, or backups, that keep the log's head and the seal of their time.

    While another process writes, the copy alone is looked through, and the report says so. Raises what
    `database.open_for_reading` raises.
    """
    copy = published.record_of(db) if db.is_file() else None
    try:
        with database.open_for_reading(db, wait_s=published.GLANCE_S if copy else database.LONGEST_WAIT_S) as con:
            report = _looked_through(con, settings)
            report.copy, different = _compared(db, copy, database.change_mark(con), report.counts)
            different += [problem for file in anchors for problem in _against(db, con, file)]
            different += [*_beside(db, identity.of(con)), *_key_problem(db, con)]
    except StoreBusyError:
        if copy is None:
            raise
        with database.open_for_reading(published.folder_of(db) / copy.copy) as con:
            report, different = _looked_through(con, settings), []
        report.copy = (
            f"another process is writing to the database: this is what the copy published at {copy.published_at} holds"
        )
    # first what touches all of it: a long list of rows would hide a wrong key or a changed log
    report.problems = [*different, *verify.problems(db), *_of_people(db), *report.problems]
    return report


def _of_people(db: Path) -> list[str]:
    """What somebody else changed of the people's store itself; one that cannot be read is told by `verify.problems`."""
    with suppress(AuditError):
        if people_database.is_there(db):
            return object_problems(objects.in_people(db), "people's store")
    return []


def _against(db: Path, con: database.Connection, file: Path) -> list[str]:
    try:
        kept = json.loads(backup.manifest_text(file) if zipfile.is_zipfile(file) else file.read_bytes())
        return [*verify.against(db, kept, file.name), *against(con, kept, file.name)]
    except (OSError, ValueError, AttributeError):
        return [f"{file.name}: neither a pack's anchor nor a backup"]


def _beside(db: Path, known: Identity) -> list[str]:
    """What does not belong to this database, or is missing, of what lies beside it."""
    found = identity.remarks(db, known)
    if people_database.file_of(db).is_file():
        noted = {"log_entries": known.people_entries, "log_head": known.people_head or ""}
        with suppress(AuditError):  # one that cannot be read is told by `verify.problems`
            found += verify.against(db, noted, "the database")
    return found


def _key_problem(db: Path, con: database.Connection) -> list[str]:
    """A key beside the database that is not its own; one that is kept elsewhere is missed by the next import."""
    held = database.execute(con, "check/pseudonym").fetchone()
    if held is None or not os.path.lexists(pseudonyms.key_file(db)):
        return []
    try:
        pseudonyms.beside(db, make=False, in_use=held[0])
    except AuditError as error:
        return [str(error)]
    return []


def _looked_through(con: database.Connection, settings: Settings) -> CheckReport:
    report = CheckReport(version=database.schema_version(con))
    try:
        _look(con, settings, report)
    except database.DAMAGE as error:
        report.problems.append(f"the file is damaged and cannot be read to its end: {database.first_line(error)}")
    return report


def _look(con: database.Connection, settings: Settings, report: CheckReport) -> None:
    """Put into the report what is found."""
    report.problems += in_place.file_problems(con)  # first: what is changed there may be unreadable
    report.counts = _counts(con)
    for found in (database.rows(con, "check/orphans"), database.rows(con, "check/ranges", stored_ranges(settings))):
        for row in found.itertuples():
            where = row.case_id if row.fetus is None or row.fetus != row.fetus else f"{row.case_id} {row.fetus}"
            report.problems.append(f"{where}: {row.problem}")
    report.problems += object_problems(objects.in_database(con), "the file")
    report.problems += [*stretch_problems(con), *seal_problems(con)]
    # the samples were read when their stretches were compared
    database.read_to_the_end(con, but={"tracing_minutes"})
    report.stale = [f"{case_id} {fetus}: {why}" for case_id, fetus, why in stale_tracings(con, settings)]
    for row in database.rows(con, "check/failed").itertuples():
        report.failed.append(f"{row.case_id} {row.fetus}: {row.reason}")


def stored_ranges(settings: Settings) -> dict[str, list[Any]]:
    """What `check/ranges` asks for: the columns that have a lowest and a highest value, and these."""
    ranges = {name: settings.range_of(name) for name in ("gestation_weeks", "parity", "plurality", *OUTCOME_FIELDS)}
    known = [(name, *span) for name, span in ranges.items() if span is not None]
    names, lows, highs = map(list, zip(*known, strict=True))
    return {"names": names, "lows": lows, "highs": highs}


def _counts(con: database.Connection) -> dict[str, int]:
    return {str(row.name): int(row.count) for row in database.rows(con, "check/counts").itertuples()}


def _compared(db: Path, copy: Record | None, mark: str, counts: dict[str, int]) -> tuple[str, list[str]]:
    """What is to be said of the copy that pages and commands read, and where it is not what it should be."""
    if copy is None:
        return "no copy that can be read; the next page or command makes one", []
    if copy.change_mark != mark:
        return (
            f"the copy published at {copy.published_at} is older than the database; the next page or command makes it"
            " again"
        ), []
    try:
        with database.open_for_reading(published.folder_of(db) / copy.copy) as con:
            held = _counts(con)
    except AuditError as error:
        return f"the copy published at {copy.published_at} cannot be read", [f"published copy: {error}"]
    different = [
        f"published copy: {held.get(name, 0)} {name}, {count} in the database"
        for name, count in counts.items()
        if held.get(name) != count
    ]
    return f"the copy published at {copy.published_at} is of the database as it is", different

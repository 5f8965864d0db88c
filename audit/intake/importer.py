"""The import: each file is read, checked and stored in one transaction of its own, whole or not at all.

Rows that were rejected by a rule are listed in `import_rejects` while the file's good rows are kept. A file whose
content is stored already changes nothing, and neither does the same content in another format, file or row order.
"""

import logging
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing, contextmanager, nullcontext
from dataclasses import dataclass
from dataclasses import replace as replace_in
from itertools import islice
from pathlib import Path
from typing import Any, get_args

from audit.errors import UsageError
from audit.intake import folders, mapped, of_unit, resumed
from audit.intake.checks.codes import is_unit
from audit.intake.checks.wfdb_record import COMMENT_FIELDS
from audit.intake.contents import Content
from audit.intake.door.names import UnitNames
from audit.intake.door.remarks import FileRefused, Remark, Remarks
from audit.intake.door.report import FileOutcome, ImportReport, Kind, Outcome, Stored, became
from audit.intake.formats.tables import COLUMNS
from audit.intake.how_far import HowFar
from audit.intake.read_ahead import ReadFile, reading_ahead
from audit.intake.unpacked import unpacked
from audit.intake.writing.assessments import write_assessments
from audit.intake.writing.cases import write_cases
from audit.intake.writing.events import write_events
from audit.intake.writing.journal import Journal
from audit.intake.writing.ledger import Into, KnownFile, Ledger, OutcomesKnown, load_ledger
from audit.intake.writing.noted import note, noted_before
from audit.intake.writing.reads import write_reads
from audit.intake.writing.tracings import write_tracings
from audit.intake.writing.unit_months import write_unit_months
from audit.progress import ReportByShare
from audit.setting_tables.intake import ImportOptions
from audit.settings import Settings
from audit.store import database, identity, pseudonyms

_log = logging.getLogger(__name__)
_REPORTED: dict[str, Kind] = {kind: kind for kind in get_args(Kind)}
_REPORTED |= {"cases_by_clock": "cases", "expert_readings": "reads"}
_WRITERS: dict[str, Callable[[Sequence[Any], Into], Stored]] = {
    "cases": write_cases,
    "care_events": write_events,
    "reads": write_reads,
    "assessments": write_assessments,
    "unit_months": write_unit_months,
}
_NAMED = {*COLUMNS, *COMMENT_FIELDS, "record"}
_BEFORE = "imported before, nothing changed"
_TAKEN = "taken before the import was stopped, not read again"


def import_paths(
    db: Path,
    paths: Sequence[Path],
    *,
    settings: Settings,
    dry_run: bool = False,
    replace: bool = False,
    mapping: str | Sequence[str] | None = None,
    unit: str | None = None,
    knew: OutcomesKnown = frozenset,
    progress: ReportByShare | None = None,
    helper: bool | None = None,
) -> ImportReport:
    """Take files and folders into the database, which is made when there is none.

    Parameters
    ----------
    db : the database file. A dry run reads it if it is there, and writes nothing.
    paths : files and folders. Folders are walked; files in them that are no data are left alone.
    replace : content that contradicts what is stored for the same case takes its place.
    mapping : names of `[import.mapping.NAME]`, or one; files with the columns of one are read under it.
    unit : code of the unit whose files these are; a file of cases with a column of its own goes before it. None = one
        unit, or not given.
    knew : asked, when a file brings reads, for reader and case wherever the reader was told the outcome in this program
        before: such a read does not count as made without it, whatever the file says.
    progress : called with (files done, files in all, share of their bytes done); within a file of many tracings also
        with parts of one.
    helper : whether a second process reads what this one stores; None = where it is worth one.

    Raises
    ------
    UsageError for a path that does not exist or a unit that is no code, and what
    `store.open_for_writing` raises. What is wrong with a file is in the report.
    """
    for path in paths:
        if not path.exists():
            raise UsageError(f"{path}: no such file or folder")
    if unit is not None and not is_unit(unit, settings.import_.reader_pattern):
        raise UsageError("--unit: found what may be a name, expected a code such as U1")
    mappings = [mapping] if isinstance(mapping, str) else list(mapping or ())
    under = mapped.chosen(settings, mappings)
    outcomes: list[FileOutcome] = []
    with (
        unpacked(folders.candidates(paths), settings) as files,
        _opened(db, dry_run) as con,
        _to_its_end(con, outcomes),
    ):
        found = folders.in_order(files, db, under)
        ledger = load_ledger(con)
        ledger.unit, ledger.knew = unit, knew
        names = UnitNames(
            settings.import_.case_id_pattern,
            settings.import_.reader_pattern,
            lambda: _key_of(db, ledger, make=not dry_run),
            stored_cases=frozenset(ledger.cases),
            stored_readers=frozenset(ledger.readers),
        )
        asked = resumed.asked(settings, mappings, unit, replace=replace)
        if not replace:
            for over in resumed.passed_over(con, asked, found, ledger, settings):
                said = _TAKEN if over.taken else _BEFORE
                outcomes.append(_known(over.sighted.candidate, over.known, said, over.remarks))
        journal = Journal(con, ledger, asked)
        running = _Import(con, ledger, journal, settings.import_, replace)
        how_far = None if progress is None else HowFar(progress, len(outcomes), found[len(outcomes) :])
        with closing(reading_ahead(found[len(outcomes) :], ledger, settings, names, helper)) as files_read:
            for done, (sighted, read) in enumerate(files_read, start=len(outcomes)):
                if how_far is not None:
                    how_far.begun(done, read.found)
                outcome = running.take(sighted, read)
                outcomes.append(outcome)
                # without its name, which may say whose it is
                told = (outcome.kind, outcome.outcome, outcome.rows_accepted, outcome.rows_rejected)
                _log.info("file %d of %d: %s %s, %d rows stored, %d kept out", done + 1, len(found), *told)
        journal.finish()
        if how_far is not None:
            how_far.ended()
    taken = tuple(outcome for outcome in outcomes if outcome.message != folders.BELONGS)
    return ImportReport(taken, dry_run)


@contextmanager
def _opened(db: Path, dry_run: bool) -> Iterator[database.Connection]:
    """The database; for a dry run a copy of it, thrown away at the end."""
    with tempfile.TemporaryDirectory() if dry_run else nullcontext(db.parent) as folder:
        file = Path(folder) / db.name
        if dry_run and db.is_file():
            database.copy_file(db, file)
        with database.open_for_writing(file) as con:
            database.execute(con, "store/in_little_memory")
            yield con


@contextmanager
def _to_its_end(con: database.Connection, outcomes: Sequence[FileOutcome]) -> Iterator[None]:
    """Until the last file is taken the database knows that labours may be missing."""
    before = identity.of(con).import_unfinished
    database.execute(con, "intake/unfinished", {"unfinished": True})
    try:
        yield
    except Exception:
        if not any(outcome.outcome in ("stored", "replaced") for outcome in outcomes):
            database.execute(con, "intake/unfinished", {"unfinished": before})
        raise
    database.execute(con, "intake/unfinished", {"unfinished": False})


def _key_of(db: Path, ledger: Ledger, *, make: bool) -> pseudonyms.Pseudonyms:
    in_use = next((code for code in (*ledger.cases, *ledger.event_keys) if pseudonyms.looks_like_one(code)), None)
    return pseudonyms.beside(db, make=make, in_use=in_use) or pseudonyms.for_nobody()


@dataclass(frozen=True)
class _Import:
    """One import while it runs: takes a file after the other, each in a transaction of its own."""

    con: database.Connection
    ledger: Ledger
    journal: Journal
    options: ImportOptions
    replace: bool

    def take(self, sighted: folders.Sighted, read: ReadFile) -> FileOutcome:
        file, found = sighted.candidate, read.found
        if sighted.left_alone is not None or found is None:
            return _outcome(file, "unknown", "left_alone", message=sighted.left_alone)
        if isinstance(found, FileRefused):
            return self._noted(_refused(file, _REPORTED.get(sighted.kind, "unknown"), found))
        if isinstance(found, KnownFile):
            return _known(file, found, _BEFORE)
        saved = self.ledger.saved() if found.streamed or self.ledger.unit is not None else None
        try:
            return self._stored(found, file, read.remarks)
        except FileRefused as error:
            if saved is None:
                raise
            self.ledger.restore(saved)
            error.sha256 = found.sha256
            return self._noted(_refused(file, found.kind, error))

    def _stored(self, content: Content, file: folders.Candidate, remarks: Remarks) -> FileOutcome:
        with self.journal.of_one_file(), database.transaction(self.con):
            import_id, before = self.ledger.next_import_id(), len(self.ledger.cases)
            into = Into(self.con, self.ledger, import_id, content.sha256, remarks, self.options, self.replace)
            written = self._written(content, into)
            _tell_dropped_zeros(self.ledger, len(self.ledger.cases) - before, remarks)
            outcome = _outcome(
                file,
                content.kind,
                written.outcome(remarks.rows_rejected),
                sha256=content.sha256,
                rows_accepted=written.accepted,
                rows_rejected=remarks.rows_rejected,
                values_rejected=remarks.values_rejected,
                rows_flagged=remarks.flagged,
                message="; ".join(remarks.messages) or None,
                remarks=_listed(remarks.all()),
                pseudonyms=frozenset(remarks.pseudonyms),
            )
            if written.new or written.replaced or not noted_before(self.ledger, outcome):
                note(self.con, self.ledger, outcome, import_id)
        return outcome

    def _written(self, content: Content, into: Into) -> Stored:
        written, remarks = Stored(), into.remarks
        of_unit.give(self.ledger, content, replace=self.replace)
        if content.table:
            part = "cases" if content.kind == "wfdb" else content.kind
            self.journal.touching(part, (getattr(row, "case_id", "") for row in content.table))
            written = _WRITERS[part](content.table, into)
        if content.kind == "wfdb":  # a record's rows are its samples
            kept_out = len(content.table) - written.accepted
            remarks.rows_rejected -= kept_out
            remarks.values_rejected += kept_out
        if content.tracings is not None:
            samples = write_tracings(self.journal.following(content.tracings), into)
            written = Stored(samples.accepted, written.new + samples.new, written.replaced + samples.replaced)
            into.keep_clocks(content.clocks)
        if content.rows_taken is not None and content.table:
            written.accepted = content.rows_taken - max(0, remarks.rows_rejected - content.rows_rejected_before)
        return written

    def _noted(self, outcome: FileOutcome) -> FileOutcome:
        """Note a refused file, once."""
        if not noted_before(self.ledger, outcome):
            with database.transaction(self.con):
                note(self.con, self.ledger, outcome, self.ledger.next_import_id())
        return outcome


def _known(file: folders.Candidate, known: KnownFile, said: str, remarks: tuple[Remark, ...] = ()) -> FileOutcome:
    """A file that is known, with what was said of it then if it was refused."""
    told = became(known) | {"kind": _REPORTED.get(known.kind, "unknown")}
    if known.outcome != "refused":
        told |= {"outcome": "unchanged", "message": said}
    return _outcome(file, **told, remarks=remarks)


def _outcome(file: folders.Candidate, kind: Kind, outcome: Outcome, *, sha256: str = "", **told: Any) -> FileOutcome:
    source = file.source(sha256)
    return FileOutcome(source, kind, outcome, sha256, number=file.number, path=file.file, part=file.part, **told)


def _refused(file: folders.Candidate, kind: Kind, why: FileRefused) -> FileOutcome:
    remarks = _listed([why.remark])
    return _outcome(file, kind, "refused", sha256=why.sha256, message=str(why), remarks=remarks)


def _listed(remarks: Iterable[Remark]) -> tuple[Remark, ...]:
    """The remarks with the names of our own columns; another name may say whose file it is."""
    return tuple(remark if remark.column_name in _NAMED else replace_in(remark, column_name=None) for remark in remarks)


def _tell_dropped_zeros(ledger: Ledger, new: int, remarks: Remarks) -> None:
    """Say where a new case differs from another by leading zeros alone, which spreadsheets drop."""
    fresh = [case_id for case_id in islice(reversed(ledger.cases), max(0, new)) if case_id.isdecimal()]
    others = ((case_id, case_id.lstrip("0").rjust(width, "0")) for case_id in fresh for width in range(1, 5))
    told = {case_id for case_id, other in others if other != case_id and other in ledger.cases}
    if told:
        remarks.message(
            f"{len(told)} case id{'s differ' if len(told) > 1 else ' differs'} from another by leading zeros alone, as"
            " 007 and 7: a spreadsheet may have dropped them, and what belongs to one case lies apart"
        )

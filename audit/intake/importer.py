"""The import: each file is read, checked and stored in one transaction of its own, whole or not at all.

Rows that were rejected by a rule are listed in `import_rejects` while the file's good rows are kept. A file whose
content is stored already changes nothing, and neither does the same content in another format, file or row order.
"""

import logging
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing, contextmanager, nullcontext
from dataclasses import replace as replace_in
from itertools import islice
from pathlib import Path
from typing import Any

from audit.errors import UsageError
from audit.intake import folders, mapped, of_unit, resumed
from audit.intake.checks.codes import is_unit
from audit.intake.checks.wfdb_record import COMMENT_FIELDS
from audit.intake.contents import Content
from audit.intake.door.names import UnitNames
from audit.intake.door.remarks import FileRefused, Remark, Remarks
from audit.intake.door.report import FileOutcome, ImportReport, Kind, Outcome, Stored
from audit.intake.formats.tables import COLUMNS
from audit.intake.how_far import HowFar
from audit.intake.read_ahead import ReadFile, reading_ahead
from audit.intake.unpacked import unpacked
from audit.intake.writing.assessments import write_assessments
from audit.intake.writing.cases import write_cases
from audit.intake.writing.events import write_events
from audit.intake.writing.journal import Journal
from audit.intake.writing.ledger import KnownFile, Ledger, OutcomesKnown, keep_clocks, load_ledger
from audit.intake.writing.noted import note, noted_before
from audit.intake.writing.reads import write_reads
from audit.intake.writing.tracings import write_tracings
from audit.intake.writing.unit_months import write_unit_months
from audit.progress import ReportByShare
from audit.setting_tables.intake import ImportOptions
from audit.settings import Settings
from audit.store import database, identity, pseudonyms

_log = logging.getLogger(__name__)
_REPORTED: dict[str, Kind] = {
    "cases": "cases",
    "cases_by_clock": "cases",
    "tracing": "tracing",
    "wfdb": "wfdb",
    "care_events": "care_events",
    "reads": "reads",
    "assessments": "assessments",
    "unit_months": "unit_months",
    "expert_readings": "reads",
}
_NAMED = {*COLUMNS, *COMMENT_FIELDS, "record"}


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
            outcomes += [_passed(each) for each in resumed.passed_over(con, asked, found, ledger, settings)]
        journal = Journal(con, ledger, asked)
        how_far = None if progress is None else HowFar(progress, len(outcomes), found[len(outcomes) :])
        with closing(reading_ahead(found[len(outcomes) :], ledger, settings, names, helper)) as files_read:
            for done, (sighted, read) in enumerate(files_read, start=len(outcomes)):
                if how_far is not None:
                    how_far.begun(done, read.found)
                outcome = _take(con, ledger, journal, sighted, read, settings.import_, replace=replace)
                outcomes.append(outcome)
                # without its name, which may say whose it is
                became = (outcome.kind, outcome.outcome, outcome.rows_accepted, outcome.rows_rejected)
                _log.info("file %d of %d: %s %s, %d rows stored, %d kept out", done + 1, len(found), *became)
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


def _take(
    con: database.Connection,
    ledger: Ledger,
    journal: Journal,
    sighted: folders.Sighted,
    read: ReadFile,
    options: ImportOptions,
    *,
    replace: bool,
) -> FileOutcome:
    file, found = sighted.candidate, read.found
    if sighted.left_alone is not None or found is None:
        return _outcome(file, "unknown", "left_alone", message=sighted.left_alone)
    if isinstance(found, FileRefused):
        return _noted(con, ledger, _refused(file, _REPORTED.get(sighted.kind, "unknown"), found))
    if isinstance(found, KnownFile):
        return _outcome(
            file,
            _REPORTED.get(found.kind, "unknown"),
            "unchanged",
            sha256=found.sha256,
            rows_accepted=found.rows_accepted,
            rows_flagged=found.rows_flagged,
            message="imported before, nothing changed",
        )
    return _stored(con, ledger, journal, found, file, read.remarks, options, replace=replace)


def _passed(over: resumed.PassedOver) -> FileOutcome:
    """A file that the stopped import took, with what was said of it then."""
    known, refused = over.known, over.known.outcome == "refused"
    said = "taken before the import was stopped, not read again" if over.taken else "imported before, nothing changed"
    return _outcome(
        over.sighted.candidate,
        _REPORTED.get(known.kind, "unknown"),
        "refused" if refused else "unchanged",
        sha256=known.sha256,
        rows_accepted=known.rows_accepted,
        rows_rejected=known.rows_rejected,
        values_rejected=known.values_rejected,
        rows_flagged=known.rows_flagged,
        message=known.message if refused else said,
        remarks=over.remarks,
    )


def _outcome(file: folders.Candidate, kind: Kind, outcome: Outcome, *, sha256: str = "", **told: Any) -> FileOutcome:
    source = file.source(sha256)
    return FileOutcome(source, kind, outcome, sha256, number=file.number, path=file.file, part=file.part, **told)


def _refused(file: folders.Candidate, kind: Kind, why: FileRefused) -> FileOutcome:
    remarks = _listed([why.remark])
    return _outcome(file, kind, "refused", sha256=why.sha256, message=str(why), remarks=remarks)


def _listed(remarks: Iterable[Remark]) -> tuple[Remark, ...]:
    """The remarks with the names of our own columns; another name may say whose file it is."""
    return tuple(remark if remark.column_name in _NAMED else replace_in(remark, column_name=None) for remark in remarks)


def _stored(
    con: database.Connection,
    ledger: Ledger,
    journal: Journal,
    content: Content,
    file: folders.Candidate,
    remarks: Remarks,
    options: ImportOptions,
    *,
    replace: bool,
) -> FileOutcome:
    saved = ledger.saved() if content.streamed or ledger.unit is not None else None
    try:
        return _in_one_transaction(con, ledger, journal, content, file, remarks, options, replace=replace)
    except FileRefused as error:
        if saved is None:
            raise
        ledger.restore(saved)
        error.sha256 = content.sha256
        return _noted(con, ledger, _refused(file, content.kind, error))


def _in_one_transaction(
    con: database.Connection,
    ledger: Ledger,
    journal: Journal,
    content: Content,
    file: folders.Candidate,
    remarks: Remarks,
    options: ImportOptions,
    *,
    replace: bool,
) -> FileOutcome:
    with journal.of_one_file(), database.transaction(con):
        import_id, before = ledger.next_import_id(), len(ledger.cases)
        written = _write(con, ledger, journal, content, import_id, remarks, options, replace=replace)
        _tell_dropped_zeros(ledger, len(ledger.cases) - before, remarks)
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
        if written.new or written.replaced or not noted_before(ledger, outcome):
            note(con, ledger, outcome, import_id)
    return outcome


def _write(
    con: database.Connection,
    ledger: Ledger,
    journal: Journal,
    content: Content,
    import_id: int,
    remarks: Remarks,
    options: ImportOptions,
    *,
    replace: bool,
) -> Stored:
    written = Stored()
    of_unit.give(ledger, content, replace=replace)
    for part, rows in (
        ("cases", content.cases),
        ("care_events", content.events),
        ("reads", content.reads),
        ("assessments", content.assessments),
    ):
        journal.touching(part, (row.case_id for row in rows))
    if content.cases:
        cases = write_cases(con, ledger, content.cases, remarks, options, replace=replace)
        if content.kind == "wfdb":  # a record's rows are its samples
            written = Stored(0, cases.new, cases.replaced)
            remarks.rows_rejected -= len(content.cases) - cases.accepted
            remarks.values_rejected += len(content.cases) - cases.accepted
        else:
            written = cases
    if content.events:
        known = ledger.files.get(content.sha256)
        offered = known is not None and known.rows_accepted > 0
        written = write_events(
            con, ledger, content.events, import_id, remarks, options, replace=replace, offered_before=offered
        )
    if content.reads:
        written = write_reads(con, ledger, content.reads, import_id, remarks, options, replace=replace)
    if content.assessments:
        written = write_assessments(con, ledger, content.assessments, import_id, remarks, options, replace=replace)
    if content.unit_months:
        journal.touching("unit_months", [""])
        written = write_unit_months(con, content.unit_months, import_id, remarks, replace=replace)
    if content.tracings is not None:
        samples = write_tracings(
            con, ledger, journal.following(content.tracings), import_id, remarks, options, replace=replace
        )
        written = Stored(samples.accepted, written.new + samples.new, written.replaced + samples.replaced)
        keep_clocks(con, ledger, content.clocks, import_id)
    if content.rows_taken is not None and content.reads:
        written.accepted = content.rows_taken - _rows_lost(content, remarks)
    return written


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


def _rows_lost(content: Content, remarks: Remarks) -> int:
    return max(0, remarks.rows_rejected - content.rows_rejected_before)


def _noted(con: database.Connection, ledger: Ledger, outcome: FileOutcome) -> FileOutcome:
    """Note a refused file, once."""
    if not noted_before(ledger, outcome):
        with database.transaction(con):
            import_id = ledger.next_import_id()
            note(con, ledger, outcome, import_id)
    return outcome

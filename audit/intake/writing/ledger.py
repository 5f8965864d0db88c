"""What the store holds, in short, kept in memory while an import runs: keys, spans and hashes, never samples."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import UTC, datetime
from typing import Any

import pyarrow as pa

from audit.intake.checks.clocks import CaseClock
from audit.intake.door.remarks import Remarks
from audit.intake.writing.shared_pieces import SharedPieces
from audit.setting_tables.intake import ImportOptions
from audit.store import database
from audit.store.tracings import STORED_RATE_HZ, quarter_of

FETUSES = ("A", "B", "C", "D", "E", "F", "1", "2", "3", "4", "5", "6")


@dataclass(frozen=True)
class KnownStretch:
    """A stored stretch without its samples."""

    start_s: float
    samples: int
    sha256: str
    sample_rate_hz: float = STORED_RATE_HZ
    seen: int = 0  # samples with a heart rate

    @property
    def first(self) -> int:
        """Its first quarter second, as of a stretch."""
        return quarter_of(self.start_s)

    @property
    def last(self) -> int:
        """The quarter second after its last sample."""
        return quarter_of(self.end_s)

    @property
    def end_s(self) -> float:
        """End of its last sample."""
        return self.start_s + self.samples / self.sample_rate_hz


@dataclass(frozen=True)
class KnownCase:
    """A stored case. `given`: a file told of it; otherwise it is known from its samples, events or reads only."""

    given: bool
    birth_s: float | None = None
    second_stage_s: float | None = None
    plurality: int | None = None
    unit: str | None = None


# Version of what reads files of a kind: one more when it learns columns that a former import passed over, so that a
# file that was taken before is read again. Events: urgency; keys. Cases: what followed birth; risk factors; unit.
_READERS = {"care_events": 3, "cases": 4}


def reader_of(kind: str) -> int:
    """The version of what reads files of this kind today."""
    return _READERS.get(kind, 1)


@dataclass(frozen=True)
class KnownFile:
    """A file that was offered before."""

    sha256: str
    kind: str
    rows_accepted: int
    rows_rejected: int
    values_rejected: int
    rows_flagged: int
    outcome: str
    message: str | None
    superseded: bool
    reader: int = 1

    @property
    def settled(self) -> bool:
        """Everything in it was stored by the reader of today and nothing was replaced since."""
        if self.reader != reader_of(self.kind):
            return False
        kept_out = self.rows_rejected or self.values_rejected or self.outcome == "refused"
        return not kept_out and not self.superseded


# readers and cases whose outcome they were told here before
OutcomesKnown = Callable[[], frozenset[tuple[str, str]]]


@dataclass
class Ledger:
    """Known files by hash, cases by id, stretches by (case, fetus), and what this import has stored itself."""

    files: dict[str, KnownFile] = field(default_factory=dict)
    cases: dict[str, KnownCase] = field(default_factory=dict)
    stretches: dict[tuple[str, str], list[KnownStretch]] = field(default_factory=dict)
    readers: set[str] = field(default_factory=set)
    fresh: set[tuple[Any, ...]] = field(default_factory=set)
    last_import_id: int = 0
    clocks: dict[str, CaseClock] = field(default_factory=dict)
    event_keys: set[str] = field(default_factory=set)  # one of them that is a pseudonym, if there is one
    pieces: SharedPieces | None = None  # of all tracings, once an import brings one
    unit: str | None = None  # of the files of this import, unless they say otherwise
    knew: OutcomesKnown = frozenset  # asked when a file of reads is stored

    def settled(self, sha256: str) -> KnownFile | None:
        """What is known of a file of this hash, if that is all there is to say of it."""
        known = self.files.get(sha256)
        return known if known is not None and known.settled else None

    def next_import_id(self) -> int:
        """The number of the next import; the process that writes is the only one that counts."""
        self.last_import_id += 1
        return self.last_import_id

    def saved(self) -> "Ledger":
        """A copy to go back to when a file that is read while it is stored turns out to be wrong further down."""
        stretches = {key: list(known) for key, known in self.stretches.items()}
        return Ledger(
            dict(self.files), dict(self.cases), stretches, set(self.readers), set(self.fresh), self.last_import_id
        )

    def restore(self, saved: "Ledger") -> None:
        """Go back to a copy."""
        self.files, self.cases, self.stretches, self.fresh = saved.files, saved.cases, saved.stretches, saved.fresh

    def span_s(self, case_id: str, fetus: str) -> tuple[float, float] | None:
        """Start and end of a stored tracing, or None."""
        known = self.stretches.get((case_id, fetus))
        return (known[0].start_s, max(stretch.end_s for stretch in known)) if known else None

    def case_span_s(self, case_id: str) -> tuple[float, float] | None:
        """Start and end over the case's fetuses, or None."""
        spans = [span for fetus in FETUSES if (span := self.span_s(case_id, fetus)) is not None]
        return (min(a for a, _ in spans), max(b for _, b in spans)) if spans else None


def load_ledger(con: database.Connection) -> Ledger:
    """Read what the store holds."""
    ledger = Ledger()
    for file in database.records(con, "intake/known_files"):
        ledger.last_import_id = max(ledger.last_import_id, file["import_id"])
        ledger.files[file["sha256"]] = KnownFile(**{each.name: file[each.name] for each in fields(KnownFile)})
    for case_id, *known in database.execute(con, "intake/known_cases").fetchall():
        ledger.cases[case_id] = KnownCase(*known)
    for row in database.execute(con, "intake/known_tracings").fetchall():
        case_id, fetus, start_s, samples, rate_hz, sha256, seen_fraction = row
        stretch = KnownStretch(start_s, samples, sha256, rate_hz, round(seen_fraction * samples))
        ledger.stretches.setdefault((case_id, fetus), []).append(stretch)
    for case_id, local_s, utc_offset_s in database.execute(con, "intake/case_clocks").fetchall():
        ledger.clocks[case_id] = CaseClock(local_s, utc_offset_s)
    ledger.event_keys = {key for (key,) in database.execute(con, "intake/known_event_key").fetchall()}
    ledger.readers = {reader for (reader,) in database.execute(con, "intake/known_readers").fetchall()}
    return ledger


def now() -> datetime:
    """The clock of this computer, UTC, without a zone as the tables keep it."""
    return datetime.now(UTC).replace(tzinfo=None)


@dataclass(frozen=True)
class Into:
    """Where one file's rows go, inside the transaction that is open, and how the unit wants them stored.

    `replace`: content that contradicts what is stored takes its place.
    """

    con: database.Connection
    ledger: Ledger
    import_id: int
    sha256: str  # of the file
    remarks: Remarks
    options: ImportOptions
    replace: bool

    def put(self, query: str, rows: Sequence[Mapping[str, Any]] | pa.Table) -> None:
        """Run a query that takes its rows from the table `incoming`."""
        database.put(self.con, query, rows)

    def add_stubs(self, case_ids: Iterable[str]) -> list[str]:
        """Make rows for cases that no file has told of yet; returns the new ones."""
        known, unit = self.ledger.cases, self.ledger.unit
        new = sorted({case_id for case_id in case_ids if case_id not in known})
        self.put("intake/add_stubs", [{"case_id": case_id, "unit": unit} for case_id in new])
        known.update(dict.fromkeys(new, KnownCase(given=False, unit=unit)))
        return new

    def add_history(self, case_id: str, fetus: str, kind: str, former: str, sha256: str) -> None:
        """Keep the hash of replaced content."""
        key = {"case_id": case_id, "fetus": fetus, "kind": kind}
        database.execute(
            self.con, "intake/add_history", {**key, "former_sha256": former, "sha256": sha256, "now": now()}
        )

    def keep_clocks(self, clocks: Mapping[str, CaseClock]) -> None:
        """Keep what the clock showed at the first sample of the cases that a file brought."""
        stored = {each: clock for each, clock in clocks.items() if self.ledger.case_span_s(each) is not None}
        rows = [{"case_id": each, **vars(clock), "import_id": self.import_id} for each, clock in stored.items()]
        self.put("intake/put_case_clocks", rows)
        self.ledger.clocks.update(stored)

"""Which files an import takes, in which order: cases before tracings, then care events, then reads."""

import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pyarrow as pa

from audit.intake.door.remarks import FileRefused
from audit.intake.formats import compressed, csv_file, recognise
from audit.intake.formats.mapped import fits, fits_parquet
from audit.intake.formats.parquet_file import column_names
from audit.setting_tables.mapping import Mapping

# In a folder, documents are passed over even when they quote a header row; data files never are, so none is missed.
_DOCUMENTS = (".md", ".rst", ".html", ".htm", ".toml", ".json", ".py")
_PACKED = (".zip", ".gz", ".xz", ".bz2", ".zst")
_DATA = (".xlsx", ".xls", ".ods", ".edf", ".csv", ".parquet", ".hea", ".dat", ".tsv", *_PACKED)
_ORDER = {
    "cases": 0,
    "tracing": 1,
    "wfdb": 1,
    "cases_by_clock": 1.5,
    "care_events": 2,
    "assessments": 2,
    "reads": 3,
    "expert_readings": 4,
    "unit_months": 4,
    "unknown": 5,
}


# A signal file is taken with its header, so it gets no line of its own.
BELONGS = "belongs to a record"
NO_DATA = "not a table or recording of a known kind"
TAG_CHARACTERS = 10


@dataclass(frozen=True)
class Candidate:
    """A file to look at. `number`: its place among all that were given; `named`: given by name, not found in a folder.

    Its name may say whose it is, so it stays out of reports and tables: there a file is its number and its tag.
    """

    path: Path
    number: int
    named: bool
    outer: Path | None = None  # the archive, workbook or recording that it came out of
    place: str = ""  # where in there; may hold a typed name, so it is told by `which` alone
    part: str = ""  # the same as far as it may be told: 'sheet 2'
    said: tuple[str, ...] = ()  # what of it is not stored, from taking it apart
    refused: FileRefused | None = None  # it could not be taken apart

    @property
    def file(self) -> Path:
        """The file that was given or found, also of one that came out of another."""
        return self.outer or self.path

    @property
    def own_name(self) -> str:
        """The name of the file that a case id may be read from: of a workbook's sheet the workbook's."""
        inside = self.place.removesuffix(self.part).removesuffix(", ")
        return self.path.name if not self.part else Path(inside).name if inside else self.file.name

    def source(self, sha256: str) -> str:
        """What stands for it: the first figures of its hash and its ending, or its number while it has no hash."""
        name = (self.file if self.part else self.path).name.lower()
        ending = next((each for each in (".csv.gz", *_DATA) if name.endswith(each)), "")
        return f"{sha256[:TAG_CHARACTERS]}{ending}" if sha256 else f"file {self.number}"


@dataclass(frozen=True)
class Sighted:
    """A candidate with what its first bytes say of it. `left_alone`: why it is passed over, or None."""

    candidate: Candidate
    kind: str
    left_alone: str | None = None
    mapping: Mapping | None = None  # under which it is read


def candidates(paths: Sequence[Path]) -> Iterator[Candidate]:
    """The files named, and the files in the folders named, each once, sorted by name within a folder."""
    seen: set[Path] = set()
    for path in paths:
        if path.is_dir():
            found: Iterator[Path] = _walk(path)
        else:
            found = iter([path])
        for file in found:
            real = _real(file)
            if real not in seen:
                seen.add(real)
                yield Candidate(file, len(seen), file is path)


def in_order(found: Sequence[Candidate], database: Path, mappings: Sequence[Mapping] = ()) -> list[Sighted]:
    """Look at each file's first bytes and put the files into the order in which they are taken.

    A file whose header has the columns of one of the `mappings` is read under it; where there is one alone, so is a
    file that was named and is none of ours. A file that has the columns of two is refused.
    """
    headers: dict[Path, set[str]] = {}
    sighted = [_under(mappings, _sight(candidate, database, headers)) for candidate in found]
    return sorted(sighted, key=lambda s: (s.left_alone is not None, _ORDER.get(s.kind, 5)))


def _under(mappings: Sequence[Mapping], sighted: Sighted) -> Sighted:
    if not mappings or sighted.left_alone not in (None, NO_DATA) or sighted.kind in ("wfdb", "signal"):
        return sighted
    path = sighted.candidate.path
    try:
        head = compressed.first_bytes(path, recognise.FIRST_BYTES)
    except OSError:
        return sighted
    container = recognise.container(head)
    if container not in ("text", "parquet"):
        return sighted
    fitting = [
        mapping
        for mapping in mappings
        if (fits(head, mapping) if container == "text" else fits_parquet(pa.memory_map(str(path)), mapping))
    ]
    if len(fitting) > 1:
        why = FileRefused(
            f"fits {len(fitting)} of the mappings that were given, and could be read in as many ways: expected one that"
            " fits; import it apart with that one",
            row=1,
        )
        return Sighted(replace(sighted.candidate, refused=why), "unknown")
    if not fitting and len(mappings) == 1 and sighted.candidate.named and sighted.kind == "unknown":
        fitting = [mappings[0]]
    if not fitting:
        return sighted
    mapping = fitting[0]
    # clock times in a table of cases find their place by the tracings
    kind = "cases_by_clock" if mapping.kind == "cases" and mapping.uses_clock else mapping.kind
    return Sighted(sighted.candidate, kind, None, mapping)


def _real(file: Path) -> Path:
    """Where a file really lies; itself when the way there may not be followed (told when it is taken)."""
    try:
        return file.resolve()
    except (OSError, RuntimeError):  # no permission, or links in a circle
        return file


def _walk(folder: Path) -> Iterator[Path]:
    for root, folders, files in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith(".") and not name.endswith(".published"))
        for name in sorted(files):
            yield Path(root) / name


def _sight(candidate: Candidate, database: Path, headers: dict[Path, set[str]]) -> Sighted:
    path = candidate.path
    if candidate.refused is not None:
        return Sighted(candidate, "unknown")
    if not candidate.named:
        if path.name.startswith("."):
            return Sighted(candidate, "unknown", "a hidden file")
        if not path.is_file():
            return Sighted(candidate, "unknown", "not a regular file")
        if _real(path) == _real(database) or path.name == f"{database.name}.wal":
            return Sighted(candidate, "unknown", "the database itself")
        if _belongs_to_a_header(path, headers):
            return Sighted(candidate, "signal", BELONGS)
    if not path.is_file():
        return Sighted(candidate, "unknown")  # refused when it is taken, with the reason
    try:
        head = compressed.first_bytes(path, recognise.FIRST_BYTES)
    except OSError:
        return Sighted(candidate, "unknown")  # as above
    container = recognise.container(head)
    if container == "gzip":
        inner = recognise.peek(head)
        head, container = (inner, recognise.container(inner)) if inner else (head, "foreign")
    if container == "wfdb":
        return Sighted(candidate, "wfdb")
    if container == "parquet":
        return Sighted(candidate, _parquet_kind(path))
    if container == "text":
        return _sight_text(candidate, head)
    data = candidate.named or path.suffix.lower() in _DATA
    return Sighted(candidate, "unknown", None if data else NO_DATA)


def _sight_text(candidate: Candidate, head: bytes) -> Sighted:
    suffix = candidate.path.suffix.lower()
    if suffix in _DOCUMENTS and not candidate.named:
        return Sighted(candidate, "unknown", NO_DATA)
    try:
        return Sighted(candidate, recognise.table_kind(csv_file.header_in(head)))
    except FileRefused:
        pass
    if candidate.named or (suffix in _DATA and not candidate.part):
        return Sighted(candidate, "unknown")
    # a table with another delimiter or a column missing is ours to refuse, so that its data is not missed
    lines = head[:2000].decode("utf-8", errors="replace").splitlines()
    first = re.split(r"[,;\t|]", lines[0]) if lines else []
    if recognise.ours([name.strip().casefold() for name in first]):
        return Sighted(candidate, "unknown")
    return Sighted(candidate, "unknown", NO_DATA)


def _parquet_kind(path: Path) -> str:
    try:
        return recognise.table_kind([name.strip().casefold() for name in column_names(path)])
    except FileRefused:
        return "unknown"


def _belongs_to_a_header(path: Path, headers: dict[Path, set[str]]) -> bool:
    """Is the file named in a header of its own folder?"""
    folder = path.parent
    if folder not in headers:
        names: set[str] = set()
        for header in folder.glob("*.[hH][eE][aA]"):
            try:
                lines = header.read_text("utf-8", "replace").splitlines()
                first = {line.split()[0] for line in lines[1:] if line.split() and not line.startswith("#")}
                # the lines of a record in segments name records
                segments = any("/" in line.split()[0] for line in lines[:1] if line.split())
                named = {f"{name}.hea" for name in first} if segments else first
                names |= named - {header.name}  # one that names itself is refused, and not passed over
            except OSError:
                continue
        headers[folder] = names
    return path.name in headers[folder]

"""One file to its content: read, recognised, parsed and checked by the module of its format and kind."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, cast

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from audit.errors import AuditError
from audit.intake import mapped
from audit.intake.checks.assessments import read_assessments
from audit.intake.checks.care_events import read_events
from audit.intake.checks.cases import read_cases
from audit.intake.checks.clocks import CaseClock
from audit.intake.checks.expert_readings import RecordingTimes, read_expert_readings
from audit.intake.checks.reads import read_reads
from audit.intake.checks.tracings import TracingContent, checked, tracings_in
from audit.intake.checks.unit_months import read_unit_months
from audit.intake.checks.wfdb_record import read_record
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.door.report import Kind
from audit.intake.formats import compressed, csv_file, recognise, streamed, wfdb_file, wfdb_segments
from audit.intake.formats.mapped_blocks import APART, looked_through
from audit.intake.formats.parquet_file import ParquetTable, rows_and_values
from audit.intake.formats.tables import SampleTable, SmallTable
from audit.intake.writing.ledger import KnownFile, Ledger
from audit.setting_tables.mapping import Mapping
from audit.settings import Settings

_CHECKS: dict[str, Callable[[SmallTable, Remarks, Settings], Sequence[Any]]] = {
    "cases": read_cases,
    "care_events": read_events,
    "reads": read_reads,
    "assessments": read_assessments,
    "unit_months": read_unit_months,
}
_MIB = 1024 * 1024
Signals = tuple[wfdb_file.Header, list[NDArray[np.float64]]]


@dataclass
class Content:
    """What is to be stored of one file."""

    kind: Kind
    sha256: str
    table: Sequence[Any] = ()  # checked rows of its kind; of a WFDB record those of its labour
    tracings: Iterable[TracingContent] | None = None
    rows_taken: int | None = None  # rows of the file, where a row brings several reads
    rows_rejected_before: int = 0
    rows: int = 0  # of the tracings, about; to tell how far one is
    clocks: dict[str, CaseClock] = field(default_factory=dict)  # what they show at the first sample of a case
    streamed: bool = False  # the tracings are read while they are stored


def read_content(
    path: Path, ledger: Ledger, remarks: Remarks, settings: Settings, mapping: Mapping | None = None, own_name: str = ""
) -> Content | KnownFile:
    """Read a file, under a mapping if there is one. Gives what is known of it when its content is stored already.

    `own_name`: the name that a case id is read from, where it is not the path's.

    Raises FileRefused; the refusal carries the file's hash as `sha256` when the file could be read.
    """
    if not path.exists():
        raise FileRefused("does not exist, expected a CSV, Parquet or WFDB file")
    if not path.is_file():
        raise FileRefused("not a regular file, expected a CSV, Parquet or WFDB file")
    container, size = _too_large_for_memory(path, mapping)
    if container and size <= settings.import_.max_tracing_file_mib * _MIB:
        if mapping is None:
            in_blocks = _large_tracing(path, container, size, ledger, remarks, settings)
        else:
            in_blocks = _large_mapped(path, size, own_name or path.name, mapping, ledger, remarks, settings)
        if in_blocks is not None:
            return in_blocks
    data = compressed.read_bytes(path, settings.import_.max_file_mib)
    container = recognise.container(data[: recognise.FIRST_BYTES])
    sha256 = compressed.sha256(data, mapped.signature(mapping))
    with _of_file(sha256), _guarded():
        if container == "wfdb":
            return _record(path, data, ledger, remarks, settings)
        if known := ledger.settled(sha256):
            return known
        if mapping is not None:
            return _mapped(own_name or path.name, data, sha256, mapping, ledger, remarks, settings)
        return _table(container, data, sha256, ledger, remarks, settings)


@contextmanager
def _of_file(sha256: str) -> Iterator[None]:
    """A refusal carries the hash of its file."""
    try:
        yield
    except FileRefused as error:
        error.sha256 = error.sha256 or sha256
        raise


def _too_large_for_memory(path: Path, mapping: Mapping | None) -> tuple[str, int]:
    """Whether a file is 'text' or 'parquet' and not to be in memory whole, else ''; and how many bytes it has."""
    try:
        container = recognise.container(compressed.first_bytes(path, recognise.FIRST_BYTES))
        size = path.stat().st_size
    except OSError:
        return "", 0  # told where the whole file is read
    large = size > streamed.LARGE_BYTES
    if container == "parquet" and not large:
        rows, values = rows_and_values(path)
        large = (rows if mapping is None else values) > streamed.LARGE_ROWS
    return (container if large and container in ("text", "parquet") else ""), size


def _large_tracing(
    path: Path, container: str, size: int, ledger: Ledger, remarks: Remarks, settings: Settings
) -> Content | KnownFile | None:
    """A tracing file that is read in blocks while it is stored; None for every other file."""
    if container == "parquet":
        parquet = ParquetTable(pa.memory_map(str(path)), settings.import_.max_tracing_file_mib)
        columns, tables, rows = parquet.columns, parquet.sample_blocks(remarks, streamed.BLOCK_ROWS), parquet.rows
    elif streamed.read_at_once(path):
        return None
    else:
        columns = streamed.csv_columns(path)
        tables, rows = streamed.csv_tables(path, columns, remarks), streamed.csv_rows(path, size)
    if recognise.table_kind(columns) != "tracing":
        return None
    sha256 = compressed.sha256_of(path)
    if known := ledger.settled(sha256):
        return known
    _kind(columns, remarks)
    whole = _in_blocks(streamed.whole_cases(tables), remarks, settings)
    return Content("tracing", sha256, tracings=whole, rows=rows, streamed=True)


def _large_mapped(
    path: Path, size: int, name: str, mapping: Mapping, ledger: Ledger, remarks: Remarks, settings: Settings
) -> Content | KnownFile | None:
    """The same of a tracing file under a mapping. One whose cases lie apart is read at once while it may be."""
    if mapping.kind != "tracing":
        return None
    options, sha256 = settings.import_, compressed.sha256_of(path, mapped.signature(mapping))
    if known := ledger.settled(sha256):
        return known
    with _of_file(sha256):
        found = looked_through(path, mapping, options.max_tracing_file_mib)
        if found is None or (found.apart is not None and size <= options.max_file_mib * _MIB):
            return None
        if found.apart is not None:
            raise FileRefused(APART, row=found.apart, column="case_id")
    content = Content("tracing", sha256, rows=found.rows, streamed=True)
    tables = mapped.in_blocks(found, name, ledger, remarks, content.clocks)
    content.tracings = _in_blocks(tables, remarks, settings)
    return content


@contextmanager
def _guarded() -> Iterator[None]:
    """A file that breaks a parser in a way nobody thought of is refused like any other."""
    try:
        yield
    except (FileRefused, AuditError, KeyboardInterrupt):
        raise
    except Exception as error:
        raise FileRefused(f"could not be read ({type(error).__name__}); is the file damaged?") from error


def _table(container: str, data: bytes, sha256: str, ledger: Ledger, remarks: Remarks, settings: Settings) -> Content:
    if container == "gzip":
        data = compressed.unpack_gzip(data, settings.import_.max_file_mib, settings.import_.max_gzip_ratio)
        container = recognise.container(data[: recognise.FIRST_BYTES])
        if container != "text":
            raise FileRefused(f"found {_inside(container, data)} inside the gzip file, expected CSV")
    if container == "parquet":
        parquet = ParquetTable(pa.BufferReader(data), settings.import_.max_file_mib)
        kind = _kind(parquet.columns, remarks)
        if kind == "tracing":
            return _tracing(parquet.read_samples(remarks), sha256, remarks, settings)
        options = settings.import_
        table = parquet.read_small(remarks, options.max_table_rows, options.max_field_characters)
        return _small(kind, table, sha256, ledger, remarks, settings)
    if container == "foreign":
        raise FileRefused(f"found {recognise.foreign_format(data[:64])}")
    if container == "signal" and b"," not in data[:4096]:
        raise FileRefused("found a binary file of no known kind, expected CSV, Parquet or a WFDB header (.hea)")
    return _own_text(data, sha256, ledger, remarks, settings)


def _own_text(data: bytes, sha256: str, ledger: Ledger, remarks: Remarks, settings: Settings) -> Content:
    """A CSV with our column names, below titles if any; rows keep the file's own numbers."""
    text = csv_file.checked_text(data)
    lines = csv_file.lines_before_header(text)
    text = csv_file.below_titles(text, lines)
    mine = Remarks(remarks.limit, remarks.names)
    if lines:
        mine.message(f"the header stands in row {lines + 1}; what stands above it is not stored")
    try:
        columns = csv_file.header_of(text)
        kind = _kind(columns, mine)
        written = csv_file.habits_in(data, text, columns)
        mine.message(written.sentence())
        if kind == "tracing":
            samples = csv_file.read_samples(text, columns, mine, written)
            remarks.absorb(mine, lines)
            return _tracing(replace(samples, row_numbers=samples.row_numbers + lines), sha256, remarks, settings)
        options = settings.import_
        most = options.max_table_rows, options.max_field_characters
        table = csv_file.read_small(text, columns, mine, *most, written)
    except FileRefused as error:
        error.move(lines)
        raise
    remarks.absorb(mine, lines)
    table = replace(table, row_numbers=[row + lines for row in table.row_numbers])
    return _small(kind, table, sha256, ledger, remarks, settings)


def _mapped(
    name: str, data: bytes, sha256: str, mapping: Mapping, ledger: Ledger, remarks: Remarks, settings: Settings
) -> Content:
    found = mapped.read(data, name, mapping, ledger, remarks, settings.import_.max_file_mib)
    if isinstance(found.table, SampleTable):
        content = _tracing(found.table, sha256, remarks, settings)
        content.clocks = found.clocks
        return content
    return _small(mapping.kind, found.table, sha256, ledger, remarks, settings)


def _inside(container: str, data: bytes) -> str:
    return {"parquet": "a Parquet file", "gzip": "another gzip file", "wfdb": "a WFDB header"}.get(
        container, (recognise.foreign_format(data[:64]) or "binary data").split("; ")[0]
    )


def _kind(columns: list[str], remarks: Remarks) -> str:
    kind = recognise.table_kind(columns)
    unknown = recognise.unknown_columns(kind, columns)
    if unknown:
        shown = ", ".join(map(str, unknown[:10])) + (", ..." if len(unknown) > 10 else "")
        remarks.message(
            f"unknown columns are not stored: {len(unknown)} of {len(columns)} (counted from the left: {shown})"
        )
    return kind


def _tracing(table: SampleTable, sha256: str, remarks: Remarks, settings: Settings) -> Content:
    return Content("tracing", sha256, tracings=list(tracings_in(table, remarks, settings.import_)), rows=len(table))


def _small(kind: str, table: SmallTable, sha256: str, ledger: Ledger, remarks: Remarks, settings: Settings) -> Content:
    if kind != "expert_readings":
        return Content(cast(Kind, kind), sha256, _CHECKS[kind](table, remarks, settings))
    times = {
        case_id: RecordingTimes(ledger.span_s(case_id, fetus)[1], ledger.cases[case_id].second_stage_s)  # type: ignore[index]
        for case_id, fetus in ledger.stretches
        if fetus == "A" and case_id in ledger.cases
    }
    reads, taken = read_expert_readings(table, times, remarks, settings.import_)
    return Content("reads", sha256, reads, rows_taken=taken, rows_rejected_before=remarks.rows_rejected)


def _record(path: Path, data: bytes, ledger: Ledger, remarks: Remarks, settings: Settings) -> Content | KnownFile:
    header, read, sha256 = _signals(path, data, settings)
    if known := ledger.settled(sha256):
        return known
    with _of_file(sha256):
        if header != path.stem:
            remarks.flag(1, "record", header, "found another record name than the file's")
        record = read_record(*read(), remarks, settings)
        tracings = [checked(rows, remarks, settings.import_) for rows in record.tracings]
    labour = [] if record.case is None else [record.case]
    return Content("wfdb", sha256, labour, [tracing for tracing in tracings if tracing is not None])


def file_sha256(path: Path, settings: Settings, mapping: Mapping | None = None) -> str:
    """The hash under which an import knows a file: of a WFDB record that of header and signal files together.

    Raises FileRefused for a record that is not whole, and OSError.
    """
    head = compressed.first_bytes(path, recognise.FIRST_BYTES)
    if mapping is not None:
        return compressed.sha256_of(path, mapped.signature(mapping))
    if recognise.container(head) != "wfdb":
        return compressed.sha256_of(path)
    return _signals(path, path.read_bytes(), settings)[2]


def _signals(path: Path, data: bytes, settings: Settings) -> tuple[str, Callable[[], Signals], str]:
    """A record's name, what reads it, and the hash of its header and signal files together."""
    master = wfdb_segments.read_master(data)
    if master is None:
        header = wfdb_file.read_header(data)
        files = _signal_files(path, header, settings)
        sha256 = compressed.sha256(data, *files.values())
        return header.record, lambda: (header, wfdb_file.read_signals(header, files)), sha256
    headers = {name: _signal_file(path, f"{name}.hea", settings) for name in master.names}
    laid_out = {segment.name for segment in master.segments if not segment.frames}
    found = {n: _signal_files(path, wfdb_file.read_header(headers[n]), settings) for n in headers if n not in laid_out}
    sha256 = compressed.sha256(data, *headers.values(), *(each for files in found.values() for each in files.values()))
    return (
        master.record,
        lambda: wfdb_segments.read_segments(master, headers.__getitem__, lambda header: found[header.record]),
        sha256,
    )


def _signal_files(path: Path, header: wfdb_file.Header, settings: Settings) -> dict[str, bytes]:
    return {name: _signal_file(path, name, settings) for name in header.file_names}


def _signal_file(header: Path, name: str, settings: Settings) -> bytes:
    path = header.parent / name
    if not path.is_file():
        raise FileRefused("a signal file that the header names is missing, expected it beside the header")
    if path.resolve().parent != header.resolve().parent:
        raise FileRefused("a signal file leads to another folder, expected it beside the header")
    return compressed.read_bytes(path, settings.import_.max_file_mib)


def _in_blocks(tables: Iterator[SampleTable], remarks: Remarks, settings: Settings) -> Iterator[TracingContent]:
    """Each fetus's content in turn, from the blocks of one file. Raises FileRefused, also between two of them."""
    try:
        for table in tables:
            yield from tracings_in(table, remarks, settings.import_)
    except (FileRefused, GeneratorExit):
        raise
    except (ValueError, TypeError, KeyError, OverflowError, MemoryError, pa.ArrowException) as error:
        raise FileRefused(f"could not be read ({type(error).__name__}); is the file damaged?") from error

"""Every parser on generated files: a sentence or a result, never an error of the program, within time and memory.

`INTRAPARTUM_AUDIT_FUZZ_S` is the time for all of them together, in seconds (20 by default); with more, more is tried.
What is found is printed by the generator with the example, and goes into a test of its own.
"""

# ruff: noqa: E501, PT017 (lists of values; what an error says is what is asked here)
import contextlib
import gzip
import io
import json
import os
import resource
import threading
import tomllib
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import msgspec
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from audit.errors import AuditError
from audit.intake.contents import read_content
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.folders import candidates
from audit.intake.formats.tables import COLUMNS, EXPERT_COLUMNS, OPTIONAL, REQUIRED
from audit.intake.guess import guess
from audit.intake.proposal import shown
from audit.intake.unpacked import unpacked
from audit.intake.writing.ledger import Ledger
from audit.pack import validation_file
from audit.pack.methods import FILE_NAME, accuracy_lines
from audit.people import handout
from audit.setting_tables.mapping import Mapping
from audit.settings import load_settings
from tests.robustness import container_files
from tests.robustness.container_files import damaged

IN_ALL_S = float(os.environ.get("INTRAPARTUM_AUDIT_FUZZ_S", "20"))
LONGEST_S = (
    10.0  # of processor time: what waits on a busy machine is no hang, and what never ends is ended by the runner
)
MOST_MIB = 400
A_ROUND = 20  # examples between two looks at the clock
SETTINGS = load_settings()
PACKAGED = tomllib.loads((Path(__file__).resolve().parents[2] / "audit" / "settings.toml").read_text())

NUMBERS = st.sampled_from(
    ["0", "1", "-1", "140", "140.25", "7.1", "1e3", "1e308", "1e309", "-1e309", "nan", "inf", "-inf", "1_000", "0x1F", "+5", ".5", "5.", "1e-320", "14000", "9999999999", "43200", "-0", "٣", "1,5", "1;5", "<5", ">5", "2031-04", "39+2", "12:30"]
) | st.floats().map(str) | st.integers().map(str)  # fmt: skip
WORDS = st.sampled_from(
    ["", " ", "NA", "None", "null", "C1", "C2", "A", "a", "B", "1", "true", "no", "figo-2015", "nichd-2008", "normal", "II",
     "birth", "epidural", "decision_for_birth", "R1", "2031-04", "2031-13", "yes", "late variable", '"', '""', "'", ",",
     "\n", "\r", "\t", "\0", "\ufeff", "=1+1", "é", "\ud7ff", "x" * 5000]
)  # fmt: skip
CELLS = NUMBERS | WORDS | st.text(max_size=12)
NAMES = st.sampled_from([*sorted(COLUMNS), *EXPERT_COLUMNS, "", " ", "case_id ", "CASE_ID", "name", "t_s\n"])
KINDS = [*REQUIRED, "expert_readings"]


@st.composite
def headers(draw: st.DrawFn) -> list[str]:
    """The columns of a kind, often whole, sometimes with one more, one less or one twice."""
    kind = draw(st.sampled_from(KINDS))
    names = list(EXPERT_COLUMNS if kind == "expert_readings" else REQUIRED[kind])
    names += draw(st.lists(st.sampled_from(OPTIONAL.get(kind, ("x",))), max_size=4, unique=True))
    if draw(st.integers(0, 4)) == 0:
        names.insert(draw(st.integers(0, len(names))), draw(NAMES))
    return names


@st.composite
def tables_of_text(draw: st.DrawFn) -> bytes:
    names = draw(headers())
    between, end = draw(st.sampled_from([",", ",", ",", ";", "\t"])), draw(st.sampled_from(["\n", "\r\n", "\r"]))
    rows = draw(st.lists(st.lists(CELLS, min_size=len(names), max_size=len(names)), max_size=12))
    text = end.join(between.join(row) for row in [names, *rows])
    whole = draw(damaged(text.encode("utf-8", "replace")))
    return gzip.compress(whole) if draw(st.integers(0, 5)) == 0 else whole


COLUMN_TYPES: list[tuple[pa.DataType, st.SearchStrategy[Any]]] = [
    (pa.string(), CELLS.filter(lambda text: text.isprintable())),
    (pa.float64(), st.floats()),
    (pa.float32(), st.floats(width=32)),
    (pa.float16(), st.floats(width=16)),
    (pa.int64(), st.integers(-(2**63), 2**63 - 1)),
    (pa.uint8(), st.integers(0, 255)),
    (pa.bool_(), st.booleans()),
    (pa.date32(), st.dates()),
    (pa.binary(), st.binary(max_size=5)),
    (pa.list_(pa.float64()), st.lists(st.floats(), max_size=3)),
    (pa.decimal128(12, 3), st.decimals(-1000, 1000, places=3)),
    (pa.null(), st.none()),
]


@st.composite
def parquet_files(draw: st.DrawFn) -> bytes:
    names, count = draw(headers()), draw(st.integers(0, 8))
    columns = []
    for _ in names:
        kind, values = draw(st.sampled_from(COLUMN_TYPES[:5] if draw(st.integers(0, 3)) else COLUMN_TYPES))
        columns.append(pa.array(draw(st.lists(st.none() | values, min_size=count, max_size=count)), kind))
    sink = io.BytesIO()
    pq.write_table(pa.Table.from_arrays(columns, names=names), sink)
    return draw(damaged(sink.getvalue()))


@st.composite
def records(draw: st.DrawFn) -> bytes:
    part = NUMBERS | st.sampled_from(
        ["R1", "R1.dat", "16", "212", "61", "80", "100(0)/bpm", "FHR", "UC", "-", "~", "x1"]
    )
    lines = [" ".join(["R1", *draw(st.lists(part, min_size=1, max_size=4))])]
    lines += [
        " ".join(["R1.dat", *draw(st.lists(part, min_size=1, max_size=9))]) for _ in range(draw(st.integers(1, 3)))
    ]
    key = st.sampled_from(["pH", "BDecf", "Apgar1", "Pos. II.st.", "Sig2Birth", "Rec. type", "Gest. weeks", "note"])
    lines += [f"#{draw(key)} {draw(CELLS)}" for _ in range(draw(st.integers(0, 4)))]
    if draw(st.booleans()):  # one that is right but for what follows
        lines[:2] = ["R1 1 4 8", "R1.dat 16 100(0)/bpm 12 0 1 36 0 FHR"]
    return draw(damaged("\n".join(lines).encode("utf-8", "replace")))


def import_one(name: str) -> Callable[[bytes, Path], None]:
    def offered(data: bytes, folder: Path) -> None:
        (folder / name).write_bytes(data)
        (folder / "R1.dat").write_bytes(b"".join(k.to_bytes(2, "little") for k in range(1, 9)))
        try:
            content = read_content(folder / name, Ledger(), Remarks(100), SETTINGS)
            list(getattr(content, "tracings", None) or [])
        except FileRefused as refused:
            # what no parser foresaw is caught at the door of the import, and is a mistake of ours all the same
            assert "could not be read (" not in str(refused)

    return offered


MAPPED = {
    kind: msgspec.convert(
        {
            "kind": kind,
            "columns": {name: name.upper() for name in REQUIRED[kind]},
            "units": {"tracing": {"t_s": "clock"}, "care_events": {"at_s": "clock"}, "cases": {"period": "date"}}[kind],
            "time_zone": "Europe/Berlin",
            "no_signal": ["-1", "x"],
            "words": {"event": {"x": "birth"}} if kind == "care_events" else {},
        },
        Mapping,
    )
    for kind in ("tracing", "care_events", "cases")
}
CLOCKS = st.sampled_from(
    ["26.10.2031 02:30", "30.03.2031 02:30:00,25", "2031-10-26T02:30+01:00", "23:59", "00:00", "24:00", "31.02.2031 10:00", "14.04.31 1:02"]
)  # fmt: skip


@st.composite
def mapped_files(draw: st.DrawFn) -> bytes:
    kind = draw(st.sampled_from(sorted(MAPPED)))
    names = [name.upper() for name in REQUIRED[kind]]
    cells = st.lists(CLOCKS | CELLS, min_size=len(names), max_size=len(names))
    lines = [names, *draw(st.lists(cells, max_size=12))]
    text = "\n".join(draw(st.sampled_from([";", ",", "\t"])).join(line) for line in lines)
    return draw(damaged(text.encode(draw(st.sampled_from(["utf-8", "cp1252", "utf-16"])), "replace")))


def import_mapped(data: bytes, folder: Path) -> None:
    (folder / "C1.csv").write_bytes(data)
    for mapping in MAPPED.values():
        try:
            content = read_content(folder / "C1.csv", Ledger(), Remarks(100), SETTINGS, mapping)
            list(getattr(content, "tracings", None) or [])
        except FileRefused as refused:
            assert "could not be read (" not in str(refused)


HEADINGS = st.sampled_from(
    ["Fallnummer", "Case", "Zeit", "Time", "FHR", "Toco", "Apgar 5", "NA-pH", "pCO2 art [mmHg]", "Event", "SSW", "DOB", "BE", "x", ""]
)  # fmt: skip


@st.composite
def foreign_files(draw: st.DrawFn) -> bytes:
    names = draw(st.lists(HEADINGS, min_size=1, max_size=6))
    rows = draw(st.lists(st.lists(CLOCKS | CELLS, min_size=len(names), max_size=len(names)), max_size=8))
    text = "\n".join(draw(st.sampled_from([";", ",", "\t"])).join(row) for row in [names, *rows])
    return draw(damaged(text.encode(draw(st.sampled_from(["utf-8", "cp1252", "utf-16"])), "replace")))


def guess_one(data: bytes, folder: Path) -> None:
    (folder / "e.csv").write_bytes(data)
    with contextlib.suppress(FileRefused):
        found = guess(folder / "e.csv", 8)
        shown(found)
        tomllib.loads(found.toml("ward"))


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)
VALIDATION = {
    "part": "reporting", "windows": 441, "kappa_linear": 0.5, "kappa_linear_low": 0.4, "kappa_linear_high": 0.6,
    "agreement": 0.7, "experts": [{"expert": "1", "kappa_linear": 0.6}], "median_expert_kappa_linear": 0.45,
    "auc": [{"measure": "deceleration area per seen hour, last 60 min", "outcome": "pH", "estimate": 0.7, "low": 0.6,
             "high": 0.8, "with_outcome": 11, "without": 164}], "sorting": [], "equal_footing": [],
}  # fmt: skip


@st.composite
def validations(draw: st.DrawFn) -> bytes:
    found = {**VALIDATION}
    for name in draw(st.lists(st.sampled_from(sorted(found)), max_size=2)):
        found[name] = draw(JSON)
    return draw(damaged(json.dumps(draw(st.just(found) | JSON)).encode()))


def read_validation(data: bytes, folder: Path) -> None:
    (folder / FILE_NAME).write_bytes(data)
    assert all(isinstance(line, str) for line in accuracy_lines(folder / "unit.duckdb"))
    with contextlib.suppress(ValueError, OSError):
        validation_file.read(folder / FILE_NAME)


@st.composite
def forms(draw: st.DrawFn) -> bytes:
    between = draw(st.sampled_from([",", ",", ";"]))
    rows = draw(st.lists(st.lists(CELLS, min_size=11, max_size=13), max_size=5))
    text = "\n".join(between.join(row) for row in [list(handout.COLUMNS), *rows])
    return draw(damaged(text.encode("utf-8", "replace")))


def take_form(data: bytes, folder: Path) -> None:
    """Up to where a read would be stored; there is no such batch, so nothing ever is."""
    try:
        found = handout.take_back(folder / "unit.duckdb", 1, data.decode("utf-8", "replace"), file_name="reads.csv")
    except AuditError:
        return
    assert found.stored == 0


KEYS = [(table, key) for table, values in PACKAGED.items() for key in values]


@st.composite
def units_settings(draw: st.DrawFn) -> bytes:
    table, key = draw(st.sampled_from(KEYS))
    value = draw(
        NUMBERS | st.sampled_from(["true", '"> 160"', '"< 5"', "[]", "[1, 2]", "[nan]", "{}", '""', "1979-05-27"])
    )
    return draw(damaged(f'["{table}"]\n"{key}" = {value}\n'.encode("utf-8", "replace")))


def load_unit(data: bytes, folder: Path) -> None:
    (folder / "unit_settings.toml").write_bytes(data)
    try:
        load_settings(folder / "unit_settings.toml")
    except AuditError as error:
        assert str(error).startswith("unit_settings.toml")


def take_apart(name: str) -> Callable[[bytes, Path], None]:
    """A file that comes apart into others, each of which is then read; beside a record where it may be its notes."""

    def offered(data: bytes, folder: Path) -> None:
        for old in folder.iterdir():
            old.unlink()
        (folder / "R1.hea").write_text("R1 1 4 8\nR1.dat 16 100(0)/bpm 12 0 1 36 0 FHR\n")
        (folder / "R1.dat").write_bytes(b"".join(k.to_bytes(2, "little") for k in range(1, 9)))
        (folder / name).write_bytes(data)
        with unpacked(candidates([folder / name]), SETTINGS) as files:
            for file in files:
                try:
                    if file.refused is not None:
                        raise file.refused
                    content = read_content(file.path, Ledger(), Remarks(100), SETTINGS)
                    list(getattr(content, "tracings", None) or [])
                except FileRefused as refused:
                    assert "could not be read (" not in str(refused)

    return offered


PARSERS: dict[str, tuple[st.SearchStrategy[bytes], Callable[[bytes, Path], None]]] = {
    "csv": (tables_of_text(), import_one("table.csv")),
    "mapped": (mapped_files(), import_mapped),
    "guess": (foreign_files(), guess_one),
    "parquet": (parquet_files(), import_one("table.parquet")),
    "wfdb": (records(), import_one("R1.hea")),
    "workbook": (container_files.workbooks(), take_apart("book.xlsx")),
    "archive": (container_files.archives(tables_of_text()), take_apart("month.zip")),
    "edf": (container_files.edf_files(), take_apart("C1.edf")),
    "notes": (container_files.annotation_files(), take_apart("R1.atr")),
    "segments": (container_files.master_headers(), take_apart("R2.hea")),
    "fhir": (container_files.fhir_files(JSON), take_apart("bundle.json")),
    "validation": (validations(), read_validation),
    "form": (forms(), take_form),
    "settings": (units_settings(), load_unit),
}


def processor_s() -> float:
    """Of this process and of those that it started and waited for."""
    return sum(os.times()[:4])


@pytest.mark.parametrize("parser", PARSERS)
def test_no_file_ends_in_an_error_of_the_program(parser: str) -> None:
    files, read = PARSERS[parser]
    over = threading.Event()
    bell = threading.Timer(IN_ALL_S / len(PARSERS), over.set)
    bell.daemon = True
    bell.start()
    before_mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    rounds = 0
    with TemporaryDirectory() as folder:
        while not rounds or not over.is_set():

            @seed(rounds)
            @settings(
                max_examples=A_ROUND,
                deadline=None,
                database=None,
                phases=[Phase.generate],
                suppress_health_check=list(HealthCheck),
            )
            @given(data=files)
            def one_round(data: bytes) -> None:
                before_s = processor_s()
                read(data, Path(folder))
                assert processor_s() - before_s < LONGEST_S

            one_round()
            rounds += 1
    bell.cancel()
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024 - before_mib < MOST_MIB

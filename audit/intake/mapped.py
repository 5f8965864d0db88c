"""A unit's own export under its mapping: to the table that a file of ours would have given, clock times in seconds."""

import json
from collections.abc import Iterator, Sequence
from collections.abc import Mapping as Map
from dataclasses import dataclass, field, replace
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from audit.errors import UsageError
from audit.intake.checks import clocks
from audit.intake.checks.clocks import CaseClock, TrueSeconds
from audit.intake.checks.codes import as_code, bad_case_id
from audit.intake.door.remarks import Remarks
from audit.intake.formats import conversions, several
from audit.intake.formats.clock_text import ClockTimes, months, months_in_doubt, parse_clock
from audit.intake.formats.mapped import MappedTable, check_mapping, read_mapped
from audit.intake.formats.mapped_blocks import LargeFile
from audit.intake.formats.numbers_in_text import unclear
from audit.intake.formats.tables import NUMBER_COLUMNS, SampleTable, SmallTable, some_of
from audit.intake.writing.ledger import Ledger
from audit.measures.cord_gas import MMHG_PER_KPA
from audit.setting_tables.mapping import CHANNELS, CLOCK_COLUMNS, EXTRA_COLUMNS, Mapping
from audit.setting_types import plain
from audit.settings import UNIT_FILE_NAME, Settings

_DAY_S = 86_400.0


@dataclass(frozen=True)
class Mapped:
    """The table of a mapped file, and what the clock shows at the first sample of cases that it brings."""

    table: SmallTable | SampleTable
    clocks: dict[str, CaseClock] = field(default_factory=dict)


def chosen(settings: Settings, names: Sequence[str]) -> list[Mapping]:
    """The mappings of these names, all of them checked. Raises UsageError and SettingsError."""
    every = settings.import_.mapping
    for each, mapping in every.items():
        check_mapping(each, mapping, UNIT_FILE_NAME)
    for name in names:
        if name not in every:
            raise UsageError(
                f"mapping: found {name!r}, expected one in {UNIT_FILE_NAME}: {', '.join(sorted(every)) or 'none yet'}"
            )
    return [every[name] for name in dict.fromkeys(names)]


def signature(mapping: Mapping | None) -> bytes:
    """What a mapping adds to a file's content: the same file under another mapping is another one."""
    if mapping is None:
        return b""
    keys = plain(mapping)
    if not mapping.samples_per_s:  # files that were taken before there was such a key stay known
        del keys["samples_per_s"]
    return json.dumps(keys, sort_keys=True).encode()


def read(data: bytes, file_name: str, mapping: Mapping, ledger: Ledger, remarks: Remarks, max_mib: int) -> Mapped:
    """Read a file under its mapping. Raises FileRefused."""
    found = read_mapped(data, file_name, mapping, remarks, max_mib)
    if mapping.kind == "tracing":
        return _samples(found, mapping, ledger, remarks)
    columns: dict[str, list[Any]] = {}
    for name, column in found.columns.items():
        unit = mapping.units.get(name)
        typed = ["" if cell is None else cell for cell in column.to_pylist()]
        if name in EXTRA_COLUMNS:
            continue
        if name in CLOCK_COLUMNS and unit == "clock":
            columns[name] = _placed(name, found, mapping, ledger, remarks)
        elif name == "period" and unit == "date":
            doubtful = months_in_doubt(column, mapping.date_order)
            if any(doubtful):
                remarks.message(
                    f"some dates have no month where date_order ({mapping.date_order}) has it: those of which day and"
                    " month could be either are kept out"
                )
            found_months = months(column, mapping.date_order)
            columns[name] = [
                cell if doubt else month or cell
                for cell, month, doubt in zip(typed, found_months, doubtful, strict=True)
            ]
        elif unit == "weeks+days":
            columns[name] = conversions.weeks_and_days(typed)
        elif name in NUMBER_COLUMNS:
            columns[name] = [conversions.value(cell, name, unit, found.written.decimal) for cell in typed]
        else:
            columns[name] = typed
    return Mapped(SmallTable(columns, [int(row) for row in found.row_numbers]))


def in_blocks(
    large: LargeFile, file_name: str, ledger: Ledger, remarks: Remarks, brought: dict[str, CaseClock]
) -> Iterator[SampleTable]:
    """The samples of a large file, whole cases at a time; the clocks of its cases go to `brought`.

    Raises FileRefused, also between two of them.
    """
    for found in large.tables(file_name, remarks):
        here = _samples(found, large.mapping, ledger, remarks)
        brought |= here.clocks
        assert isinstance(here.table, SampleTable)
        yield here.table


def _samples(found: MappedTable, mapping: Mapping, ledger: Ledger, remarks: Remarks) -> Mapped:
    columns, lines, decimal = found.columns, found.row_numbers, found.written.decimal
    numbers: dict[str, NDArray[np.float64]] = {}
    for name in CHANNELS:
        if name in mapping.samples:
            parts = [columns[f"{name}.{k}"] for k in range(len(mapping.samples[name]))]
            numbers[name] = several.side_by_side(parts, name, decimal, mapping.no_signal, lines, remarks)
        elif name in columns and mapping.samples_between:
            cells, usual = (columns[name], mapping.samples_between), found.in_a_cell.get(name)
            numbers[name] = several.in_cells(*cells, name, decimal, mapping.no_signal, lines, remarks, usual)
        elif name in columns:
            numbers[name] = conversions.channel(columns[name], name, decimal, mapping.no_signal, lines, remarks)
    if "toco" in numbers and mapping.units.get("toco") == "kPa":
        numbers["toco"] = numbers["toco"] * MMHG_PER_KPA
    if "toco" not in numbers:
        numbers["toco"] = np.full(len(lines), np.nan)
        remarks.message("no toco in the file: contractions are not seen")
    brought: dict[str, CaseClock] = {}
    unit = mapping.units.get("t_s", "seconds")
    if unit == "clock":
        t_s = _axis(found, mapping, ledger, remarks, brought)
    elif unit == "duration" or pc.any(pc.starts_with(columns["t_s"], "PT")).as_py():
        t_s = conversions.durations(columns["t_s"], lines, remarks)
    else:
        unit_s = 1 / mapping.samples_per_s if unit == "samples" else conversions.SECONDS[unit]
        t_s = conversions.channel(columns["t_s"], "t_s", decimal, (), lines, remarks) * unit_s
    fetus, case_id = columns.get("fetus"), columns["case_id"]
    if mapping.has_several:
        count, numbers = several.alike(numbers, len(lines))
        rows = np.repeat(np.arange(len(lines)), count)
        within = np.tile(np.arange(count, dtype=np.float64), len(lines)) * (mapping.row_s / count)
        t_s = np.asarray(np.round(t_s[rows] + within, 6), dtype=np.float64)
        lines, case_id = lines[rows], case_id.take(pa.array(rows))
        fetus = None if fetus is None else fetus.take(pa.array(rows))
    fetus = None if fetus is None else fetus.dictionary_encode()
    return Mapped(SampleTable.of(case_id.dictionary_encode(), fetus, {**numbers, "t_s": t_s}, lines), brought)


def _axis(
    found: MappedTable, mapping: Mapping, ledger: Ledger, remarks: Remarks, brought: dict[str, CaseClock]
) -> NDArray[np.float64]:
    """Seconds of a tracing's rows on the axes of their cases."""
    times, zone = _times("t_s", found, mapping), ZoneInfo(mapping.time_zone)
    t_s = np.full(len(times.wall_s), -np.inf)
    fetuses = found.columns.get("fetus")
    said = False
    for case_id, rows in _by_case(found.columns["case_id"], remarks).items():
        seconds, reasons = np.full(len(times.wall_s), np.nan), dict[int, str]()
        for part in _parts(rows, fetuses):
            true = clocks.of_rows_that_follow(some_of(times, part), zone)
            seconds[part] = true.seconds
            reasons |= {int(part[k]): reason for k, reason in true.reasons.items()}
            for sentence in true.said:
                remarks.flag(int(found.row_numbers[part[0]]), "t_s", None, sentence)
        for k, reason in sorted(reasons.items()):
            remarks.reject_row(int(found.row_numbers[k]), reason, "t_s")
        if not np.isfinite(seconds).any():
            continue
        known, start = ledger.clocks.get(case_id), 0.0
        if known is None:
            brought[case_id] = clocks.clock_at_zero(times, seconds)
        else:
            span = ledger.case_span_s(case_id)
            begins = clocks.start_of_piece(times, seconds, known, 0.0 if span is None else span[1])
            if begins is None:
                first = int(found.row_numbers[rows[0]])
                reason = (
                    "found a recording that begins before what is stored of its case, or more than 12 h after it ends;"
                    " expected pieces in their order: import the earlier one first"
                )
                remarks.reject_block(int(np.isfinite(seconds).sum()), first, "t_s", None, reason)
                continue
            start = begins
        good = np.flatnonzero(np.isfinite(seconds))
        t_s[good] = np.round(seconds[good] - np.min(seconds[good]) + start, 6)
        said = True
    if said:
        remarks.message("clock times were taken as seconds from each case's first sample; dates are not kept")
    return t_s


def _placed(name: str, found: MappedTable, mapping: Mapping, ledger: Ledger, remarks: Remarks) -> list[Any]:
    """Clock times of single rows as seconds on the axes of their cases, or why one cannot be told."""
    typed = [(cell or "").strip() for cell in found.columns[name].to_pylist()]
    out: list[Any] = [unclear(cell, clocks.NOT_A_TIME) if cell else "" for cell in typed]
    times, zone = _times(name, found, mapping), ZoneInfo(mapping.time_zone)
    given = np.array([bool(cell) for cell in typed], dtype=bool)
    for case_id, every in _by_case(found.columns["case_id"], remarks).items():
        rows = every[given[every]]
        if not len(rows):
            continue
        here = some_of(times, rows)
        true: TrueSeconds = clocks.of_single_rows(here, zone)
        known, span = ledger.clocks.get(case_id), ledger.case_span_s(case_id)
        if known is None or span is None:
            true.reasons = dict.fromkeys(range(len(rows)), clocks.NO_CLOCK)
            seconds = np.full(len(rows), np.nan)
        else:
            seconds = clocks.placed(here, true, known, span)
        for k, row in enumerate(rows.tolist()):
            reason = true.reasons.get(k)
            out[row] = float(seconds[k]) if reason is None else unclear(typed[row], reason)
    if mapping.clock_offset_s:
        remarks.message(f"{mapping.clock_offset_s:g} s were added to this file's clock, as its mapping says")
    return out


def _times(name: str, found: MappedTable, mapping: Mapping) -> ClockTimes:
    dates = found.columns.get("date")
    if dates is not None and not any((cell or "").strip() for cell in dates.to_pylist()):
        dates = None
    times = parse_clock(found.columns[name], mapping.date_order, dates)
    wall = times.wall_s + mapping.clock_offset_s
    return replace(times, wall_s=wall if times.dated else wall % _DAY_S)


def _by_case(column: pa.Array, remarks: Remarks) -> Map[str, NDArray[np.int64]]:
    """The rows of each case under its stored code, in their order; other rows are left to the checks."""
    coded = column.dictionary_encode()
    indices = coded.indices.to_numpy(zero_copy_only=False)
    together: dict[str, list[NDArray[np.int64]]] = {}
    for k, typed in enumerate(coded.dictionary.to_pylist()):
        code = as_code(typed)
        if bad_case_id(code) is None:
            together.setdefault(remarks.case_id(code), []).append(np.flatnonzero(indices == k))
    return {case_id: np.sort(np.concatenate(rows)) for case_id, rows in together.items()}


def _parts(rows: NDArray[np.int64], fetuses: pa.Array | None) -> list[NDArray[np.int64]]:
    if fetuses is None:
        return [rows]
    names = np.array(fetuses.take(pa.array(rows)).to_pylist(), dtype=object)
    return [rows[names == name] for name in dict.fromkeys(names.tolist())]

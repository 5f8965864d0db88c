"""WFDB records of several segments: one time axis, with the gaps and the order that the master header says.

Source: the header(5) manual page, from memory; the tests hold it against the WFDB project's own Python package.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from audit.intake.door.remarks import FileRefused
from audit.intake.formats.wfdb_file import MOST_VALUES, Header, SignalLine, read_header, read_signals

_MASTER = re.compile(r"([\w-]{1,64})/(\d{1,6})")
_SEGMENT = re.compile(r"[\w-]{1,64}|~")


@dataclass(frozen=True)
class Segment:
    """A line of the master header. `name`: None for a gap; `frames`: 0 for the layout of a variable record."""

    name: str | None
    frames: int
    row_number: int


@dataclass(frozen=True)
class Master:
    """The header of a record in segments."""

    record: str
    sample_rate_hz: float
    segments: tuple[Segment, ...]
    comments: tuple[tuple[int, str], ...]

    @property
    def names(self) -> list[str]:
        """The segments that have a header of their own, each once."""
        return list(dict.fromkeys(segment.name for segment in self.segments if segment.name is not None))


def read_master(data: bytes) -> Master | None:
    """The master header, or None for the header of a single record. Raises FileRefused."""
    lines = [(k + 1, line.strip()) for k, line in enumerate(data.decode("utf-8-sig", "replace").splitlines())]
    rest = [(k, line) for k, line in lines if line and not line.startswith("#")]
    if not rest or "/" not in rest[0][1].split()[0]:
        return None
    number, line = rest[0]
    parts = line.split()
    match = _MASTER.fullmatch(parts[0])
    if match is None or len(parts) < 3:
        raise FileRefused(
            "found a record line of segments that is none, expected: name/segments signals rate", row=number
        )
    # the rest of the line is that of any record
    plain = read_header(f"{match[1]} 1 {' '.join(parts[2:])}\nx.dat 16 1\n".encode())
    if len(rest) - 1 != int(match[2]):
        raise FileRefused(f"found {len(rest) - 1} segments, expected {match[2]} as the record line says", row=number)
    segments = tuple(_segment(k, line) for k, line in rest[1:])
    comments = tuple((k, line.lstrip("#").strip()) for k, line in lines if line.startswith("#"))
    return Master(match[1], plain.sample_rate_hz, segments, comments)


def read_segments(
    master: Master, header_of: Callable[[str], bytes], files_of: Callable[[Header], dict[str, bytes]]
) -> tuple[Header, list[NDArray[np.float64]]]:
    """The record as one: its signals by name over all segments, NaN in gaps and where a segment lacks a signal.

    Raises FileRefused, also for segments of another rate and for a signal of another number of samples a frame.
    """
    lines: dict[str, SignalLine] = {}
    found: list[tuple[int, Header, list[NDArray[np.float64]]]] = []
    read: dict[str, tuple[Header, list[NDArray[np.float64]]]] = {}
    at = 0
    for segment in master.segments:
        if segment.name is not None and segment.frames:
            header = read[segment.name][0] if segment.name in read else read_header(header_of(segment.name))
            if header.record != segment.name or abs(header.sample_rate_hz - master.sample_rate_hz) > 1e-9:
                raise FileRefused("found a segment of another name or rate than its record's", row=segment.row_number)
            for line in header.signals:
                if lines.setdefault(line.description, line).per_frame != line.per_frame:
                    why = "found a signal of another number of samples a frame in a segment, expected one throughout"
                    raise FileRefused(why, row=segment.row_number)
            if segment.name not in read:
                read[segment.name] = header, read_signals(header, files_of(header))
            signals = read[segment.name][1]
            frames = len(signals[0]) // header.signals[0].per_frame
            if frames != segment.frames:
                raise FileRefused(
                    f"found a segment of {frames:,} samples, expected {segment.frames:,} as the header says",
                    row=segment.row_number,
                )
            found.append((at, header, signals))
        at += segment.frames
    values_in_all = at * sum(line.per_frame for line in lines.values())
    if not found or values_in_all > MOST_VALUES:
        raise FileRefused(
            f"found {values_in_all:,} samples in the segments, expected at least one and at most {MOST_VALUES:,}"
        )
    whole = {name: np.full(at * line.per_frame, np.nan) for name, line in lines.items()}
    for start, header, signals in found:
        for line, values in zip(header.signals, signals, strict=True):
            first = start * line.per_frame
            whole[line.description][first : first + len(values)] = values
    record = Header(master.record, master.sample_rate_hz, at, tuple(lines.values()), master.comments)
    return replace(record, signals=tuple(lines.values())), list(whole.values())


def _segment(number: int, line: str) -> Segment:
    parts = line.split()
    if len(parts) != 2 or not _SEGMENT.fullmatch(parts[0]) or not parts[1].isdigit():
        raise FileRefused("found a segment line that is none, expected: name, samples", row=number)
    return Segment(None if parts[0] == "~" else parts[0], int(parts[1]), number)

"""WFDB records, read by hand: the header and its signals in physical units.

Source of the layout: the WFDB header(5) and signal(5) manual pages (open documentation of the format), from memory;
held against the checksums and initial values of the open database's records in the tests.
"""

import re
from dataclasses import dataclass, field
from pathlib import PurePosixPath, PureWindowsPath

import numpy as np
from numpy.typing import NDArray

from audit.intake.door.remarks import FileRefused
from audit.intake.door.shape import shape
from audit.intake.formats.wfdb_samples import (
    FLAC,
    FORMATS,
    INVALID,
    Samples,
    bytes_of,
    decompressed,
    held_values,
    unpacked,
)

DEFAULT_RATE_HZ = 250.0
MOST_SIGNALS = 32
MOST_VALUES = 40_000_000  # samples of all signals: two for 7 days at 33 Hz; our choice, keeps memory under 2 GiB
_NAME = re.compile(r"[\w-]{1,64}")
_FORMAT = re.compile(r"(\d{1,3})(x\d{1,4})?(:\d{1,6})?(\+\d{1,9})?")
_MOST_PER_FRAME = 100
_GAIN = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)(?:\(([+-]?\d+)\))?(?:/(\S+))?")


@dataclass(frozen=True)
class SignalLine:
    """One signal of a header."""

    file_name: str
    format: int
    skip_bytes: int
    gain: float  # digital units per physical unit
    baseline: int
    units: str
    initial: int | None
    checksum: int | None
    description: str
    row_number: int
    per_frame: int = 1  # samples a frame; the record's rate is that of its frames
    skew: int = 0  # frames by which its samples come late in the file


@dataclass(frozen=True)
class Header:
    """A record's header. `comments` are (line, text) without the '#'."""

    record: str
    sample_rate_hz: float
    samples: int | None
    signals: tuple[SignalLine, ...]
    comments: tuple[tuple[int, str], ...] = field(default=())

    @property
    def file_names(self) -> list[str]:
        """The signal files it needs, each once."""
        return list(dict.fromkeys(signal.file_name for signal in self.signals))


def read_header(data: bytes) -> Header:
    """Parse a header. Raises FileRefused with the line, what was found and what was expected."""
    if b"\0" in data:
        raise FileRefused("found a zero byte, expected a text header: the file is binary or damaged")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileRefused(
            "found bytes that are not UTF-8 in the header", row=data.count(b"\n", 0, error.start) + 1
        ) from error
    lines = [(k + 1, line.strip()) for k, line in enumerate(text.splitlines())]
    comments = tuple((k, line.lstrip("#").strip()) for k, line in lines if line.startswith("#"))
    rest = [(k, line) for k, line in lines if line and not line.startswith("#")]
    if not rest:
        raise FileRefused("found no record line, expected: name, number of signals, samples a second, samples", row=1)
    record, count, rate, samples = _record_line(*rest[0])
    if len(rest) - 1 != count:
        raise FileRefused(
            f"found {len(rest) - 1} signal lines, expected {count} as the record line says", row=rest[0][0]
        )
    return Header(record, rate, samples, tuple(_signal_line(k, line) for k, line in rest[1:]), comments)


def read_signals(header: Header, files: dict[str, bytes]) -> list[NDArray[np.float64]]:
    """The signals in physical units, NaN where invalid, each of shape (frames × samples a frame,).

    Raises FileRefused for a short file, a wrong initial value or a wrong checksum.
    """
    found: dict[int, NDArray[np.float64]] = {}
    for name in header.file_names:
        here = [k for k, signal in enumerate(header.signals) if signal.file_name == name]
        signals = [header.signals[k] for k in here]
        if len({(signal.format, signal.skip_bytes) for signal in signals}) > 1:
            raise FileRefused("found several formats for one signal file, expected one", row=signals[0].row_number)
        digital = _digital(files[name], signals, header.samples)
        for k, signal, column in zip(here, signals, digital, strict=True):
            if signal.format == 8:
                column = np.cumsum(column) + (signal.initial or 0)
            _verify(signal, column)
            values = (column - signal.baseline) / signal.gain
            values[column == INVALID.get(signal.format, np.iinfo(np.int64).min)] = np.nan
            found[k] = _without_skew(values, signal)
    lengths = {len(values) // header.signals[k].per_frame for k, values in found.items()}
    if len(lengths) > 1:
        raise FileRefused(f"found signals of {' and '.join(map(str, sorted(lengths)))} samples, expected equal lengths")
    return [found[k] for k in range(len(header.signals))]


def _record_line(number: int, line: str) -> tuple[str, int, float, int | None]:
    parts = line.split()
    if "/" in parts[0]:
        raise FileRefused("found a record of several segments inside another, expected one segment", row=number)
    if not _NAME.fullmatch(parts[0]):
        raise FileRefused(f"found {shape(parts[0])} as the record name, expected letters, digits, _ and -", row=number)
    if len(parts) < 2 or not parts[1].isdigit():
        raise FileRefused(
            "found no number of signals, expected: name, number of signals, samples a second, samples", row=number
        )
    count = int(parts[1])
    if not 1 <= count <= MOST_SIGNALS:
        raise FileRefused(f"found {shape(count)} of signals, expected 1 to {MOST_SIGNALS}", row=number)
    rate_text = parts[2].split("/")[0].split("(")[0] if len(parts) > 2 else str(DEFAULT_RATE_HZ)
    try:
        rate = float(rate_text)
    except ValueError:
        rate = -1.0
    if not 0 < rate < float("inf"):
        raise FileRefused(f"found {shape(rate_text)} for samples a second, expected a number above 0", row=number)
    samples = None
    if len(parts) > 3:
        if not parts[3].isdigit():
            raise FileRefused(f"found {shape(parts[3])} for the samples, expected a whole number", row=number)
        samples = int(parts[3]) or None
    return parts[0], count, rate, samples


def _signal_line(number: int, line: str) -> SignalLine:
    parts = line.split(maxsplit=8)
    if len(parts) < 3:
        raise FileRefused("found too few values in the signal line, expected: file, format, gain, ...", row=number)
    _check_file_name(parts[0], number)
    match = _FORMAT.fullmatch(parts[1])
    if not match:
        raise FileRefused(
            f"found {shape(parts[1])} for the format, expected one of {', '.join(map(str, FORMATS))}", row=number
        )
    code, frames, skew, offset = match.groups()
    if int(code) not in FORMATS:
        raise FileRefused(f"found another format, expected one of {', '.join(map(str, FORMATS))}", row=number)
    per_frame = int(frames[1:]) if frames else 1
    if not 1 <= per_frame <= _MOST_PER_FRAME:
        raise FileRefused(f"found another number of samples a frame, expected 1 to {_MOST_PER_FRAME}", row=number)
    numbers = [_whole(part, number) for part in parts[3:8]]
    zero = numbers[1] if len(numbers) > 1 else 0
    gain, baseline, units = _gain(parts[2], zero, number)
    return SignalLine(
        parts[0],
        int(code),
        int(offset or 0),
        gain,
        baseline,
        units,
        numbers[2] if len(numbers) > 2 else None,
        numbers[3] if len(numbers) > 3 else None,
        parts[8].strip() if len(parts) > 8 else "",
        number,
        per_frame,
        int(skew[1:]) if skew else 0,
    )


def _check_file_name(name: str, number: int) -> None:
    plain = PurePosixPath(name).name == name and PureWindowsPath(name).name == name
    if not plain or name in ("-", "~", ".", "..") or ":" in name or name.startswith("~"):
        raise FileRefused(
            f"found {shape(name)} for the signal file, expected the plain name of a file in the header's own folder",
            row=number,
        )


def _gain(text: str, zero: int, number: int) -> tuple[float, int, str]:
    match = _GAIN.fullmatch(text)
    if not match:
        raise FileRefused(f"found {shape(text)} for the gain, expected a number such as 100(0)/bpm", row=number)
    gain = float(match[1])
    if gain == 0 or not np.isfinite(gain):
        raise FileRefused(
            f"found {shape(match[1])} for the gain, expected a number other than 0 (the signal is not calibrated)",
            row=number,
        )
    return gain, int(match[2]) if match[2] else zero, match[3] or ""


def _whole(text: str, number: int) -> int:
    try:
        return int(text)
    except ValueError as error:
        raise FileRefused(f"found {shape(text)} in the signal line, expected a whole number", row=number) from error


def _digital(data: bytes, signals: list[SignalLine], frames: int | None) -> list[Samples]:
    """Sample values of each of a file's signals, shape (frames × samples a frame,)."""
    first = signals[0]
    wide = sum(signal.per_frame for signal in signals)
    if first.format in FLAC:
        if len({signal.per_frame for signal in signals}) > 1:
            raise FileRefused("found several rates in a compressed file, expected one", row=first.row_number)
        columns = decompressed(data[first.skip_bytes :], first.format, len(signals), _most(signals, frames))
        there, spare = len(columns) // first.per_frame, 0
        body = None
    else:
        body = data[first.skip_bytes :]
        there = held_values(body, first.format) // wide
        wanted = there if frames is None else frames
        spare = len(body) - bytes_of(wanted * wide, first.format)
    wanted = there if frames is None else frames
    if wanted * wide > MOST_VALUES:
        raise FileRefused(f"found {wanted * wide:,} samples, expected at most {MOST_VALUES:,}", row=first.row_number)
    if there < wanted:
        raise FileRefused(
            f"found {there:,} samples in the signal file, expected {wanted:,} as the header says: it is cut off",
            row=first.row_number,
        )
    if wanted == 0:
        raise FileRefused("found no samples in the signal file, expected at least one", row=first.row_number)
    if spare > 2 or (body is None and there > wanted):
        raise FileRefused(
            f"found {there:,} samples in the signal file, expected {wanted:,} as the header says: the two do not"
            " belong together",
            row=first.row_number,
        )
    if body is None:
        return [columns[: wanted * first.per_frame, k] for k in range(len(signals))]
    table = unpacked(body, first.format, wanted * wide).reshape(wanted, wide)
    ends = np.cumsum([signal.per_frame for signal in signals]).tolist()
    return [table[:, end - signal.per_frame : end].reshape(-1) for signal, end in zip(signals, ends, strict=True)]


def _most(signals: list[SignalLine], frames: int | None) -> int:
    most = MOST_VALUES // len(signals)
    return most if frames is None else min(most, frames * signals[0].per_frame)


def _without_skew(values: NDArray[np.float64], signal: SignalLine) -> NDArray[np.float64]:
    late = min(signal.skew * signal.per_frame, len(values))
    return np.concatenate([values[late:], np.full(late, np.nan)]) if late else values


def _verify(signal: SignalLine, column: Samples) -> None:
    if signal.initial is not None and signal.format != 8 and int(column[0]) != signal.initial:
        raise FileRefused(
            "found another first sample in the signal file than the header says",
            row=signal.row_number,
        )
    if signal.checksum is not None and (int(column.sum()) - signal.checksum) % 65536:
        raise FileRefused(
            "found other samples in the signal file than the header's checksum says: the file is"
            " damaged or belongs to another record",
            row=signal.row_number,
        )

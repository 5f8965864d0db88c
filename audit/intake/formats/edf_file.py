"""EDF and EDF+ recordings, continuous and discontinuous, read by hand: header, samples, annotations.

Sources: Kemp et al., A simple format for exchange of digitized polygraphic recordings, Electroencephalogr Clin
Neurophysiol 1992;82:391 (EDF), and Kemp and Olivan, European data format 'plus', Clin Neurophysiol 2003;114:1755 (EDF+:
annotations in signals called 'EDF Annotations', each record's own start in its first annotation). The layout is from
memory; the tests hold it against files that an independent library writes. Who was recorded, by whom and when stands in
the header: none of that is read.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audit.intake.door.remarks import FileRefused
from audit.intake.door.shape import shape
from audit.intake.formats.parts import Part, events_part
from audit.intake.formats.recording_part import MOST_SAMPLES, Signal, recording_part
from audit.intake.formats.signal_names import IN_KPA, channel, is_rate_unit, toco_factor
from audit.setting_tables.intake import ImportOptions

ANNOTATIONS = "EDF Annotations"
_MAGIC = b"0       "
_FIXED = 256
_MOST_SIGNALS = 512
_MOST_RECORDS = 2_000_000  # 7 days in records of a third of a second; our choice
_LONGEST_RECORD_S = 604_800.0
_LARGEST = 1e9  # of a time in s or of a limit of a range: beyond it nothing is a recording's; our choice
_WIDTHS = (16, 80, 8, 8, 8, 8, 8, 80, 8, 32)  # of the fields of each signal, in bytes
_LABEL, _UNIT, _PHYSICAL_LOW, _PHYSICAL_HIGH, _DIGITAL_LOW, _DIGITAL_HIGH, _SAMPLES = 0, 2, 3, 4, 5, 6, 8

Floats = NDArray[np.float64]
Annotation = tuple[float, str]


@dataclass(frozen=True)
class EdfSignal:
    """One signal of the header. `samples`: in each data record."""

    label: str
    unit: str
    physical: tuple[float, float]
    digital: tuple[int, int]
    samples: int


@dataclass(frozen=True)
class EdfHeader:
    """What the header says of the data: never of whom it is."""

    kind: str  # 'EDF', 'EDF+C' or 'EDF+D'
    records: int
    record_s: float
    signals: tuple[EdfSignal, ...]
    bytes: int


def is_edf(head: bytes) -> bool:
    """Does it begin as an EDF file does: version 0, then a header of a whole number of signals?"""
    length = head[184:192].strip()
    return head.startswith(_MAGIC) and length.isdigit() and int(length) % _FIXED == 0 and int(length) >= _FIXED


def edf_parts(data: bytes, case_id: str, options: ImportOptions) -> list[Part]:
    """The tracing, and the annotations that are care events. Raises FileRefused with what was found and expected."""
    header = read_header(data)
    if all(signal.label == ANNOTATIONS for signal in header.signals):
        raise FileRefused(
            "found annotations and no signal: their times count from this file's own start, which need not be the"
            " tracing's; export them in one file with the recording, or as care events in CSV (case_id, at_s, event)"
        )
    samples, annotations = read_data(data, header)
    starts = _starts(header, annotations)
    signals = []
    unknown = 0
    for signal, values in zip(header.signals, samples, strict=True):
        found = None if signal.label == ANNOTATIONS else channel(signal.label)
        unknown += found is None and signal.label != ANNOTATIONS
        if found is not None and values.size:
            steps = np.arange(signal.samples) * (header.record_s / signal.samples)
            factor = toco_factor(signal.unit) if found[0] == "toco" else 1.0
            if found[0] == "toco":
                said = None if factor == 1.0 else IN_KPA
            else:
                said = None if is_rate_unit(signal.unit) else "is in another unit than bpm"
            signals.append(Signal(*found, (starts[:, None] + steps).reshape(-1), values.reshape(-1) * factor, said))
    recording = recording_part(case_id, signals, unknown)
    remarks = [
        (round(at_s - starts_at(annotations), 3), text) for record in annotations for at_s, text in record if text
    ]
    events = events_part(case_id, remarks, options, "annotation")
    return [recording, *([] if events is None else [events])]


def starts_at(annotations: list[list[Annotation]]) -> float:
    """When the first record starts, from the header's second on: the zero of the recording."""
    return annotations[0][0][0] if annotations and annotations[0] else 0.0


def read_header(data: bytes) -> EdfHeader:
    """The header. Raises FileRefused."""
    if len(data) < _FIXED:
        raise FileRefused("the EDF header is cut off; copy or export it again")
    length, records = _whole(data[184:192], "the header's length"), _whole(data[236:244], "the number of data records")
    record_s = _number(data[244:252], "the length of a data record")
    count = _whole(data[252:256], "the number of signals")
    if not 1 <= count <= _MOST_SIGNALS or length != _FIXED * (count + 1):
        raise FileRefused(f"found an EDF header of {length} bytes for {count} signals, expected 256 and 256 for each")
    if len(data) < length:
        raise FileRefused(
            f"found {len(data)} bytes of an EDF header of {length}: it is cut off; copy or export it again"
        )
    fields: list[list[bytes]] = []
    at = _FIXED
    for width in _WIDTHS:
        fields.append([data[at + k * width : at + (k + 1) * width] for k in range(count)])
        at += width * count
    kind = data[192:197].decode("ascii", "replace")
    signals = tuple(_signal([field[k] for field in fields], k + 1) for k in range(count))
    used = sum(signal.samples for signal in signals) * 2
    if used == 0:
        raise FileRefused("found no samples in the EDF file's data records, expected at least one")
    whole, rest = divmod(len(data) - length, used)
    if records == -1:
        records, rest = whole, 0  # the recorder was stopped before it wrote how many there are
    if records < 1 or whole < records:
        raise FileRefused(f"found {whole:,} whole data records, expected {records:,} as the header says: it is cut off")
    if whole > records or rest:
        raise FileRefused(f"found more data than the {records:,} records of the header, expected no more")
    if records > _MOST_RECORDS:
        raise FileRefused(f"found {records:,} data records, expected at most {_MOST_RECORDS:,}: split it by case")
    for number, signal in enumerate(signals, start=1):
        if channel(signal.label) and signal.samples * records > MOST_SAMPLES:
            found = signal.samples * records
            raise FileRefused(f"found {found:,} samples of signal {number}, expected at most {MOST_SAMPLES:,}")
    if not 0 <= record_s <= _LONGEST_RECORD_S or (record_s == 0 and any(s.label != ANNOTATIONS for s in signals)):
        raise FileRefused(f"found data records of {record_s:g} s, expected more than 0 s and a week at most")
    return EdfHeader(kind if kind in ("EDF+C", "EDF+D") else "EDF", records, record_s, signals, length)


def read_data(data: bytes, header: EdfHeader) -> tuple[list[Floats], list[list[Annotation]]]:
    """Each channel's physical values, shape (records, samples), NaN where invalid; and the annotations of each record.

    Samples outside the digital range of the header are no values of the signal (Kemp 1992) and become NaN.
    """
    width = sum(signal.samples for signal in header.signals)
    raw = np.frombuffer(data, "<i2", header.records * width, header.bytes).reshape(header.records, width)
    values: list[Floats] = []
    texts: list[list[Annotation]] = [[] for _ in range(header.records)]
    at = 0
    for signal in header.signals:
        block = raw[:, at : at + signal.samples]
        at += signal.samples
        if signal.label == ANNOTATIONS:
            values.append(np.empty((header.records, 0)))
            for k in range(header.records) if header.kind != "EDF" else ():
                texts[k] += _annotations(np.ascontiguousarray(block[k]).tobytes())
            continue
        if channel(signal.label) is None:
            values.append(np.empty((header.records, 0)))  # nobody looks at it
            continue
        (low, high), (from_, to) = signal.digital, signal.physical
        scaled = from_ + (block.astype(np.float64) - low) * ((to - from_) / (high - low))
        scaled[(block < low) | (block > high)] = np.nan
        values.append(scaled)
    return values, texts


def _starts(header: EdfHeader, annotations: list[list[Annotation]]) -> Floats:
    """Seconds at which each record starts, the first at 0.

    Each record of an EDF+ file says its own start (Kemp and Olivan 2003, time keeping of data records); in a continuous
    one each starts where the one before it ends. Starts are printed with few decimals: half a sample is no difference.
    """
    one_after_another = np.arange(header.records, dtype=np.float64) * header.record_s
    said = np.array([record[0][0] if record else np.nan for record in annotations]) - starts_at(annotations)
    near_s = 0.5 * header.record_s / max(1, *(signal.samples for signal in header.signals if channel(signal.label)), 1)
    if header.kind != "EDF+D":
        apart = np.flatnonzero(np.abs(said - one_after_another) > near_s)
        if header.kind == "EDF+C" and len(apart):
            raise FileRefused(
                f"data record {int(apart[0]) + 1:,} says that it starts {said[apart[0]]:g} s after the first one,"
                f" expected {one_after_another[apart[0]]:g} s in a file that calls itself continuous (EDF+C): export it"
                " as EDF+D if there are gaps"
            )
        return one_after_another
    without = np.flatnonzero(np.isnan(said))
    if len(without):
        number = int(without[0]) + 1
        raise FileRefused(f"data record {number:,} does not say when it starts, expected so in a discontinuous file")
    early = np.flatnonzero(np.diff(said) < header.record_s - near_s)
    if len(early):
        number = int(early[0]) + 2
        raise FileRefused(f"data record {number:,} starts before the one before it ends, expected records in order")
    return said


def _annotations(block: bytes) -> list[Annotation]:
    """Onset and text of each annotation in a record; the record's own start comes first, with an empty text."""
    found: list[Annotation] = []
    for entry in block.split(b"\0"):
        head, _, rest = entry.partition(b"\x14")
        onset = head.split(b"\x15")[0]
        if not onset:
            continue
        if onset[:1] not in (b"+", b"-"):
            raise FileRefused("found an annotation without a time, expected a sign and seconds before it")
        at_s = _number(onset, "the time of an annotation")
        texts = [text.decode("utf-8", "replace").strip() for text in rest.split(b"\x14")]
        found += [(at_s, text) for text in (texts[:1] if not any(texts) else [text for text in texts if text])]
    return found


def _signal(fields: list[bytes], number: int) -> EdfSignal:
    label = fields[_LABEL].decode("ascii", "replace").strip()
    samples = _whole(fields[_SAMPLES], f"the samples of signal {number}")
    if samples < 0:
        raise FileRefused(f"found a number of samples below 0 for signal {number}, expected 0 or more")
    if label == ANNOTATIONS:
        return EdfSignal(label, "", (0.0, 1.0), (0, 1), samples)
    physical = tuple(_number(fields[k], f"the range of signal {number}") for k in (_PHYSICAL_LOW, _PHYSICAL_HIGH))
    digital = tuple(_whole(fields[k], f"the range of signal {number}") for k in (_DIGITAL_LOW, _DIGITAL_HIGH))
    if channel(label) and (physical[0] == physical[1] or digital[0] >= digital[1]):
        raise FileRefused(f"signal {number} has a range of nothing, expected a lowest and a highest value that differ")
    if digital[0] == digital[1]:
        digital = (digital[0], digital[0] + 1)
    unit = fields[_UNIT].decode("ascii", "replace").strip()
    return EdfSignal(label, unit, (physical[0], physical[1]), (digital[0], digital[1]), samples)


def _number(field: bytes, what: str) -> float:
    text = field.decode("ascii", "replace").strip()
    try:
        number = float(text)
    except ValueError:
        number = float("nan")
    if not abs(number) <= _LARGEST or "_" in text:
        raise FileRefused(
            f"found {shape(text)} for {what} in the EDF file, expected a number of at most {_LARGEST:,.0f}"
        )
    return number


def _whole(field: bytes, what: str) -> int:
    number = _number(field, what)
    if number != int(number):
        raise FileRefused(f"found a number with decimals for {what} in the EDF file, expected a whole number")
    return int(number)

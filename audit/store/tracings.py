"""Tracings as they lie in the store: minutes of hundredths, written in bulk and put together again as arrays."""

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from audit.store import database
from audit.store.queries import query_text
from audit.tracing.types import Tracing

# The grid that all tracings share: files of 4 Hz and faster lie on it, slower ones keep their own samples and rate.
STORED_RATE_HZ = 4.0
HUNDREDTHS = 100.0
# Marks 'no signal' in arrays of hundredths in memory; the store holds NULL.
NO_SIGNAL = np.int16(-32768)

_PLACE = ("case_id", "fetus", "start_s", "minute")

# Starts of slower files are kept to the millisecond.
_EPSILON = 0.005

FloatArray = NDArray[np.float64]
Hundredths = NDArray[np.int16]


def quarter_of(at_s: float) -> int:
    """The first whole quarter second at or after a time, as an index on the grid that all tracings share."""
    return math.ceil(at_s * STORED_RATE_HZ - _EPSILON)


@dataclass(frozen=True)
class Stretch:
    """One gap-free run of samples, in hundredths, as it is stored. Arrays have equal length.

    Stretches of different rates meet on the grid of quarter seconds: `first` and `last` are its first and the one after
    its last quarter second there.
    """

    case_id: str
    fetus: str
    start_s: float
    fhr_cbpm: Hundredths
    toco_hundredths: Hundredths
    mhr_cbpm: Hundredths | None
    source_rate_hz: float | None  # of its file; None = could not be told
    sample_rate_hz: float = STORED_RATE_HZ  # at which the samples lie

    @property
    def samples(self) -> int:
        """Number of samples, missing ones included."""
        return len(self.fhr_cbpm)

    @property
    def first(self) -> int:
        """Its first quarter second."""
        return quarter_of(self.start_s)

    @property
    def last(self) -> int:
        """The quarter second after its last sample."""
        return quarter_of(self.start_s + self.samples / self.sample_rate_hz)

    def content_sha256(self) -> str:
        """SHA-256 of start, rate and samples; the same whatever file, format or row order brought them."""
        rate = "" if self.sample_rate_hz == STORED_RATE_HZ else f" {self.sample_rate_hz:.3f} Hz"
        digest = hashlib.sha256(f"{self.start_s:.2f} {self.samples}{rate}".encode())
        for channel in (self.fhr_cbpm, self.toco_hundredths, self.mhr_cbpm):
            digest.update(b"none" if channel is None else channel.astype("<i2").tobytes())
        return digest.hexdigest()

    def held(self) -> "Stretch":
        """On the grid of quarter seconds: each sample holds until the next one."""
        if self.sample_rate_hz == STORED_RATE_HZ:
            return self
        return self._taken(self._samples_held(), self.first / STORED_RATE_HZ, STORED_RATE_HZ)

    def part(self, first: int, last: int) -> "Stretch":
        """Its quarter seconds first to last (half-open, from its own first); held where a sample would be cut."""
        if (first, last) == (0, self.last - self.first):
            return self
        held = self._samples_held()
        edges = [k in (0, len(held)) or held[k] != held[k - 1] for k in (first, last)]
        if not all(edges):
            return self.held().part(first, last)
        a, b = int(held[first]), int(held[last]) if last < len(held) else self.samples
        return self._taken(slice(a, b), round(self.start_s + a / self.sample_rate_hz, 3), self.sample_rate_hz)

    def _samples_held(self) -> NDArray[np.int64]:
        """The sample in force at each of its quarter seconds, shape (last - first,)."""
        since_s = np.arange(self.first, self.last) / STORED_RATE_HZ - self.start_s
        at = np.floor(since_s * self.sample_rate_hz + _EPSILON).astype(np.int64)
        return np.clip(at, 0, self.samples - 1)

    def _taken(self, at: NDArray[np.int64] | slice, start_s: float, rate_hz: float) -> "Stretch":
        mhr = None if self.mhr_cbpm is None else self.mhr_cbpm[at]
        fhr, toco = self.fhr_cbpm[at], self.toco_hundredths[at]
        return Stretch(self.case_id, self.fetus, start_s, fhr, toco, mhr, self.source_rate_hz, rate_hz)


def load_tracing(con: database.Connection, case_id: str, fetus: str = "A") -> Tracing:
    """One fetus's stored tracing. Raises LookupError when there is none."""
    return load_many(con, [(case_id, fetus)])[case_id, fetus]


@dataclass(frozen=True)
class Stored:
    """A tracing as it is stored: a quarter of its bytes, for whoever hands it on before it is read."""

    stretches: list[Stretch]
    fhr_sensor: str | None = None
    toco_sensor: str | None = None

    def tracing(self) -> Tracing:
        """In one piece; NaN also between stretches."""
        return put_together(self.stretches, self.fhr_sensor, self.toco_sensor)


def load_many(con: database.Connection, keys: Sequence[tuple[str, str]]) -> dict[tuple[str, str], Tracing]:
    """The stored tracings of several (case_id, fetus), in one pass over the table; NaN also between stretches.

    Raises LookupError naming the first one that is not stored.
    """
    return {key: stored.tracing() for key, stored in load_stored(con, keys).items()}


def load_stored(con: database.Connection, keys: Sequence[tuple[str, str]]) -> dict[tuple[str, str], Stored]:
    """The same, not yet put together. Raises LookupError likewise."""
    case_ids = sorted({case_id for case_id, _ in keys})
    stretches = load_stretches(con, case_ids)
    missing = [key for key in keys if key not in stretches]
    if missing:
        raise LookupError(f"{missing[0][0]}, fetus {missing[0][1]}: no tracing is stored")
    rows = database.execute(con, "intake/sensors_of", {"case_ids": case_ids}).fetchall()
    sensors = {case_id: (fhr_sensor, toco_sensor) for case_id, fhr_sensor, toco_sensor in rows}
    return {key: Stored(stretches[key], *sensors.get(key[0], (None, None))) for key in keys}


# case, fetus, start_s, samples, sample_rate_hz, source_rate_hz and whether there is a maternal rate
Head = tuple[str, str, float, int, float, float | None, bool]


def load_stretches(con: database.Connection, case_ids: Sequence[str]) -> dict[tuple[str, str], list[Stretch]]:
    """The stored stretches of the cases, in order of time, as hundredths."""
    params = {"case_ids": list(case_ids)}
    heads = database.execute(con, "intake/stretches_of", params).fetchall()
    if not heads:
        return {}
    return stretches_of(heads, con.sql(query_text("intake/minutes_of"), params=params).to_arrow_table())


def stretches_of(heads: Sequence[Head], minutes: pa.Table) -> dict[tuple[str, str], list[Stretch]]:
    """Stretches put together from rows of `tracing_minutes`; `heads` are in the order of their keys.

    Raises LookupError where the rows are not those that the heads announce.
    """
    order = pc.sort_indices(minutes, [(name, "ascending") for name in _PLACE]).to_numpy().astype(np.int64)
    channels = [_Minutes(minutes, name) for name in ("fhr_cbpm", "toco_hundredths", "mhr_cbpm")]
    at = 0
    found: dict[tuple[str, str], list[Stretch]] = {}
    for case_id, fetus, start_s, samples, rate_hz, source_rate_hz, has_mhr in heads:
        rows = order[at : at + -(-samples // round(60 * rate_hz))]
        at += rows.size
        fhr, toco, mhr = (channel.of(rows) for channel in channels)
        if (fhr.size, toco.size, mhr.size) != (samples, samples, samples if has_mhr else 0):
            raise LookupError(f"{case_id}, fetus {fetus}: {samples} samples are announced, others are stored")
        stretch = Stretch(case_id, fetus, start_s, fhr, toco, mhr if has_mhr else None, source_rate_hz, rate_hz)
        found.setdefault((case_id, fetus), []).append(stretch)
    if at != order.size:
        raise LookupError(f"{', '.join(sorted({head[0] for head in heads}))}: more samples are stored than announced")
    return found


def head_of(stretch: Stretch) -> Head:
    """What is known of a stretch beside its samples."""
    return (
        stretch.case_id,
        stretch.fetus,
        stretch.start_s,
        stretch.samples,
        stretch.sample_rate_hz,
        stretch.source_rate_hz,
        stretch.mhr_cbpm is not None,
    )


def minutes_table(stretches: Sequence[Stretch]) -> pa.Table:
    """The rows of `tracing_minutes` for these stretches."""
    a_minute = [round(60 * stretch.sample_rate_hz) for stretch in stretches]
    counts = [-(-stretch.samples // each) for stretch, each in zip(stretches, a_minute, strict=True)]
    minute = [np.arange(count, dtype=np.int32) for count in counts]
    return pa.table(
        {
            "case_id": _repeated([s.case_id for s in stretches], counts),
            "fetus": _repeated([s.fetus for s in stretches], counts),
            "start_s": pa.array(np.repeat([s.start_s for s in stretches], counts), pa.float64()),
            "minute": pa.array(np.concatenate(minute) if minute else np.empty(0, np.int32)),
            "fhr_cbpm": _lists([s.fhr_cbpm for s in stretches], counts, a_minute),
            "toco_hundredths": _lists([s.toco_hundredths for s in stretches], counts, a_minute),
            "mhr_cbpm": _lists([s.mhr_cbpm for s in stretches], counts, a_minute),
        }
    )


def to_hundredths(values: FloatArray) -> Hundredths:
    """Round to hundredths; NaN becomes NO_SIGNAL. The caller has checked the range (-327 to 327)."""
    missing = np.isnan(values)
    scaled = np.rint(np.where(missing, 0.0, values) * HUNDREDTHS).astype(np.int16)
    scaled[missing] = NO_SIGNAL
    return scaled


def to_units(hundredths: Hundredths) -> FloatArray:
    """Hundredths as float64, NO_SIGNAL as NaN."""
    values = hundredths / HUNDREDTHS
    np.copyto(values, np.nan, where=hundredths == NO_SIGNAL)
    return values


def put_together(stretches: list[Stretch], fhr_sensor: str | None = None, toco_sensor: str | None = None) -> Tracing:
    """On the stretches' own grid where they share one, else on quarter seconds, which every rate can be held on."""
    stretches = sorted(stretches, key=lambda stretch: stretch.start_s)
    places = _on_one_grid(stretches)
    if places is None:
        stretches = [stretch.held() for stretch in stretches]
        places = [stretch.first - stretches[0].first for stretch in stretches]
    rate_hz = stretches[0].sample_rate_hz
    length = max(at + stretch.samples for at, stretch in zip(places, stretches, strict=True))
    fhr = _laid_out([stretch.fhr_cbpm for stretch in stretches], places, length)
    toco = _laid_out([stretch.toco_hundredths for stretch in stretches], places, length)
    maternal = [stretch.mhr_cbpm for stretch in stretches]
    mhr = None if all(part is None for part in maternal) else _laid_out(maternal, places, length)
    rates = {stretch.source_rate_hz for stretch in stretches}
    in_order = tuple(sorted(rates, key=lambda rate: (rate is None, rate or 0.0)))
    return Tracing(fhr, toco, rate_hz, mhr, stretches[0].start_s, in_order, fhr_sensor, toco_sensor)


def _laid_out(parts: Sequence[Hundredths | None], places: Sequence[int], length: int) -> FloatArray:
    """One channel's parts from their places on, in the channel's unit, NaN between them."""
    if len(parts) == 1 and parts[0] is not None:
        return to_units(parts[0])
    laid = np.full(length, np.nan)
    for at, part in zip(places, parts, strict=True):
        if part is not None:
            laid[at : at + part.size] = to_units(part)
    return laid


def _on_one_grid(stretches: list[Stretch]) -> list[int] | None:
    """Where each begins on the first one's grid; None when rates differ or a sample would move by a quarter second."""
    rate_hz, first_s = stretches[0].sample_rate_hz, stretches[0].start_s
    exact = [(stretch.start_s - first_s) * rate_hz for stretch in stretches]
    moved_s = max(abs(at - round(at)) / rate_hz for at in exact)
    if moved_s > 1 / STORED_RATE_HZ - _EPSILON or any(stretch.sample_rate_hz != rate_hz for stretch in stretches):
        return None
    return [round(at) for at in exact]


class _Minutes:
    """A channel's minutes as they came from the database, which would move all samples to sort them."""

    def __init__(self, minutes: pa.Table, name: str) -> None:
        column = minutes[name].combine_chunks()
        if isinstance(column, pa.ChunkedArray):  # an empty column stays chunked in some versions
            column = pa.concat_arrays(column.chunks) if column.num_chunks else pa.array([], minutes[name].type)
        values = column.flatten()
        self._flat: Hundredths = values.fill_null(int(NO_SIGNAL)).to_numpy(zero_copy_only=False)
        self._ends: NDArray[np.int64] = np.append(0, np.cumsum(column.value_lengths().fill_null(0).to_numpy()))

    def of(self, rows: NDArray[np.int64]) -> Hundredths:
        """The samples of these minutes, in their order."""
        if not rows.size:
            return self._flat[:0]
        first, last = rows[0], rows[-1] + 1
        if last - first == rows.size and (rows[1:] > rows[:-1]).all():  # as they were stored
            return self._flat[self._ends[first] : self._ends[last]]
        return np.concatenate([self._flat[self._ends[row] : self._ends[row + 1]] for row in rows])


def _repeated(names: list[str], counts: list[int]) -> pa.DictionaryArray:
    codes = np.repeat(np.arange(len(names), dtype=np.int32), counts)
    return pa.DictionaryArray.from_arrays(pa.array(codes), pa.array(names, pa.string()))


def _lists(channels: Sequence[Hundredths | None], counts: Sequence[int], a_minute: Sequence[int]) -> pa.ListArray:
    """One list for each of a stretch's minutes; a stretch without the channel has NULL minutes."""
    offsets, nulls, values, at = [], [], [], 0
    for channel, count, each in zip(channels, counts, a_minute, strict=True):
        if channel is None:
            offsets.append(np.full(count, at, np.int32))
        else:
            offsets.append((at + each * np.arange(count)).astype(np.int32))
            values.append(channel)
            at += len(channel)
        nulls.append(np.full(count, channel is None))
    flat = np.concatenate(values) if values else np.empty(0, np.int16)
    starts = np.append(np.concatenate(offsets) if offsets else np.empty(0, np.int32), np.int32(at))
    return pa.ListArray.from_arrays(
        pa.array(starts.astype(np.int32)),
        pa.array(flat, mask=flat == NO_SIGNAL),
        mask=pa.array(np.concatenate(nulls) if nulls else np.empty(0, np.bool_)),
    )

"""What a stage leaves for the stages after it, as bytes: exactly the numbers that these stages are given.

MessagePack with arrays as raw bytes, compressed. Nothing in it is ever executed: a database may come from elsewhere.
"""

from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cache
from typing import Any, TypeGuard, TypeVar, get_origin

import msgspec
import numpy as np
import pyarrow as pa

from audit.standards import types as standard_types
from audit.standards.types import MinuteCategories
from audit.tracing import types as tracing_types
from audit.tracing.types import Reading

_DAMAGED = "what an earlier analysis kept is damaged; run `intrapartum-audit analyse --force`"
_CODEC, _LENGTH_BYTES, _LONGEST = "zstd", 8, 2**31
# The baseline in steps of a tenth of what a sample is stored in: the digits behind them are the smoothing's, took three
# quarters of what is kept of a reading, and no text resolves them.
STEPS_A_BPM = 1024.0
Kept = TypeVar("Kept")


@dataclass(frozen=True)
class KeptReading:
    """The reading of a tracing, with where it begins on the case's clock, s."""

    start_s: float
    reading: Reading


@dataclass(frozen=True)
class KeptMinutes:
    """The minute categories of a tracing under one standard, with its start on the case's clock and its length."""

    start_s: float
    duration_s: float
    minutes: MinuteCategories


def for_later_stages(reading: Reading) -> Reading:
    """The reading without the arrays that only the strip draws, so that no stage can depend on them."""

    def kept(other: Reading | None) -> Reading | None:
        return None if other is None else for_later_stages(other)

    return replace(
        reading,
        baseline_1hz=np.rint(reading.baseline_1hz * STEPS_A_BPM) / STEPS_A_BPM,
        baseline_drawn_1hz=np.rint(reading.baseline_drawn_1hz * STEPS_A_BPM) / STEPS_A_BPM,
        exclusion=np.zeros(0, np.uint8),
        at_other_level=kept(reading.at_other_level),
        if_longer=kept(reading.if_longer),
        if_shorter=kept(reading.if_shorter),
    )


def pack_reading(kept: KeptReading) -> bytes:
    """As bytes. The baseline is a part of the drawn one: where it is, its place is kept in its stead."""
    reading = kept.reading
    stated = np.isfinite(reading.baseline_1hz)
    if np.array_equal(np.where(stated, reading.baseline_drawn_1hz, np.nan), reading.baseline_1hz, equal_nan=True):
        reading = replace(reading, baseline_1hz=stated)
    return _pack(replace(kept, reading=reading))


def unpack_reading(content: bytes) -> KeptReading:
    """What `pack_reading` was given. Raises ValueError when the bytes are damaged."""
    kept = _unpack(content, KeptReading)
    stated = kept.reading.baseline_1hz
    if stated.dtype == np.bool_:
        line = np.where(stated, kept.reading.baseline_drawn_1hz, np.nan)
        kept = replace(kept, reading=replace(kept.reading, baseline_1hz=line))
    return kept


def pack_minutes(kept: KeptMinutes) -> bytes:
    """As bytes. Each trigger's reasons are those of the minutes, and kept once."""
    one = kept.minutes
    assert all(series.reasons is one.reasons for series in one.triggers.values())
    triggers = {name: replace(series, reasons=()) for name, series in one.triggers.items()}
    return _pack(replace(kept, minutes=replace(one, triggers=triggers)))


def unpack_minutes(content: bytes) -> KeptMinutes:
    """What `pack_minutes` was given. Raises ValueError when the bytes are damaged."""
    kept = _unpack(content, KeptMinutes)
    one = kept.minutes
    triggers = {name: replace(series, reasons=one.reasons) for name, series in one.triggers.items()}
    return replace(kept, minutes=replace(one, triggers=triggers))


@cache
def layout() -> str:
    """What is kept, field by field: another text once a field is added, so that older bytes are not taken for newer."""
    kinds = [kind for room in (tracing_types, standard_types) for kind in vars(room).values() if _is_kept(kind)]
    return " ".join(f"{kind.__name__}({','.join(f.name for f in fields(kind))})" for kind in kinds)


def _is_kept(kind: object) -> TypeGuard[type[Any]]:
    return isinstance(kind, type) and is_dataclass(kind)


def _pack(kept: Any) -> bytes:
    plain = msgspec.msgpack.encode(kept, enc_hook=_plain)
    packed: bytes = pa.compress(plain, codec=_CODEC, asbytes=True)
    return len(plain).to_bytes(_LENGTH_BYTES, "little") + packed


def _unpack(content: bytes, kind: type[Kept]) -> Kept:
    length = int.from_bytes(content[:_LENGTH_BYTES], "little")
    if length > _LONGEST:
        raise ValueError(_DAMAGED)
    try:
        plain = pa.decompress(content[_LENGTH_BYTES:], decompressed_size=length, codec=_CODEC, asbytes=True)
        return msgspec.msgpack.decode(plain, type=kind, dec_hook=_array)
    except (OSError, msgspec.DecodeError) as error:
        raise ValueError(_DAMAGED) from error


def _plain(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        # byte by byte of the numbers: the first bytes of neighbours are alike, which is what compression finds
        width = value.dtype.itemsize
        return value.dtype.str, np.ascontiguousarray(value).view(np.uint8).reshape(-1, width).T.tobytes()
    if isinstance(value, np.generic):
        return value.item()
    raise NotImplementedError(type(value).__name__)


def _array(kind: Any, value: Any) -> Any:
    if get_origin(kind) is not np.ndarray:
        raise NotImplementedError(str(kind))
    name, content = value
    dtype = np.dtype(name)
    columns = np.frombuffer(content, np.uint8).reshape(dtype.itemsize, -1)
    return np.frombuffer(columns.T.tobytes(), dtype)

"""The file of a fitted second reading: arrays and a model card in one archive, no code, with a hash of its content.

The archive is a plain zip of `card.json` and one array (`.npy`) a field; nothing in it is executed when it is read.
"""

import hashlib
import io
import json
import zipfile
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.errors import AuditError
from audit.second_reading.calibration import Calibration
from audit.second_reading.card import CARD, FORMAT, card_in
from audit.second_reading.convolutions import Kernels
from audit.second_reading.gaussian_process import Scaling
from audit.second_reading.model import FittedReading, FittedWindows

LARGEST_BYTES = 6_000_000
_BLOCKS = ("window", "hour", "shapes")
_MOMENT = (2000, 1, 1, 0, 0, 0)  # equal content gives an equal file
Arrays = dict[str, NDArray[Any]]


def write(reading: FittedReading, card: dict[str, Any], path: Path) -> None:
    """Write a fitted reading with its card.

    Raises AuditError when it would be larger than 6 MB.
    """
    arrays = _arrays(reading)
    whole = {**card, "format": FORMAT, "content_sha256": _hash(arrays), "numbers": list(reading.names)}
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        _put(archive, CARD, json.dumps(whole, indent=1, allow_nan=False).encode())
        for name, array in arrays.items():
            content = io.BytesIO()
            np.lib.format.write_array(content, np.ascontiguousarray(array), allow_pickle=False)
            _put(archive, f"{name}.npy", content.getvalue())
    size = packed.getbuffer().nbytes
    if size > LARGEST_BYTES:
        raise AuditError(f"{path.name}: {size:,} bytes, expected at most {LARGEST_BYTES:,}")
    path.write_bytes(packed.getvalue())


def read(path: Path) -> FittedReading:
    """A fitted reading from its file.

    Raises ValueError when it is no such file, was made by another version, or its content is not what was written.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            card = card_in(archive)
            arrays = {
                name[: -len(".npy")]: np.lib.format.read_array(io.BytesIO(archive.read(name)), allow_pickle=False)
                for name in sorted(archive.namelist())
                if name.endswith(".npy")
            }
        if card.get("content_sha256") != _hash(arrays):
            raise ValueError("its content is not what was written; fit it anew")
        return _reading(arrays, card)
    except (zipfile.BadZipFile, KeyError, EOFError) as error:
        raise ValueError("not a fitted reading") from error


@lru_cache(maxsize=2)
def kept(path: Path, sha256: str) -> FittedReading:
    """The same as `read`, once a process; `sha256` is that of the whole file as the settings know it.

    Raises AuditError when the file has changed since.
    """
    try:
        if hashlib.sha256(path.read_bytes()).hexdigest() != sha256:
            raise AuditError(f"{path.name}: changed since the command began")
        return read(path)
    except (OSError, ValueError) as error:
        raise AuditError(f"{path.name}: {error}") from error


def _put(archive: zipfile.ZipFile, name: str, content: bytes) -> None:
    entry = zipfile.ZipInfo(name, _MOMENT)
    entry.compress_type = zipfile.ZIP_DEFLATED
    archive.writestr(entry, content)


def _hash(arrays: Arrays) -> str:
    digest = hashlib.sha256()
    for name in sorted(arrays):
        array = np.ascontiguousarray(arrays[name])
        digest.update(f"{name} {array.dtype.str} {array.shape}".encode())
        digest.update(array.tobytes())
    return digest.hexdigest()


def _arrays(reading: FittedReading) -> Arrays:
    windows, calibration = reading.windows, reading.calibration
    found: Arrays = {
        "kernels": np.stack([reading.kernels.triple, reading.kernels.spacing_s, reading.kernels.percent]),
        "limits": reading.limits,
        "weights": reading.weights,
        "level_and_calibration": np.array([reading.level, calibration.slope, calibration.low, calibration.high]),
        "recording": np.array(windows.recording, dtype=np.str_),
        "span_s": np.stack([windows.start_s, windows.end_s]),
        "votes": windows.votes.astype(np.int16),
        "rules": windows.rules.astype(np.int16),
    }
    for name, scaling, points in zip(_BLOCKS, reading.scalings, reading.points, strict=True):
        found[f"{name}_scaling"] = np.stack([scaling.middle, scaling.spread])
        found[f"{name}_points"] = points.astype(np.float32)
    return found


def _reading(arrays: Arrays, card: dict[str, Any]) -> FittedReading:
    first, second, third = (Scaling(*arrays[f"{name}_scaling"]) for name in _BLOCKS)
    a, b, c = (arrays[f"{name}_points"].astype(np.float64) for name in _BLOCKS)
    level, slope, low, high = arrays["level_and_calibration"].tolist()
    return FittedReading(
        names=tuple(card["numbers"]),
        kernels=Kernels(*arrays["kernels"].astype(np.int64)),
        limits=arrays["limits"],
        scalings=(first, second, third),
        points=(a, b, c),
        weights=arrays["weights"],
        level=level,
        calibration=Calibration(slope, low, high),
        windows=FittedWindows(
            recording=tuple(arrays["recording"].tolist()),
            start_s=arrays["span_s"][0],
            end_s=arrays["span_s"][1],
            votes=arrays["votes"].astype(np.int64),
            rules=arrays["rules"].astype(np.int64),
        ),
        card=card,
    )

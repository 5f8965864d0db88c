"""The samples of WFDB signal files, unpacked: every format of the signal(5) manual page, which was read from memory.

The tests hold each against the WFDB project's own Python package. The compressed formats (FLAC) want the `soundfile`
package, which comes with the extra `flac`.
"""

import io

import numpy as np
from numpy.typing import NDArray

from audit.intake.door.remarks import FileRefused

Samples = NDArray[np.int64]
FLAC = {508: 8, 516: 16, 524: 24}
# width of a sample in bits; 310 and 311 put three samples of 10 bits into 32
_BITS = {8: 8, 16: 16, 24: 24, 32: 32, 61: 16, 80: 8, 160: 16, 212: 12}
FORMATS = (*_BITS, 310, 311, *FLAC)
# the value that says 'none'; differences (8) have none
INVALID = {
    16: -32768, 24: -(2**23), 32: -(2**31), 61: -32768, 80: -128, 160: -32768, 212: -2048, 310: -512, 311: -512,
    508: -128, 516: -32768, 524: -(2**23),
}  # fmt: skip


def held_values(body: bytes, code: int) -> int:
    """How many whole samples the bytes hold."""
    if code in (310, 311):
        return len(body) // 4 * 3
    return len(body) * 8 // _BITS[code]


def bytes_of(values: int, code: int) -> int:
    """How many bytes hold that many samples."""
    if code in (310, 311):
        return -(-values // 3) * 4
    return -(-values * _BITS[code] // 8)


def unpacked(body: bytes, code: int, values: int) -> Samples:
    """The first `values` samples, in the file's order, shape (values,). Of format 8 they are differences."""
    plain = {16: "<i2", 61: ">i2", 32: "<i4", 8: "<i1"}
    if code in plain:
        return np.frombuffer(body, dtype=plain[code], count=values).astype(np.int64)
    if code == 80:
        return np.frombuffer(body, dtype=np.uint8, count=values).astype(np.int64) - 128
    if code == 160:
        return np.frombuffer(body, dtype="<u2", count=values).astype(np.int64) - 32768
    if code == 24:
        raw = _groups(body, 3, values)
        return _signed(raw[:, 0] | raw[:, 1] << 8 | raw[:, 2] << 16, 24)
    if code == 212:
        raw = _groups(body, 3, -(-values // 2))
        pairs = np.stack([raw[:, 0] | (raw[:, 1] & 0x0F) << 8, raw[:, 2] | (raw[:, 1] & 0xF0) << 4], axis=1)
        return _signed(pairs, 12).reshape(-1)[:values]
    raw = _groups(body, 4, -(-values // 3))
    if code == 310:
        low, high = raw[:, 0] | raw[:, 1] << 8, raw[:, 2] | raw[:, 3] << 8
        three = np.stack([low >> 1 & 0x3FF, high >> 1 & 0x3FF, low >> 11 | high >> 11 << 5], axis=1)
    else:
        word = raw[:, 0] | raw[:, 1] << 8 | raw[:, 2] << 16 | raw[:, 3] << 24
        three = np.stack([word & 0x3FF, word >> 10 & 0x3FF, word >> 20 & 0x3FF], axis=1)
    return _signed(three, 10).reshape(-1)[:values]


def decompressed(data: bytes, code: int, channels: int, most: int) -> Samples:
    """The first `most` samples of a FLAC file and one more, shape (n, channels).

    Raises FileRefused without the extra, or when it is damaged.
    """
    try:
        import soundfile
    except ImportError:
        raise FileRefused(
            f"found the compressed format {code}, which wants the extra `flac`: pip install 'intrapartum-audit[flac]'"
        ) from None
    try:
        with soundfile.SoundFile(io.BytesIO(data)) as packed:
            # as many as the header wants and one more, which tells; a small file may unpack to more than memory holds
            found = packed.read(most + 1, dtype="int32", always_2d=True)
    except (RuntimeError, TypeError, ValueError) as error:
        raise FileRefused("the compressed signal file is damaged or cut off; copy or export it again") from error
    if found.shape[1] != channels:
        raise FileRefused(f"found {found.shape[1]} channels in the signal file, expected {channels} as the header says")
    return np.asarray(found, np.int64) >> (32 - FLAC[code])


def _groups(body: bytes, width: int, count: int) -> Samples:
    raw = np.frombuffer(body.ljust(width * count, b"\0"), dtype=np.uint8, count=width * count)
    return raw.reshape(-1, width).astype(np.int64)


def _signed(values: Samples, bits: int) -> Samples:
    return np.where(values >= 1 << (bits - 1), values - (1 << bits), values)

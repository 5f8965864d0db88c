"""A file's bytes: read within a size, unpacked within a ratio, never more than the settings allow."""

import hashlib
import zlib
from pathlib import Path

from audit.intake.door.remarks import FileRefused

_MIB = 1024 * 1024
_STEP = 4 * _MIB


def first_bytes(path: Path, most: int) -> bytes:
    """The beginning of a file, at most so many bytes. Raises OSError."""
    with path.open("rb") as stream:
        return stream.read(most)


def read_bytes(path: Path, max_mib: int) -> bytes:
    """The whole file. Raises FileRefused when it cannot be read or is larger than `max_mib`."""
    try:
        size = path.stat().st_size
        if size > max_mib * _MIB:
            raise FileRefused(
                f"found {size / _MIB:,.0f} MiB, expected {max_mib:,} MiB or less: split it by case, or use Parquet"
            )
        return path.read_bytes()
    except OSError as error:
        raise FileRefused(f"cannot be read: {error.strerror or type(error).__name__}") from error


def unpack_gzip(data: bytes, max_mib: int, max_ratio: float) -> bytes:
    """The content of a gzip file, all members. Raises FileRefused when it is cut off, damaged or grows too large."""
    most = min(max_mib * _MIB, int(max(len(data), _MIB // 16) * max_ratio))
    parts: list[bytes] = []
    total, rest = 0, data
    while rest:
        stream = zlib.decompressobj(wbits=31)
        while not stream.eof:
            try:
                part = stream.decompress(rest, _STEP)
            except zlib.error as error:
                raise FileRefused(f"the gzip file is damaged ({error}); export it again") from error
            total += len(part)
            if total > most:
                raise FileRefused(
                    f"the gzip file unpacks to more than {most // _MIB:,} MiB, expected at most {max_mib:,} MiB and"
                    f" {max_ratio:.0f} times its packed size: unpack and split it"
                )
            parts.append(part)
            rest = stream.unconsumed_tail
            if not part and not rest and not stream.eof:
                raise FileRefused("the gzip file is cut off before its end; copy or export it again")
        rest = stream.unused_data.lstrip(b"\0")
    return b"".join(parts)


def sha256_of(path: Path, *parts: bytes) -> str:
    """SHA-256 of a file, read in blocks, and of what follows it."""
    with path.open("rb") as stream:
        digest = hashlib.file_digest(stream, "sha256")
    for part in parts:
        digest.update(part)
    return digest.hexdigest()


def sha256(*parts: bytes) -> str:
    """SHA-256 of the parts, one after the other."""
    digest = hashlib.sha256()
    for part in parts:
        digest.update(part)
    return digest.hexdigest()

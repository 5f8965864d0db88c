"""Zip archives: what is in them is counted before anything is unpacked, and unpacked under names that stay inside."""

import stat
import zipfile
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path, PurePosixPath
from typing import IO

from audit.intake.door.remarks import FileRefused
from audit.setting_tables.intake import ImportOptions

_MIB = 1024 * 1024
_STEP = 4 * _MIB
_MOST_ENTRIES = 20_000  # a unit-year of records with header and signals; our choice
_SMALL = 64 * 1024  # an entry is allowed this much whatever its ratio
_MOST_DIRECTORY = 1024 * _MOST_ENTRIES  # bytes of the list of entries, names included; our choice
_MOST_PARTS = 64  # folders one inside the other; our choice
_ENCRYPTED = 0x1
_PLAIN = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)  # the others unpack a block at once, however large
_MAGIC = (b"PK\x03\x04", b"PK\x05\x06")  # with files, and empty
_END = 22 + 65535  # the record that ends an archive, with the longest comment
_ODS = b"application/vnd.oasis.opendocument.spreadsheet"


def is_archive(head: bytes) -> bool:
    """Does it begin as a zip archive does?"""
    return head.startswith(_MAGIC)


def opened(data: bytes | Path, options: ImportOptions) -> zipfile.ZipFile:
    """An archive whose entries may be read. Raises FileRefused: damaged, locked, or it would grow too large."""
    try:
        with BytesIO(data) if isinstance(data, bytes) else data.open("rb") as stream:
            if _directory_bytes(stream) > _MOST_DIRECTORY:
                raise FileRefused(f"the zip archive lists more than {_MOST_ENTRIES:,} files, expected fewer")
        archive = zipfile.ZipFile(BytesIO(data) if isinstance(data, bytes) else data)
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        raise FileRefused("the zip archive is damaged or cut off; copy or export it again") from error
    entries = archive.infolist()
    if len(entries) > _MOST_ENTRIES:
        raise FileRefused(f"found {len(entries):,} files in the zip archive, expected at most {_MOST_ENTRIES:,}")
    if any(entry.flag_bits & _ENCRYPTED for entry in entries):
        raise FileRefused("the zip archive is locked with a password; unpack it first")
    if any(entry.compress_type not in _PLAIN for entry in entries):
        raise FileRefused("the zip archive is packed in an unusual way; pack the folder again as a plain zip file")
    unpacked = sum(entry.file_size for entry in entries)
    if unpacked > options.max_file_mib * _MIB:
        raise FileRefused(
            f"the zip archive unpacks to {unpacked / _MIB:,.0f} MiB, expected {options.max_file_mib:,} MiB or less:"
            " unpack it and import the folder"
        )
    if any(entry.file_size > max(entry.compress_size * options.max_gzip_ratio, _SMALL) for entry in entries):
        raise FileRefused(
            f"a file in the zip archive unpacks to more than {options.max_gzip_ratio:.0f} times its packed size,"
            " expected less: unpack it and look what it is"
        )
    return archive


def _directory_bytes(stream: IO[bytes]) -> int:
    """How long the list of entries says it is; 0 without one (APPNOTE.TXT of the format, 4.3.16, from memory)."""
    size = stream.seek(0, 2)
    stream.seek(max(0, size - _END))
    end = stream.read()
    at = end.rfind(b"PK\x05\x06")
    return int.from_bytes(end[at + 12 : at + 16], "little") if at >= 0 else 0


def read(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    """An entry's content, never more than it said of itself. Raises FileRefused when it is damaged."""
    parts: list[bytes] = []
    try:
        with archive.open(entry) as stream:
            while part := stream.read(_STEP):
                parts.append(part)
    except (zipfile.BadZipFile, OSError, ValueError, EOFError, NotImplementedError, RuntimeError) as error:
        raise FileRefused("a file in the zip archive is damaged; copy or export it again") from error
    except Exception as error:  # the unpackers have errors of their own
        raise FileRefused(f"a file in the zip archive cannot be unpacked ({type(error).__name__})") from error
    return b"".join(parts)


def is_workbook(archive: zipfile.ZipFile) -> bool:
    """Is it a spreadsheet (xlsx, or ods by its first entry)?"""
    names = set(archive.namelist())
    if "xl/workbook.xml" in names:
        return True
    return "content.xml" in names and "mimetype" in names and read(archive, archive.getinfo("mimetype")).strip() == _ODS


def unpack(archive: zipfile.ZipFile, folder: Path) -> Iterator[Path]:
    """Write the archive's files below `folder`. Raises FileRefused for a name that leads out of it, and for links."""
    for number, entry in enumerate(archive.infolist(), start=1):
        path = PurePosixPath(entry.filename.replace("\\", "/"))
        if entry.is_dir() or "__MACOSX" in path.parts:
            continue
        if len(path.parts) > _MOST_PARTS:
            raise FileRefused(
                f"file {number} of the zip archive lies more than {_MOST_PARTS} folders deep; pack it anew"
            )
        odd = path.is_absolute() or any(part in ("..", ".") or ":" in part or "\0" in part for part in path.parts)
        if odd or not path.parts:
            raise FileRefused(f"file {number} of the zip archive has a name that leads out of it; nothing is unpacked")
        if stat.S_ISLNK(entry.external_attr >> 16):
            raise FileRefused(f"file {number} of the zip archive is a link, expected plain files")
        target = folder.joinpath(*path.parts)
        try:
            if not target.resolve().is_relative_to(folder.resolve()) or target.exists():
                raise FileRefused(f"file {number} of the zip archive has the name of another, expected each name once")
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(read(archive, entry))
        except OSError as error:
            raise FileRefused(f"file {number} of the zip archive cannot be unpacked: {error.strerror}") from error
        yield target

"""Files that hold several tables, or are of another format, come apart into plain files before they are taken.

The plain files lie in a folder of their own, which is the owner's alone and gone at the end, and are then taken as any
file is: the same recognition, mapping, checks and limits.
"""

import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from audit import paths
from audit.errors import AuditError
from audit.intake.door.remarks import FileRefused
from audit.intake.folders import Candidate, candidates
from audit.intake.formats import (
    archive,
    compressed,
    csv_file,
    edf_file,
    fhir_file,
    recognise,
    wfdb_annotations,
    workbook,
)
from audit.intake.formats.parts import Part
from audit.setting_tables.intake import ImportOptions
from audit.settings import Settings


@contextmanager
def unpacked(found: Iterable[Candidate], settings: Settings) -> Iterator[list[Candidate]]:
    """The files to take, each with its number; those of archives, workbooks and recordings in place of these."""
    with paths.for_a_while("taken-apart") as room:
        files = [each for candidate in found for each in _apart(candidate, room, settings)]
        yield [replace(file, number=number) for number, file in enumerate(files, start=1)]


def _apart(candidate: Candidate, room: Path, settings: Settings) -> list[Candidate]:
    if not candidate.path.is_file():
        return [candidate]  # a pipe would be waited for
    try:
        head = compressed.first_bytes(candidate.path, recognise.FIRST_BYTES)
    except OSError:
        return [candidate]  # told when it is taken
    try:
        if head.startswith(recognise.GZIP) and _to_unpack(recognise.peek(head)):
            return _of_gzip(candidate, room, settings)
        if archive.is_archive(head):
            return _of_archive(candidate, room, settings)
        parts = _parts(candidate.path, head, settings.import_)
        return list(_written(candidate, parts, room)) if parts else [candidate]
    except FileRefused as error:
        return [_refused(candidate, error)]
    except AuditError:
        raise
    except Exception as error:  # what breaks a parser in a way nobody thought of is refused like any other file
        damaged = FileRefused(f"could not be read ({type(error).__name__}); is the file damaged?")
        return [_refused(candidate, damaged)]


def _parts(path: Path, head: bytes, options: ImportOptions) -> list[Part]:
    """What a recording, a bundle or a file of annotations comes apart into; nothing of any other file."""
    header = wfdb_annotations.belongs_beside(path)
    if edf_file.is_edf(head):
        return edf_file.edf_parts(compressed.read_bytes(path, options.max_file_mib), path.stem, options)
    if fhir_file.is_fhir(head):
        return fhir_file.fhir_parts(compressed.read_bytes(path, options.max_file_mib), options)
    if header is not None and recognise.container(head) == "signal":
        data = compressed.read_bytes(path, options.max_file_mib)
        part = wfdb_annotations.annotation_part(data, header.read_bytes(), path.stem, options)
        return [] if part is None else [part]
    return []


def _to_unpack(head: bytes) -> bool:
    """Whether what a gzip file holds is taken as a file by itself: all but our own tables and what is refused."""
    if not head:
        return False
    if archive.is_archive(head) or edf_file.is_edf(head) or fhir_file.is_fhir(head):
        return True
    if recognise.container(head) != "text":
        return recognise.container(head) == "parquet"
    try:
        return not recognise.table_kind(csv_file.header_in(head))
    except FileRefused:
        return True


def _of_gzip(candidate: Candidate, room: Path, settings: Settings) -> list[Candidate]:
    options = settings.import_
    data = compressed.read_bytes(candidate.path, options.max_file_mib)
    plain = compressed.unpack_gzip(data, options.max_file_mib, options.max_gzip_ratio)
    path = _new_folder(room) / (candidate.path.stem or "file")  # a recording is called by its file's name
    path.write_bytes(plain)
    return _apart(replace(candidate, path=path, outer=candidate.outer or candidate.path), room, settings)


def _refused(candidate: Candidate, error: FileRefused) -> Candidate:
    try:
        error.sha256 = compressed.sha256_of(candidate.path)
    except OSError:
        error.sha256 = ""
    return replace(candidate, refused=error)


def _of_archive(candidate: Candidate, room: Path, settings: Settings) -> list[Candidate]:
    options = settings.import_
    with archive.opened(candidate.path, options) as packed:
        if archive.is_workbook(packed):
            for entry in packed.infolist():
                archive.read(packed, entry)  # each is as long as it says, or the workbook is refused
            parts = workbook.sheets(compressed.read_bytes(candidate.path, options.max_file_mib), options)
            return list(_written(candidate, parts, room))
        if candidate.outer is not None:
            raise FileRefused("found a zip archive inside another, expected plain files: unpack it first")
        folder = _new_folder(room)
        for _ in archive.unpack(packed, folder):
            pass
    inside = [replace(each, named=False, outer=candidate.path) for each in candidates([folder])]
    placed = [replace(each, place=each.path.relative_to(folder).as_posix()) for each in inside]
    if not placed:
        raise FileRefused("found no file in the zip archive, expected tables or recordings")
    return [each for file in placed for each in _apart(file, room, settings)]


def _written(candidate: Candidate, parts: Iterable[Part], room: Path) -> Iterator[Candidate]:
    folder = _new_folder(room)
    parts = list(parts)
    for number, part in enumerate(parts, start=1):
        path = folder / f"{number}{part.ending}"
        path.write_bytes(part.data)
        place = f"{candidate.place}, {part.place}" if candidate.place else part.place
        yield replace(
            candidate, path=path, outer=candidate.outer or candidate.path, place=place, part=part.place, said=part.said,
            named=len(parts) == 1 or part.ending != ".csv",
        )  # fmt: skip


def _new_folder(room: Path) -> Path:
    return Path(tempfile.mkdtemp(dir=room))

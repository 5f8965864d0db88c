"""What a file that was handed over is: one of ours, or one that needs a mapping, with a proposal."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import pyarrow.parquet as pq

from audit import paths
from audit.intake import folders
from audit.intake.door.remarks import FileRefused
from audit.intake.formats import signal_names, wfdb_file
from audit.intake.guess import guess
from audit.intake.proposal import Proposal, shown
from audit.intake.unpacked import unpacked
from audit.setting_tables.mapping import CHANNELS
from audit.settings import Settings
from audit.words import counted

Answers = Callable[[int], Mapping[str, str]]  # place in a file -> key of the mapping -> value
_LONGEST_NAME = 255  # bytes, of a name in a folder


@dataclass(frozen=True)
class LookedAt:
    """A sentence for a person, with a proposal or a mapping where the file is none of ours."""

    said: str
    proposal: Proposal | None = None
    mapping: str = ""  # under which it can be read already
    place: str = ""  # in the file: a sheet
    refused: bool = False  # it cannot be read at all

    def lines(self, *, asked: bool = True) -> list[str]:
        """The proposal in lines, with or without what has to be answered."""
        return [] if self.proposal is None else shown(self.proposal, asked=asked)


def plain_name(name: str, number: int) -> str:
    """The name of a file that was handed over, or its number in place of one that no folder takes."""
    last = Path(name.replace("\0", "")).name
    if last in ("", "..") or len(last.encode("utf-8", "replace")) > _LONGEST_NAME:
        return f"file{number}"
    return last.encode("utf-8", "replace").decode()


def _nobody(_: int) -> Mapping[str, str]:
    return {}


def looked_at(name: str, data: bytes, settings: Settings, answers: Answers = _nobody) -> list[LookedAt]:
    """Look at one file, which lies in a folder of its own meanwhile."""
    with paths.for_a_while("looked-at") as room:
        file = room / plain_name(name, 1)
        file.write_bytes(data)
        return looked_into(file, settings, answers)


def looked_into(file: Path, settings: Settings, answers: Answers = _nobody) -> list[LookedAt]:
    """Look at a file and at what is in it: sheets of a workbook, tables of a recording, files of an archive.

    `answers`: what a person has answered to the questions of the first, second ... of them.
    """
    with unpacked(folders.candidates([file]), settings) as found:
        several = len(found) > 1
        return [_look(each, several, settings, answers(k)) for k, each in enumerate(found, start=1)]


def _look(candidate: folders.Candidate, several: bool, settings: Settings, answers: Mapping[str, str]) -> LookedAt:
    place = candidate.part or (f"file {candidate.number} in it" if several else "")
    if candidate.refused is not None:
        return LookedAt(f"cannot be read: {candidate.refused}", place=place, refused=True)
    nowhere = candidate.path.parent / "none"
    (sighted,) = folders.in_order([candidate], nowhere)
    if sighted.kind == "wfdb":
        return LookedAt(_told("a recording", _channels_of_record(candidate.path), candidate), place=place)
    if sighted.kind != "unknown":
        kind = sighted.kind.replace("_", " ")
        if candidate.part and candidate.path.suffix == ".parquet":
            channels = _channels(candidate.path) if kind == "tracing" else []
            return LookedAt(_told(kind, channels, candidate), place=place)
        return LookedAt(f"{kind}, with our own columns", place=place)
    for mapped, mapping in settings.import_.mapping.items():
        (under,) = folders.in_order([replace(candidate, named=False)], nowhere, [mapping])
        if under.mapping is not None:
            return LookedAt(
                f"{mapping.kind.replace('_', ' ')}, as the mapping {mapped} says", place=place, mapping=mapped
            )
    try:
        proposal = guess(candidate.path, settings.import_.max_file_mib, answers, candidate.own_name)
    except FileRefused as error:
        said = f"no table of text ({error}); try it to see what it is"
        return LookedAt(said, place=place, refused=sighted.left_alone is None)
    if several and not proposal.columns:
        return LookedAt("no column that is known; left alone", place=place)
    return LookedAt("columns of another name", proposal, place=place)


def _told(kind: str, channels: list[str], candidate: folders.Candidate) -> str:
    """What a recording brings, and what of it is not stored."""
    first = f"{kind}, read without a mapping"
    return ". ".join([f"{first}: {', '.join(channels)}" if channels else first, *candidate.said])


def _channels(part: Path) -> list[str]:
    """The channels of a tracing that hold anything."""
    table = pq.read_table(part)
    return [name for name in CHANNELS if name in table.column_names and table[name].null_count < len(table)]


def _channels_of_record(header: Path) -> list[str]:
    try:
        signals = wfdb_file.read_header(header.read_bytes()).signals
    except FileRefused:  # of a record in segments, or told when it is taken
        return []
    known = [found[0] for signal in signals if (found := signal_names.channel(signal.description)) is not None]
    left = len(signals) - len(known)
    return [*known, *([f"{counted(left, 'signal', are=True)} not stored"] if left else [])]

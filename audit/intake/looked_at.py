"""What a file that was handed over is: one of ours, or one that needs a mapping, with a proposal."""

import tempfile
from dataclasses import dataclass
from pathlib import Path

from audit.intake import folders
from audit.intake.door.remarks import FileRefused
from audit.intake.guess import guess
from audit.intake.proposal import Proposal, shown
from audit.settings import Settings

_LONGEST_NAME = 255  # bytes, of a name in a folder


@dataclass(frozen=True)
class LookedAt:
    """A sentence for a person, with a proposal or a mapping where the file is none of ours."""

    said: str
    proposal: Proposal | None = None
    mapping: str = ""  # under which it can be read already

    def lines(self) -> list[str]:
        """The proposal in lines."""
        return [] if self.proposal is None else shown(self.proposal)


def plain_name(name: str, number: int) -> str:
    """The name of a file that was handed over, or its number in place of one that no folder takes."""
    last = Path(name.replace("\0", "")).name
    if last in ("", "..") or len(last.encode("utf-8", "replace")) > _LONGEST_NAME:
        return f"file{number}"
    return last.encode("utf-8", "replace").decode()


def looked_at(name: str, data: bytes, settings: Settings) -> LookedAt:
    """Look at one file, which lies in a folder of its own meanwhile."""
    with tempfile.TemporaryDirectory(prefix="looked-at-") as room:
        file = Path(room) / plain_name(name, 1)
        file.write_bytes(data)
        (sighted,) = folders.in_order(list(folders.candidates([file])), Path(room) / "none")
        if sighted.kind != "unknown":
            return LookedAt(f"{sighted.kind.replace('_', ' ')}, with our own columns")
        for mapped, mapping in settings.import_.mapping.items():
            (under,) = folders.in_order([folders.Candidate(file, 1, named=False)], Path(room) / "none", mapping)
            if under.mapping is not None:
                return LookedAt(f"{mapping.kind.replace('_', ' ')}, as the mapping {mapped} says", mapping=mapped)
        try:
            return LookedAt("columns of another name", guess(file, settings.import_.max_file_mib))
        except FileRefused as error:
            return LookedAt(f"no table of text ({error}); try it to see what it is")

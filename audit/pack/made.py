"""The packs of a month that were written where they can be found, and what is newer than they are."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from audit.pack.own_process import folder_of
from audit.people import undo, verify

ENDINGS = (".pdf", ".html", ".pptx")
ENTERED = "the meeting entered something after it was made"
CHANGED = "files were imported or tracings read anew after it was made"


@dataclass(frozen=True)
class MadePack:
    """One pack as it lies in a folder: its name (month, unit, reach), files, tables, and what is newer."""

    name: str
    folder: Path
    files: tuple[Path, ...]
    tables: tuple[Path, ...]
    made_s: float
    newer: tuple[str, ...]

    @property
    def is_for_outside(self) -> bool:
        """Whether it is one for readers outside the unit."""
        return self.name.endswith("_outside")


def packs_of(db: Path, period: str, change_mark: str) -> list[MadePack]:
    """Packs of a month that the page made, and those that a command wrote beside the database, newest first.

    A folder beside the database, or one below it, counts when the anchor in it is of this database: of its state
    (`change_mark` is that of the copy that pages answer from) or of its log.
    """
    own = folder_of(db) / period
    found = {
        (own, file.stem.removeprefix("pack_")): _kept(own / f"anchor_{file.stem.removeprefix('pack_')}.json")
        for file in own.glob("pack_*")
        if file.suffix in ENDINGS
    }
    for anchor in _anchors_beside(db, period):
        kept, place = _kept(anchor), (anchor.parent, anchor.stem.removeprefix("anchor_"))
        if place not in found and kept is not None and _is_ours(db, kept, change_mark):
            found[place] = kept
    made = [_made(db, period, change_mark, *place, kept) for place, kept in found.items()]
    return sorted((one for one in made if one.files), key=lambda one: -one.made_s)


def _anchors_beside(db: Path, period: str) -> Iterator[Path]:
    for below in ("", "*/", "*/*/"):
        for anchor in sorted(db.resolve().parent.glob(f"{below}anchor_{period}*.json")):
            if anchor.stem.removeprefix(f"anchor_{period}")[:1] in ("", "_"):
                yield anchor


def _kept(anchor: Path) -> dict[str, Any] | None:
    try:
        kept = json.loads(anchor.read_bytes())
    except (OSError, ValueError):
        return None
    return kept if isinstance(kept, dict) else None


def _is_ours(db: Path, kept: dict[str, Any], change_mark: str) -> bool:
    if kept.get("change_mark") == change_mark:
        return True
    return bool(kept.get("log_entries")) and not verify.against(db, kept, "")


def _made(db: Path, period: str, change_mark: str, folder: Path, name: str, kept: dict[str, Any] | None) -> MadePack:
    files = tuple(file for ending in ENDINGS if (file := folder / f"pack_{name}{ending}").is_file())
    made_s = min((file.stat().st_mtime for file in files), default=0.0)
    newer = []
    if undo.entered_since(db, period, made_s):
        newer.append(ENTERED)
    if kept is not None and kept.get("change_mark") != change_mark:
        newer.append(CHANGED)
    return MadePack(name, folder, files, tuple(sorted((folder / f"tables_{name}").glob("*.csv"))), made_s, tuple(newer))

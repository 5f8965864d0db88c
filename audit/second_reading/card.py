"""The model card of a fitted second reading, which a command reads with its settings, before the reading itself."""

import json
import zipfile
from pathlib import Path
from typing import Any

FORMAT = "intrapartum-audit second reading 4"
CARD = "card.json"


def read_card(path: Path) -> dict[str, Any]:
    """The model card of a file. Raises ValueError when it is no fitted reading of this version."""
    try:
        with zipfile.ZipFile(path) as archive:
            return card_in(archive)
    except (zipfile.BadZipFile, KeyError) as error:
        raise ValueError("not a fitted reading") from error


def card_in(archive: zipfile.ZipFile) -> dict[str, Any]:
    """The model card in an open archive. Raises ValueError for one of another version, KeyError where there is none."""
    card = json.loads(archive.read(CARD).decode("utf-8"))
    if not isinstance(card, dict) or card.get("format") != FORMAT:
        raise ValueError("fitted by another version; fit it anew with `validate FOLDER --fit FILE`")
    return card

"""What a strip on a screen says of a finding that is pointed at: one line a field."""

from collections.abc import Iterator
from dataclasses import dataclass

import pandas as pd

from audit import words
from audit.charts.strip.bands import BAND_ROW_PX, standards_of
from audit.charts.strip.types import FHR_HIGHEST_BPM, FHR_LOWEST_BPM, TOCO_HIGHEST, StripLayers, StripRows, StripWindow

_OFF_PAPER_PX = 6.0  # a spot around the triangle where the line leaves the paper
_WHEN = {"what": "finding", "from_to": "from – to"}
_DECELERATION = _WHEN | {
    "depth": "depth",
    "lasts": "duration",
    "area": "area",
    "onset_to_nadir": "onset to nadir",
    "judged_fall": "fall as judged",
    "lag": "nadir after contraction peak",
    "toco": "toco",
    "seen": "share seen",
}
# layer -> pane, and what is said: field -> title
_SAID: dict[str, tuple[str, dict[str, str]]] = {
    "decelerations": ("fhr", _DECELERATION),
    "accelerations": ("fhr", _WHEN | {"height": "height"}),
    "excluded": ("unseen", {"why": "not used", "from_to": "from – to", "lasts": "lasts"}),
    "contractions": ("toco", _WHEN | {"peak": "peak", "amplitude": "amplitude"}),
    "categories": (
        "categories",
        {"at": "minute ending", "name": "standard", "category": "category", "reasons": "because"},
    ),
}


@dataclass(frozen=True)
class Spots:
    """Stretches of a pane with what they say. `rows` : minute, end_minute, the fields of `titles`.

    Where they take part of the pane's height alone also top and foot, px.
    """

    pane: str
    titles: dict[str, str]
    rows: pd.DataFrame


def spots(rows: StripRows, window: StripWindow, layers: StripLayers) -> Iterator[Spots]:
    """The spots of the layers that are drawn, and of samples off the paper; later ones lie above earlier ones."""
    for layer, (pane, titles) in _SAID.items():
        found = rows.unseen if layer == "excluded" else getattr(rows, layer)
        if not getattr(layers, layer) or found.empty:
            continue
        place = ["minute", "end_minute"]
        if layer == "categories":
            order = standards_of(found)
            top = [order.index(standard) * BAND_ROW_PX for standard in found["standard"]]
            found = found.assign(name=found["standard"].map(words.standard_name), top=top)
            found = found.assign(foot=found["top"] + BAND_ROW_PX)
            place += ["top", "foot"]
        yield Spots(pane, titles, found[[*place, *titles]])
    for pane, line, column, low, high in (
        ("fhr", rows.fhr, "bpm", FHR_LOWEST_BPM, FHR_HIGHEST_BPM),
        ("toco", rows.toco, "toco", -1, TOCO_HIGHEST),
    ):
        off = line if line.empty else line[(line[column] < low) | (line[column] > high)]
        if not off.empty:
            half = _OFF_PAPER_PX / 2 / window.px_per_min
            around = {"minute": off["minute"] - half, "end_minute": off["minute"] + half, "was": off[column].round(0)}
            yield Spots(pane, {"was": "off the paper, at"}, pd.DataFrame(around))

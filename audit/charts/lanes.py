"""Put labelled marks into lanes so that no label covers another."""

from collections.abc import Sequence
from dataclasses import dataclass

PX_PER_CHARACTER = 6.3  # wide enough for 11 px text of the system fonts
GAP_PX = 8.0


@dataclass(frozen=True)
class Placed:
    """Where a label goes: its lane (0 = lowest) and whether the text stands left of its mark."""

    lane: int
    left_of_mark: bool


def place_labels(at_px: Sequence[float], texts: Sequence[str], *, width_px: float) -> list[Placed]:
    """Give each label the lowest lane in which it covers no other label and no other mark's foot.

    Parameters
    ----------
    at_px : mark positions in pixels from the left edge, any order. `texts` : the label of each, same length.
    width_px : width of the drawing; a label that would leave it on the right is written left of its mark.

    Returns
    -------
    One `Placed` per label, in the order given. As many lanes as needed are used: a label is never dropped.
    """
    taken: list[list[tuple[float, float]]] = []
    placed: list[Placed | None] = [None] * len(at_px)
    for index in sorted(range(len(at_px)), key=lambda k: at_px[k]):
        need = len(texts[index]) * PX_PER_CHARACTER + GAP_PX
        left = at_px[index] + need > width_px and at_px[index] - need >= 0
        span = (at_px[index] - need, at_px[index] + 2) if left else (at_px[index] - 2, at_px[index] + need)
        lane = _first_free(taken, span)
        taken[lane].append(span)
        placed[index] = Placed(lane, left)
    return [label for label in placed if label is not None]


def _first_free(taken: list[list[tuple[float, float]]], span: tuple[float, float]) -> int:
    for lane, spans in enumerate(taken):
        if all(span[1] <= low or span[0] >= high for low, high in spans):
            return lane
    taken.append([])
    return len(taken) - 1

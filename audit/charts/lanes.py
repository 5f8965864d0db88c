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
    """Give each label the lowest lane in which it covers no other label and no other mark's line.

    Parameters
    ----------
    at_px : mark positions in pixels from the left edge, any order. `texts` : the label of each, same length. A mark's
        line runs from its label down to the foot.
    width_px : width of the drawing; a label that would leave it on the right is written left of its mark.

    Returns
    -------
    One `Placed` per label, in the order given. As many lanes as needed are used: a label is never dropped.
    """
    done: list[_Label] = []
    placed: dict[int, Placed] = {}
    # from the right: a label written right of its mark then meets only lines of labels that are placed already
    for index in sorted(range(len(at_px)), key=lambda k: (-at_px[k], k)):
        need = len(texts[index]) * PX_PER_CHARACTER + GAP_PX
        left = at_px[index] + need > width_px and at_px[index] - need >= 0
        span = (at_px[index] - need, at_px[index] - 1) if left else (at_px[index] + 1, at_px[index] + need)
        lane = _lowest_lane(done, at_px[index], span)
        done.append(_Label(lane, at_px[index], span))
        placed[index] = Placed(lane, left)
    return [placed[index] for index in range(len(at_px))]


@dataclass(frozen=True)
class _Label:
    lane: int
    at: float
    span: tuple[float, float]

    def meets(self, span: tuple[float, float]) -> bool:
        return self.span[0] < span[1] and span[0] < self.span[1]


def _lowest_lane(done: list[_Label], at: float, span: tuple[float, float]) -> int:
    highest = 1 + max((label.lane for label in done), default=-1)
    for lane in range(highest + 1):
        covered = any(label.lane == lane and label.meets(span) for label in done)
        crossed = any(label.lane >= lane and span[0] <= label.at <= span[1] for label in done)
        crossing = any(label.lane < lane and label.span[0] <= at <= label.span[1] for label in done)
        if not (covered or crossed or crossing):
            return lane
    return highest


def spaced(at_px: Sequence[float], least_px: float) -> list[bool]:
    """Which of the marks, from the left, stand far enough from the last kept one for their letters not to touch."""
    keep = [False] * len(at_px)
    last = float("-inf")
    for index in sorted(range(len(at_px)), key=lambda k: at_px[k]):
        if at_px[index] - last >= least_px:
            keep[index], last = True, at_px[index]
    return keep

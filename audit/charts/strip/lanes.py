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
    spans = [_span(at, text, width_px) for at, text in zip(at_px, texts, strict=True)]
    done: list[_Label] = []
    placed: dict[int, Placed] = {}
    # those written right of their mark first, from the right: each then meets only lines that are placed already
    for index in sorted(range(len(at_px)), key=lambda k: (spans[k].left, -at_px[k], k)):
        lane = _best_lane(done, at_px[index], spans[index])
        done.append(_Label(lane, at_px[index], spans[index]))
        placed[index] = Placed(lane, spans[index].left)
    return [placed[index] for index in range(len(at_px))]


@dataclass(frozen=True)
class _Span:
    low: float
    high: float
    left: bool

    def meets(self, other: "_Span") -> bool:
        return self.low < other.high and other.low < self.high

    def holds(self, at: float) -> bool:
        return self.low <= at <= self.high


def _span(at: float, text: str, width_px: float) -> _Span:
    need = len(text) * PX_PER_CHARACTER + GAP_PX
    if at + need > width_px and at - need >= 0:
        return _Span(at - need, at - 1, left=True)
    return _Span(at + 1, at + need, left=False)


@dataclass(frozen=True)
class _Label:
    lane: int
    at: float
    span: _Span


def _best_lane(done: list[_Label], at: float, span: _Span) -> int:
    """The lowest lane without another text and with the fewest lines through texts; mostly that is none."""
    highest = 1 + max((label.lane for label in done), default=-1)
    free = [k for k in range(highest + 1) if not any(label.lane == k and label.span.meets(span) for label in done)]

    def lines_through_texts(lane: int) -> int:
        crossed = sum(label.lane >= lane and span.holds(label.at) for label in done)
        return crossed + sum(label.lane < lane and label.span.holds(at) for label in done)

    return min(free, key=lambda lane: (lines_through_texts(lane), lane))


def spaced(at_px: Sequence[float], least_px: float) -> list[bool]:
    """Which of the marks, from the left, stand far enough from the last kept one for their letters not to touch."""
    keep = [False] * len(at_px)
    last = float("-inf")
    for index in sorted(range(len(at_px)), key=lambda k: at_px[k]):
        if at_px[index] - last >= least_px:
            keep[index], last = True, at_px[index]
    return keep

"""Put labelled marks into lanes so that no label covers another."""

from collections.abc import Iterator, Sequence
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
    width_px : width of the drawing; a label that would leave it on the right is written left of its mark, and so is one
        that would stand in such a label's line, and its own line in that text.

    Returns
    -------
    One `Placed` per label, in the order given. As many lanes as needed are used: a label is never dropped.
    """
    spans = _sides(at_px, [len(text) * PX_PER_CHARACTER + GAP_PX for text in texts], width_px)
    done: list[_Label] = []
    placed: dict[int, Placed] = {}
    for index in _in_order(at_px, spans):
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


def _sides(at_px: Sequence[float], needs: Sequence[float], width_px: float) -> list[_Span]:
    left = [at + need > width_px and at - need >= 0 for at, need in zip(at_px, needs, strict=True)]
    spans = [_span(at, need, is_left) for at, need, is_left in zip(at_px, needs, left, strict=True)]
    turned = [k for k, is_left in enumerate(left) if is_left]
    while turned:
        other = turned.pop()
        for k, (at, need) in enumerate(zip(at_px, needs, strict=True)):
            in_the_way = spans[k].holds(at_px[other]) and spans[other].holds(at)
            if not spans[k].left and in_the_way and at - need >= 0:
                spans[k] = _span(at, need, True)
                turned.append(k)
    return spans


def _span(at: float, need: float, left: bool) -> _Span:
    return _Span(at - need, at - 1, left=True) if left else _Span(at + 1, at + need, left=False)


@dataclass(frozen=True)
class _Label:
    lane: int
    at: float
    span: _Span


def _in_order(at_px: Sequence[float], spans: Sequence[_Span]) -> Iterator[int]:
    """Labels in an order in which each meets only lines that are placed already, and so can stand above them.

    Where two stand in each other's way, the first of those written right of their mark comes first.
    """
    waiting = sorted(range(len(at_px)), key=lambda k: (spans[k].left, -at_px[k], k))
    while waiting:
        free = (k for k in waiting if not any(j != k and spans[k].holds(at_px[j]) for j in waiting))
        index = next(free, waiting[0])
        waiting.remove(index)
        yield index


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

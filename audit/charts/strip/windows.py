"""Which stretch of a labour a page shows: lengths on offer, where it may start, places worth jumping to."""

from collections.abc import Sequence
from dataclasses import dataclass

from audit import words
from audit.charts.strip.types import SCALE_1, SCALE_3, PaperScale, StripWindow, fitted_window
from audit.questions.case_file import CaseFile
from audit.words import hh_mm

FIT = "Fit"
SCALES: dict[str, PaperScale] = {scale.name: scale for scale in (SCALE_1, SCALE_3)}
SCALE_NAMES = (SCALE_1.name, SCALE_3.name, FIT)
WHOLE = 0
LENGTHS_MIN = (10, 20, 30, 60, 120, 240, WHOLE)
FIT_WIDTH_PX = 960
SHORTEST_PAPER_MIN = 10
# a drawing wider than this is beyond what browsers draw well on a screen of double density
_WIDEST_PX = 8_000


@dataclass(frozen=True)
class Place:
    """Somewhere in the labour that a reviewer may want to see, with the minute the window should start at."""

    text: str
    start_min: float


def length_words(length_min: int) -> str:
    """A length as the page offers it."""
    return "whole labour" if length_min == WHOLE else f"{length_min} min"


def scale_words(scale_name: str) -> str:
    """A scale as it stands under a strip."""
    scale = SCALES.get(scale_name)
    if scale is None:
        return "Fitted to the page: not a paper scale"
    return f"Paper scale {scale.cm_per_min:g} cm/min, {scale.bpm_per_cm:g} bpm/cm (true at 96 pixels to the inch)"


def lengths_for(scale_name: str) -> list[int]:
    """The lengths that can be drawn at a scale."""
    scale = SCALES.get(scale_name)
    if scale is None:
        return list(LENGTHS_MIN)
    px_per_min = scale.window(0, 60).px_per_min
    return [length for length in LENGTHS_MIN if length != WHOLE and length * px_per_min <= _WIDEST_PX]


def first_minute(case: CaseFile) -> int:
    """The whole minute the labour starts in."""
    return int(case.start_s // 60)


def starts_for(case: CaseFile, length_min: int) -> list[int]:
    """The minutes a window may start at."""
    first = first_minute(case)
    last = int(-(-case.end_s // 60))
    if length_min == WHOLE or last - first <= length_min:
        return [first]
    return list(range(first, last - length_min + 1))


def window_for(case: CaseFile, scale_name: str, length_min: int, start_min: int) -> StripWindow:
    """The window at a scale. A whole labour is drawn to its own end."""
    start_s = start_min * 60.0
    end_s = case.end_s if length_min == WHOLE else min(start_s + length_min * 60.0, -(-case.end_s // 60) * 60.0)
    if length_min == WHOLE:
        start_s = case.start_s
    scale = SCALES.get(scale_name)
    if scale is None:
        return fitted_window(start_s, max(end_s, start_s + 60.0), FIT_WIDTH_PX)
    # a tracing of a few minutes still gets a sheet of paper that can be read
    return scale.window(start_s, max(end_s, start_s + 60.0 * SHORTEST_PAPER_MIN))


def from_brush(brushed: Sequence[float], lengths: Sequence[int], case: CaseFile) -> tuple[int, int]:
    """Start and length for a stretch dragged over the overview (minutes): the shortest length that holds it."""
    low, high = min(brushed), max(brushed)
    fixed = sorted(length for length in lengths if length != WHOLE)
    length = next((item for item in fixed if item >= high - low), WHOLE if WHOLE in lengths else fixed[-1])
    return nearest(starts_for(case, length), low), length


def nearest(starts: Sequence[int], wanted_min: float) -> int:
    """The possible start nearest to what was asked for."""
    return min(starts, key=lambda start: abs(start - wanted_min))


def places(case: CaseFile, standard: str | None, length_min: int) -> list[Place]:
    """Where to jump: start and last hour; with a standard also its concerns and the deepest deceleration."""
    found = [Place("the start", case.start_s / 60), Place("the last hour", case.end_s / 60 - 60)]
    if standard is None:
        return found
    clock = case.frame("clock")
    for row in clock[clock["standard"] == standard].itertuples():
        text = f"{words.words(str(row.trigger))}, recognisable {hh_mm(row.recognisable_s)}"
        found.append(Place(text, (row.recognisable_s - 600) / 60))
    decelerations = case.frame("decelerations")
    if not decelerations.empty:
        deepest = decelerations.loc[decelerations["depth_bpm"].idxmax()]
        text = f"deepest deceleration, {deepest['depth_bpm']:.0f} bpm at {hh_mm(float(deepest['nadir_s']))}"
        found.append(Place(text, float(deepest["nadir_s"]) / 60 - (length_min or 60) / 3))
    return found

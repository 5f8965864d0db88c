"""What stands above and below a strip on the same time axis: marks, signal not used, minute categories."""

import pandas as pd

from audit import vocabulary
from audit.charts import palette
from audit.charts.strip.lanes import PX_PER_CHARACTER
from audit.charts.strip.types import StripLayers, StripRows, StripWindow

LANE_PX = 15
BAND_ROW_PX = 20
# of a category's bar in its row, from and to, and the middle of its text, as shares from the top: the higher, the more
# severe; no edge goes through a text
BARS: dict[int, tuple[float, float, float]] = {
    0: (0.0, 1.0, 0.5), 1: (0.62, 0.96, 0.31), 2: (0.34, 0.96, 0.65), 3: (0.04, 0.96, 0.5),
}  # fmt: skip
SIDES_FROM_PX = 4.0  # a narrower bar has an edge above and below only, or it would be all edge
_REPEAT_TEXT_PX = 420


def marks_of(rows: StripRows, layers: StripLayers) -> pd.DataFrame:
    """The care events and the marks of the clock that are switched on, each with its role."""
    events = rows.events
    if layers.events and layers.clock and not events.empty and not rows.clock.empty:
        # the clock marks the birth already, and what answered
        births = set(rows.clock.loc[rows.clock["role"] == "birth", "text"])
        answers = rows.clock[rows.clock["role"] == "response"]
        answered = set(zip(answers["minute"].round(3), answers["text"], strict=True))
        said = zip(events["minute"].round(3), "response: " + events["text"], events["text"], strict=True)
        events = events[[text not in births and (minute, answer) not in answered for minute, answer, text in said]]
    parts = [
        *([events.assign(role="event")] if layers.events and not events.empty else []),
        *([rows.clock] if layers.clock and not rows.clock.empty else []),
    ]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()


def looks(marks: pd.DataFrame) -> pd.DataFrame:
    """Marks with colour, dash, width and ink of their role."""
    roles = [palette.ROLES.get(str(role), palette.ROLES["event"]) for role in marks["role"]]
    return marks.assign(
        colour=[colour for colour, _ in roles],
        thick=[1.0 if role == "event" else 1.8 for role in marks["role"]],
        ink=palette.INK,
    )


def standards_of(rows: pd.DataFrame) -> list[str]:
    """Whose minute categories the rows hold: one row of the band each, in this order."""
    held = set(rows["standard"])
    return [name for name in dict.fromkeys([*vocabulary.STANDARDS, *rows["standard"]]) if name in held]


def category_labels(drawn: pd.DataFrame, window: StripWindow) -> pd.DataFrame:
    """Where the short text of a category is written: at the start of each run that has room, repeated in long ones."""
    found: list[dict[str, object]] = []
    for row, minutes in drawn.sort_values("minute").groupby("row", sort=False):
        run = (minutes["category"] != minutes["category"].shift()).cumsum()
        for _, part in minutes.groupby(run):
            start, end = float(part["minute"].iloc[0]), float(part["end_minute"].iloc[-1])
            start = max(start, window.start_s / 60)
            category, level = str(part["category"].iloc[0]), BARS[int(part["severity"].iloc[0])][2]
            short = palette.CATEGORIES.get(category, (0, category))[1]
            width = (min(end, window.end_s / 60) - start) * window.px_per_min
            step = _REPEAT_TEXT_PX / window.px_per_min
            if width >= len(short) * PX_PER_CHARACTER + 6:
                count = 1 + int(max(0.0, width - 60) // _REPEAT_TEXT_PX)
                found += [{"row": row, "minute": start + k * step, "text": short, "level": level} for k in range(count)]
    return pd.DataFrame(found, columns=["row", "minute", "text", "level"])

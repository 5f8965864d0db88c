"""From a case file to the rows of a strip's layers, cut to a window and thinned to its pixels."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit import words
from audit.charts import palette
from audit.charts.strip.decimate import decimate, double_lone_points
from audit.charts.strip.kinds import kinds, other_length, told_by_length
from audit.charts.strip.types import StripRows, StripWindow
from audit.questions.case_file import CaseFile
from audit.tracing.types import Exclusion, Reading, Tracing
from audit.words import hh_mm

FloatArray = NDArray[np.float64]

NARROWEST_MINUTE_PX = 5.0  # below this a single minute cannot be pointed at
EXCLUSION_WORDS: dict[int, str] = {
    Exclusion.NO_SIGNAL: "no signal",
    Exclusion.OUT_OF_RANGE: "out of range",
    Exclusion.SPIKE: "spike",
    Exclusion.ISLAND: "island between gaps",
    Exclusion.HALVED: "rate halved",
    Exclusion.DOUBLED: "rate doubled",
    Exclusion.MATERNAL_RATE: "maternal rate",
    Exclusion.STUCK: "stuck value",
}
SECOND_READING = "second reading"
LANE_STEP_S = 600.0  # from one half hour of its lane to the next


def strip_rows(case: CaseFile, window: StripWindow, *, standard: str, agreed: pd.DataFrame | None = None) -> StripRows:
    """The rows of every layer of a window.

    Parameters
    ----------
    case : the case file. window : stretch and scale; lines are thinned to its pixel columns.
    standard : whose clock is drawn.
    agreed : what the meeting agreed (`audit.charts.strip.agreed`).
    """
    tracing = case.tracing
    mhr = pd.DataFrame() if tracing.mhr_bpm is None else line_rows(tracing, tracing.mhr_bpm, window, "bpm")
    reading, start = case.reading, tracing.start_s
    return StripRows(
        fhr=line_rows(tracing, tracing.fhr_bpm, window, "bpm"),
        mhr=mhr,
        toco=line_rows(tracing, tracing.toco, window, "toco"),
        baseline=pd.DataFrame() if reading is None else baseline_rows(reading, start, window),
        decelerations=deceleration_rows(within(case.frame("decelerations"), window)),
        accelerations=acceleration_rows(within(case.frame("accelerations"), window)),
        contractions=contraction_rows(within(case.frame("contractions"), window)),
        excluded=pd.DataFrame() if reading is None else _excluded(case, reading, window),
        unseen=pd.DataFrame() if reading is None else unseen_rows(reading, start, window),
        spans=_spans(case, window),
        events=event_rows(case.frame("events"), window),
        clock=clock_rows(case.frame("clock"), case.facts.get("birth_s"), window, standard),
        categories=_categories(case, window),
        agreed=pd.DataFrame() if agreed is None else agreed,
    )


def line_rows(tracing: Tracing, value: FloatArray, window: StripWindow, column: str) -> pd.DataFrame:
    """One channel of a tracing as a thinned line: minute, value."""
    time = tracing.start_s + np.arange(value.size) / tracing.sample_rate_hz
    kept_time, kept = decimate(time, value, start=window.start_s, end=window.end_s, columns=window.width_px)
    kept_time, kept = double_lone_points(kept_time, kept, step=1 / tracing.sample_rate_hz)
    return pd.DataFrame({"minute": np.round(kept_time / 60, 5), column: kept})


def within(rows: pd.DataFrame, window: StripWindow, start: str = "onset_s", end: str = "end_s") -> pd.DataFrame:
    """Rows that touch the window."""
    return rows[(rows[end] > window.start_s) & (rows[start] < window.end_s)]


def deceleration_rows(rows: pd.DataFrame) -> pd.DataFrame:
    """Decelerations with their evidence as text."""
    found = [
        {
            "minute": row.onset_s / 60,
            "end_minute": row.end_s / 60,
            "nadir_minute": row.nadir_s / 60,
            "kind": row.kind,
            "what": kinds(row) + f"{' (shallow)' if row.shallow else ''}"
            f"{', cut off where the signal begins or ends' if row.open_end else ''}"
            f"{_at_least(row)}",
            "from_to": f"{hh_mm_ss(row.onset_s)} – {hh_mm_ss(row.end_s)}",
            "depth": f"{row.depth_bpm:.0f} bpm, from {_number(row.baseline_bpm)} down to {_number(row.lowest_bpm)}",
            "lasts": duration(row.end_s - row.onset_s) + other_length(row),
            "area": f"{_number(row.area_bpm_s)} bpm·s",
            "onset_to_nadir": _seconds(row.onset_to_nadir_s),
            "judged_fall": _seconds(row.judged_fall_s)
            + (", could be abrupt or gradual" if isinstance(row.other_kind, str) and not told_by_length(row) else ""),
            "lag": "no contraction" if _unknown(row.lag_s) else f"{row.lag_s:+.0f} s",
            "toco": "usable" if row.toco_usable else "not usable here: no kind that needs it",
            "seen": _percent(row.seen_fraction),
        }
        for row in rows.itertuples()
    ]
    return pd.DataFrame(found)


def acceleration_rows(rows: pd.DataFrame) -> pd.DataFrame:
    """Accelerations with their text."""
    return pd.DataFrame(
        [
            {
                "minute": row.onset_s / 60,
                "peak_minute": row.peak_s / 60,
                "end_minute": row.end_s / 60,
                "what": f"{'overshoot after a variable deceleration' if _true(row, 'overshoot') else 'acceleration'},"
                f" {duration(row.end_s - row.onset_s)}",
                "from_to": f"{hh_mm_ss(row.onset_s)} – {hh_mm_ss(row.end_s)}",
                "height": f"{row.height_bpm:.0f} bpm",
            }
            for row in rows.itertuples()
        ]
    )


def _true(row: Any, name: str) -> bool:
    value = getattr(row, name, None)
    return not _unknown(value) and bool(value)


def _at_least(row: Any) -> str:
    return f", depth and area at least: {row.unseen_duration_s:.0f} s of it unseen" if _true(row, "at_least") else ""


def contraction_rows(rows: pd.DataFrame) -> pd.DataFrame:
    """Contractions with their text."""
    return pd.DataFrame(
        [
            {
                "minute": row.onset_s / 60,
                "peak_minute": row.peak_s / 60,
                "end_minute": row.end_s / 60,
                "what": f"contraction, {duration(row.end_s - row.onset_s)}",
                "from_to": f"{hh_mm_ss(row.onset_s)} – {hh_mm_ss(row.end_s)}",
                "peak": hh_mm_ss(row.peak_s),
                "amplitude": _number(row.amplitude),
            }
            for row in rows.itertuples()
        ]
    )


def event_rows(rows: pd.DataFrame, window: StripWindow) -> pd.DataFrame:
    """Care events in the window, one mark each; the same event in the same minute is one mark."""
    inside = rows[(rows["at_s"] >= window.start_s) & (rows["at_s"] < window.end_s)]
    found: dict[tuple[str, int], dict[str, Any]] = {}
    for row in inside.itertuples():
        text = words.words(str(row.event))
        detail = "" if _unknown(row.detail) else f": {row.detail}"
        found.setdefault(
            (text, int(row.at_s // 60)),
            {"minute": row.at_s / 60, "text": text, "what": f"{text}{detail}", "at": hh_mm_ss(row.at_s)},
        )
    return pd.DataFrame(list(found.values()))


def clock_rows(rows: pd.DataFrame, birth_s: float | None, window: StripWindow, standard: str) -> pd.DataFrame:
    """The marks of the response clock under one standard: pattern start, recognisable, target, response, birth."""
    found: list[tuple[float, str, str, str]] = []
    for row in rows[rows["standard"] == standard].itertuples():
        trigger = words.words(str(row.trigger))
        found.append((row.pattern_start_s, "pattern_start", "pattern starts", f"pattern starts: {trigger}"))
        found.append((row.recognisable_s, "recognisable", f"recognisable: {trigger}", f"recognisable: {trigger}"))
        found.append(
            (
                row.recognisable_s + 60 * row.target_minutes,
                "target",
                f"target {row.target_minutes:.0f} min",
                f"target: {trigger}",
            )
        )
        if not _unknown(row.response_s):
            event = words.words(str(row.response_event))
            found.append((row.response_s, "response", f"response: {event}", f"response: {event} ({trigger})"))
    if birth_s is not None:
        found.append((birth_s, "birth", "birth", "birth"))
    inside = {item[:3]: item for item in found if window.start_s <= item[0] <= window.end_s}
    return pd.DataFrame(
        [
            {"minute": at_s / 60, "role": role, "text": text, "what": what, "at": hh_mm_ss(at_s)}
            for at_s, role, text, what in inside.values()
        ]
    )


def category_rows(rows: pd.DataFrame, window: StripWindow) -> pd.DataFrame:
    """Minute categories in the window; `at_s` is the end of the minute."""
    inside = rows[(rows["at_s"] > window.start_s) & (rows["at_s"] - 60 < window.end_s)]
    return pd.DataFrame(
        {
            "minute": inside["at_s"] / 60 - 1,
            "end_minute": inside["at_s"] / 60,
            "at": [hh_mm(at_s) for at_s in inside["at_s"]],
            "standard": inside["standard"],
            "category": inside["category"],
            "severity": [palette.CATEGORIES.get(str(name), (0, ""))[0] for name in inside["category"]],
            "reasons": [joined(reasons) for reasons in inside["reasons"]],
        }
    )


def merged(rows: pd.DataFrame) -> pd.DataFrame:
    """Neighbouring minutes of one category as one row: where a minute is too narrow to be pointed at."""
    ordered = rows.sort_values(["standard", "minute"])
    new = (
        (ordered["category"] != ordered["category"].shift())
        | (ordered["standard"] != ordered["standard"].shift())
        | ((ordered["minute"] - ordered["end_minute"].shift()).abs() > 0.01)
    )
    found = ordered.groupby(new.cumsum()).agg(
        minute=("minute", "first"),
        end_minute=("end_minute", "last"),
        at=("at", "first"),
        last=("at", "last"),
        standard=("standard", "first"),
        category=("category", "first"),
        severity=("severity", "first"),
        reasons=("reasons", "first"),
    )
    return found.assign(
        at=[
            first if first == last else f"{first} to {last}"
            for first, last in zip(found["at"], found["last"], strict=True)
        ],
        reasons=[
            reasons if first == last else f"{reasons} (at {first})"
            for first, last, reasons in zip(found["at"], found["last"], found["reasons"], strict=True)
        ],
    ).reset_index(drop=True)


def unseen_rows(reading: Reading, start_s: float, window: StripWindow) -> pd.DataFrame:
    """Runs of samples that were missing or not used, wide enough to be drawn (half a pixel)."""
    code = reading.exclusion
    edges = np.flatnonzero(np.diff(code, prepend=code[:1] + 1, append=code[-1:] + 1)) if code.size else np.empty(0, int)
    starts, stops = edges[:-1], edges[1:]
    keep = code[starts] != Exclusion.ACCEPTED
    rate = reading.sample_rate_hz
    narrowest_s = 0.5 * 60 / window.px_per_min
    found = []
    for first, stop in zip(starts[keep], stops[keep], strict=True):
        low, high = start_s + first / rate, start_s + stop / rate
        if high > window.start_s and low < window.end_s and high - low >= narrowest_s:
            found.append(
                {
                    "minute": low / 60,
                    "end_minute": high / 60,
                    "why": EXCLUSION_WORDS[int(code[first])],
                    "from_to": f"{hh_mm_ss(low)} – {hh_mm_ss(high)}",
                    "lasts": duration(high - low),
                }
            )
    return pd.DataFrame(found)


def joined(reasons: Sequence[str] | float | None) -> str:
    """Reasons as one text."""
    if reasons is None or isinstance(reasons, float) or len(reasons) == 0:
        return "no criterion met"
    return "; ".join(str(reason) for reason in reasons)


def duration(seconds: float) -> str:
    """Seconds as text a reader takes in: seconds up to two minutes, then minutes and seconds."""
    if seconds < 120:
        return f"{seconds:.0f} s"
    whole = round(seconds)
    return f"{whole // 60} min {whole % 60:02d} s"


def hh_mm_ss(seconds: float) -> str:
    """Seconds from zero as hh:mm:ss."""
    if math.isnan(seconds):
        return "not known"
    whole = round(abs(seconds))
    return f"{'-' if seconds < 0 and whole else ''}{whole // 3600:02d}:{whole % 3600 // 60:02d}:{whole % 60:02d}"


def _categories(case: CaseFile, window: StripWindow) -> pd.DataFrame:
    rows = category_rows(case.frame("minutes"), window)
    rows = merged(rows) if window.px_per_min < NARROWEST_MINUTE_PX and not rows.empty else rows
    lane = second_reading_rows(case.frame("second_reading_lane"), window)
    return rows if lane.empty else pd.concat([rows, lane], ignore_index=True)


def second_reading_rows(rows: pd.DataFrame, window: StripWindow) -> pd.DataFrame:
    """The second reading's half hours as a row of the categories: each at its last ten minutes."""
    inside = rows[(rows["end_s"] > window.start_s) & (rows["end_s"] - LANE_STEP_S < window.end_s)]
    return pd.DataFrame(
        [
            {
                "minute": (row.end_s - LANE_STEP_S) / 60,
                "end_minute": row.end_s / 60,
                "at": f"half hour {hh_mm(row.start_s)} – {hh_mm(row.end_s)}",
                "standard": SECOND_READING,
                "category": row.category,
                "severity": palette.CATEGORIES[str(row.category)][0],
                "reasons": f"normal {row.normal_fraction:.0%}, suspicious {row.suspicious_fraction:.0%}, pathological"
                f" {row.pathological_fraction:.0%} of the experts; by rules {row.rules_category}",
            }
            for row in inside.itertuples()
        ]
    )


def baseline_rows(reading: Reading, start_s: float, window: StripWindow) -> pd.DataFrame:
    second = start_s + np.arange(reading.baseline_drawn_1hz.size) + 0.5
    inside = (second >= window.start_s) & (second < window.end_s)
    stated = ~np.isnan(reading.baseline_1hz[inside])
    level, second = reading.baseline_drawn_1hz[inside], second[inside]
    if level.size == 0:
        return pd.DataFrame()
    # a slow line: one point a pixel, and both sides of every change between stated and drawn through
    step = max(1, int(60 / window.px_per_min))
    keep = np.zeros(level.size, dtype=bool)
    keep[::step] = keep[-1] = True
    turns = np.flatnonzero(np.diff(stated))
    keep[turns] = keep[np.minimum(turns + 1, level.size - 1)] = True
    return pd.DataFrame({"minute": second[keep] / 60, "bpm": level[keep], "stated": stated[keep]})


def _excluded(case: CaseFile, reading: Reading, window: StripWindow) -> pd.DataFrame:
    rate = reading.sample_rate_hz
    time = case.tracing.start_s + np.arange(reading.exclusion.size) / rate
    parts = []
    for code in np.unique(reading.exclusion):
        if code in (Exclusion.ACCEPTED, Exclusion.NO_SIGNAL):
            continue
        value = np.where(reading.exclusion == code, case.tracing.fhr_bpm, np.nan)
        kept_time, kept = decimate(time, value, start=window.start_s, end=window.end_s, columns=window.width_px)
        real = ~np.isnan(kept)
        parts.append(
            pd.DataFrame({"minute": kept_time[real] / 60, "bpm": kept[real], "why": EXCLUSION_WORDS[int(code)]})
        )
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()


def all_spans(case: CaseFile) -> pd.DataFrame:
    """Named stretches of the whole labour: sinusoidal runs, cautions, level changes."""
    return _spans(case, StripWindow(case.start_s, max(case.end_s, case.start_s + 60), 1.0))


def _spans(case: CaseFile, window: StripWindow) -> pd.DataFrame:
    found = []
    start = case.tracing.start_s
    for run in case.reading.sinusoidal if case.reading is not None else ():
        found.append((start + run.start_s, start + run.end_s, "sinusoidal"))
    for caution in case.reading.cautions if case.reading is not None else ():
        found.append((start + caution.start_s, start + caution.end_s, caution.short))
    for row in case.frame("level_changes").itertuples():
        text = f"level change {_number(row.from_bpm)} to {_number(row.to_bpm)}"
        text += ", or a deceleration" if isinstance(row.other_kind, str) else ""
        found.append((row.onset_s, row.end_s, text))
    return pd.DataFrame(
        [
            {
                "minute": max(low, window.start_s) / 60,
                "end_minute": min(high, window.end_s) / 60,
                "text": text,
                "from_to": f"{hh_mm_ss(low)} – {hh_mm_ss(high)}",
            }
            for low, high, text in found
            if high > window.start_s and low < window.end_s
        ]
    )


def _unknown(value: Any) -> bool:
    return value is None or bool(pd.isna(value))


def _number(value: Any) -> str:
    return "not known" if _unknown(value) else f"{value:.0f}"


def _seconds(value: Any) -> str:
    return "not known" if _unknown(value) else f"{value:.0f} s"


def _percent(fraction: Any) -> str:
    return "not known" if _unknown(fraction) else f"{100 * fraction:.0f} %"

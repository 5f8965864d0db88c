"""A strip for the screen: the whole tracing as compact numbers, with what was found on it, made once per labour.

Layout, little-endian: 4 bytes with the length of the head, the head as UTF-8 JSON padded to a multiple of 4, then the
channels one after the other, each padded likewise. The head names each channel with its kind, its place after the head
(`at`, bytes) and its length (`n`). A `u16` holds hundredths: value = number / 100 + `zero`, 65535 = no signal. The
browser cuts, thins and draws from it (`dashboards/strip_viewer`), so that a step asks the server nothing.
"""

import dataclasses
import json
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit import house_style, words
from audit.charts import palette
from audit.charts.strip.bands import standards_of
from audit.charts.strip.concerns import concerns
from audit.charts.strip.rows import (
    EXCLUSION_WORDS,
    acceleration_rows,
    all_spans,
    category_rows,
    clock_rows,
    contraction_rows,
    deceleration_rows,
    event_rows,
    second_reading_rows,
)
from audit.charts.strip.types import (
    CSS_PX_PER_CM,
    FHR_HIGHEST_BPM,
    FHR_LOWEST_BPM,
    SCALE_1,
    SCALE_3,
    TOCO_HIGHEST,
    TOCO_LOWEST,
    StripWindow,
)
from audit.questions.case_file import CaseFile
from audit.tracing.types import Reading, Tracing

FloatArray = NDArray[np.float64]
NO_SIGNAL = 65_535
# a toco may lie below zero: what is stored reaches from -100 to 555
TOCO_ZERO = -100.0
_ONE_PX_PER_S = 60.0
# names by which the browser finds colours and letters
_LOOKED_UP = frozenset({"kind", "role", "letter", "standard"})


@dataclass(frozen=True)
class Channel:
    """Numbers of equal spacing: name, code of the kind, first one's time (s), rate, what is added to each."""

    name: str
    start_s: float
    rate_hz: float
    values: NDArray[Any]
    zero: float = 0.0


def case_payload(case: CaseFile, standard: str) -> bytes:
    """One fetus's labour, with what was found on it; `standard` : whose clock is told."""
    tracing = case.tracing
    channels = _lines(tracing, tracing.start_s)
    for name, other in case.others.items():
        channels += _lines(other, other.start_s, f"_{name}")
    head = {**_head(case.start_s, case.end_s), "others": list(case.others)}
    head["look"] |= _look_of_findings()
    head["findings"] = _findings(case, standard)
    if case.reading is not None:
        channels += _reading_channels(case.reading, tracing.start_s)
    return packed(head, channels)


def bare_payload(tracing: Tracing, start_s: float, end_s: float) -> bytes:
    """The strip of a blind reading: its own samples, its time counted from its own start, and nothing else."""
    rate = tracing.sample_rate_hz
    first = max(0, round((start_s - tracing.start_s) * rate))
    stop = max(first, round((end_s - tracing.start_s) * rate))
    part = dataclasses.replace(
        tracing, fhr_bpm=tracing.fhr_bpm[first:stop], toco=tracing.toco[first:stop], mhr_bpm=None
    )
    begins_s = tracing.start_s + first / rate - start_s
    return packed(_head(0.0, end_s - start_s), _lines(part, begins_s))


def packed(head: dict[str, Any], channels: list[Channel]) -> bytes:
    """Head and channels as one block of bytes."""
    parts, places, at = [], [], 0
    for channel in channels:
        block = channel.values.astype(channel.values.dtype.newbyteorder("<")).tobytes()
        kind = {2: "u16", 1: "u8"}[channel.values.dtype.itemsize]
        places.append(
            {
                "name": channel.name, "kind": kind, "at": at, "n": int(channel.values.size),
                "start_s": channel.start_s, "rate_hz": channel.rate_hz, "zero": channel.zero,
            }
        )  # fmt: skip
        parts.append(block + b"\0" * (-len(block) % 4))
        at += len(parts[-1])
    text = json.dumps({**head, "channels": places}, separators=(",", ":"), allow_nan=False).encode()
    text += b" " * (-len(text) % 4)
    return len(text).to_bytes(4, "little") + text + b"".join(parts)


def hundredths(values: FloatArray, zero: float = 0.0) -> NDArray[np.uint16]:
    """Values as hundredths above `zero`; NaN is `NO_SIGNAL`, what cannot be held is cut to what can."""
    numbers = np.clip(np.round((values - zero) * 100), 0, NO_SIGNAL - 1)
    return np.where(np.isnan(values), NO_SIGNAL, numbers).astype(np.uint16)


def _head(start_s: float, end_s: float) -> dict[str, Any]:
    """What every strip has: its stretch, the paper, the colours."""
    return {
        "start_s": start_s,
        "end_s": end_s,
        "findings": None,
        "scales": [dataclasses.asdict(scale) for scale in (SCALE_1, SCALE_3)],
        "px_per_cm": CSS_PX_PER_CM,
        "fhr": [FHR_LOWEST_BPM, FHR_HIGHEST_BPM],
        "toco": [TOCO_LOWEST, TOCO_HIGHEST],
        "look": {
            "ink": palette.INK, "quiet": palette.QUIET_INK, "light": palette.PAPER_LIGHT, "heavy": palette.PAPER_HEAVY,
            "font": palette.FONT,
        },
    }  # fmt: skip


def _look_of_findings() -> dict[str, Any]:
    """Colours and dashes of what is laid over a strip; a blind one knows none of their names."""
    return {
        "kinds": palette.KINDS, "roles": palette.ROLES, "severities": palette.SEVERITY_COLOURS,
        "edge": palette.EDGE,
        "unused": palette.UNUSED, "lost": palette.LOST, "heart": palette.OTHER_HEART, "baseline": palette.BASELINE,
        "acceleration": palette.ACCELERATION, "contraction": palette.CONTRACTION,
    }  # fmt: skip


def _lines(tracing: Tracing, start_s: float, suffix: str = "") -> list[Channel]:
    rate = tracing.sample_rate_hz
    found = [Channel(f"fhr{suffix}", start_s, rate, hundredths(tracing.fhr_bpm))]
    if not suffix:
        found.append(Channel("toco", start_s, rate, hundredths(tracing.toco, TOCO_ZERO), TOCO_ZERO))
        if tracing.mhr_bpm is not None:
            found.append(Channel("mhr", start_s, rate, hundredths(tracing.mhr_bpm)))
    return found


def _reading_channels(reading: Reading, start_s: float) -> list[Channel]:
    stated = (~np.isnan(reading.baseline_1hz)).astype(np.uint8)
    return [
        Channel("baseline", start_s + 0.5, 1.0, hundredths(reading.baseline_drawn_1hz)),
        Channel("stated", start_s + 0.5, 1.0, stated),
        Channel("exclusion", start_s, reading.sample_rate_hz, reading.exclusion),
        Channel("variability", start_s, 1 / 60, hundredths(reading.variability_1min)),
    ]


def _findings(case: CaseFile, standard: str) -> dict[str, Any]:
    """Everything that is laid over the strip on request; times in minutes from the case's zero."""
    whole = StripWindow(case.start_s - 86_400, case.end_s + 86_400, _ONE_PX_PER_S)
    minutes = category_rows(case.frame("minutes"), whole)
    lane = second_reading_rows(case.frame("second_reading_lane"), whole)
    found = {
        "standard": words.standard_name(standard),
        "decelerations": plain_rows(deceleration_rows(case.frame("decelerations"))),
        "accelerations": plain_rows(acceleration_rows(case.frame("accelerations"))),
        "contractions": plain_rows(contraction_rows(case.frame("contractions"))),
        "spans": plain_rows(all_spans(case)),
        "events": plain_rows(event_rows(case.frame("events"), whole)),
        "clock": plain_rows(clock_rows(case.frame("clock"), case.facts.get("birth_s"), whole, standard)),
        "concerns": concerns(case, standard),
        "categories": [*_lanes(minutes), *_lanes(lane)],
        "exclusions": EXCLUSION_WORDS,
    }
    return house_style.everywhere(found, but=_LOOKED_UP)


def _lanes(rows: pd.DataFrame) -> list[dict[str, Any]]:
    """A lane per standard: each minute's end, category and reasons; texts stand once and are named by number."""
    if rows.empty:
        return []
    found = []
    for standard in standards_of(rows):
        own = rows[rows["standard"] == standard].sort_values("minute")
        texts = list(dict.fromkeys(own["reasons"]))
        place = {text: k for k, text in enumerate(texts)}
        found.append(
            {
                "standard": standard,
                "name": words.standard_name(standard),
                "from": [round(minute, 4) for minute in own["minute"]],
                "to": [round(minute, 4) for minute in own["end_minute"]],
                "category": own["category"].tolist(),
                "severity": own["severity"].tolist(),
                "short": [palette.CATEGORIES.get(str(name), (0, str(name)))[1] for name in own["category"]],
                "reasons": [place[text] for text in own["reasons"]],
                "texts": texts,
            }
        )
    return found


def plain_rows(rows: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows as mappings that JSON can hold."""
    return [
        {
            str(name): None if pd.isna(value) else round(float(value), 5) if isinstance(value, float) else value
            for name, value in row.items()
        }
        for row in rows.to_dict("records")
    ]

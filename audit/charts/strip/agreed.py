"""The meeting's own clock as rows of a strip's lane: agreed minutes and acts, and events struck out or added."""

from typing import Any

import pandas as pd

from audit import words
from audit.charts.strip.rows import hh_mm_ss
from audit.people.agreed import Agreed

POINT = "point"  # a minute; the other roles are the deeds of a mark and last from minute to end_minute


def agreed_rows(agreed: Agreed | None) -> pd.DataFrame:
    """minute, end_minute, role, text, what of everything that has a time; no row where nothing was agreed."""
    if agreed is None:
        return pd.DataFrame()
    points = (
        (agreed.from_s, f"{agreed.category or 'category'} from here"),
        (agreed.recognisable_s, "recognisable"),
        (agreed.first_act_s, f"first act: {words.words(agreed.first_act_event or '')}"),
        (agreed.escalation_s, f"escalation: {words.words(agreed.escalation_event or '')}"),
    )
    found: dict[float, list[str]] = {}
    for at_s, text in points:
        if at_s is not None:
            found.setdefault(at_s, []).append(text)
    rows: list[dict[str, Any]] = [
        _row(at_s, at_s, POINT, text := _joined(texts), f"agreed: {text}") for at_s, texts in sorted(found.items())
    ]
    for mark in agreed.marks:
        kind = f"{mark.deceleration} {mark.kind}" if mark.deceleration else words.words(mark.kind)
        what = f"{kind} {words.words(mark.deed)} by the meeting ({words.words(mark.reason)})"
        rows.append(_row(mark.start_s, mark.end_s, mark.deed, "", what))
    return pd.DataFrame(rows)


def _joined(texts: list[str]) -> str:
    """What was agreed for one minute; an act that is first act and escalation at once is named once."""
    acts = [text.partition(": ")[2] for text in texts if ": " in text]
    if len(acts) == 2 and acts[0] == acts[1]:
        texts = [*texts[:-2], f"first act and escalation: {acts[0]}"]
    return ", ".join(texts)


def _row(start_s: float, end_s: float, role: str, text: str, what: str) -> dict[str, Any]:
    place = {"minute": start_s / 60, "end_minute": end_s / 60, "at": hh_mm_ss(start_s)}
    return {**place, "role": role, "text": text, "what": what}

"""How much of a tracing, or of a month, nothing can be said of: in words, for page and pack alike."""

import pandas as pd

from audit.words import standard_name


def of_case(hidden: pd.DataFrame, burden: pd.DataFrame) -> str:
    """What is hidden of one tracing: signal of the last 30 minutes, and minutes without a category.

    `hidden` are the rows of `case/hidden`, `burden` those of `case/burden`. "" for a tracing that was not read.
    """
    if hidden.empty:
        return ""
    last = burden[burden["span"] == "last_30_min"]
    signal = ""
    if not last.empty and last.iloc[0]["span_minutes"] > 0:
        row = last.iloc[0]
        lost = max(0.0, 1.0 - float(row["seen_minutes"]) / float(row["span_minutes"]))
        signal = (
            f"Of the heart rate of the last {row['span_minutes']:.0f} minutes {lost:.0%} is hidden{_of_the_end(row)}. "
        )
    parts = []
    for row in hidden.itertuples():
        words = f"{standard_name(str(row.standard))} {row.last_refused_minutes} of {row.last_minutes}"
        words += f" ({row.refused_minutes / row.minutes:.0%} of the whole tracing)"
        if row.last_open_minutes:
            words += f", and {row.last_open_minutes} with something that cannot be said"
        parts.append(words)
    return f"{signal}Last minutes without a category: {'; '.join(parts)}."


def _of_the_end(row: pd.Series) -> str:
    """How much of the loss is monitoring that had ended, and what was lost at the bedside."""
    after, bedside = row.get("after_monitoring_minutes"), row.get("bedside_loss_fraction")
    if pd.isna(after) or after < 1:
        return ""
    words = f", {after:.0f} min of it after monitoring had ended (both transducers off)"
    return words if pd.isna(bedside) else f"{words}; while it ran, {bedside:.0%} was lost at the bedside"


def of_month(hidden: pd.DataFrame, *, with_counts: bool = True) -> str:
    """What is hidden of a month's tracings; `hidden` are the rows of `month/hidden`. "" where nothing was read.

    `with_counts` false leaves out how many tracings: a small number could point at one.
    """
    parts = []
    for row in hidden.itertuples():
        words = f"{standard_name(str(row.standard))} {row.refused_minutes / row.minutes:.0%} of all minutes"
        if with_counts:
            words += f", half or more of the last 30 in {row.tracings_half_hidden} of {row.tracings} tracings"
        parts.append(words)
    return f"Without a category: {'; '.join(parts)}." if parts else ""

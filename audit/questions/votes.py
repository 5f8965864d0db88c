"""How many of those who could be asked call a concern late: one sentence, the same wherever it is said. Pure."""

from collections.abc import Mapping
from typing import Any

from audit.words import RECOGNISABLE_AT

NOBODY = "not assessable: neither a standard nor a reader can say"


def sentence(row: Mapping[str, Any]) -> str:
    """'late or unanswered under 2 of 5 clocks', with the spread of the waits where there are two or more.

    `row`: of the query `response/delays`. Its clocks are the standards that could be assessed at that time and the
    readers who read it; one that finds nothing there counts among them and against.
    """
    if not row["clocks"]:
        return NOBODY
    text = f"late or unanswered under {counted(row)} clock{'' if row['clocks'] == 1 else 's'}"
    if row["clocks_with_response"] >= 2:
        low, high = row["minutes_to_response_min"], row["minutes_to_response_max"]
        text += f", answered {_when(low)} to {_when(high)} recognition"
    return text


def otherwise(row: Mapping[str, Any]) -> str:
    """'Recognisable at 03:12, or 03:40 if ...' where it hangs on falls at a limit; empty where nothing does."""
    told = [words for words in row["reasons"] if words.startswith(RECOGNISABLE_AT)]
    text = "; ".join(told)
    return text[:1].upper() + text[1:]


def _when(minutes: float) -> str:
    return f"{-minutes:.0f} min before" if minutes <= -0.5 else f"{abs(minutes):.0f} min after"


def counted(row: Mapping[str, Any]) -> str:
    """'2 of 5'."""
    return f"{row['late_under']} of {row['clocks']}"

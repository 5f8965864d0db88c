"""Cautions of a reading beside the categories that rest on what is doubtful."""

from collections.abc import Sequence

import numpy as np

from audit.standards.types import FloatArray, IntArray
from audit.tracing.types import Reading


def caution_notes(
    reading: Reading,
    at_s: FloatArray,
    codes: IntArray,
    window_s: float,
    otherwise: IntArray | None,
    words: Sequence[str],
) -> dict[int, list[str]]:
    """What to know of the category of a mark, by mark.

    Parameters
    ----------
    reading : the reading of the whole tracing. Not modified.
    at_s, codes : arrays, shape (n,): the marks and their categories, 0 = the mildest, -1 = none.
    window_s : how far back the category of a mark looks, s.
    otherwise : array, shape (n,): the categories under the other level of a doubtful baseline; None = none doubtful.
    words : the word of each code, the last for -1.

    Notes
    -----
    A doubtful baseline is said of every category but the mildest (decelerations and baseline are what made it one) and
    wherever the other level gives another category, with that category. That the rate could be the mother's is said of
    every category there, a mild one most of all.
    """
    notes: dict[int, list[str]] = {}
    for caution in reading.cautions:
        here = (at_s > caution.start_s) & (at_s - window_s < caution.end_s)
        if caution.kind == "baseline_doubtful":
            here &= (codes > 0) | (codes != (codes if otherwise is None else otherwise))
        elif caution.kind == "maternal_rate_suspected":
            here &= at_s <= caution.end_s + 60.0
        else:
            continue
        for mark in np.flatnonzero(here).tolist():
            notes.setdefault(mark, []).append(caution.short)
            if caution.kind == "baseline_doubtful" and otherwise is not None and otherwise[mark] != codes[mark]:
                notes[mark].append(f"with the baseline at {caution.other_bpm:.0f} bpm: {words[otherwise[mark]]}")
    return notes

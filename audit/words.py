"""Coded names in words, for every page, pack, slide and terminal alike."""

import math
from typing import Final


def hh_mm(seconds: float) -> str:
    """Seconds from zero as hh:mm, rounded down to the minute; before zero with a minus sign."""
    if math.isnan(seconds):
        return "not known"
    whole = math.floor(abs(seconds) / 60 + 1e-9)
    return f"{'-' if seconds < 0 and whole else ''}{whole // 60:02d}:{whole % 60:02d}"


def counted(count: int, noun: str, *, are: bool = False) -> str:
    """A number and its noun, in the plural unless it is one; `are`: with 'is' or 'are' behind."""
    verb = (" is" if count == 1 else " are") if are else ""
    return f"{count:,} {noun}{'' if count == 1 else 's'}{verb}"


# How the reason begins by which an episode tells another time of recognition (`analysis/clock.py`).
RECOGNISABLE_AT: Final = "recognisable at "
# What a time or a concern hangs on, after 'if'.
TAKEN_AS: Final[dict[str, str]] = {
    "abrupt": "the falls near 30 s were all abrupt",
    "gradual": "the falls near 30 s were all gradual",
    "longer": "decelerations near a limit of length were all longer",
    "shorter": "decelerations near a limit of length were all shorter",
}

STANDARD_NAMES: Final[dict[str, str]] = {
    "nichd-2008": "NICHD 2008",
    "figo-2015": "FIGO 2015",
    "nice-ng229": "NICE NG229",
    "figo-1986": "FIGO 1986",
}


# status of a response -> its words
STATUSES: Final[dict[str, str]] = {
    "in_time": "answered in time",
    "late": "answered late",
    "none_recorded": "no response recorded",
    "under_way": "decision for birth already in force",
    "resolved": "resolved before a response",
    "born_first": "born before a response",
    "not_assessable": "not assessable",
}


# what an import did with what it remarked on -> its words
SEVERITIES: Final[dict[str, str]] = {"rejected": "kept out", "flagged": "remark"}


def standard_name(standard: str) -> str:
    """The name of a standard as a reader writes it; an unknown one is shown as it is."""
    return STANDARD_NAMES.get(standard, standard)


def status_words(status: str) -> str:
    """A response status in words; an unknown one is shown as it is."""
    return STATUSES.get(status, status.replace("_", " "))


# figures called after those who published them, and what is no plain word -> as they are written
NAMED: Final[dict[str, str]] = {
    "fleiss_kappa": "Fleiss' kappa",
    "krippendorff_alpha_nominal": "Krippendorff's alpha, nominal",
    "krippendorff_alpha_ordinal": "Krippendorff's alpha, ordinal",
    "krippendorff_alpha_interval": "Krippendorff's alpha, interval",
    "gwet_ac1": "Gwet's AC1",
    "gwet_ac2": "Gwet's AC2",
    "brennan_prediger": "Brennan-Prediger coefficient",
    "jaccard_agreement": "Jaccard agreement",
}
_UPPER: Final = frozenset({"ii", "iii", "iv"})


def words(name: str) -> str:
    """A coded name (`senior_at_bedside`) in words."""
    if name in NAMED:
        return NAMED[name]
    return " ".join(word.upper() if word in _UPPER else word for word in name.split("_"))


def number_of(count: int, thing: str) -> str:
    """A count with what is counted, whose plural ends in s."""
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"

"""Which channel a recording's signal is, by the name that its file gives it. Trade words, no single source."""

import re
from typing import Literal

from audit.measures.cord_gas import MMHG_PER_KPA

Channel = Literal["fhr_bpm", "toco", "mhr_bpm"]

_FHR = re.compile(r"(?:fetal[ _]?)?(?:fhr|heart[ _]?rate)[ _]?([12AB])?", re.IGNORECASE)
_MHR = re.compile(r"(?:mhr|maternal[ _]?(?:hr|heart[ _]?rate))", re.IGNORECASE)
_TOCO = re.compile(r"(?:uc|ua|toco|uterine[ _]?(?:activity|contractions?|pressure)|iup)", re.IGNORECASE)
_FETUS = {"": "A", "1": "A", "2": "B", "A": "A", "B": "B"}
IN_KPA = "is in kPa and stored in mmHg"
_RATE_UNITS = ("", "bpm", "beats/min", "beats/minute", "1/min", "/min", "{beats}/min", "min-1")


def channel(name: str) -> tuple[Channel, str] | None:
    """The channel and its fetus (`A` for what belongs to none), or None for a signal that is none of ours."""
    text = name.strip()
    if _TOCO.fullmatch(text):
        return "toco", "A"
    if _MHR.fullmatch(text):
        return "mhr_bpm", "A"
    match = _FHR.fullmatch(text)
    return ("fhr_bpm", _FETUS[(match[1] or "").upper()]) if match else None


def toco_factor(unit: str) -> float:
    """By what uterine activity in a unit is multiplied to be as it is stored: kPa become mmHg, all others stay."""
    return MMHG_PER_KPA if unit.strip().casefold() == "kpa" else 1.0


def is_rate_unit(unit: str) -> bool:
    """Is it a unit in which a heart rate is given here, or none?"""
    return unit.strip().casefold() in _RATE_UNITS

"""NICHD 2008, adopted by ACOG practice bulletins 106 (2009) and 116 (2010): three categories.

Source throughout: Macones et al., Obstet Gynecol 2008;112:661-6, as reproduced in secondary tables; lines marked
`from_memory` have not been held against the original. The persistence rule for category II is the published
algorithm of Clark et al., Am J Obstet Gynecol 2013;209:89-97 (figures from memory).

What the standard leaves open, and what is chosen here (settings of the same names):

* it gives no number for absent variability: `variability_absent`;
* it gives no minimum depth or length for early and late decelerations: `late_minimum_depth`;
* it gives no length of time for a category: decelerations count over `class_window_min`, baseline and variability over
  10 minutes; where the last `short_class_window_min` alone would give another category, the reasons say so;
* '50 % of contractions in any 20 minutes' of how many contractions: `minimum_contractions`;
* rounding: the baseline is rounded to 5 bpm before it is classed (`round_baseline_to_bpm`), halves upwards.

Bedside teaching calls a strip 'variable' when early and late decelerations mix, and ranks the kinds. The standard does
neither: each deceleration has its own kind, and the category follows from the criteria alone.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.standards.basics import rounded
from audit.standards.falls import Falls
from audit.standards.types import (
    BoolArray,
    FloatArray,
    IntArray,
    Threshold,
    limits_in_force,
)

NAME = "nichd-2008"
LEVELS = ("I", "II", "III")
_TABLE = "NICHD 2008 (Macones), table of definitions"
_TIERS = "NICHD 2008 / ACOG PB 106, three-tier criteria"
_CLARK = "Clark 2013, category II algorithm"

THRESHOLDS = (
    # Baseline
    Threshold("baseline_identified", ">= 120", "s", "identifiable baseline in 10 minutes", _TABLE),
    Threshold("tachycardia", "> 160", "bpm", "baseline above the normal range", _TABLE),
    Threshold("bradycardia", "< 110", "bpm", "baseline below the normal range", _TABLE),
    Threshold("baseline_change", ">= 600", "s", "a departure this long is a baseline change", _TABLE),
    # Variability
    Threshold("variability_absent", "< 2", "bpm", "undetectable; the standard gives no number", "our choice"),
    Threshold("variability_minimal", "<= 5", "bpm", "detectable up to this amplitude", _TABLE),
    Threshold("variability_marked", "> 25", "bpm", "above this amplitude", _TABLE),
    # Accelerations
    Threshold("acceleration_height", ">= 15", "bpm", "peak above baseline from 32 weeks", _TABLE),
    Threshold("acceleration_duration", ">= 15", "s", "length from 32 weeks", _TABLE),
    Threshold("preterm", "< 32", "weeks", "before this age the smaller acceleration counts", _TABLE),
    Threshold("preterm_acceleration_height", ">= 10", "bpm", "peak above baseline before 32 weeks", _TABLE),
    Threshold("preterm_acceleration_duration", ">= 10", "s", "length before 32 weeks", _TABLE),
    Threshold("prolonged_acceleration", ">= 120", "s", "prolonged from this length, up to a baseline change", _TABLE),
    # Decelerations
    Threshold("gradual", ">= 30", "s", "onset to nadir; below is abrupt", _TABLE),
    Threshold("variable_depth", ">= 15", "bpm", "depth of a variable deceleration", _TABLE),
    Threshold("variable_duration", ">= 15", "s", "length of a variable deceleration", _TABLE),
    Threshold("prolonged_depth", ">= 15", "bpm", "depth of a prolonged deceleration", _TABLE),
    Threshold("prolonged_duration", ">= 120", "s", "length of a prolonged deceleration", _TABLE),
    Threshold("late_minimum_depth", ">= 0", "bpm", "no minimum for late and early ones", "NICHD 2008 is silent"),
    Threshold("recurrent", ">= 0.5", "fraction", "share of contractions in 20 minutes", _TABLE),
    # Sinusoidal pattern
    Threshold("sinusoidal_duration", ">= 20", "min", "smooth sine-like baseline for this long", _TABLE),
    Threshold("sinusoidal_slowest", ">= 3", "cycles/min", "slowest rate", _TABLE),
    Threshold("sinusoidal_fastest", "<= 5", "cycles/min", "fastest rate", _TABLE),
    # Uterine activity
    Threshold("tachysystole", "> 5", "per 10 min", "contractions averaged over 30 minutes", _TABLE),
    # Persistence of category II
    Threshold("clark_duration", "> 60", "s", "length of a significant variable deceleration", _CLARK, True),
    Threshold("clark_depth", "> 60", "bpm", "its depth, or", _CLARK, True),
    Threshold("clark_lowest", "< 60", "bpm", "its lowest rate", _CLARK, True),
    Threshold("clark_recurrent", ">= 0.5", "fraction", "share of contractions with a significant one", _CLARK, True),
    Threshold("clark_without", ">= 30", "min", "without moderate variability or accelerations", _CLARK, True),
    Threshold("clark_with", ">= 60", "min", "with moderate variability or accelerations", _CLARK, True),
    Threshold("trigger_prolonged", ">= 180", "s", "a fall that has lasted this long starts the clock", "our choice"),
)


def edition(table: Mapping[str, Any]) -> str:
    """The edition in force, as printed with results."""
    return str(table["edition"])


def acceleration_kind(
    height_bpm: float, duration_s: float, gestation_weeks: float | None, table: Mapping[str, Any]
) -> str:
    """What a rise is: 'acceleration', 'prolonged', 'baseline change', or 'none' when it is too small or too short.

    Without a gestational age the rule for 32 weeks and over applies. Source: Macones 2008, definitions.
    """
    limits = limits_in_force(THRESHOLDS, table)
    preterm = gestation_weeks is not None and limits["preterm"].met_by(gestation_weeks)
    prefix = "preterm_" if preterm else ""
    tall = limits[f"{prefix}acceleration_height"].met_by(height_bpm)
    if not (tall and limits[f"{prefix}acceleration_duration"].met_by(duration_s)):
        return "none"
    if limits["baseline_change"].met_by(duration_s):
        return "baseline change"
    return "prolonged" if limits["prolonged_acceleration"].met_by(duration_s) else "acceleration"


def deceleration_kinds(falls: Falls, table: Mapping[str, Any]) -> NDArray[np.str_]:
    """Kind of each fall, '' where the standard does not count it.

    The reading's own kinds are those of NICHD 2008 (shape first, then timing); here the standard's least depth and
    length are put on them. A level change younger than 10 minutes is 'prolonged' from its second minute.
    """
    limits = limits_in_force(THRESHOLDS, table)
    kind = np.array(falls.kind, dtype="U12")
    depth = rounded(falls.depth_bpm, 1.0)  # in whole bpm, as the reading does
    gradual = np.isin(kind, ("early", "late", "unclassified"))
    counted = np.where(gradual, limits["late_minimum_depth"].met(depth), ~falls.shallow)
    variable = limits["variable_depth"].met(depth) & limits["variable_duration"].met(falls.duration_s)
    counted &= (kind != "variable") | variable
    prolonged = limits["prolonged_depth"].met(depth) & limits["prolonged_duration"].met(falls.duration_s)
    counted &= (kind != "prolonged") | prolonged
    return np.where(counted, kind, "").astype("U12")


def significant_variable(falls: Falls, table: Mapping[str, Any]) -> BoolArray:
    """Which variable decelerations are significant: over 60 s, and over 60 bpm deep or below 60 bpm (Clark 2013)."""
    limits = limits_in_force(THRESHOLDS, table)
    deep = limits["clark_depth"].met(falls.depth_bpm) | limits["clark_lowest"].met(falls.lowest_bpm)
    long_enough = limits["clark_duration"].met(falls.duration_s)
    result: BoolArray = deep & long_enough & (deceleration_kinds(falls, table) == "variable")
    return result


def variability_class(variability_bpm: FloatArray, table: Mapping[str, Any]) -> IntArray:
    """Class of each amplitude: 0 absent, 1 minimal, 2 moderate, 3 marked, -1 unknown.

    Absent is judged on the measured value, the others after rounding (`round_variability_to_bpm`), because the standard
    leaves a gap between 5 and 6 bpm.
    """
    limits = limits_in_force(THRESHOLDS, table)
    value = rounded(variability_bpm, float(table["round_variability_to_bpm"]))
    result = np.where(limits["variability_minimal"].met(value), 1, 2)
    result = np.where(limits["variability_marked"].met(value), 3, result)
    result = np.where(limits["variability_absent"].met(variability_bpm), 0, result)
    return np.where(np.isfinite(variability_bpm), result, -1).astype(np.int64)

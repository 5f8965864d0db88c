"""NICHD 2008, adopted by ACOG practice bulletins 106 (2009) and 116 (2010): three categories.

Source throughout: Macones et al., Obstet Gynecol 2008;112:661-6, as reproduced in secondary tables; lines marked
`from_memory` have not been held against the original. The persistence rule for category II is the published
algorithm of Clark et al., Am J Obstet Gynecol 2013;209:89-97 (figures from memory).

What the standard leaves open, and what is chosen here (settings of the same names):

* it gives no number for absent variability: `variability_absent`;
* it gives no minimum depth or length for early and late decelerations: `late_minimum_depth`;
* it gives no length of time for a category: decelerations count over `class_window_min`, baseline and variability over
  10 minutes; where the last `short_class_window_min` alone would give another category, the reasons say so;
* `cannot_say`: a gradual deceleration is early or late by its contraction; where the toco does not tell, 'II' follows
  from the text (I has no late ones, II is all that is neither I nor III), 'not assessable' refuses a category;
* '50 % of contractions in any 20 minutes' of how many contractions: `minimum_contractions`;
* rounding: the baseline is rounded to 5 bpm before it is classed (`round_baseline_to_bpm`), halves upwards.

Bedside teaching calls a strip 'variable' when early and late decelerations mix, and ranks the kinds. The standard does
neither: each deceleration has its own kind, and the category follows from the criteria alone.
"""

from collections.abc import Callable
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from audit.setting_types import (
    BpmLimit,
    CyclesLimit,
    FractionLimit,
    Minutes,
    MinutesLimit,
    PerTenMinutesLimit,
    RateLimit,
    RoundedTo,
    SecondsLimit,
    Unfit,
    WeeksLimit,
)
from audit.standards.basics import acceleration_of, rounded
from audit.standards.falls import Falls
from audit.standards.settings import RecurrenceSettings, check_limits
from audit.standards.types import BoolArray, FloatArray, IntArray, Threshold
from audit.vocabulary import NICHD_TIERS

NAME = "nichd-2008"
LEVELS = NICHD_TIERS
_TABLE = "NICHD 2008 (Macones), table of definitions"
_CLARK = "Clark 2013, category II algorithm"

THRESHOLDS = (
    # Baseline
    Threshold("baseline_identified", ">= 120", "s", "identifiable baseline in 10 minutes", _TABLE),
    Threshold("tachycardia", "> 160", "bpm", "baseline above the normal range", _TABLE),
    Threshold("bradycardia", "< 110", "bpm", "baseline below the normal range", _TABLE),
    # Variability
    Threshold("variability_absent", "< 3", "bpm", "undetectable; the standard gives no number", "our choice"),
    Threshold("variability_minimal", "<= 5", "bpm", "detectable up to this amplitude", _TABLE),
    Threshold("variability_marked", "> 25", "bpm", "above this amplitude", _TABLE),
    # Accelerations
    Threshold("acceleration_height", ">= 15", "bpm", "peak above baseline from 32 weeks", _TABLE),
    Threshold("acceleration_duration", ">= 15", "s", "length from 32 weeks", _TABLE),
    Threshold("preterm", "< 32", "weeks", "before this age the smaller acceleration counts", _TABLE),
    Threshold("preterm_acceleration_height", ">= 10", "bpm", "peak above baseline before 32 weeks", _TABLE),
    Threshold("preterm_acceleration_duration", ">= 10", "s", "length before 32 weeks", _TABLE),
    # Decelerations
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
    Threshold("clark_observed", ">= 60", "min", "without either and without significant ones", _CLARK, True),
    Threshold("trigger_prolonged", ">= 180", "s", "a fall that has lasted this long starts the clock", "our choice"),
)

_ASCENDING = (
    ("bradycardia", "tachycardia"),
    ("variability_absent", "variability_minimal"),
    ("variability_minimal", "variability_marked"),
    ("sinusoidal_slowest", "sinusoidal_fastest"),
    ("variable_duration", "prolonged_duration"),
)
# before 32 weeks less is enough, and what reassures lets wait no shorter
_NOT_ABOVE = (
    ("preterm_acceleration_height", "acceleration_height"),
    ("preterm_acceleration_duration", "acceleration_duration"),
    ("prolonged_duration", "trigger_prolonged"),
    ("clark_without", "clark_with"),
)


class Nichd2008Settings(RecurrenceSettings, frozen=True):
    """The table `[nichd-2008]`; limits as `THRESHOLDS` lists them."""

    round_baseline_to_bpm: RoundedTo
    recurrence_window_min: Minutes
    short_class_window_min: Minutes
    cannot_say: Literal["II", "not assessable"]
    tachycardia: RateLimit
    bradycardia: RateLimit
    variability_absent: BpmLimit
    variability_minimal: BpmLimit
    variability_marked: BpmLimit
    acceleration_height: BpmLimit
    acceleration_duration: SecondsLimit
    preterm: WeeksLimit
    preterm_acceleration_height: BpmLimit
    preterm_acceleration_duration: SecondsLimit
    variable_depth: BpmLimit
    variable_duration: SecondsLimit
    prolonged_depth: BpmLimit
    prolonged_duration: SecondsLimit
    late_minimum_depth: BpmLimit
    recurrent: FractionLimit
    sinusoidal_duration: MinutesLimit
    sinusoidal_slowest: CyclesLimit
    sinusoidal_fastest: CyclesLimit
    tachysystole: PerTenMinutesLimit
    clark_duration: SecondsLimit
    clark_depth: BpmLimit
    clark_lowest: RateLimit
    clark_recurrent: FractionLimit
    clark_without: MinutesLimit
    clark_with: MinutesLimit
    clark_observed: MinutesLimit
    trigger_prolonged: SecondsLimit

    def __post_init__(self) -> None:
        """Refuse limits that contradict each other, or whose operator points the other way. Raises Unfit."""
        check_limits(self, THRESHOLDS, ascending=_ASCENDING, not_above=_NOT_ABOVE)
        if self.short_class_window_min > self.class_window_min:
            raise Unfit("short_class_window_min", self.short_class_window_min, f"at most {self.class_window_min:g} min")


def acceleration_counts(settings: Nichd2008Settings, gestation_weeks: float | None) -> Callable[[float, float], bool]:
    """Whether a rise of so many bpm and seconds is an acceleration. Source: Macones 2008, definitions.

    Without a gestational age the rule for 32 weeks and over applies.
    """
    preterm = gestation_weeks is not None and settings.preterm.met_by(gestation_weeks)
    prefix = "preterm_" if preterm else ""
    return acceleration_of(*(settings.limit(f"{prefix}acceleration_{of}") for of in ("height", "duration")))


def deceleration_kinds(falls: Falls, settings: Nichd2008Settings) -> NDArray[np.str_]:
    """Kind of each fall, '' where the standard does not count it.

    The reading's own kinds are those of NICHD 2008 (shape first, then timing); here the standard's least depth and
    length are put on them. A level change younger than 10 minutes is 'prolonged' from its second minute.
    """
    kind = np.array(falls.kind, dtype="U12")
    depth = rounded(falls.depth_bpm, 1.0)  # in whole bpm, as the reading does
    gradual = np.isin(kind, ("early", "late", "unclassified"))
    counted = np.where(gradual, settings.late_minimum_depth.met(depth), ~falls.shallow)
    variable = settings.variable_depth.met(depth) & settings.variable_duration.met(falls.duration_s)
    counted &= (kind != "variable") | variable
    prolonged = settings.prolonged_depth.met(depth) & settings.prolonged_duration.met(falls.duration_s)
    counted &= (kind != "prolonged") | prolonged
    return np.where(counted, kind, "").astype("U12")


def significant_variable(falls: Falls, settings: Nichd2008Settings) -> BoolArray:
    """Which variable decelerations are significant: over 60 s, and over 60 bpm deep or below 60 bpm (Clark 2013)."""
    deep = settings.clark_depth.met(falls.depth_bpm) | settings.clark_lowest.met(falls.lowest_bpm)
    long_enough = settings.clark_duration.met(falls.duration_s)
    result: BoolArray = deep & long_enough & (deceleration_kinds(falls, settings) == "variable")
    return result


def variability_class(variability_bpm: FloatArray, settings: Nichd2008Settings) -> IntArray:
    """Class of each amplitude: 0 absent, 1 minimal, 2 moderate, 3 marked, -1 unknown.

    All are judged after rounding (`round_variability_to_bpm`): the standard leaves a gap between 5 and 6 bpm, and what
    is printed for absent elsewhere, under 3, is in whole bpm.
    """
    value = rounded(variability_bpm, settings.round_variability_to_bpm)
    result = np.where(settings.variability_minimal.met(value), 1, 2)
    result = np.where(settings.variability_marked.met(value), 3, result)
    result = np.where(settings.variability_absent.met(value), 0, result)
    return np.where(np.isfinite(variability_bpm), result, -1).astype(np.int64)

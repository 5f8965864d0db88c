"""FIGO 2015 consensus guidelines on intrapartum fetal monitoring: normal, suspicious, pathological.

Source throughout: Ayres-de-Campos, Spong, Chandraharan, Int J Gynaecol Obstet 2015;131:13-24, as reproduced in
secondary tables; lines marked `from_memory` have not been held against the original. Its limits are mostly strict
(> and <).

What the guideline leaves open, and what is chosen here (settings of the same names):

* `late_shape`: a late deceleration has a gradual onset 'and/or' a gradual return 'and/or' reduced variability inside.
  'or' is the literal text; 'onset' asks for the gradual onset or the reduced variability; 'and' for onset and return;
* `late_timing`: where the shape is that of a late one but the timing against the contraction fails, 'timing' leaves it
  unclassified, as the definition asks for both; 'shape' calls it late. Without usable toco the shape alone decides;
* `single_prolonged`: one deceleration of more than 3 and at most 5 minutes is not repetitive, so read literally it
  leaves the class normal ('normal'); 'suspicious' counts it as lacking a normal feature;
* `low_variability_suspicious_min`: variability under 5 bpm for 50 minutes or less is not 'reduced', yet not within 5 to
  25 bpm either; 0 calls it suspicious from the first minute, as the text reads;
* `cannot_say`: decelerations that would be repetitive if each had a contraction, where the toco cannot be used:
  'suspicious', because the class is normal only with 'no repetitive decelerations', and suspicious is what lacks a
  characteristic of normality; 'not assessable' refuses a class. Never normal;
* `window_rule`: how a class holds over a window: its worst minute or its end.

Bedside teaching calls a strip 'variable' when early and late decelerations mix, and ranks the kinds. The guideline does
neither: each deceleration has its own kind, and the class follows from the criteria alone.
"""

from typing import Literal

import numpy as np

from audit.setting_types import (
    BpmLimit,
    CyclesLimit,
    FractionLimit,
    Minutes,
    MinutesLimit,
    PerTenMinutesLimit,
    RateLimit,
    RoundedTo,
    Seconds,
    SecondsLimit,
    WholeMinutes,
)
from audit.standards.basics import rounded
from audit.standards.falls import Falls
from audit.standards.settings import RecurrenceSettings, check_limits
from audit.standards.types import FloatArray, IntArray, Threshold
from audit.vocabulary import THREE_TIERS

NAME = "figo-2015"
LEVELS = THREE_TIERS
KINDS = ("none", "early", "variable", "late", "prolonged", "unclassified")
NONE, EARLY, VARIABLE, LATE, PROLONGED, UNCLASSIFIED = range(len(KINDS))
_TERMS = "FIGO 2015, definitions"
_CLASSES = "FIGO 2015, classification table"

THRESHOLDS = (
    # Baseline
    Threshold("baseline_identified", ">= 120", "s", "identifiable baseline in 10 minutes", "as NICHD 2008; our choice"),
    Threshold("tachycardia", "> 160", "bpm", "baseline above the normal range for more than 10 min", _TERMS),
    Threshold("bradycardia", "< 110", "bpm", "baseline below the normal range for more than 10 min", _TERMS),
    Threshold("baseline_pathological", "< 100", "bpm", "pathological baseline", _CLASSES),
    # Variability
    Threshold("variability_reduced", "< 5", "bpm", "below the normal bandwidth", _TERMS),
    Threshold("reduced_duration", "> 50", "min", "reduced at the baseline for this long", _TERMS),
    Threshold("reduced_inside_duration", "> 180", "s", "reduced inside a deceleration for this long", _TERMS),
    Threshold("variability_increased", "> 25", "bpm", "above the normal bandwidth", _TERMS),
    Threshold("increased_duration", "> 30", "min", "increased for this long", _TERMS),
    # Accelerations
    Threshold("acceleration_height", "> 15", "bpm", "amplitude", _TERMS),
    Threshold("acceleration_duration", "> 15", "s", "length", _TERMS),
    # Decelerations
    Threshold("deceleration_depth", "> 15", "bpm", "amplitude", _TERMS),
    Threshold("deceleration_duration", "> 15", "s", "length", _TERMS),
    Threshold("gradual_return", "> 30", "s", "nadir to baseline", _TERMS),
    Threshold("late_onset_lag", "> 20", "s", "onset after the contraction's onset", _TERMS),
    Threshold("shallow_late_depth", ">= 10", "bpm", "late, no accelerations, reduced variability", _TERMS, True),
    Threshold("prolonged", "> 180", "s", "length of a prolonged deceleration", _TERMS),
    Threshold("repetitive", "> 0.5", "fraction", "share of contractions", _TERMS),
    Threshold("repetitive_duration", "> 30", "min", "repetitive late or prolonged for this long", _CLASSES),
    Threshold("repetitive_duration_reduced", "> 20", "min", "the same with reduced variability", _CLASSES),
    Threshold("single_deceleration", "> 300", "s", "one deceleration of this length", _CLASSES),
    # Sinusoidal pattern
    Threshold("sinusoidal_duration", "> 30", "min", "smooth undulating signal for this long", _TERMS, True),
    Threshold("sinusoidal_smallest", ">= 5", "bpm", "smallest amplitude", _TERMS, True),
    Threshold("sinusoidal_largest", "<= 15", "bpm", "largest amplitude", _TERMS, True),
    Threshold("sinusoidal_slowest", ">= 3", "cycles/min", "slowest rate", _TERMS, True),
    Threshold("sinusoidal_fastest", "<= 5", "cycles/min", "fastest rate", _TERMS, True),
    # Contractions
    Threshold("tachysystole", "> 5", "per 10 min", "in two successive periods, or over 30 minutes", _TERMS, True),
    Threshold("suspicious_persistent", ">= 30", "min", "a suspicious class this long starts the clock", "our choice"),
)

_ASCENDING = (
    ("baseline_pathological", "bradycardia"),
    ("bradycardia", "tachycardia"),
    ("variability_reduced", "variability_increased"),
    ("prolonged", "single_deceleration"),
    ("sinusoidal_slowest", "sinusoidal_fastest"),
    ("sinusoidal_smallest", "sinusoidal_largest"),
    ("deceleration_duration", "prolonged"),
)
# with reduced variability less is enough
_NOT_ABOVE = (("repetitive_duration_reduced", "repetitive_duration"), ("shallow_late_depth", "deceleration_depth"))


class Figo2015Settings(RecurrenceSettings, frozen=True):
    """The table `[figo-2015]`; limits as `THRESHOLDS` lists them."""

    round_baseline_to_bpm: RoundedTo
    repetitive_window_min: Minutes
    early_tolerance_s: Seconds
    late_shape: Literal["or", "onset", "and"]
    late_timing: Literal["shape", "timing"]
    single_prolonged: Literal["normal", "suspicious"]
    low_variability_suspicious_min: Minutes
    variability_gap_min: WholeMinutes
    cannot_say: Literal["suspicious", "not assessable"]
    tachycardia: RateLimit
    bradycardia: RateLimit
    baseline_pathological: RateLimit
    variability_reduced: BpmLimit
    reduced_duration: MinutesLimit
    reduced_inside_duration: SecondsLimit
    variability_increased: BpmLimit
    increased_duration: MinutesLimit
    acceleration_height: BpmLimit
    acceleration_duration: SecondsLimit
    deceleration_depth: BpmLimit
    deceleration_duration: SecondsLimit
    gradual_return: SecondsLimit
    late_onset_lag: SecondsLimit
    shallow_late_depth: BpmLimit
    prolonged: SecondsLimit
    repetitive: FractionLimit
    repetitive_duration: MinutesLimit
    repetitive_duration_reduced: MinutesLimit
    single_deceleration: SecondsLimit
    sinusoidal_duration: MinutesLimit
    sinusoidal_smallest: BpmLimit
    sinusoidal_largest: BpmLimit
    sinusoidal_slowest: CyclesLimit
    sinusoidal_fastest: CyclesLimit
    tachysystole: PerTenMinutesLimit
    suspicious_persistent: MinutesLimit

    def __post_init__(self) -> None:
        """Refuse limits that contradict each other, or whose operator points the other way. Raises Unfit."""
        check_limits(self, THRESHOLDS, ascending=_ASCENDING, not_above=_NOT_ABOVE)


def deceleration_kinds(
    falls: Falls, variability_bpm: FloatArray, accelerations: FloatArray, settings: Figo2015Settings
) -> IntArray:
    """Kind of each fall by shape first, then timing: index into `KINDS`.

    `falls`: the falls of a reading. `variability_bpm`: shape (n_falls,), bpm around each fall, NaN = unknown (then no
    shallow one is counted). `accelerations`: shape (n_falls,), number of accelerations in the 30 minutes before each
    fall. `table`: the settings settings, for the limits and the choices named in this module's docstring.

    Longer than 3 minutes is prolonged. Gradual and coincident with the contraction's peak is early; other gradual ones,
    or with reduced variability inside, are late; the rest are variable (FIGO 2015, definitions). Late ones start more
    than 20 s after the contraction's onset, with the nadir after its peak and the end after its end: where the toco is
    usable one that does not, or goes with no contraction, is not late. What is gradual: `falls_of`. A change of level
    from a tachycardia into the normal range is no deceleration.
    """
    reduced_around = settings.variability_reduced.met(rounded(variability_bpm, settings.round_variability_to_bpm))
    counted = settings.deceleration_depth.met(falls.depth_bpm) & settings.deceleration_duration.met(falls.duration_s)
    shallow = ~counted & settings.shallow_late_depth.met(falls.depth_bpm) & reduced_around & (accelerations == 0)
    shallow &= settings.deceleration_duration.met(falls.duration_s)
    gradual_onset = falls.gradual
    gradual_return = settings.gradual_return.met(falls.return_s)
    flat = settings.variability_reduced.met(falls.variability_inside_bpm)
    choice = settings.late_shape
    if choice == "or":
        late_shaped = gradual_onset | gradual_return | flat
    elif choice == "onset":
        late_shaped = gradual_onset | flat
    else:
        late_shaped = (gradual_onset & gradual_return) | flat
    timed = falls.toco_usable & np.isfinite(falls.lag_s)
    early = gradual_onset & ~flat & timed & (np.abs(falls.lag_s) <= settings.early_tolerance_s)
    on_time = settings.late_onset_lag.met(falls.onset_lag_s) & (falls.lag_s > 0)
    on_time &= falls.end_s > falls.contraction_end_s
    fails = falls.toco_usable & ~(timed & on_time) & (settings.late_timing == "timing")
    kind = np.where(late_shaped, np.where(fails, UNCLASSIFIED, LATE), VARIABLE)
    kind = np.where(early, EARLY, kind)
    kind = np.where(shallow & ((kind != LATE) | early), NONE, kind)
    kind = np.where(counted & settings.prolonged.met(falls.duration_s), PROLONGED, kind)
    ended = falls.from_level & falls.from_tachycardia(settings.tachycardia, settings.bradycardia)
    return np.where((counted | shallow) & ~ended, kind, NONE).astype(np.int64)

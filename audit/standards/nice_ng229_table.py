"""NICE guideline NG229, fetal monitoring in labour: four features, white, amber or red, and three categories.

Source throughout: NICE NG229 (December 2022) and its later amendment of recommendation 1.4.24 (date not seen), both by
way of published summaries; lines marked `from_memory` have not been held against the original. Three texts:
'cg190-2017', the guideline before NG229 (`audit.standards.nice_cg190`); 'december-2022'; and 'amended', in which any
late deceleration is red and late ones leave the amber row. A labour is read by the text in force in its month of birth
(`editions`; a labour without a month by `edition_without_month`, one before the first text by that), unless `edition`
names one text for all.

What the guideline leaves open, and what is chosen here (settings of the same names):

* `repetitive_concerning`: 'repetitive variable decelerations with any concerning characteristics': 'concerning' counts
  the concerning ones against the contractions, 'variable' counts all variable ones and asks for one concerning;
* `exactly_30_min`: the text says 'less than' and 'more than' 30 minutes; exactly 30 is in neither ('amber' or 'red');
* `abrupt_late`: an abrupt deceleration whose nadir comes late: shape first ('variable') or timing first ('late');
* `slow_return`: 'slow return to the baseline' has no number; it is given that of FIGO 2015 for a gradual return;
* `shoulder`: 'loss of earlier shouldering' has none either: the rate before and after a deceleration rises so far above
  the baseline; lost when neither side does so though the variable ones before it did (`audit.standards.shoulders`);
* `cannot_say`: a gradual deceleration is early (begun before the contraction's peak, over by the contraction's end) or
  late (nadir more than 20 s after the peak, over after the contraction); one between the two, or without usable toco,
  is neither. Where that decides, 'suspicious' takes it as the guideline takes a baseline that cannot be determined
  (amber, but it does not count towards two ambers), 'not assessable' refuses a category. Never normal;
* `contractions_averaged_min`: over how many minutes contractions per 10 minutes are averaged;
* `baseline_review_min`: a rise is measured against the first baseline and against that of the last hourly review.

Bedside teaching calls a strip 'variable' when early and late decelerations mix, and ranks the kinds. The guideline does
neither: each deceleration has its own kind, and the category follows from the criteria alone.
"""

from itertools import pairwise
from typing import Literal

import numpy as np
from msgspec import structs

from audit.setting_types import (
    BpmLimit,
    CyclesLimit,
    FractionLimit,
    Minutes,
    MinutesLimit,
    PerTenMinutesLimit,
    RateLimit,
    Seconds,
    SecondsLimit,
    Unfit,
    WholeMinutes,
)
from audit.standards.basics import rounded
from audit.standards.falls import Falls
from audit.standards.settings import InForce, RecurrenceSettings, check_limits
from audit.standards.types import BoolArray, FloatArray, IntArray, Threshold
from audit.vocabulary import THREE_TIERS

NAME = "nice-ng229"
LEVELS = THREE_TIERS
FORMER = "cg190-2017"
EDITIONS = (FORMER, "december-2022", "amended")
AMBER, RED = 1, 2
KINDS = ("none", "early", "variable", "late", "prolonged", "untyped")
NONE, EARLY, VARIABLE, LATE, PROLONGED, UNTYPED = range(len(KINDS))
_TERMS = "NG229, definitions"
_TABLE = "NG229, table of features"
_FORMER = "CG190 (2017), table of features"

THRESHOLDS = (
    # Contractions
    Threshold("contractions_amber", ">= 5", "per 10 min", "amber, reducing rest", _TABLE, True),
    Threshold("hypertonus", ">= 120", "s", "amber: length of a contraction", _TABLE, True),
    # Baseline
    Threshold("baseline_identified", ">= 120", "s", "identifiable baseline in 10 minutes", "as NICHD 2008; our choice"),
    Threshold("baseline_red_low", "< 100", "bpm", "red", _TABLE),
    Threshold("baseline_amber_low", "< 110", "bpm", "amber, 100 to 109", _TABLE),
    Threshold("baseline_red_high", "> 160", "bpm", "red", _TABLE),
    Threshold("baseline_rise", ">= 20", "bpm", "amber: rise since the start or the last hourly review", _TABLE),
    # Variability
    Threshold("variability_low", "< 5", "bpm", "reduced", _TABLE),
    Threshold("low_amber", ">= 30", "min", "amber from, up to 50", _TABLE),
    Threshold("low_red", "> 50", "min", "red", _TABLE),
    Threshold("variability_high", "> 25", "bpm", "increased; amber up to 10 min", _TABLE, True),
    Threshold("high_amber", ">= 3", "min", "amber from; one wide minute is not a finding", "our choice"),
    Threshold("high_red", "> 10", "min", "red", _TABLE),
    Threshold("sinusoidal_duration", ">= 10", "min", "red; the guideline gives no length", "our choice", True),
    Threshold("sinusoidal_slowest", ">= 3", "cycles/min", "slowest rate", "as NICHD 2008; our choice", True),
    Threshold("sinusoidal_fastest", "<= 5", "cycles/min", "fastest rate", "as NICHD 2008; our choice", True),
    # Accelerations, of which a shallow deceleration must have none before it
    Threshold("acceleration_height", ">= 15", "bpm", "amplitude", _TERMS, True),
    Threshold("acceleration_duration", ">= 15", "s", "length", _TERMS, True),
    # Decelerations
    Threshold("deceleration_depth", "> 15", "bpm", "amplitude", _TERMS),
    Threshold("deceleration_duration", ">= 15", "s", "length", _TERMS),
    Threshold(
        "shallow_depth", ">= 10", "bpm", "counted when variability is reduced and nothing accelerates", _TERMS, True
    ),
    Threshold("late_lag", "> 20", "s", "nadir after the contraction's peak", _TERMS, True),
    Threshold("concerning_duration", "> 60", "s", "length of a concerning variable deceleration", _TERMS),
    Threshold("slow_return", "> 30", "s", "nadir to baseline: a slow return", "as FIGO 2015; our choice", True),
    Threshold("shoulder", ">= 5", "bpm", "rise before and after a variable deceleration", "our choice", True),
    Threshold("prolonged", ">= 180", "s", "red: one deceleration, or acute bradycardia", _TABLE),
    Threshold("repetitive", "> 0.5", "fraction", "share of contractions", _TERMS, True),
    Threshold("long_pattern", "> 30", "min", "red for repetitive ones, amber for the others", _TABLE),
    Threshold("short_pattern", "< 30", "min", "amber for repetitive ones", _TABLE),
    # CG190 (2017), where it differs
    Threshold("former_red_high", "> 180", "bpm", "abnormal; from 161 on non-reassuring", _FORMER),
    Threshold("former_high_amber", ">= 15", "min", "increased variability: non-reassuring, up to 25", _FORMER),
    Threshold("former_high_red", "> 25", "min", "increased variability: abnormal", _FORMER),
    Threshold("former_plain_variable", ">= 90", "min", "variable ones without concern: non-reassuring", _FORMER),
    Threshold("former_long", ">= 30", "min", "concerning and late ones: abnormal, or non-reassuring", _FORMER),
    Threshold(
        "suspicious_persistent", ">= 60", "min", "suspicious to the next hourly review starts the clock", "our choice"
    ),
)

_ASCENDING = (
    ("baseline_red_low", "baseline_amber_low"),
    ("baseline_amber_low", "baseline_red_high"),
    ("variability_low", "variability_high"),
    ("low_amber", "low_red"),
    ("high_amber", "high_red"),
    ("baseline_red_high", "former_red_high"),
    ("former_high_amber", "former_high_red"),
    ("sinusoidal_slowest", "sinusoidal_fastest"),
    ("deceleration_duration", "prolonged"),
    ("concerning_duration", "prolonged"),
)
_NOT_ABOVE = (("shallow_depth", "deceleration_depth"),)


class NiceNg229Settings(RecurrenceSettings, frozen=True):
    """The table `[nice-ng229]`; limits as `THRESHOLDS` lists them."""

    edition: Literal["by month of birth", "cg190-2017", "december-2022", "amended"]
    edition_without_month: Literal["cg190-2017", "december-2022", "amended"]
    editions: dict[str, InForce]
    repetitive_window_min: Minutes
    early_tolerance_s: Seconds
    repetitive_concerning: Literal["concerning", "variable"]
    exactly_30_min: Literal["amber", "red"]
    abrupt_late: Literal["variable", "late"]
    cannot_say: Literal["suspicious", "not assessable"]
    hypertonus_counts: bool
    contractions_averaged_min: Minutes
    baseline_review_min: WholeMinutes
    variability_gap_min: WholeMinutes
    contractions_amber: PerTenMinutesLimit
    hypertonus: SecondsLimit
    baseline_red_low: RateLimit
    baseline_amber_low: RateLimit
    baseline_red_high: RateLimit
    baseline_rise: BpmLimit
    variability_low: BpmLimit
    low_amber: MinutesLimit
    low_red: MinutesLimit
    variability_high: BpmLimit
    high_amber: MinutesLimit
    high_red: MinutesLimit
    sinusoidal_duration: MinutesLimit
    sinusoidal_slowest: CyclesLimit
    sinusoidal_fastest: CyclesLimit
    acceleration_height: BpmLimit
    acceleration_duration: SecondsLimit
    deceleration_depth: BpmLimit
    deceleration_duration: SecondsLimit
    shallow_depth: BpmLimit
    late_lag: SecondsLimit
    concerning_duration: SecondsLimit
    slow_return: SecondsLimit
    shoulder: BpmLimit
    prolonged: SecondsLimit
    repetitive: FractionLimit
    long_pattern: MinutesLimit
    short_pattern: MinutesLimit
    former_red_high: RateLimit
    former_high_amber: MinutesLimit
    former_high_red: MinutesLimit
    former_plain_variable: MinutesLimit
    former_long: MinutesLimit
    suspicious_persistent: MinutesLimit

    def __post_init__(self) -> None:
        """Refuse limits that contradict each other, or whose operator points the other way. Raises Unfit."""
        check_limits(self, THRESHOLDS, ascending=_ASCENDING, not_above=_NOT_ABOVE)
        if self.short_pattern.value != self.long_pattern.value:
            # a pattern between the two would be neither, one of both lengths both
            raise Unfit("short_pattern", str(self.short_pattern), f"the number of long_pattern ({self.long_pattern})")
        if self.contractions_averaged_min not in (10, 30):
            raise Unfit("contractions_averaged_min", self.contractions_averaged_min, "10 or 30 (min)")
        if sorted(self.editions) != sorted(EDITIONS):
            raise Unfit("editions", ", ".join(self.editions), f"the tables {', '.join(EDITIONS)}")
        for name, later in pairwise(EDITIONS):
            first, then = self.editions[name], self.editions[later]
            if not first.last_month or first.last_month >= then.first_month:
                raise Unfit("editions", then.first_month, f"{later} from a month after {first.last_month or 'never'}")

    def for_month(self, period: str | None) -> "NiceNg229Settings":
        """The settings with the text in force for a birth in that month; None is a birth without a month.

        A month before the first text is read by the first, one between two by the former, one after the last by the
        last.
        """
        if self.edition in EDITIONS:
            return self
        if period is None:
            return structs.replace(self, edition=self.edition_without_month)
        began = [name for name in EDITIONS if self.editions[name].first_month <= period]
        return structs.replace(self, edition=began[-1] if began else EDITIONS[0])

    @property
    def printed_edition(self) -> str:
        """The text in force, with its months; of settings that hold for several months, all texts."""
        listed = EDITIONS if self.edition not in EDITIONS else (self.edition,)
        return "; ".join(f"{name}, {self.editions[name].words}" for name in listed)


def deceleration_kinds(
    falls: Falls, variability_bpm: FloatArray, accelerations: FloatArray, settings: NiceNg229Settings
) -> IntArray:
    """Kind of each fall: index into `KINDS`.

    `falls`: the falls of a reading. `variability_bpm`: shape (n_falls,), bpm around each fall, NaN = unknown (then no
    shallow one is counted). `accelerations`: shape (n_falls,), number of accelerations in the 30 minutes before each
    fall. `settings`: the limits and the choices named in this module's docstring.

    Three minutes or more is prolonged. A gradual one is late with its nadir more than 20 s after the contraction's peak
    and its end after the contraction's; early when it begins before the peak and is back at the baseline by the
    contraction's end (NG229, definitions, from memory), where a nadir at the peak is given twice the tolerance at the
    end; without usable toco, or in between, it stays untyped. Variable ones may be shallower where variability is
    reduced, late ones where nothing accelerates either. A change of level from a tachycardia into the normal range is
    no deceleration.
    """
    reduced = settings.variability_low.met(rounded(variability_bpm, settings.round_variability_to_bpm))
    long_enough = settings.deceleration_duration.met(falls.duration_s)
    counted = settings.deceleration_depth.met(falls.depth_bpm) & long_enough
    shallow = ~counted & long_enough & settings.shallow_depth.met(falls.depth_bpm) & reduced
    timed = falls.toco_usable & np.isfinite(falls.lag_s)
    lagging = timed & settings.late_lag.met(falls.lag_s) & (falls.end_s > falls.contraction_end_s)
    tolerance_s, after_s = settings.early_tolerance_s, falls.end_s - falls.contraction_end_s
    coincident = (np.abs(falls.lag_s) <= tolerance_s) & (after_s <= 2 * tolerance_s)
    coincident |= (falls.lag_s < falls.onset_to_nadir_s) & (after_s <= tolerance_s)
    kind = np.where(lagging, LATE, np.where(timed & coincident, EARLY, UNTYPED))
    abrupt = np.where(lagging & (settings.abrupt_late == "late"), LATE, VARIABLE)
    kind = np.where(falls.gradual, kind, abrupt)
    shallow &= (kind == VARIABLE) | (accelerations == 0)
    kind = np.where(counted & settings.prolonged.met(falls.duration_s), PROLONGED, kind)
    ended = falls.from_level & falls.from_tachycardia(settings.baseline_red_high, settings.baseline_amber_low)
    return np.where((counted | shallow) & ~ended, kind, NONE).astype(np.int64)


def concerning_falls(
    falls: Falls, kind: IntArray, settings: NiceNg229Settings, *, shoulders_lost: BoolArray | None = None
) -> BoolArray:
    """Which variable decelerations have a concerning characteristic.

    Longer than 60 s; reduced variability inside; a slow return to the baseline, or loss of earlier shouldering (these
    two from memory; `shoulders_lost`, shape (n_falls,), is what `audit.standards.shoulders` found).
    """
    result = settings.concerning_duration.met(falls.duration_s)
    result |= settings.variability_low.met(falls.variability_inside_bpm)
    result |= settings.slow_return.met(falls.way_back_s)
    if shoulders_lost is not None:
        result |= shoulders_lost
    chosen: BoolArray = result & (kind == VARIABLE)
    return chosen

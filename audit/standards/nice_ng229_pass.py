"""One pass of NICE NG229 over the marks of one reading: kinds of its falls, how they recur, what a window shows."""

import numpy as np

from audit.setting_types import Limit
from audit.standards.basics import acceleration_of, rounded
from audit.standards.nice_ng229_table import (
    FORMER,
    LATE,
    NAME,
    VARIABLE,
    NiceNg229Settings,
    concerning_falls,
    deceleration_kinds,
)
from audit.standards.patterns import Recurrence, accompanied_by, recurrence, unplaced
from audit.standards.seen import ACCELERATIONS_MIN, Seen
from audit.standards.shoulders import SIDE_S, shouldering_lost
from audit.standards.types import BoolArray, FloatArray, IntArray


class Pass:
    """One pass of the guideline over the marks of one reading."""

    def __init__(self, seen: Seen, at_s: FloatArray, floor_s: float, settings: NiceNg229Settings) -> None:
        self.seen, self.settings = seen, settings
        self.basics = seen.basics(at_s, floor_s, settings)
        self.variability = rounded(self.basics.variability_bpm, settings.round_variability_to_bpm)
        self.amended, self.former = settings.edition == "amended", settings.edition == FORMER
        self.falls, self.pairs = seen.falls_with_shallow
        self.kind, self.concerning, self.known_s, self.concerning_known_s = seen.once(NAME, settings, self._kinds)

    def _kinds(self) -> tuple[IntArray, BoolArray, FloatArray, FloatArray]:
        """Kind of each fall, whether it is concerning, and when either could be recognised, s."""
        falls, settings = self.falls, self.settings
        counts = acceleration_of(settings.acceleration_height, settings.acceleration_duration)
        before = self.seen.accelerations_before(falls.onset_s, ACCELERATIONS_MIN, counts)
        around = self.seen.variability_before(falls.nadir_s, settings.variability_minimum_min)
        kind = deceleration_kinds(falls, around, before, settings)
        peak_s = falls.nadir_s - np.nan_to_num(falls.lag_s)
        known = np.maximum(np.maximum(falls.nadir_s, peak_s), falls.onset_s + self.settings.deceleration_duration.value)
        late_known = np.fmax(known, np.minimum(falls.contraction_end_s, falls.end_s))
        by_length = self.settings.concerning_duration.met(falls.duration_s)
        concerning_known = np.where(
            by_length, np.maximum(known, falls.onset_s + self.settings.concerning_duration.value), falls.end_s
        )
        lost = shouldering_lost(self.seen.reading, falls, kind == VARIABLE, around, settings.shoulder)
        concerning_known = np.where(lost & ~by_length, falls.end_s + SIDE_S, concerning_known)
        concerning = concerning_falls(falls, kind, settings, shoulders_lost=lost)
        return kind, concerning, np.where(kind == LATE, late_known, known), concerning_known

    @property
    def contraction_rate(self) -> FloatArray:
        """Contractions per 10 minutes at each mark; NaN = toco not usable."""
        averaged = self.settings.contractions_averaged_min == 30.0
        return self.basics.contractions_per_10_min if averaged else self.basics.contractions_in_10_min[:, 0]

    def recurring(self, chosen: BoolArray, known_s: FloatArray) -> Recurrence:
        """Whether the chosen falls are repetitive at each mark."""
        return recurrence(
            accompanied_by(self.seen.contractions, self.falls, self.pairs, chosen, known_s),
            self.basics,
            limit=self.settings.repetitive,
            window_min=self.settings.repetitive_window_min,
            minimum=Limit(">=", self.settings.minimum_contractions),
            toco_usable=Limit(">=", self.settings.recurrence_toco_usable),
        )

    def in_window(self, chosen: BoolArray, known_s: FloatArray, window_min: float) -> BoolArray:
        """Which of the chosen falls each trailing window shows, of those recognised so far, (n, n_falls)."""
        at_s, falls = self.basics.at_s, self.falls
        if not chosen.any():
            return np.zeros((at_s.size, chosen.size), dtype=bool)
        start = np.maximum(at_s - window_min * 60.0, self.basics.floor_s)
        here = falls.overlapping(start, at_s) & (known_s <= at_s[:, None]) & chosen
        here &= ~(falls.from_level & (at_s[:, None] >= falls.end_s))
        return here

    def unplaced(self, chosen: BoolArray, known_s: FloatArray, pattern: Recurrence) -> FloatArray:
        """How many of the chosen falls could be repetitive for all that the toco shows; `pattern`: how they recur."""
        return unplaced(
            pattern,
            self.falls,
            self.in_window(chosen, known_s, self.settings.repetitive_window_min),
            limit=self.settings.repetitive,
            minimum=self.settings.minimum_contractions,
        )

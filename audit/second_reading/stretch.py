"""One stretch of a reading, cut out once for everything that is counted in it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from audit.standards.types import IntArray, MinuteCategories
from audit.tracing.types import Acceleration, BoolArray, Contraction, Deceleration, FloatArray, Reading

BEFORE_S = 1800.0  # how far back of a window a reader looks as well
SEEN_IN_MINUTE_S = 30  # calm seconds, fewer say nothing of a minute
SEGMENT_S = 120  # of the spectrum


@dataclass(frozen=True)
class Labour:
    """A whole reading with what is known beside it."""

    reading: Reading
    minutes: Mapping[str, MinuteCategories]  # by standard
    second_stage_s: float | None = None  # from the first sample; None = unknown or none
    _powers: dict[int, FloatArray | None] = field(default_factory=dict, repr=False, compare=False)

    def power_from(self, start_s: int) -> FloatArray | None:
        """Power of the distance from the baseline in the two minutes from a second on, bpm², one value a frequency.

        None where less than 80 % of them were seen. Windows overlap, so each is worked out once.
        """
        if start_s not in self._powers:
            self._powers[start_s] = _power(self.away_1hz[start_s : start_s + SEGMENT_S])
        return self._powers[start_s]

    @cached_property
    def away_1hz(self) -> FloatArray:
        """Fetal heart rate minus the drawn baseline, bpm, shape (n_seconds,); NaN = not seen."""
        result: FloatArray = self.reading.fhr_1hz - self.reading.baseline_drawn_1hz
        return result

    @cached_property
    def levelled_1min(self) -> FloatArray:
        """Peak to trough (5th to 95th percentile) of each minute's calm seconds without their slow course, bpm.

        Shape (whole minutes,); NaN with fewer than 30 calm seconds. The slow course is a quadratic by least squares.
        """
        reading = self.reading
        minutes = reading.fhr_1hz.size // 60
        found = np.full(minutes, np.nan)
        clock = np.linspace(-1.0, 1.0, 60)
        design = np.column_stack([np.ones(60), clock, clock**2])
        rate = np.where(reading.in_event_1hz, np.nan, reading.fhr_1hz)[: minutes * 60].reshape(minutes, 60)
        known = np.isfinite(rate).sum(axis=1)
        whole = known == 60  # these have one design, so they are solved together
        if whole.any():
            left = rate[whole] - rate[whole] @ np.linalg.pinv(design).T @ design.T
            low, high = np.percentile(left, [5, 95], axis=1)
            found[whole] = high - low
        for minute in np.flatnonzero((known >= SEEN_IN_MINUTE_S) & ~whole).tolist():
            calm = np.isfinite(rate[minute])
            values, slow = rate[minute][calm], design[calm]
            left = values - slow @ np.linalg.lstsq(slow, values, rcond=None)[0]
            low, high = np.percentile(left, [5, 95])
            found[minute] = high - low
        return found


@dataclass(frozen=True)
class Stretch:
    """The window [start_s, end_s) of a labour. Every event belongs to it that overlaps it."""

    labour: Labour
    start_s: float
    end_s: float

    @property
    def tens(self) -> float:
        """Length in units of 10 minutes."""
        return max((self.end_s - self.start_s) / 600.0, 1e-6)

    @cached_property
    def seconds(self) -> slice:
        """Its whole seconds."""
        return slice(max(int(self.start_s), 0), max(int(self.end_s), 0))

    @cached_property
    def fhr(self) -> FloatArray:
        """Accepted rate at 1 Hz, bpm; NaN = not seen."""
        return self.labour.reading.fhr_1hz[self.seconds]

    @cached_property
    def away(self) -> FloatArray:
        """Rate minus drawn baseline, bpm; NaN = not seen."""
        return self.labour.away_1hz[self.seconds]

    @cached_property
    def calm(self) -> BoolArray:
        """Seconds that were seen outside accelerations and decelerations."""
        inside = self.labour.reading.in_event_1hz[self.seconds]
        result: BoolArray = np.isfinite(self.fhr) & ~inside
        return result

    @cached_property
    def minute_variability(self) -> FloatArray:
        """Known variability of its minutes, bpm."""
        minutes = self.labour.reading.variability_1min[int(self.start_s // 60) : int(self.end_s // 60)]
        return minutes[np.isfinite(minutes)]

    @cached_property
    def levelled_variability(self) -> FloatArray:
        """The same without the slow course of each minute."""
        minutes = self.labour.levelled_1min[int(self.start_s // 60) : int(self.end_s // 60)]
        return minutes[np.isfinite(minutes)]

    @cached_property
    def decelerations(self) -> tuple[Deceleration, ...]:
        """Its decelerations, shallow ones too."""
        return tuple(d for d in self.labour.reading.decelerations if d.end_s > self.start_s and d.onset_s < self.end_s)

    @cached_property
    def accelerations(self) -> tuple[Acceleration, ...]:
        """Its accelerations, of 10 bpm for 10 s and more."""
        return tuple(a for a in self.labour.reading.accelerations if self.start_s <= a.peak_s < self.end_s)

    @cached_property
    def contractions(self) -> tuple[Contraction, ...]:
        """Its contractions, by their peak."""
        return tuple(c for c in self.labour.reading.contractions if self.start_s <= c.peak_s < self.end_s)

    def codes(self, standard: str) -> IntArray:
        """Categories of its minutes under a standard, 0 = mildest; minutes that cannot be assessed are left out."""
        found = self.labour.minutes[standard]
        inside = found.codes[(found.at_s > self.start_s) & (found.at_s <= self.end_s + 1.0)]
        return inside[inside >= 0]

    def part(self, from_share: float, to_share: float) -> "Stretch":
        """A part of it, by shares of its length."""
        length = self.end_s - self.start_s
        return Stretch(self.labour, self.start_s + from_share * length, self.start_s + to_share * length)

    def last(self, length_s: float) -> "Stretch":
        """Its last seconds."""
        return Stretch(self.labour, max(self.end_s - length_s, self.start_s), self.end_s)

    def before(self) -> "Stretch":
        """The half hour before it, as far as there is one."""
        return Stretch(self.labour, max(self.start_s - BEFORE_S, 0.0), self.start_s)


def _power(part: FloatArray) -> FloatArray | None:
    seen = np.isfinite(part)
    if seen.mean() < 0.8:
        return None
    place, taper = np.arange(SEGMENT_S), np.hanning(SEGMENT_S)
    filled = np.interp(place, place[seen], part[seen])
    result: FloatArray = np.abs(np.fft.rfft((filled - filled.mean()) * taper)) ** 2 / (taper**2).sum()
    return result

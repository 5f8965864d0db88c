"""What a reviewer should know of a reading before trusting it, in sentences."""

import numpy as np
from numpy.typing import NDArray

from audit.tracing.types import BoolArray, Exclusion, FloatArray

# Exclusions under this share of the samples are not worth a sentence.
WORTH_SAYING = 0.01
REASONS = {
    Exclusion.OUT_OF_RANGE: "out of range",
    Exclusion.SPIKE: "spikes",
    Exclusion.ISLAND: "islands between gaps",
    Exclusion.HALVED: "half the rate of their surroundings",
    Exclusion.DOUBLED: "twice the rate of their surroundings",
    Exclusion.MATERNAL_RATE: "at the maternal rate",
    Exclusion.STUCK: "stuck at one value",
}


def notes_of(
    exclusion: NDArray[np.uint8],
    baseline_1hz: FloatArray,
    toco_usable_1hz: BoolArray,
    sample_rate_hz: float,
    has_maternal_channel: bool,
) -> tuple[str, ...]:
    """Sentences on what the reading could not see.

    Parameters
    ----------
    exclusion : array, shape (n_samples,), Exclusion codes.
    baseline_1hz : array, shape (n_seconds,), bpm, NaN = indeterminate.
    toco_usable_1hz : array, shape (n_seconds,).
    sample_rate_hz : float, Hz.
    """
    found = []
    if exclusion.size == 0:
        return ("The tracing is empty.",)
    shares = {code: int(np.count_nonzero(exclusion == code)) / exclusion.size for code in Exclusion}
    lost = shares[Exclusion.NO_SIGNAL]
    if lost >= WORTH_SAYING:
        found.append(f"{lost:.0%} of the samples hold no signal.")
    for code, reason in REASONS.items():
        share = shares[code]
        if share >= WORTH_SAYING:
            found.append(f"{share:.0%} of the samples were left out: {reason}.")
    minutes = int(np.count_nonzero(np.isnan(baseline_1hz))) / 60
    if minutes >= 1:
        found.append(f"The baseline is indeterminate for {minutes:.0f} min.")
    usable = float(np.mean(toco_usable_1hz)) if toco_usable_1hz.size else 0.0
    if usable < 1 - WORTH_SAYING:
        found.append(f"The toco is usable for {usable:.0%} of the time; elsewhere gradual decelerations have no kind.")
    if not has_maternal_channel:
        found.append("No maternal channel: a maternal rate recorded as the fetal one cannot be told apart.")
    if sample_rate_hz < 2:
        found.append(f"Sampled at {sample_rate_hz:g} Hz: variability reads low.")
    return tuple(found)

"""What a reviewer should know of a reading before trusting it, in sentences."""

import numpy as np
from numpy.typing import NDArray

from audit.tracing.types import BoolArray, Exclusion, FloatArray, Tracing

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
# The usual rate of a stored tracing: from here on the reading loses nothing that it looks at. Common practice.
USUAL_RATE_HZ = 4.0
FHR_SENSORS = {
    "ultrasound": (
        "FHR by ultrasound: each value is averaged over several beats (autocorrelation), close enough to read by (FIGO"
        " 2015); variability may read lower than by scalp electrode, the more so with much signal lost (Spencer 1987)."
    ),
    "scalp_electrode": (
        "FHR by scalp electrode: beat by beat, so variability may read higher than by ultrasound, and noise of the"
        " electrode counts as variability."
    ),
    "both": (
        "FHR by ultrasound and by scalp electrode, at which times is not noted: variability may change with the sensor,"
        " being averaged over several beats by ultrasound."
    ),
}
TOCO_SENSORS = {
    "external": (
        "External toco: it times contractions, and says nothing of their strength or of resting tone (FIGO 2015); weak"
        " ones may be missing."
    ),
    "intrauterine": "Intrauterine pressure: the reading uses its timing only; whether it was set to zero is not known.",
}


def notes_of(
    tracing: Tracing, exclusion: NDArray[np.uint8], baseline_1hz: FloatArray, toco_usable_1hz: BoolArray
) -> tuple[str, ...]:
    """Sentences on what the reading could not see while it was monitored: the arrays end where monitoring did.

    `tracing`: what was read; its rates and sensors say what its numbers can mean. `exclusion`: shape (n_samples,),
    Exclusion codes. `baseline_1hz`: shape (n_seconds,), bpm, NaN = indeterminate. `toco_usable_1hz`: shape
    (n_seconds,).

    Sensors: FIGO 2015 (Ayres-de-Campos et al., consensus guidelines on cardiotocography, on external and internal
    monitoring; from memory); Spencer 1987 (variation by ultrasound equals that by scalp electrode with under 2 % of
    signal lost, and is lower with much loss). Rates below 4 Hz: common practice, no published limit is known to us.
    """
    if exclusion.size == 0:
        return ("The tracing is empty.",)
    found = []
    # Compared with plain numbers: against a member of an enumeration every byte is made eight.
    shares = {code: int(np.count_nonzero(exclusion == int(code))) / exclusion.size for code in Exclusion}
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
    if tracing.mhr_bpm is None:
        found.append("No maternal channel: a maternal rate recorded as the fetal one cannot be told apart.")
    found += _of_rates(tracing)
    found += [FHR_SENSORS[tracing.fhr_sensor]] if tracing.fhr_sensor in FHR_SENSORS else []
    found += [TOCO_SENSORS[tracing.toco_sensor]] if tracing.toco_sensor in TOCO_SENSORS else []
    return tuple(found)


def _of_rates(tracing: Tracing) -> list[str]:
    """What a low or unknown sampling rate means; nothing where every file had the usual rate."""
    found = []
    rate = tracing.source_rate_hz
    if rate is not None and rate < USUAL_RATE_HZ * (1 - WORTH_SAYING):
        part = ", in part" if len(tracing.rates_hz) > 1 else ""
        lost = "is not in it" if rate <= 1 else "is hardly in it"
        found.append(
            f"Sampled at {rate:g} Hz{part}: change from beat to beat {lost}, so variability may read lower than it was"
            f" and edges of events are known to {1 / rate:.2g} s only. Reading such tracings is common practice; from"
            " what rate on variability can be told is not published."
        )
    if None in tracing.rates_hz:
        part = " of a part" if len(tracing.rates_hz) > 1 else ""
        found.append(f"The sampling rate{part} could not be told from the file, so its variability may read wrong.")
    return found

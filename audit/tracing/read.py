"""From a tracing to its reading: the one function that the job calls."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from audit.tracing.baseline import Baseline, at_other_levels, find_baseline, follow_departures
from audit.tracing.baseline_doubt import doubtful_baselines
from audit.tracing.blind_spots import notes_of
from audit.tracing.cautions import end_of_monitoring, sentences
from audit.tracing.contractions import UterineActivity, find_contractions
from audit.tracing.decelerations import describe_falls, find_falls
from audit.tracing.epochs import epochs_of
from audit.tracing.excursions import Course, course_of, find_accelerations
from audit.tracing.level_changes import is_passage
from audit.tracing.maternal_suspicion import maternal_suspicions
from audit.tracing.monitoring import monitored_until
from audit.tracing.overshoots import mark_overshoots
from audit.tracing.parameters import TracingSettings
from audit.tracing.quality import exclusions, mean_per_second, per_second
from audit.tracing.runs import fill_runs, moving_mean
from audit.tracing.sinusoidal import find_sinusoidal
from audit.tracing.ten_minutes import told_both_ways
from audit.tracing.types import Acceleration, BoolArray, Deceleration, FloatArray, Reading, Tracing
from audit.tracing.variability import minute_variability

__all__ = ["TracingSettings", "read_tracing"]

# Of the method, not of a unit: over how long the noise is measured, and what stands in where none can be, so that an
# unknown stretch is neither called quiet nor refused.
NOISE_HALF_S = 300
UNKNOWN_NOISE_BPM = 3.0


def read_tracing(tracing: Tracing, settings: TracingSettings) -> Reading:
    """Read one tracing.

    `tracing`: samples of the fetal heart rate and the toco at any rate from 0.5 Hz on, NaN = no signal. `settings`: the
    parameters, from the `[tracing]` table of the settings file.
    Gives reading: per-sample reasons, per-second series, events, changes of level and 10-minute segments. Times are
    seconds from the first sample. A tracing without any signal gives a reading without events.
    Raises ValueError: when the channels differ in length or the sample rate is not positive.

    Definitions: NICHD 2008 (2008 workshop report on electronic fetal monitoring). Parameters without a published
    value are 'our choice' in the settings file.
    """
    _check(tracing)
    rate = tracing.sample_rate_hz
    code = exclusions(tracing.fhr_bpm, tracing.mhr_bpm, rate, settings)
    fhr, lowest, highest = per_second(tracing.fhr_bpm, code == 0, rate)
    toco = mean_per_second(tracing.toco, rate)
    uterus = find_contractions(toco, settings)
    base = find_baseline(fhr, settings)
    seconds = _Seconds(fhr, lowest, highest, toco, uterus, code)
    reading, base, noise_bpm = _described(tracing, seconds, base, settings)

    def read_again(otherwise: TracingSettings) -> Reading:
        again, _, _ = _described(tracing, seconds, find_baseline(fhr, otherwise), otherwise)
        return again

    reading = told_both_ways(reading, settings, read_again)
    doubtful = doubtful_baselines(fhr, base.drawn_1hz, noise_bpm)
    cautions = doubtful
    if tracing.mhr_bpm is None:
        cautions += maternal_suspicions(
            fhr, reading.variability_1min, base.level_changes, uterus.contractions, reading.decelerations
        )
    cautions += end_of_monitoring(reading.monitored_until_s, reading.duration_s)
    other = None
    if doubtful:
        other, _, _ = _described(tracing, seconds, at_other_levels(fhr, base, doubtful, settings), settings)
    # What is not there after monitoring ended was not lost; a tracing without any FHR is spoken of as a whole.
    last_s = int(reading.monitored_until_s) or fhr.size
    notes = notes_of(tracing, code[: round(last_s * rate)], base.baseline_1hz[:last_s], uterus.usable_1hz[:last_s])
    return replace(
        reading,
        cautions=cautions,
        notes=(
            *notes,
            *sentences(cautions, reading.decelerations, tracing.start_s),
        ),
        at_other_level=other,
    )


@dataclass(frozen=True)
class _Seconds:
    """What is known of each second before a baseline is, bpm and toco units; and the reasons of the samples."""

    fhr_1hz: FloatArray
    lowest_1hz: FloatArray
    highest_1hz: FloatArray
    toco_1hz: FloatArray
    uterus: UterineActivity
    exclusion: NDArray[np.uint8]


def _described(
    tracing: Tracing, seconds: _Seconds, base: Baseline, settings: TracingSettings
) -> tuple[Reading, Baseline, FloatArray]:
    """The reading under a baseline, without cautions and notes; the baseline as it stands then; the noise, bpm."""
    fhr, lowest, uterus = seconds.fhr_1hz, seconds.lowest_1hz, seconds.uterus
    course = _course(fhr, base, settings)
    falls = find_falls(course, lowest, base.drawn_1hz, settings)
    longest = falls.end_s - falls.onset_s >= settings.baseline_change_s
    if longest.any():
        spans = np.column_stack((falls.onset_s[longest], falls.end_s[longest]))
        base = follow_departures(fhr, base, spans, settings)
        course = _course(fhr, base, settings)
        falls = find_falls(course, lowest, base.drawn_1hz, settings)
    line = base.drawn_1hz
    listed = describe_falls(falls, course, line, uterus.contractions, uterus.usable_1hz, settings)
    rises = find_accelerations(course, seconds.highest_1hz, line, settings)
    events: tuple[Deceleration | Acceleration, ...] = (*listed, *rises)
    # The way to another level is no event, and no part of the baseline either.
    spans = np.array([[event.onset_s, event.end_s] for event in events]).reshape(-1, 2)
    decelerations = tuple(d for d in listed if not is_passage(d.onset_s, d.end_s, d.lowest_bpm, line, settings))
    accelerations = mark_overshoots(
        tuple(
            a for a in rises if not is_passage(a.onset_s, a.end_s, line[int(a.peak_s)] + a.height_bpm, line, settings)
        ),
        decelerations,
        settings,
    )
    in_event = fill_runs(spans.astype(np.int64), fhr.size)
    variability = minute_variability(fhr, line, in_event, settings)
    sinusoidal = find_sinusoidal(fhr, line, accelerations, settings)
    epochs = epochs_of(
        fhr, base.baseline_1hz, in_event, variability, uterus.contractions, uterus.usable_1hz, sinusoidal, settings
    )
    reading = Reading(
        duration_s=tracing.fhr_bpm.size / tracing.sample_rate_hz,
        sample_rate_hz=tracing.sample_rate_hz,
        exclusion=seconds.exclusion,
        fhr_1hz=fhr,
        baseline_1hz=base.baseline_1hz,
        baseline_drawn_1hz=base.drawn_1hz,
        variability_1min=variability,
        in_event_1hz=in_event,
        toco_usable_1hz=uterus.usable_1hz,
        contractions=uterus.contractions,
        decelerations=decelerations,
        accelerations=accelerations,
        level_changes=base.level_changes,
        sinusoidal=sinusoidal,
        epochs=epochs,
        monitored_until_s=monitored_until(fhr, seconds.toco_1hz, uterus),
    )
    return reading, base, course.noise_bpm


def _check(tracing: Tracing) -> None:
    if not tracing.sample_rate_hz > 0:
        raise ValueError(f"sample_rate_hz: found {tracing.sample_rate_hz}, expected a positive number")
    others = {"toco": tracing.toco, "mhr_bpm": tracing.mhr_bpm}
    for name, channel in others.items():
        if channel is not None and channel.shape != tracing.fhr_bpm.shape:
            raise ValueError(f"{name}: found shape {channel.shape}, expected {tracing.fhr_bpm.shape} as in fhr_bpm")


def _course(fhr_1hz: FloatArray, base: Baseline, settings: TracingSettings) -> Course:
    noise = _noise(fhr_1hz, base.drawn_1hz, base.calm_1hz)
    return course_of(fhr_1hz, base.drawn_1hz, noise, settings.bridge_gap_s)


def _noise(fhr_1hz: FloatArray, line: FloatArray, calm: BoolArray) -> FloatArray:
    """The local size of the fluctuations round the baseline, bpm, from seconds outside excursions."""
    square, count = moving_mean((fhr_1hz - line) ** 2, calm, NOISE_HALF_S)
    known = count > 30
    typical = float(np.median(square[known])) if known.any() else UNKNOWN_NOISE_BPM**2
    return np.sqrt(np.where(known, square, typical))

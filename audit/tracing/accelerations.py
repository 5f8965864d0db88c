"""Rises above the baseline."""

from audit.tracing.excursions import Course, find_excursions
from audit.tracing.parameters import TracingSettings
from audit.tracing.types import Acceleration, FloatArray


def find_accelerations(
    course: Course, highest_1hz: FloatArray, line: FloatArray, settings: TracingSettings
) -> tuple[Acceleration, ...]:
    """Every rise of >= 10 bpm for >= 10 s and < 10 min, in time order; the standards choose by gestation.

    Parameters
    ----------
    course : the prepared tracing.
    highest_1hz, line : arrays, shape (n_seconds,), bpm: the highest sample of each second (NaN = not seen) and the
        baseline. Not modified.
    """
    found = find_excursions(
        course,
        highest_1hz - line,
        side=1,
        height_bpm=settings.acceleration_height_bpm,
        duration_s=settings.acceleration_duration_s,
        edge_bpm=settings.event_edge_bpm,
        merge_s=0,
        split_fraction=settings.split_recovery_fraction,
        pulses=False,
    )
    return tuple(
        Acceleration(float(onset), float(peak), float(end), float(height))
        for onset, peak, end, height in zip(found.onset_s, found.extreme_s, found.end_s, found.height_bpm, strict=True)
        if end - onset < settings.baseline_change_s
    )

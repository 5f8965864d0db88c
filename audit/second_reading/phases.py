"""A tracing as a file of 1 Hz could have held it: what a reading owes to the instants it was sampled at evens out.

The reading of one phase differs from that of the next by what chance put into a second; their mean is nearer to what
any file of the same labour gives, at whatever rate.
"""

from dataclasses import replace

from audit.tracing.types import Tracing

PHASE_HZ = 1.0


def phases_of(tracing: Tracing) -> tuple[Tracing, ...]:
    """The tracing at 1 Hz, once from each of its first samples: four of 4 Hz, one of 1 Hz.

    A rate that is no whole number of samples a second has no such phases: the tracing stands for itself.
    """
    step = round(tracing.sample_rate_hz / PHASE_HZ)
    if step < 2 or step * PHASE_HZ != tracing.sample_rate_hz or tracing.fhr_bpm.size < step:
        return (tracing,)
    return tuple(_phase(tracing, first, step) for first in range(step))


def _phase(tracing: Tracing, first: int, step: int) -> Tracing:
    mhr = tracing.mhr_bpm
    return replace(
        tracing,
        fhr_bpm=tracing.fhr_bpm[first::step].copy(),
        toco=tracing.toco[first::step].copy(),
        mhr_bpm=None if mhr is None else mhr[first::step].copy(),
        sample_rate_hz=PHASE_HZ,
    )

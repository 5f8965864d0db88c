"""Samples from lists, arrays and series to a tracing."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from audit.errors import UsageError
from audit.tracing.types import Tracing

Channel: TypeAlias = Sequence[float | None] | NDArray[Any]  # a pandas Series does as well


def from_samples(
    fhr_bpm: Channel, toco: Channel | None = None, *, sample_rate_hz: float = 4.0, mhr_bpm: Channel | None = None
) -> Tracing:
    """A tracing from lists, arrays or series.

    Parameters
    ----------
    fhr_bpm
        Shape (n_samples,), beats per minute; None, NaN and 0 are no signal. Not modified.
    toco
        Shape (n_samples,), arbitrary units; None = no toco was recorded.
    sample_rate_hz
        Samples per second, more than 0.
    mhr_bpm
        Shape (n_samples,), maternal heart rate; None = not recorded.

    Returns
    -------
    Tracing
        Its first sample at 0 s.

    Raises
    ------
    UsageError
        A channel that is not one row of numbers, no samples, channels of different lengths, or no rate above 0.

    Examples
    --------
    >>> import audit
    >>> made = audit.from_samples([140, 141, None, 139] * 600, sample_rate_hz=4)
    >>> made.fhr_bpm.size, made.sample_rate_hz
    (2400, 4.0)
    """
    fhr = _channel("fhr_bpm", fhr_bpm)
    if not fhr.size:
        raise UsageError("fhr_bpm: found no samples, expected one or more")
    fhr[fhr == 0] = np.nan
    others = {"toco": toco, "mhr_bpm": mhr_bpm}
    arrays = {name: None if values is None else _channel(name, values) for name, values in others.items()}
    for name, values in arrays.items():
        if values is not None and values.size != fhr.size:
            raise UsageError(f"{name}: found {values.size} samples, expected {fhr.size} as in fhr_bpm")
    if not sample_rate_hz > 0:
        raise UsageError(f"sample_rate_hz: found {sample_rate_hz}, expected a number above 0")
    uterus = arrays["toco"] if arrays["toco"] is not None else np.full(fhr.size, np.nan)
    return Tracing(fhr_bpm=fhr, toco=uterus, sample_rate_hz=float(sample_rate_hz), mhr_bpm=arrays["mhr_bpm"])


def with_arrays(tracing: Tracing) -> Tracing:
    """The same tracing, whose channels may be of any kind that `from_samples` takes, checked as it does."""
    made = from_samples(tracing.fhr_bpm, tracing.toco, mhr_bpm=tracing.mhr_bpm, sample_rate_hz=tracing.sample_rate_hz)
    return replace(tracing, fhr_bpm=made.fhr_bpm, toco=made.toco, mhr_bpm=made.mhr_bpm)


def _channel(name: str, values: Channel) -> NDArray[np.float64]:
    if isinstance(values, np.ndarray) and values.dtype.kind in "fiu":
        array = values.astype(np.float64)
    else:
        array = _listed(name, values)
    if array.ndim != 1:
        raise UsageError(f"{name}: found an array of {array.ndim} dimensions, expected one row of numbers")
    return array


def _listed(name: str, values: Channel) -> NDArray[np.float64]:
    try:
        return np.array([np.nan if value is None else value for value in values], dtype=np.float64)
    except (TypeError, ValueError):
        raise UsageError(f"{name}: found {type(values).__name__} that is not one row of numbers") from None

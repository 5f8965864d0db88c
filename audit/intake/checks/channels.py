"""The channels of a tracing: values kept out, units that cannot be right refused, and what looks odd remarked on."""

import numpy as np
from numpy.typing import NDArray

from audit.intake.door.remarks import Remarks
from audit.intake.door.shape import shape
from audit.intake.formats.tables import TracingRows
from audit.setting_tables.intake import ImportOptions

FloatArray = NDArray[np.float64]
Channels = dict[str, FloatArray | None]

# Heart rates as other columns give them: how many of the unit make one beat per minute. Our list.
_RATE_UNITS = (("hundredths of bpm", 100.0), ("tenths of bpm", 10.0), ("thousandths of bpm", 1000.0))
_LEAST_VALUES = 3  # different values from which a column can be in another unit; one alone is a code for no signal
_LEAST_SAMPLES = 240  # a minute at 4 Hz: with fewer nothing is said of a channel's look; our choice
_LEAST_OF_VALUES = (
    2400  # ten minutes at 4 Hz, the window of a baseline: samples from which few values are odd; our choice
)
_LOOKED_AT = 4000  # samples in which a rate's values are looked for first; our choice
_COARSE_BPM = (
    3.0  # absent variability is less than 3 bpm here; a rate in such steps shows none, or too much; our choice
)
# An end of the scale that so large a share of the samples lies on, among rates that are rare in labour; our choice
PILE, EXTREME_BPM = 0.02, (60.0, 220.0)
_COPIED = 0.99  # so large a share of samples alike is one channel under two names; our choice
_LARGEST_SHARE = 1.5  # a toco that stays at or below this is a share of something
# Intrauterine pressure: contractions of 40 to 80 mmHg over a tone of 10 (textbooks, from memory) are 7 to 12 kPa.
_LARGEST_KPA = 13.0


def channels_of(rows: TracingRows, remarks: Remarks, options: ImportOptions) -> Channels | None:
    """The channels with NaN for no signal; None when the heart rate cannot be beats per minute."""
    reason = _another_unit(rows.fhr_bpm, options)
    if reason is not None:
        remarks.reject_block(len(rows.fhr_bpm), int(rows.row_numbers[0]), "fhr_bpm", None, reason)
        return None
    found: Channels = {}
    for name, values in (("fhr_bpm", rows.fhr_bpm), ("toco", rows.toco), ("mhr_bpm", rows.mhr_bpm)):
        found[name] = None if values is None else _in_range(name, values, rows, remarks, options)
    fhr, toco = found["fhr_bpm"], found["toco"]
    assert fhr is not None
    assert toco is not None
    _remark_on_rate(fhr, rows, remarks, options)
    _remark_on_toco(toco, rows, remarks, options)
    for name in ("toco", "mhr_bpm"):
        _remark_on_copy(name, found[name], fhr, rows, remarks)
    return found


def _another_unit(fhr_bpm: FloatArray, options: ImportOptions) -> str | None:
    """Why the heart rate cannot be beats per minute, or None. A few odd values among rates are no reason."""
    span = options.ranges.of("fhr_bpm")
    assert span is not None
    given = fhr_bpm[np.isfinite(fhr_bpm) & (np.abs(fhr_bpm) >= 0.005)]
    if not len(given):
        return None
    low, high = options.usual.fhr_median_bpm
    inside = (given >= span[0]) & (given <= span[1])
    if np.mean(inside) <= 0.5 and len(np.unique(given[~inside][:10_000])) >= _LEAST_VALUES:
        median = float(np.median(given[~inside]))
        hint = _unit_hint(median, low, high)
        if hint:
            return (
                f"found {shape(median)} as the median, expected {low:g} to {high:g} bpm: is the column in another unit?"
                f" This looks like {hint}"
            )
    if not inside.any():
        return None
    median = float(np.median(given[inside]))
    if low / 2 <= median <= high * 1.25:
        return None
    hint = _unit_hint(median, low, high)
    ask = "is the column in another unit?" + (f" This looks like {hint}" if hint else "")
    return f"found {shape(median)} as the median, expected {low:g} to {high:g} bpm: {ask}"


def _unit_hint(median: float, low: float, high: float) -> str:
    for name, per_bpm in _RATE_UNITS:
        if low <= median / per_bpm <= high:
            return name
    if low <= median * 60 <= high:
        return "beats per second"
    for name, per_minute in (("milliseconds", 60_000.0), ("seconds", 60.0)):
        if median > 0 and low <= per_minute / median <= high:
            return f"{name} between beats"
    return ""


def _remark_on_rate(fhr_bpm: FloatArray, rows: TracingRows, remarks: Remarks, options: ImportOptions) -> None:
    signal = fhr_bpm[~np.isnan(fhr_bpm)]
    first = int(rows.row_numbers[0])
    if not len(signal):
        reason = f"found no heart rate in any of {len(fhr_bpm):,} rows, expected some signal"
        remarks.flag(first, "fhr_bpm", None, reason)
        return
    median = float(np.median(signal))
    low, high = options.usual.fhr_median_bpm
    if not low <= median <= high:
        remarks.flag(first, "fhr_bpm", median, f"found a median of {median:.3g} bpm, expected {low:g} to {high:g}")
    for end in (float(signal.min()), float(signal.max())):
        share = float(np.mean(signal == end))
        if len(signal) >= _LEAST_SAMPLES and share >= PILE and not EXTREME_BPM[0] < end < EXTREME_BPM[1]:
            reason = f"found {end:g} in {share:.0%} of the samples: does it stand for no signal? Name it as no_signal"
            remarks.flag(first, "fhr_bpm", end, f"{reason} of a mapping")
    few = _too_few_values(signal)
    if few is not None:
        remarks.flag(first, "fhr_bpm", median, few)


def _too_few_values(signal: FloatArray) -> str | None:
    """What is odd about a rate that takes one or two values, or moves in large steps alone; None when it does not."""
    if len(signal) < _LEAST_SAMPLES:
        return None
    if signal.min() == signal.max():
        return f"found {signal[0]:.4g} in each of {len(signal):,} samples, expected a rate that changes"
    if len(signal) < _LEAST_OF_VALUES:
        return None
    some = np.unique(signal[:: max(1, len(signal) // _LOOKED_AT)])
    if len(some) > 2 and np.diff(some).min() < _COARSE_BPM:
        return None  # most tracings: all samples need not be sorted
    values = np.unique(signal)
    if len(values) == 2:
        return (
            f"found only {values[0]:.4g} and {values[1]:.4g} in {len(signal):,} samples, expected a rate that changes:"
            " is the channel stuck, or a code?"
        )
    step = float(np.diff(values).min())
    if step < _COARSE_BPM:
        return None
    return f"found a rate in steps of {step:.3g} bpm, expected 1 bpm or less: variability cannot be measured in it"


def _remark_on_toco(toco: FloatArray, rows: TracingRows, remarks: Remarks, options: ImportOptions) -> None:
    usual = options.usual.toco
    odd = np.flatnonzero((toco < usual[0]) | (toco > usual[1]))
    if len(odd):
        remarks.flag(
            int(rows.row_numbers[odd[0]]),
            "toco",
            float(toco[odd[0]]),
            f"found {toco[odd[0]]:g}, expected {usual[0]:g} to {usual[1]:g}; {len(odd):,} such samples",
        )
    signal = toco[~np.isnan(toco)]
    reason = _odd_toco(signal)
    if reason is not None:
        remarks.flag(int(rows.row_numbers[0]), "toco", float(signal.max()), reason)


def _remark_on_copy(
    name: str, values: FloatArray | None, fhr_bpm: FloatArray, rows: TracingRows, remarks: Remarks
) -> None:
    """A channel that an export wrote twice would be read as what it is not."""
    if values is None:
        return
    both = ~np.isnan(values) & ~np.isnan(fhr_bpm)
    here = fhr_bpm[both]
    if len(here) >= _LEAST_SAMPLES and here.min() < here.max() and np.mean(here == values[both]) >= _COPIED:
        reason = f"found the values of fhr_bpm again in {len(here):,} samples, expected a channel of its own"
        remarks.flag(int(rows.row_numbers[0]), name, None, reason)


def _odd_toco(signal: FloatArray) -> str | None:
    if len(signal) < _LEAST_SAMPLES:
        return None
    low, high = float(signal.min()), float(np.percentile(signal, 99.5))
    if low == signal.max():
        return f"found {high:g} in each of {len(signal):,} samples, expected one that changes: no contraction is seen"
    if low < -_LARGEST_SHARE:
        return None
    if high <= _LARGEST_SHARE:
        return f"found a toco of {low:g} to {high:g}, expected about 0 to 100: is it a share (1 for 100)?"
    if high <= _LARGEST_KPA:
        return (
            f"found a toco of {low:g} to {high:g}, expected about 0 to 100: is it kPa (1 kPa are 7.5 mmHg), or was the"
            " sensor loose?"
        )
    return None


def _in_range(name: str, values: FloatArray, rows: TracingRows, remarks: Remarks, options: ImportOptions) -> FloatArray:
    span = options.ranges.of(name)
    assert span is not None
    low, high = span
    zero_is_none = name != "toco"
    wrong = (values < low) | (values > high)
    out = values
    if wrong.any():
        bad = values[wrong]
        remarks.reject_values(
            rows.row_numbers[wrong],
            name,
            bad.tolist(),
            (f"found {shape(v)}, expected {low:g} to {high:g}; stored as no signal" for v in bad.tolist()),
        )
        out = np.where(wrong, np.nan, values)
    if zero_is_none:
        out = np.where(np.abs(out) < 0.005, np.nan, out)  # 0 in hundredths
    return out

"""Signals of different rates to the rows of a tracing: at the heart rate's own times, the others held beside it."""

from dataclasses import dataclass

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from audit.intake.door.remarks import FileRefused
from audit.intake.formats.parts import Part, table_part
from audit.intake.formats.signal_names import Channel
from audit.words import counted

MOST_SAMPLES = 20_000_000  # of one signal: 7 days at 33 Hz; our choice, keeps memory under 2 GiB
_SAME_TIME_S = 1e-6
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Signal:
    """One channel: arrays of shape (n_samples,), seconds in rising order and values with NaN where there is none."""

    channel: Channel
    fetus: str
    t_s: Floats
    values: Floats
    said: str | None = None  # a remark on it


def recording_part(case_id: str, signals: list[Signal], unknown: int) -> Part:
    """The tracings of a recording, one after the other fetus. Raises FileRefused where there is no heart rate.

    Each sample holds until the next of its channel, and no longer than one step of it; nothing is interpolated.
    """
    rates = list({signal.fetus: signal for signal in reversed(signals) if signal.channel == "fhr_bpm"}.values())[::-1]
    if not rates:
        raise FileRefused(
            f"found {counted(unknown + len(signals), 'signal')}, expected one called FHR (and UC for uterine activity)"
        )
    toco = next((signal for signal in signals if signal.channel == "toco"), None)
    mhr = next((signal for signal in signals if signal.channel == "mhr_bpm"), None)
    t_s = np.concatenate([rate.t_s for rate in rates])
    columns: dict[str, object] = {
        "case_id": pa.DictionaryArray.from_arrays(np.zeros(len(t_s), np.int32), [case_id]),
        "fetus": pa.array([rate.fetus for rate in rates for _ in range(len(rate.t_s))]).dictionary_encode(),
        "t_s": t_s,
        "fhr_bpm": np.concatenate([rate.values for rate in rates]),
        "toco": np.full(len(t_s), np.nan) if toco is None else held(toco.t_s, toco.values, t_s),
    }
    if mhr is not None:
        columns["mhr_bpm"] = held(mhr.t_s, mhr.values, t_s)
    left = unknown + len(signals) - len(rates) - (toco is not None) - (mhr is not None)
    said = [f"{left} signal{'s are' if left > 1 else ' is'} not stored"] if left else []
    said += [] if toco is not None else ["the recording has no uterine activity"]
    said += [f"the signal of fetus {rate.fetus} {rate.said}" for rate in rates if rate.said]
    said += [f"the uterine activity {toco.said}"] if toco is not None and toco.said else []
    return table_part("recording", columns, tuple(said))


def held(own_t_s: Floats, values: Floats, t_s: Floats) -> Floats:
    """A channel at the times of another: the sample in force then, NaN where none was.

    A sample stands until the next one, and for one step where that is more than half a step late; a lone one has no
    step and stands for its own time alone.
    """
    if not len(own_t_s):
        return np.full(len(t_s), np.nan)
    step_s = float(np.median(np.diff(own_t_s))) if len(own_t_s) > 1 else 2 * _SAME_TIME_S
    following = np.append(own_t_s[1:], np.inf)
    until = np.where(following - own_t_s > 1.5 * step_s, own_t_s + step_s, following)
    at = np.searchsorted(own_t_s, t_s + _SAME_TIME_S, side="right") - 1
    in_force = (at >= 0) & (t_s < until[np.maximum(at, 0)] - _SAME_TIME_S)
    return np.where(in_force, values[np.maximum(at, 0)], np.nan)

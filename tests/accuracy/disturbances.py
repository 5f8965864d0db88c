"""The same labour sampled or measured otherwise: what of its reading stays the same, minute by minute."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from audit.settings import load_settings
from audit.standards.registry import STANDARDS
from audit.standards.types import MinuteCategories
from audit.tracing.read import read_tracing
from audit.tracing.types import Tracing
from audit.vocabulary import NOT_ASSESSABLE

SETTINGS = load_settings()
Change = Callable[[Tracing], Tracing]
CUT_S = 60


def sampled_at(rate_hz: float) -> Change:
    """The sample in force at each time of another rate, as a recorder of that rate would have stored it."""

    def change(tracing: Tracing) -> Tracing:
        n = int(tracing.fhr_bpm.size / tracing.sample_rate_hz * rate_hz)
        source = np.floor(np.arange(n) / rate_hz * tracing.sample_rate_hz + 1e-9).astype(int)
        return replace(
            tracing,
            fhr_bpm=tracing.fhr_bpm[source],
            toco=tracing.toco[source],
            sample_rate_hz=rate_hz,
            source_rates_hz=(rate_hz,),
        )

    return change


def whole_bpm(tracing: Tracing) -> Tracing:
    """Stored in steps of 1 bpm."""
    return replace(tracing, fhr_bpm=np.floor(tracing.fhr_bpm + 0.5))


def half_a_beat_of_noise(tracing: Tracing) -> Tracing:
    """Every sample off by up to 0.5 bpm."""
    rng = np.random.default_rng(5)
    return replace(tracing, fhr_bpm=tracing.fhr_bpm + rng.uniform(-0.5, 0.5, tracing.fhr_bpm.size))


def toco_late(tracing: Tracing) -> Tracing:
    """The toco channel written 20 s late."""
    shift = int(20 * tracing.sample_rate_hz)
    return replace(tracing, toco=np.concatenate((np.full(shift, tracing.toco[0]), tracing.toco[:-shift])))


def toco_gain(gain: float) -> Change:
    """Another amplification of the toco."""
    return lambda tracing: replace(tracing, toco=gain * tracing.toco)


def first_minute_cut(tracing: Tracing) -> Tracing:
    """Monitoring stored from a minute later on."""
    first = int(CUT_S * tracing.sample_rate_hz)
    return replace(tracing, fhr_bpm=tracing.fhr_bpm[first:], toco=tracing.toco[first:], start_s=CUT_S)


CHANGES: dict[str, Change] = {
    "0.5 Hz": sampled_at(0.5),
    "1 Hz": sampled_at(1),
    "2 Hz": sampled_at(2),
    "10 Hz": sampled_at(10),
    "steps of 1 bpm": whole_bpm,
    "noise of 0.5 bpm": half_a_beat_of_noise,
    "toco 20 s late": toco_late,
    "toco at half gain": toco_gain(0.5),
    "toco at double gain": toco_gain(2.0),
    "first minute cut": first_minute_cut,
}


Minutes = dict[str, MinuteCategories]
Read = tuple[Tracing, Minutes]


@dataclass(frozen=True)
class Kept:
    """Shares of the minutes of one standard."""

    same: float  # with the same category after a change
    told: float  # with the same one, or with one that the reasons named beforehand as what it could be


def minutes(tracing: Tracing) -> Minutes:
    """The category of each minute by standard, with its reasons."""
    reading = read_tracing(tracing, SETTINGS.tracing)
    return {name: one.minute_categories(reading, SETTINGS.of_standards[name]) for name, one in STANDARDS.items()}


def as_they_are(tracings: Iterable[Tracing]) -> list[Read]:
    """Each tracing with its categories, read once for all changes."""
    return [(tracing, minutes(tracing)) for tracing in tracings]


def kept_minutes(tracings: Sequence[Read], change: Change) -> dict[str, Kept]:
    """By standard, what share of the minutes a change leaves as they are, or moves to a category that was named."""
    same, told = dict.fromkeys(STANDARDS, 0), dict.fromkeys(STANDARDS, 0)
    total = 0
    for tracing, before in tracings:
        changed = change(tracing)
        late = round((changed.start_s - tracing.start_s) / 60)
        after = minutes(changed)
        for name in STANDARDS:
            was, now = before[name], after[name].categories
            rows = list(zip(was.categories[late:], was.reasons[late:], now, strict=False))
            same[name] += sum(a == b for a, _, b in rows)
            told[name] += sum(a == b or _names(reasons, b) for a, reasons, b in rows)
        total += len(rows)
    return {name: Kept(same[name] / total, told[name] / total) for name in STANDARDS}


def named_elsewhere(tracings: Sequence[Read]) -> dict[str, float]:
    """By standard, the share of minutes whose reasons name another category that they could have."""
    result = {}
    for name, one in STANDARDS.items():
        said = [reasons for _, found in tracings for reasons in found[name].reasons]
        others = (*one.levels, NOT_ASSESSABLE)
        result[name] = sum(any(_names(reasons, other) for other in others) for reasons in said) / len(said)
    return result


def _names(reasons: Sequence[str], category: str) -> bool:
    """Whether the reasons of a minute end with another category that it could have."""
    return any(reason.endswith((f": {category}", f": then {category}")) for reason in reasons)

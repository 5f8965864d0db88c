"""Keys of former settings files, and what holds in their place: a unit's file that has one is refused with it."""

_ONE_SHARE = "minutes and windows ask for the same share of signal: set signal_seen_fraction in that table"
_ONE_FALL = "30 s from onset to nadir is judged once, by the reading: set gradual_s in [tracing]"
_IN_FORCE = "how long a decision is in force follows its urgency: set the keys of [response.decision_in_force]"
_FROM_START = "an act counts from the pattern's start on: set note_rounding_minutes in [response]"
_AS_FOUND = "a concern lasts as long as its findings: set finding_gap_minutes and end_after_clear_minutes in [response]"
_ONE_RANGE = "reads have one range however they come, and no setting: take the key out"
_CANNOT_SAY = "what cannot be said is never normal: set cannot_say in that table"
_NOTHING = "it changed no answer: take the key out"

# dotted name -> what to do instead
RETIRED = {
    "trends.t_exponent": _NOTHING,
    "pack.paper": "pages and exports have the same paper: set paper in [locale]",
    "nichd-2008.gradual": _ONE_FALL,
    "figo-2015.gradual": _ONE_FALL,
    "nice-ng229.gradual": _ONE_FALL,
    "nice-ng229.slow_return_s": "it is a limit with an operator now: set slow_return in [nice-ng229]",
    "nichd-2008.unclassified_counts": _CANNOT_SAY,
    "figo-2015.repetitive_without_toco_per_30_min": _CANNOT_SAY,
    "standards.common.window_signal_seen_fraction": _ONE_SHARE,
    "nichd-2008.window_signal_seen_fraction": _ONE_SHARE,
    "figo-2015.window_signal_seen_fraction": _ONE_SHARE,
    "figo-1986.window_signal_seen_fraction": _ONE_SHARE,
    "nice-ng229.window_signal_seen_fraction": _ONE_SHARE,
    "nichd-2008.baseline_change": "set baseline_change_s in [tracing]",
    "nichd-2008.prolonged_acceleration": _NOTHING,
    "import.ranges.baseline_bpm": _ONE_RANGE,
    "import.ranges.contractions_per_10_min": _ONE_RANGE,
    "response.decision_in_force_minutes": _IN_FORCE,
    "response.escalation_in_force_minutes": _FROM_START,
    "response.readers.lead_minutes": _FROM_START,
    "response.short_episode_minutes": _AS_FOUND,
    "response.flicker_gap_minutes": _AS_FOUND,
    "validate.fit_penalty": "it is part of the second reading's method, and no setting: take the key out",
}
# keys of every table of a kind, by first and last part
RETIRED_OF_KIND = {("response.triggers.", ".lead_minutes"): _FROM_START}


def instead_of(name: str) -> str | None:
    """What to do instead of a retired key (dotted name); None for a key that is not retired."""
    for (first, last), instead in RETIRED_OF_KIND.items():
        if name.startswith(first) and name.endswith(last):
            return instead
    return RETIRED.get(name)

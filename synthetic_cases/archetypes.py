"""The kinds of labour that the unit sees. Each writes its pattern into a draft; the background fills the rest.

The planted patterns are long and strong enough for the published criteria: NICHD 2008 (recurrent: half of the
contractions or more in 20 minutes), FIGO 2015 (repetitive late decelerations for over 30 minutes, over 20 with
reduced variability; variability under 5 for over 50 minutes; one deceleration over 5 minutes), NICE NG229
(variability under 5 for over 50 minutes; one prolonged deceleration of 3 minutes).
"""

from collections.abc import Callable

from synthetic_cases.labours import HOUR, MINUTE, Concern, Draft
from synthetic_cases.patterns import prolonged, with_contractions
from synthetic_cases.plan import LevelChangePlan, SinusoidalPlan

ABSENT_BELOW_BPM = 1.5  # a planted fluctuation under this is 'absent'; NICHD 2008 gives no figure, our choice


def unremarkable(draft: Draft) -> None:
    """Nothing planted."""
    draft.contract()


def recurrent_variable(draft: Draft) -> None:
    """Variable decelerations with two thirds of the contractions for 58 to 75 minutes, moderate variability."""
    draft.contract()
    start, end = _place(draft, 58, 75, latest_s=draft.first_stage_end_s - 5 * MINUTE)
    with_contractions(
        draft.builder,
        draft.contractions,
        (start, end),
        kind="variable",
        share=0.7,
        depth=(28, 52),
        length=(28, 52),
    )
    draft.concerns.append(Concern("recurrent_variable", start, end))


def reduced_variability(draft: Draft) -> None:
    """Variability of about 3 bpm for 40 to 46 minutes, then back by itself."""
    draft.contract()
    start, end = _place(draft, 40, 46)
    draft.hold_variability(start, end, float(draft.rng.uniform(2.8, 3.1)))
    draft.concerns.append(Concern("reduced_variability", start, end))


def rising_baseline(draft: Draft) -> None:
    """A rise of 24 to 27 bpm over two hours, staying under 160."""
    draft.contract()
    draft.baseline_bpm = float(draft.rng.uniform(124, 129))
    start, end = _place(draft, 100, 120)
    top = draft.baseline_bpm + float(draft.rng.uniform(24, 27))
    draft.baseline_knots += [(start, draft.baseline_bpm), (end, top), (draft.duration_s, top)]
    draft.concerns.append(Concern("rising_baseline", start, draft.duration_s))


def tachycardia(draft: Draft) -> None:
    """A baseline of 166 to 171 bpm for 50 to 75 minutes."""
    draft.contract()
    start, end = _place(draft, 50, 75)
    high = float(draft.rng.uniform(166, 171))
    draft.baseline_bpm = float(draft.rng.uniform(144, 150))
    draft.baseline_knots += [
        (start - 15 * MINUTE, draft.baseline_bpm),
        (start, high),
        (end, high),
        (end + 20 * MINUTE, draft.baseline_bpm),
    ]
    draft.concerns.append(Concern("tachycardia", start, end))


def short_prolonged(draft: Draft) -> None:
    """One deceleration of 2.2 to 2.7 minutes: prolonged for NICHD 2008, not for the others."""
    draft.contract()
    start, _ = _place(draft, 4, 5)
    event = prolonged(
        draft.rng, start, minutes=(2.3, 2.7), to_bpm=float(draft.rng.uniform(82, 95)), baseline_bpm=draft.baseline_bpm
    )
    draft.builder.add_deceleration(event)
    draft.concerns.append(Concern("short_prolonged_deceleration", start, event.end_s))


def tachysystole(draft: Draft) -> None:
    """More than 5 contractions per 10 minutes for 40 to 50 minutes under oxytocin, with variable decelerations."""
    draft.oxytocin = True
    start, end = _place(draft, 40, 50, latest_s=draft.first_stage_end_s - 10 * MINUTE)
    usual = draft.rate_per_10_min
    draft.contract(lambda t: 6.6 if start <= t < end else usual(t))
    with_contractions(
        draft.builder,
        draft.contractions,
        (start + 4 * MINUTE, end),
        kind="variable",
        share=0.65,
        depth=(25, 45),
        length=(22, 40),
    )
    draft.concerns.append(Concern("tachysystole", start, end))


def recurrent_late(draft: Draft, minutes: tuple[float, float] = (48, 65), variability_bpm: float = 2.9) -> None:
    """Late decelerations with four fifths of the contractions and minimal variability, to within minutes of birth."""
    length = float(draft.rng.uniform(*minutes)) * MINUTE
    end = draft.duration_s - float(draft.rng.uniform(2, 6)) * MINUTE
    start = max(end - length, 40 * MINUTE)
    usual = draft.rate_per_10_min
    draft.contract(lambda t: 3.4 if start - 300 <= t < end else usual(t))
    draft.hold_variability(start, draft.duration_s, variability_bpm)
    draft.second_stage_variables = 0.0
    with_contractions(draft.builder, draft.contractions, (start, end), kind="late", share=0.9, depth=(22, 36))
    lates = [d for d in draft.builder.decelerations if d.kind == "late"]
    first = lates[0].onset_s
    moments = {"figo-2015/pathological": first + 20 * MINUTE, "nice-ng229/pathological": first + 30 * MINUTE}
    absent = variability_bpm < ABSENT_BELOW_BPM
    if not absent:
        moments["nichd-2008/category_ii_persistent"] = first + 30 * MINUTE
    pattern = "absent_variability_recurrent_late" if absent else "recurrent_late"
    draft.concerns.append(Concern(pattern, first, end, moments, strong=True))


def absent_variability_late(draft: Draft, minutes: tuple[float, float] = (100, 120)) -> None:
    """Late decelerations without any variability: category III for NICHD 2008, which gives no time for it."""
    recurrent_late(draft, minutes, variability_bpm=0.8)


def low_variability(draft: Draft) -> None:
    """Variability under 5 for 70 to 85 minutes and no accelerations."""
    draft.contract()
    start, end = _place(draft, 70, 85)
    draft.hold_variability(start, end, float(draft.rng.uniform(2.7, 3.0)))
    moments = {"figo-2015/pathological": start + 50 * MINUTE, "nice-ng229/pathological": start + 50 * MINUTE}
    draft.concerns.append(Concern("low_variability", start, end, moments, strong=True))


def prolonged_deceleration(draft: Draft) -> None:
    """One deceleration of 5.5 to 7 minutes to about 78 bpm, recovering once treated."""
    draft.contract()
    start, _ = _place(draft, 8, 9)
    event = prolonged(
        draft.rng, start, minutes=(5.8, 7.0), to_bpm=float(draft.rng.uniform(74, 82)), baseline_bpm=draft.baseline_bpm
    )
    draft.builder.add_deceleration(event)
    moments = {
        "nichd-2008/prolonged_deceleration": start + 3 * MINUTE,
        "figo-2015/prolonged_deceleration": start + 3 * MINUTE,
        "nice-ng229/urgent_review": start + 3 * MINUTE,
        "figo-2015/pathological": start + 5 * MINUTE,
    }
    draft.concerns.append(Concern("prolonged_deceleration", start, event.end_s, moments, strong=True))


def terminal_bradycardia(draft: Draft) -> None:
    """A fall to about 75 bpm that does not recover: the tracing ends with the emergency birth."""
    draft.contract()
    draft.second_stage_variables = 0.0
    start = draft.duration_s - float(draft.rng.uniform(11, 15)) * MINUTE
    low = float(draft.rng.uniform(70, 80))
    draft.level_changes.append(LevelChangePlan(start, float(draft.rng.uniform(25, 60)), draft.duration_s, low))
    draft.builder.keep_free(start - 240, draft.duration_s)
    draft.variability_knots += [(start - 120, draft.variability_bpm), (start + 60, 4.0)]
    draft.calm.append((start - 120, draft.duration_s))
    moments = {
        "nichd-2008/prolonged_deceleration": start + 3 * MINUTE,
        "figo-2015/prolonged_deceleration": start + 3 * MINUTE,
        "nice-ng229/urgent_review": start + 3 * MINUTE,
        "figo-2015/pathological": start + 5 * MINUTE,
    }
    draft.concerns.append(Concern("terminal_bradycardia", start, draft.duration_s, moments, strong=True))


def sinusoidal(draft: Draft) -> None:
    """A smooth run of 4 cycles a minute, 11 to 14 bpm high, for 45 to 55 minutes to the end."""
    draft.contract()
    draft.second_stage_variables = 0.0
    end = draft.duration_s
    start = end - float(draft.rng.uniform(45, 55)) * MINUTE
    draft.hold_variability(start, end, 1.2)
    draft.builder.keep_free(start - 60, end)
    draft.sinusoidal.append(
        SinusoidalPlan(start, end, float(draft.rng.uniform(3.5, 4.5)), float(draft.rng.uniform(11, 14)))
    )
    moments = {"nichd-2008/category_iii": start + 20 * MINUTE, "figo-2015/pathological": start + 30 * MINUTE}
    draft.concerns.append(Concern("sinusoidal", start, end, moments, strong=True))


def _place(draft: Draft, shortest_min: float, longest_min: float, latest_s: float | None = None) -> tuple[float, float]:
    """A span of the asked length that starts after the first 35 minutes and ends before the last 12."""
    length = float(draft.rng.uniform(shortest_min, longest_min)) * MINUTE
    last_end = min(latest_s if latest_s is not None else draft.duration_s, draft.duration_s - 12 * MINUTE)
    last_start = max(last_end - length, 35 * MINUTE + 1)
    start = float(draft.rng.uniform(35 * MINUTE, last_start))
    return start, min(start + length, draft.duration_s - 2 * MINUTE)


ARCHETYPES: dict[str, Callable[[Draft], None]] = {
    "unremarkable": unremarkable,
    "recurrent_variable": recurrent_variable,
    "reduced_variability": reduced_variability,
    "rising_baseline": rising_baseline,
    "tachycardia": tachycardia,
    "short_prolonged_deceleration": short_prolonged,
    "tachysystole": tachysystole,
    "recurrent_late": recurrent_late,
    "absent_variability_recurrent_late": absent_variability_late,
    "low_variability": low_variability,
    "prolonged_deceleration": prolonged_deceleration,
    "terminal_bradycardia": terminal_bradycardia,
    "sinusoidal": sinusoidal,
}

PATHOLOGICAL = (
    "recurrent_late",
    "absent_variability_recurrent_late",
    "low_variability",
    "prolonged_deceleration",
    "terminal_bradycardia",
    "sinusoidal",
)
SUSPICIOUS = (
    "recurrent_variable",
    "reduced_variability",
    "rising_baseline",
    "tachycardia",
    "short_prolonged_deceleration",
    "tachysystole",
)
SHORTEST_HOURS = {
    "rising_baseline": 4.5,
    "recurrent_variable": 2.8,
    "tachysystole": 2.4,
    "recurrent_late": 2.5,
    "absent_variability_recurrent_late": 4.0,
    "low_variability": 2.8,
    "sinusoidal": 2.2,
    "tachycardia": 2.6,
}
"""Hours a tracing needs at least so that the pattern and its surroundings fit."""

assert set(PATHOLOGICAL) | set(SUSPICIOUS) | {"unremarkable"} == set(ARCHETYPES)
assert max(SHORTEST_HOURS.values()) * HOUR < 9 * HOUR

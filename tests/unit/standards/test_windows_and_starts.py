"""What a window shows, since when a finding stands and which text decides: both sides of each edge, by hand."""

from dataclasses import replace

import numpy as np
import pytest

from audit.standards.basics import marks_of, within
from audit.standards.falls import falls_of
from audit.standards.figo_2015 import _Pass as Figo
from audit.standards.figo_2015_table import KINDS as FIGO_KINDS
from audit.standards.figo_2015_table import deceleration_kinds as figo_kinds
from audit.standards.nice_ng229_pass import Pass as Nice
from audit.standards.nice_ng229_table import KINDS as NICE_KINDS
from audit.standards.nice_ng229_table import deceleration_kinds as nice_kinds
from audit.standards.nichd_2008 import _Pass as Nichd
from audit.standards.registry import FORMER_STANDARDS
from audit.standards.seen import Seen
from audit.standards.types import BoolArray
from audit.tracing.types import Contraction, Deceleration, LevelChange, Reading, Sinusoidal
from tests.reading_builder import (
    SETTINGS,
    category_at_end,
    contraction,
    deceleration,
    late_at,
    minutes_of,
    reading,
    reasons_at_end,
    table,
    variable_at,
    window_of,
)


def shown(name: str, made: Reading) -> BoolArray:
    """Which falls the trailing half hour shows at each minute."""
    if name == "nichd-2008":
        return Nichd(Seen(made), marks_of(made), 0.0, table(name)).shown(30.0)
    every = np.ones(len(made.decelerations) + len(made.level_changes), dtype=bool)
    if name == "figo-2015":
        return Figo(Seen(made), marks_of(made), 0.0, table(name)).shown(every, 30.0)
    work = Nice(Seen(made), marks_of(made), 0.0, table(name))
    return work.in_window(every, work.known_s, 30.0)


ALL = ("nichd-2008", "figo-2015", "nice-ng229")


@pytest.mark.parametrize("name", ALL)
def test_a_fall_of_the_level_is_shown_until_it_is_a_baseline(name: str) -> None:
    # NICHD 2008: from 10 minutes on a change of baseline, and no deceleration any more
    made = reading(60, baseline=[150.0] * 20 + [125.0] * 40, level_changes=[LevelChange(1200.0, 3600.0, 150.0, 125.0)])
    column = shown(name, made)[:, 0]
    assert column[28]
    assert not column[29:].any()


@pytest.mark.parametrize("name", ALL)
def test_a_window_shows_what_is_known_and_lies_in_it(name: str) -> None:
    # over at 1040 s: the window of minute 47 begins at 1020 s, that of minute 48 at 1080 s
    column = shown(name, reading(60, decelerations=[variable_at(1020.0)]))[:, 0]
    assert np.flatnonzero(column).tolist() == list(range(16, 47))


SIZES = {"figo-2015": (4.9, 5.0, 15.0, 15.1)}  # FIGO 2015: 5 to 15 bpm
RATES = {"nichd-2008": (2.9, 3.0, 5.0, 5.1), "figo-2015": (2.9, 3.0, 5.0, 5.1), "nice-ng229": (2.9, 3.0, 5.0, 5.1)}


@pytest.mark.parametrize("name", ALL)
def test_sinusoidal_is_three_to_five_cycles_a_minute(name: str) -> None:
    """NICHD 2008 and FIGO 2015: 3 to 5 cycles per minute (from memory), FIGO of 5 to 15 bpm; NG229 names neither."""
    severest = {"nichd-2008": "III"}.get(name, "pathological")

    def severe(rate: float, size: float) -> bool:
        run = Sinusoidal(1200.0, 3600.0, rate, size)
        return category_at_end(name, reading(60, sinusoidal=[run])) == severest

    assert [severe(rate, 10.0) for rate in RATES[name]] == [False, True, True, False]
    if name in SIZES:
        assert [severe(4.0, size) for size in SIZES[name]] == [False, True, True, False]


def test_variability_under_five_for_over_fifty_minutes_began_when_it_fell() -> None:
    # NG229: under 5 bpm for more than 50 minutes is red, 30 to 50 amber
    made = reading(120, variability=[12.0] * 30 + [3.0] * 90)
    series = minutes_of("nice-ng229", made).triggers["pathological"]
    first = int(np.argmax(series.met))
    assert first + 1 == 81
    assert series.pattern_start_s[first] == 1800.0
    assert minutes_of("nice-ng229", made).reasons[80][0].startswith("red: variability 3 bpm for 51 min")
    assert minutes_of("nice-ng229", made).reasons[79][0].startswith("amber: variability 3 bpm for 50 min")


@pytest.mark.parametrize(
    ("first_s", "said", "start_s"),
    [
        (1750.0, "red: late decelerations for 30 min; limit 30 min", 1745.0),
        (1751.0, "amber: repetitive late decelerations", 1746.0),
    ],
)
def test_late_decelerations_in_the_former_text(first_s: float, said: str, start_s: float) -> None:
    """CG190 (2017), table of features: late ones for 30 minutes are red, amber before if over half."""
    # from the onset of the first to the end of the last: 30 minutes, or a second less
    peaks = [first_s, *(1840.0 + 120.0 * k for k in range(13)), 3480.0]
    made = reading(60, decelerations=[late_at(p) for p in peaks], contractions=[contraction(p) for p in peaks])
    found = minutes_of("nice-ng229", made, edition="cg190-2017")
    assert said in " | ".join(found.reasons[-1])
    assert found.triggers["pathological"].met[-1] == said.startswith("red")
    if said.startswith("red"):
        assert found.triggers["pathological"].pattern_start_s[-1] == start_s


def of_ten(*kinds: Deceleration, edition: str = "december-2022") -> str:
    """What NICE says of ten contractions two minutes apart, the first of which have these falls."""
    uterus = [contraction(2310.0 + 120.0 * k) for k in range(10)]
    events = [replace_time(event, 120.0 * k) for k, event in enumerate(kinds)]
    return reasons_at_end("nice-ng229", reading(60, decelerations=events, contractions=uterus), edition=edition)


def replace_time(event: Deceleration, by_s: float) -> Deceleration:
    peak = event.contraction_peak_s
    return replace(
        event,
        onset_s=event.onset_s + by_s,
        nadir_s=event.nadir_s + by_s,
        end_s=event.end_s + by_s,
        contraction_peak_s=None if peak is None else peak + by_s,
    )


LATE, VARIABLE = late_at(2310.0), variable_at(2310.0)
# begins with the peak, nadir 15 s after it: neither early nor more than 20 s late (NG229, from memory)
BETWEEN = deceleration(
    2290.0, drop=20.0, length_s=70.0, nadir_after_s=35.0, return_s=35.0, lag_s=15.0, onset_lag_s=10.0
)


@pytest.mark.parametrize(
    ("falls", "open_kind"),
    [
        ((LATE,) * 3 + (BETWEEN,) * 3, True),  # six of ten could be late, three are
        ((LATE,) * 3 + (BETWEEN,) * 2, False),  # five of ten are not over half
        ((VARIABLE,) * 5 + (BETWEEN,), False),  # variable ones cannot be late
        ((LATE,) * 6 + (BETWEEN,), False),  # repetitive whatever the last is
    ],
)
def test_the_kind_is_open_where_it_decides_whether_late_ones_are_repetitive(
    falls: tuple[Deceleration, ...], open_kind: bool
) -> None:
    """NG229 (December 2022): repetitive is with over half of the contractions."""
    assert ("cannot say whether early or late" in of_ten(*falls)) is open_kind


def test_why_the_kind_is_open_is_said() -> None:
    blind = replace(BETWEEN, toco_usable=False, lag_s=None, onset_lag_s=None, contraction_peak_s=None)
    timed, unseen = (
        "1 gradual deceleration timed between the two",
        "1 gradual deceleration without a usable contraction",
    )
    tail = " in the last 30 min"
    assert f"early or late: {timed}{tail}" in of_ten(BETWEEN, edition="amended")
    assert f"early or late: {unseen}{tail}" in of_ten(blind, edition="amended")
    assert f"early or late: {unseen} and {timed}{tail}" in of_ten(BETWEEN, blind, edition="amended")


@pytest.mark.parametrize(
    ("length_s", "peak_s", "said"),
    [
        (120.0, 3000.0, True),
        (119.0, 3000.0, False),
        (120.0, 1741.0, True),  # ends a second after the half hour began
        (120.0, 1740.0, False),  # ends as it begins
    ],
)
def test_long_contractions_of_the_last_half_hour(length_s: float, peak_s: float, said: bool) -> None:
    # NG229, from memory: lasting 2 minutes or more
    uterus = [contraction(600.0, length_s=150.0), contraction(peak_s, length_s=length_s)]
    words = reasons_at_end("nice-ng229", reading(60, contractions=uterus), hypertonus_counts=True)
    assert ("amber: 1 contraction of 120 s or more" in words) is said
    assert ("contraction of" in words) is said
    assert "contraction of" not in reasons_at_end("nice-ng229", reading(60, contractions=uterus))


def test_without_a_usable_toco_nice_times_nothing() -> None:
    event = replace(LATE, toco_usable=False)
    found = falls_of(reading(60, decelerations=[event], contractions=[contraction(2310.0)]))
    (kind,) = nice_kinds(found, np.array([12.0]), np.array([0.0]), table("nice-ng229"))
    assert NICE_KINDS[kind] not in ("late", "early")


GRADUAL = {"nadir_after_s": 35.0}
ABRUPT = {"nadir_after_s": 20.0}
SLOW, QUICK = {"return_s": 35.0}, {"return_s": 20.0}


@pytest.mark.parametrize(
    ("fall", "back", "inside_bpm", "late_under"),
    [
        (GRADUAL, SLOW, 12.0, {"or", "onset", "and"}),
        (GRADUAL, QUICK, 12.0, {"or", "onset"}),
        (ABRUPT, SLOW, 12.0, {"or"}),
        (ABRUPT, QUICK, 12.0, set()),
        (ABRUPT, QUICK, 4.0, {"or", "onset", "and"}),  # or reduced variability inside
    ],
)
def test_shapes_that_make_a_late_one(fall: dict, back: dict, inside_bpm: float, late_under: set[str]) -> None:
    """FIGO 2015: a gradual onset and/or a gradual return and/or reduced variability inside; its three readings."""
    length_s = fall["nadir_after_s"] + back["return_s"] + 10.0
    event = deceleration(
        2300.0, drop=25.0, length_s=length_s, lag_s=30.0, onset_lag_s=25.0, inside_bpm=inside_bpm, **fall, **back
    )
    peak_s = event.contraction_peak_s
    assert peak_s is not None
    # over 5 s before the fall is
    uterus = [Contraction(peak_s - 30.0, peak_s, event.end_s - 5.0, 40.0, 10.0)]
    found = falls_of(reading(60, decelerations=[event], contractions=uterus))
    for choice in ("or", "onset", "and"):
        settings = table("figo-2015", late_shape=choice)
        (kind,) = figo_kinds(found, np.array([12.0]), np.array([0.0]), settings)
        assert (FIGO_KINDS[kind] == "late") is (choice in late_under), choice


@pytest.mark.parametrize("kind", ["late", "variable"])
def test_category_iii_names_what_made_it(kind: str) -> None:
    """NICHD 2008: absent variability with recurrent late, or variable, decelerations (over half in 20 minutes)."""
    peaks = [2410.0 + 120.0 * k for k in range(10)]
    event = {"late": late_at, "variable": variable_at}[kind]
    made = reading(
        60, variability=1.44, decelerations=[event(p) for p in peaks], contractions=[contraction(p) for p in peaks]
    )
    assert f"absent variability (1.4 bpm) with recurrent {kind} decelerations" in reasons_at_end("nichd-2008", made)


def test_one_long_fall_is_told_in_minutes_and_tenths() -> None:
    event = replace(deceleration(2400.0, drop=65.0, length_s=340.0, nadir_after_s=20.0), area_bpm_s=100.0)
    made = reading(60, decelerations=[event])
    said = " | ".join(window_of_1986(made))
    assert "one deep deceleration of 5.6 min; limit 5 min" in said
    assert "one deceleration of 5.6 min; limit 5 min" in reasons_at_end("figo-2015", made)
    assert "one prolonged deceleration of 5.6 min; limit 3 min" in reasons_at_end("nice-ng229", made)
    inside = replace(event, variability_inside_bpm=4.0, end_s=2600.0)
    said = reasons_at_end("figo-2015", reading(60, decelerations=[inside]))
    assert "variability reduced inside a deceleration of 3.3 min; limit 3 min" in said


def window_of_1986(made: Reading) -> tuple[str, ...]:
    found = FORMER_STANDARDS["figo-1986"].window_category(made, 1800.0, 3600.0, SETTINGS.of_standards["figo-1986"])
    return found.reasons


def test_windows_of_a_sum_begin_with_the_tracing_and_end_with_it() -> None:
    summed = np.array([0.0, 1.0, 2.0, 3.0])
    starts, ends = np.array([-5.0, -5.0, 1.0, 2.0, 3.0]), np.array([0.0, 2.0, 9.0, 1.0, 9.0])
    assert within(summed, starts, ends).tolist() == [0.0, 2.0, 2.0, 0.0, 0.0]


@pytest.mark.parametrize(
    ("variability", "looked_for"),
    [
        ([15.9] * 40 + [4.0] * 5 + [15.9] * 15, 1),  # ten minutes with five of 4: 9.95 at the median
        ([15.9] * 40 + [4.0] * 4 + [15.9] * 16, 0),
    ],
)
def test_little_variability_is_that_of_ten_minutes(variability: list[float], looked_for: int) -> None:
    # our choice, as the ten minutes of a baseline (NICHD 2008)
    made = reading(60, variability=variability)
    rate = made.fhr_1hz.copy()
    rate[1800:1830] -= 12.0
    assert Seen(replace(made, fhr_1hz=rate)).falls_with_shallow[0].onset_s.size == looked_for


@pytest.mark.parametrize(("onset_s", "since_s"), [(1139.0, 1200.0), (1140.0, 1140.0), (1800.0, 1200.0)])
def test_a_level_began_with_the_change_behind_it(onset_s: float, since_s: float) -> None:
    # our choice: a change up to a minute before the ten minutes of baseline that first show it
    made = reading(60, baseline=[140.0] * 20 + [170.0] * 40, level_changes=[LevelChange(onset_s, 3600.0, 140.0, 170.0)])
    seen = Seen(made)
    basics = seen.basics(marks_of(made), 0.0, table("figo-2015"))
    found = seen.level_start_s(basics, basics.at_s >= 1800.0)
    assert np.isnan(found[28])
    assert set(found[29:]) == {since_s}


def test_the_worst_of_a_window_that_ends_unread() -> None:
    """A window whose end cannot be assessed is not assessable unless it holds the severest (our choice)."""
    event = deceleration(2000.0, drop=60.0, length_s=400.0, nadir_after_s=20.0)
    dark = [(2500.0, 3600.0)]
    assert window_of("figo-2015", reading(60, decelerations=[event], unseen=dark), 1800.0, 3600.0).category == (
        "pathological"
    )
    assert window_of("figo-2015", reading(60, baseline=105.0, unseen=dark), 1800.0, 3600.0).category == "not assessable"
    slow = reading(90, baseline=[90.0] * 40 + [140.0] * 50, unseen=[(2700.0, 5400.0)])
    found = window_of("figo-2015", slow, 1800.0, 5400.0)
    assert (found.worst, found.final) == ("pathological", "not assessable")


def test_a_pattern_that_only_its_window_makes_began_with_the_first_fall_in_it() -> None:
    """NICHD 2008: recurrent = with half or more of the contractions in any 20 minutes.

    Two of four contractions have a late deceleration, the last two: from neither of them on are there four
    contractions, so the window alone makes the pattern, and what began it is the first of the two, not the last.
    """
    peaks = [330.0 + 300.0 * k for k in range(11)]
    made = reading(
        60,
        variability=0.5,
        contractions=[contraction(at) for at in peaks],
        decelerations=[late_at(at) for at in peaks[6:8]],
    )
    series = minutes_of("nichd-2008", made).triggers["category_iii"]
    assert series.met.any()
    assert set(series.pattern_start_s[series.met]) == {peaks[6] - 5.0}

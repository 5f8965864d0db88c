"""Falls that could be abrupt or gradual: both categories are told where one depends on them."""

from dataclasses import replace

import numpy as np
import pytest

from audit.standards.falls import falls_of
from audit.standards.figo_2015_table import VARIABLE as FIGO_VARIABLE
from audit.standards.figo_2015_table import deceleration_kinds as figo_kinds
from audit.standards.nice_ng229_table import VARIABLE as NICE_VARIABLE
from audit.standards.nice_ng229_table import deceleration_kinds as nice_kinds
from audit.standards.nichd_2008_table import deceleration_kinds as nichd_kinds
from audit.tracing.types import Deceleration, Reading
from tests.reading_builder import contraction, deceleration, minutes_of, reading, reasons_at_end, table, window_of
from tests.textbook import Dip, every, read, strip

PEAKS = [contraction(60.0 * k) for k in range(3, 60, 4)]


def near_30_s(fall_s: float, kind: str, other: str) -> Deceleration:
    """Nadir 30 s after a contraction's peak, over after its end."""
    event = deceleration(
        2580.0 + 30.0 - fall_s, drop=20.0, length_s=55.0, nadir_after_s=fall_s, lag_s=30.0, onset_lag_s=31.0, kind=kind
    )
    return replace(event, kind_certain=False, other_kind=other)  # type: ignore[arg-type]


def made(event: Deceleration) -> Reading:
    return reading(60, decelerations=[event], contractions=PEAKS)


def test_a_late_one_that_could_be_abrupt_names_the_other_category() -> None:
    # NICE, amended: any late deceleration is red; a variable one of 55 s is white.
    late = made(near_30_s(31.0, "late", "variable"))
    expected = "hinges on one late deceleration whose fall of 31 s could be abrupt: then normal"
    assert reasons_at_end("nice-ng229", late).endswith(expected)
    assert expected in window_of("nice-ng229", late, 1800.0, 3600.0).reasons


def test_an_abrupt_one_that_could_be_late_does_too() -> None:
    words = reasons_at_end("nice-ng229", made(near_30_s(28.0, "variable", "late")))
    assert words.endswith("hinges on one variable deceleration whose fall of 28 s could be gradual: then pathological")


@pytest.mark.parametrize(("fall_s", "kind", "other"), [(31.0, "late", "variable"), (28.0, "variable", "late")])
def test_a_trigger_is_told_for_the_kind_that_changes_it(fall_s: float, kind: str, other: str) -> None:
    # NICE, amended: any late deceleration is red, a variable one of 55 s is white; the fall under 30 s is the variable
    # one's (NICHD 2008). Taken as the kind that it was judged, nothing changes.
    found = minutes_of("nice-ng229", made(near_30_s(fall_s, kind, other))).triggers["pathological"]
    changed, same = (found.if_abrupt, found.if_gradual) if kind == "late" else (found.if_gradual, found.if_abrupt)
    assert found.met.any() == (kind == "late")
    assert changed is not None
    assert changed.met.any() != found.met.any()
    assert same is None


def test_of_several_alike_all_are_taken_as_one_kind() -> None:
    # NICE, amended: any late deceleration is red. Two falls that last about 30 s are both abrupt, or both gradual.
    first = near_30_s(28.0, "variable", "late")
    first = replace(first, onset_s=first.onset_s - 480.0, nadir_s=first.nadir_s - 480.0, end_s=first.end_s - 480.0)
    both = reading(60, decelerations=[first, near_30_s(31.0, "late", "variable")], contractions=PEAKS)
    words = reasons_at_end("nice-ng229", both)
    assert words.endswith("hinges on one late deceleration whose fall of 31 s could be abrupt: then normal")


def test_only_falls_that_the_category_looks_back_on_are_named() -> None:
    # NICE, amended: any late deceleration is red, of the half hour that a category looks back on (our choice)
    late = near_30_s(31.0, "late", "variable")
    earlier = replace(late, onset_s=late.onset_s - 1920.0, nadir_s=late.nadir_s - 1920.0, end_s=late.end_s - 1920.0)
    words = reasons_at_end("nice-ng229", reading(60, decelerations=[earlier, late], contractions=PEAKS))
    assert words.endswith("hinges on one late deceleration whose fall of 31 s could be abrupt: then normal")


def test_the_other_kind_has_a_category_from_the_same_minute_on() -> None:
    # NICHD 2008: a baseline is that of ten minutes, so both ways the first category is that of the tenth
    event = replace(
        deceleration(300.0, drop=20.0, length_s=55.0, nadir_after_s=31.0, lag_s=30.0, onset_lag_s=31.0),
        kind_certain=False,
        other_kind="variable",
    )
    said = minutes_of("nice-ng229", made(event)).reasons
    assert not any("hinges" in reason for reason in said[8])
    assert said[9][-1] == "hinges on one late deceleration whose fall of 31 s could be abrupt: then normal"


def of_length(length_s: float, kind: str, other: str | None, fall_s: float = 40.0, lag_s: float = 5.0) -> Deceleration:
    """Measured to within 8 s; begins 33 min after the start."""
    event = deceleration(
        1980.0, drop=30.0, length_s=length_s, nadir_after_s=fall_s, lag_s=lag_s, onset_lag_s=5.0, kind=kind
    )
    return replace(event, kind_certain=other is None, other_kind=other, length_error_s=8.0)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("name", "event", "category", "expected"),
    [
        # NICHD 2008: prolonged, and so category II, from 2 min on; an early one leaves category I
        ("nichd-2008", of_length(118.0, "early", "prolonged"), "I",
         "hinges on one deceleration of 1 min 58 s that could last 2 min or more: then II"),
        ("nichd-2008", of_length(124.0, "prolonged", "early"), "II",
         "hinges on one deceleration of 2 min 04 s that could be shorter than 2 min: then I"),
        ("nichd-2008", of_length(111.0, "early", None), "I", ""),
        # NICE NG229: one of 3 min or more is red; shorter variable ones are amber only once they go on for 30 min
        ("nice-ng229", of_length(184.0, "prolonged", None, 10.0), "pathological",
         "hinges on one deceleration of 3 min 04 s that could be shorter than 3 min: then normal"),
        ("nice-ng229", of_length(189.0, "prolonged", None, 10.0), "pathological", ""),
        # FIGO 2015: pathological is one of more than 5 min; a shorter one by itself leaves the class
        ("figo-2015", of_length(304.0, "prolonged", None), "pathological",
         "hinges on one deceleration of 5 min 04 s that could last 5 min or less: then normal"),
        ("figo-2015", of_length(300.0, "prolonged", None), "normal",
         "hinges on one deceleration of 5 min that could last more than 5 min: then pathological"),
    ],
)  # fmt: skip
def test_a_length_at_a_limit_names_the_other_category(
    name: str, event: Deceleration, category: str, expected: str
) -> None:
    found = minutes_of(name, made(event))
    assert found.categories[-1] == category
    assert [words for words in found.reasons[-1] if "hinges" in words] == ([expected] if expected else [])


def test_of_lengths_at_several_limits_all_are_named() -> None:
    # FIGO 2015: more than 3 min is prolonged, more than 5 min pathological; which of the two decides is not said
    both = [of_length(304.0, "prolonged", None), replace(of_length(184.0, "prolonged", None), onset_s=2700.0)]
    both[1] = replace(both[1], nadir_s=2740.0, end_s=2884.0)
    words = reasons_at_end("figo-2015", reading(60, decelerations=both, contractions=PEAKS))
    assert (
        "hinges on 2 decelerations of 3 min 04 s to 5 min 04 s, each near a limit, that could be shorter: then" in words
    )


@pytest.mark.parametrize(("length_s", "met"), [(176.0, False), (184.0, True)])
def test_a_trigger_is_told_for_the_length_that_changes_it(length_s: float, met: bool) -> None:
    # NICE NG229: urgent review from 3 min on
    found = minutes_of("nice-ng229", made(of_length(length_s, "prolonged", None))).triggers["urgent_review"]
    changed, same = (found.if_shorter, found.if_longer) if met else (found.if_longer, found.if_shorter)
    assert found.met.any() == met
    assert changed is not None
    assert changed.met.any() != met
    assert same is None


@pytest.mark.parametrize("name", ["nichd-2008", "figo-2015"])
def test_nothing_is_said_where_the_category_is_the_same(name: str) -> None:
    # NICHD: II with either. FIGO: one of either kind is not repetitive.
    assert "hinges" not in reasons_at_end(name, made(near_30_s(31.0, "late", "variable")))


def test_thirty_seconds_are_judged_once_for_all_standards() -> None:
    # NICHD 2008: under 30 s abrupt, 30 s or more gradual; the time is the one by which the reading judged.
    peaks = every(4, 3, 60)
    falls_s = np.linspace(12, 55, len(peaks))
    for seed in (1, 2, 3):
        dips = [Dip(p + 35 - fall, 40, fall, 0, 25) for p, fall in zip(peaks, falls_s, strict=True)]
        found = falls_of(read(strip(60, peaks=peaks, dips=dips, seed=seed)))
        short = (found.duration_s < 120) & ~found.shallow & (found.depth_bpm > 20)
        nothing = np.full(found.onset_s.size, np.nan)
        around = np.full(found.onset_s.size, 12.0)
        plain = replace(found, variability_inside_bpm=around, return_s=np.zeros(found.onset_s.size))
        by_nichd = nichd_kinds(plain, table("nichd-2008")) == "variable"  # type: ignore[arg-type]
        by_figo = figo_kinds(plain, around, nothing, table("figo-2015")) == FIGO_VARIABLE  # type: ignore[arg-type]
        by_nice = nice_kinds(plain, around, nothing, table("nice-ng229")) == NICE_VARIABLE  # type: ignore[arg-type]
        assert short.sum() >= 10
        assert by_nichd[short].tolist() == by_figo[short].tolist() == by_nice[short].tolist()
        assert 0 < by_nichd[short].sum() < short.sum()

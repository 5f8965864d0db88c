"""Categories: what stands when little was seen, how a class holds over a window, and what the reasons say."""

import numpy as np
import pytest

from audit.standards.registry import STANDARDS
from audit.standards.seen import Seen
from audit.tracing.types import Reading
from tests.reading_builder import (
    category_at_end,
    contraction,
    deceleration,
    edited,
    late_at,
    minutes_of,
    reading,
    reasons_at_end,
    table,
    variable_at,
    window_of,
)

ALL = tuple(STANDARDS)
UNREMARKABLE = {"nichd-2008": "I", "figo-2015": "normal", "nice-ng229": "normal"}
WORST = {"nichd-2008": "III", "figo-2015": "pathological", "nice-ng229": "pathological"}


@pytest.mark.parametrize("name", ALL)
def test_categories_are_the_contract_words(name: str) -> None:
    expected = ("I", "II", "III") if name == "nichd-2008" else ("normal", "suspicious", "pathological")
    assert STANDARDS[name].levels == expected


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize(("lost_s", "assessable"), [(900.0, True), (901.0, False)])
def test_signal_seen_limit(name: str, lost_s: float, assessable: bool) -> None:
    # Half of 30 minutes, of a minute's window as of a reader's: our choice, no standard number known.
    made = reading(60, unseen=[(2400.0, 2400.0 + lost_s)])
    expected = UNREMARKABLE[name] if assessable else "not assessable"
    assert category_at_end(name, made) == expected
    found = window_of(name, made, 1800.0, 3600.0)
    assert found.category == expected
    assert any("signal seen 49 % of the last 30 min" in reason for reason in found.reasons) is not assessable


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize(("lost_s", "said"), [(359.0, False), (360.0, True), (720.0, True)])
def test_how_much_is_hidden_is_said_from_a_fifth_on(name: str, lost_s: float, said: bool) -> None:
    # FIGO 2015 asks for less than 20 % of signal loss, from memory.
    words = reasons_at_end(name, reading(60, unseen=[(2400.0, 2400.0 + lost_s)]))
    assert (f"{lost_s / 18:.0f} % of the last 30 min hidden" in words) is said


@pytest.mark.parametrize("name", ["figo-2015", "nice-ng229"])
def test_what_was_seen_can_suffice(name: str) -> None:
    event = deceleration(3000.0, drop=60.0, length_s=400.0, nadir_after_s=20.0)
    made = reading(60, decelerations=[event], unseen=[(1800.0, 2700.0)])
    assert category_at_end(name, made) == "pathological"


@pytest.mark.parametrize("name", ALL)
def test_a_lesser_finding_does_not_suffice(name: str) -> None:
    made = reading(60, baseline=105.0, unseen=[(1800.0, 2880.0)])
    assert category_at_end(name, made) == "not assessable"
    words = reasons_at_end(name, made)
    assert words.startswith("signal seen 40 %")
    assert "105 bpm" in words


@pytest.mark.parametrize("name", ALL)
def test_no_category_in_the_first_minutes(name: str) -> None:
    categories = minutes_of(name, reading(30)).categories
    assert set(categories[:9]) == {"not assessable"}
    assert set(categories[9:]) == {UNREMARKABLE[name]}


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("minutes", [0.0, 1 / 60, 1.0, 2.0, 30.0])
def test_tracings_without_signal(name: str, minutes: float) -> None:
    made = reading(minutes, unseen=[(0.0, minutes * 60)] if minutes else (), toco=False)
    found = minutes_of(name, made)
    assert len(found.reasons) == found.at_s.size
    assert set(found.categories) <= {"not assessable"}
    for series in found.triggers.values():
        assert not series.met.any()
        assert series.unseen.all()


def test_the_reason_names_criterion_value_and_limit() -> None:
    made = reading(80, variability=[12.0] * 18 + [3.0] * 62)
    assert reasons_at_end("figo-2015", made) == "variability 3 bpm for 62 min; limit 50 min"


@pytest.mark.parametrize("name", ALL)
def test_an_unremarkable_minute_says_what_was_measured(name: str) -> None:
    assert "baseline 140 bpm, variability 12 bpm" in reasons_at_end(name, reading(60))


def test_the_ten_minute_category_is_named_where_it_differs() -> None:
    peaks = [contraction(60.0 * k) for k in range(2, 60, 4)]
    made = reading(60, decelerations=[variable_at(2400.0)], contractions=peaks)
    assert category_at_end("nichd-2008", made) == "II"
    assert "last 10 min alone: category I" in reasons_at_end("nichd-2008", made)


@pytest.mark.parametrize("expected", ["II", "not assessable"])
def test_gradual_decelerations_of_unknown_kind(expected: str) -> None:
    event = deceleration(3000.0, drop=20.0, length_s=70.0, nadir_after_s=35.0, return_s=30.0, toco=False)
    made = reading(60, decelerations=[event], toco=False)
    assert category_at_end("nichd-2008", made, cannot_say=expected) == expected
    assert reasons_at_end("nichd-2008", made, cannot_say=expected).startswith("cannot say whether early or late")


def test_recurrence_needs_usable_toco() -> None:
    peaks = [2410.0 + 120.0 * k for k in range(10)]
    made = reading(60, decelerations=[late_at(p) for p in peaks[:9]], contractions=[contraction(p) for p in peaks])
    assert "repetitive" in reasons_at_end("figo-2015", made)
    unusable = edited(made, {"toco_usable_1hz": np.zeros(3600, dtype=bool)})
    for cannot_say in ("suspicious", "not assessable"):
        assert category_at_end("figo-2015", unusable, cannot_say=cannot_say) == cannot_say
        assert reasons_at_end("figo-2015", unusable, cannot_say=cannot_say).startswith("cannot say")


@pytest.mark.parametrize(("number", "expected"), [(2, "normal"), (3, "suspicious")])
def test_as_many_as_would_be_repetitive_with_the_fewest_contractions(number: int, expected: str) -> None:
    # FIGO 2015: more than half; of at least four contractions (our choice) that is three.
    made = reading(60, decelerations=[variable_at(2400.0 + 300.0 * k) for k in range(number)], toco=False)
    assert category_at_end("figo-2015", made) == expected


@pytest.mark.parametrize(("length_s", "said"), [(270.0, False), (180.0, True)])
def test_one_deceleration_over_several_contractions_is_no_pattern(length_s: float, said: bool) -> None:
    # FIGO 2015: decelerations that accompany more than half of the contractions. Here three of the four have one.
    peaks = [2500.0, 2600.0, 2700.0, 3100.0]
    events = [deceleration(2460.0, drop=30.0, length_s=length_s, nadir_after_s=20.0)]
    if said:  # the same time in two
        events.append(deceleration(2680.0, drop=30.0, length_s=50.0, nadir_after_s=20.0))
    made = reading(60, decelerations=events, contractions=[contraction(p, length_s=80.0) for p in peaks])
    assert ("repetitive decelerations: 3 of 4 contractions" in reasons_at_end("figo-2015", made)) is said


@pytest.mark.parametrize(
    ("number", "baseline", "said"),
    [
        (4, 140.0, None),
        (5, 140.0, "5 of 10 contractions have one), with one more: suspicious"),
        (6, 140.0, "6 of 10 contractions have one), with one fewer: normal"),
        (7, 140.0, None),
        (5, 165.0, None),
        (6, 165.0, None),
    ],
)
def test_figo_tells_where_one_deceleration_decides(number: int, baseline: float, said: str | None) -> None:
    # FIGO 2015: repetitive are those that go with more than half of the contractions; a tachycardia decides by itself.
    peaks = [1890.0 + 180.0 * k for k in range(10)]

    def made(so_many: int) -> Reading:
        events = [variable_at(peak) for peak in peaks[10 - so_many :]]
        return reading(60, baseline=baseline, decelerations=events, contractions=[contraction(p) for p in peaks])

    words = reasons_at_end("figo-2015", made(number))
    assert ("hinges" in words) is (said is not None)
    if said:
        assert words.endswith(f"hinges on one deceleration ({said}")
        assert words.endswith(category_at_end("figo-2015", made(number + (1 if "more" in said else -1))))
        assert window_of("figo-2015", made(number), 1800.0, 3600.0, window_rule="final").reasons[-1] in words


def test_figo_tells_a_prolonged_deceleration_and_leaves_the_class() -> None:
    # FIGO 2015: prolonged over 3 minutes, pathological over 5; the table has no word for one between them.
    event = deceleration(2400.0, drop=30.0, length_s=240.0, nadir_after_s=20.0)
    made = reading(60, decelerations=[event])
    words = "one prolonged deceleration of 4 min; limit 3 min"
    assert category_at_end("figo-2015", made, single_prolonged="normal") == "normal"
    assert words in reasons_at_end("figo-2015", made, single_prolonged="normal")
    assert category_at_end("figo-2015", made, single_prolonged="suspicious") == "suspicious"


@pytest.mark.parametrize(
    ("inside_bpm", "length_s", "expected"),
    [(4.0, 181.0, "pathological"), (5.0, 181.0, "normal"), (4.0, 180.0, "normal")],
)
def test_figo_counts_reduced_variability_inside_a_deceleration(inside_bpm, length_s, expected) -> None:
    # FIGO 2015: reduced is under 5 bpm for more than 50 minutes, or for more than 3 inside decelerations
    event = deceleration(2400.0, drop=30.0, length_s=length_s, nadir_after_s=20.0, inside_bpm=inside_bpm)
    assert category_at_end("figo-2015", reading(60, decelerations=[event]), single_prolonged="normal") == expected


@pytest.mark.parametrize(
    ("number", "contractions", "said"),
    [
        (0, False, "no repetitive decelerations"),
        (1, False, "1 deceleration, too few to be repetitive, contractions not known"),
        (2, False, "2 decelerations, too few to be repetitive, contractions not known"),
        (2, True, "no repetitive decelerations"),
    ],
)
def test_figo_claims_no_absence_where_no_contraction_was_seen(number: int, contractions: bool, said: str) -> None:
    # the wording is our choice
    uterus = [contraction(120.0 * k) for k in range(1, 30)] if contractions else []
    events = [variable_at(2400.0 + 600.0 * k) for k in range(number)]
    made = reading(60, decelerations=events, contractions=uterus, toco=contractions)
    assert reasons_at_end("figo-2015", made) == f"baseline 140 bpm, variability 12 bpm, {said}"


@pytest.mark.parametrize(
    ("rule", "expected"),
    [("worst", ("suspicious", "suspicious", "normal")), ("final", ("normal", "suspicious", "normal"))],
)
def test_how_a_class_holds_over_a_window(rule: str, expected: tuple[str, str, str]) -> None:
    made = reading(60, baseline=[140.0] * 30 + [165.0] * 12 + [140.0] * 18)
    found = window_of("figo-2015", made, 1800.0, 3600.0, window_rule=rule)
    assert (found.category, found.worst, found.final) == expected
    other = "at its end: normal" if rule == "worst" else "at its worst minute: suspicious"
    assert found.reasons[-1] == f"the window {other}"


def test_a_window_counts_its_own_decelerations_only() -> None:
    before = deceleration(1200.0, drop=60.0, length_s=400.0, nadir_after_s=20.0)
    made = reading(60, decelerations=[before])
    assert window_of("figo-2015", made, 1800.0, 3600.0).category == "normal"
    assert window_of("figo-2015", made, 1500.0, 3300.0).category == "pathological"


def test_a_window_shorter_than_ten_minutes_has_a_category() -> None:
    assert window_of("figo-2015", reading(60), 3000.0, 3300.0).category == "normal"
    assert window_of("figo-2015", reading(60, unseen=[(3000.0, 3200.0)]), 3000.0, 3300.0).category == "not assessable"


def test_a_long_pattern_may_begin_before_the_window() -> None:
    made = reading(80, variability=[12.0] * 20 + [3.0] * 60)
    assert window_of("figo-2015", made, 3000.0, 4800.0).category == "pathological"


def test_an_empty_window_is_refused() -> None:
    with pytest.raises(ValueError, match="empty"):
        window_of("figo-2015", reading(60), 600.0, 600.0)


@pytest.mark.parametrize("name", ALL)
def test_the_minute_and_the_window_agree_at_its_end(name: str) -> None:
    peaks = [contraction(60.0 + 180.0 * k) for k in range(20)]
    made = reading(60, decelerations=[late_at(p.peak_s) for p in peaks[8:18]], contractions=peaks)
    found = window_of(name, made, 1800.0, 3600.0, window_rule="final")
    assert found.category == category_at_end(name, made)


@pytest.mark.parametrize("name", ALL)
def test_later_samples_do_not_change_earlier_minutes(name: str) -> None:
    peaks = [contraction(60.0 + 180.0 * k) for k in range(30)]
    events = [late_at(p.peak_s) if k % 2 else variable_at(p.peak_s) for k, p in enumerate(peaks)]
    whole = reading(90, decelerations=events, contractions=peaks, variability=[12.0] * 30 + [4.0] * 60)
    cut = reading(
        60,
        decelerations=[e for e in events if e.end_s <= 3600.0],
        contractions=[p for p in peaks if p.end_s <= 3600.0],
        variability=[12.0] * 30 + [4.0] * 30,
    )
    early = minutes_of(name, whole)
    assert early.categories[:60] == minutes_of(name, cut).categories
    assert early.reasons[:60] == minutes_of(name, cut).reasons


@pytest.mark.parametrize("name", ALL)
def test_prepared_once_or_not_gives_the_same(name: str) -> None:
    made = reading(60, decelerations=[late_at(2400.0)], contractions=[contraction(2400.0)])
    seen = Seen(made)
    first = STANDARDS[name].minute_categories(made, table(name), seen=seen)
    again = STANDARDS[name].minute_categories(made, table(name), seen=seen)
    fresh = STANDARDS[name].minute_categories(made, table(name))
    assert first.reasons == again.reasons == fresh.reasons
    assert first.codes.tolist() == fresh.codes.tolist()


def test_a_note_does_not_hide_what_was_measured() -> None:
    # FIGO 2015: tachysystole is named, but not part of the class.
    peaks = [contraction(30.0 + 100.0 * k, length_s=50.0) for k in range(36)]
    made = reading(60, contractions=peaks)
    assert category_at_end("figo-2015", made) == "normal"
    assert minutes_of("figo-2015", made).reasons[-1] == (
        "baseline 140 bpm, variability 12 bpm, no repetitive decelerations",
        "tachysystole, 6 contractions per 10 min (not part of the class)",
    )


def test_an_unknown_number_is_never_printed_as_a_number() -> None:
    made = edited(reading(60), {"variability_1min": np.full(60, np.nan)})
    for name in ALL:
        assert all("nan" not in word for words in minutes_of(name, made).reasons for word in words)
    assert "variability not known" in reasons_at_end("nice-ng229", made)

"""From minutes to episodes: hysteresis, flicker, unseen minutes, exact recognition, a unit's own trigger."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from audit.errors import SettingsError
from audit.response.episodes import Otherwise, category_trigger, episodes, only_otherwise, recognised_otherwise
from audit.response.rules import TriggerRule
from audit.setting_types import changed
from audit.settings import load_settings
from audit.standards.types import TriggerSeries

SETTINGS = load_settings().response


def series(marks: str, *, start_s: float = 0.0, exact: tuple[float, ...] = (), begun_min: float = 20.0):
    """One character per minute: M met, . clear, ? unseen, ! met but unseen."""
    met = np.array([c in "M!" for c in marks], dtype=bool)
    at_s = start_s + 60.0 * np.arange(1, len(marks) + 1)
    return TriggerSeries(
        "figo-2015",
        "pathological",
        at_s,
        met,
        np.array([c in "?!" for c in marks], dtype=bool),
        np.where(met, at_s - 60.0 * begun_min, np.nan),
        [(f"minute {k + 1}",) if c else () for k, c in enumerate(met)],
        exact,
    )


def spans(marks: str, **kwargs: object) -> list[tuple[float, float, bool]]:
    """(recognised minute, ended minute, open end); the k-th character is minute k, counted from 1."""
    found = episodes(series(marks, **kwargs), settings=SETTINGS)
    return [(e.recognisable_s / 60, e.end_s / 60, e.open_end) for e in found]


# An episode ends 3 min after its last finding; findings that come back within 15 seen minutes are one. Our choices.
@pytest.mark.parametrize(
    ("marks", "expected"),
    [
        ("", []),
        ("M", [(1, 1, True)]),
        (".", []),
        ("?", []),
        ("..MMMMMM...", [(3, 11, True)]),
        ("..MMMMMM....", [(3, 11, False)]),
        ("MMMMMM..MMMMMM....", [(1, 17, False)]),
        ("MMMMMM" + 14 * "." + "MMMMMM....", [(1, 29, False)]),
        ("MMMMMM" + 15 * "." + "MMMMMM....", [(1, 9, False), (22, 30, False)]),
        # not yet shown to have ended when the tracing does
        ("MMMMMM..", [(1, 8, True)]),
        # unseen minutes neither start, nor end, nor count as clear
        ("??!!!!MMMMMM....", [(7, 15, False)]),
        ("MMMMMM" + 10 * "?" + 14 * "." + "MM....", [(1, 35, False)]),
        ("MMMMMM" + 10 * "?" + 15 * "." + "MM....", [(1, 9, False), (32, 36, False)]),
        ("??????????", []),
    ],
)
def test_an_episode_ends_after_its_last_finding_and_a_flicker_does_not_make_ten(marks, expected):
    assert spans(marks) == expected


def with_findings(marks: str, *spans_min: tuple[float, float]):
    """The same, with findings from and to the given minutes behind it: the look-back holds the criteria longer."""
    given = series(marks)
    starts, ends = np.array([60.0 * a for a, _ in spans_min]), np.array([60.0 * b for _, b in spans_min])
    last = np.maximum(np.searchsorted(starts, given.at_s, side="right") - 1, 0)
    begun = np.where(given.met, starts[0], np.nan)
    return replace(
        given, pattern_start_s=begun, finding_from_s=starts[last], finding_until_s=np.minimum(ends[last], given.at_s)
    )


# The category keeps the standard's look-back; the concern lasts as long as what was found.
def test_one_deceleration_lasts_as_long_as_itself_whatever_the_window_looks_back():
    (episode,) = episodes(with_findings(5 * "." + 30 * "M" + 10 * ".", (4.5, 6.0)), settings=SETTINGS)
    assert (episode.recognisable_s / 60, episode.last_finding_s / 60, episode.end_s / 60) == (6, 6, 9)
    assert (episode.category_until_s / 60, episode.evidence_minutes, episode.open_end) == (35, 1.5, False)


def test_what_persists_by_its_look_back_alone_is_no_concern():
    # one deceleration of 3 minutes; 'suspicious for 30 minutes' from minute 31 on
    assert episodes(with_findings(30 * "." + 3 * "M" + 10 * ".", (1.0, 4.0)), settings=SETTINGS) == []
    # decelerations that go on are one
    again = [(4.0 * k, 4.0 * k + 1.5) for k in range(9)]
    (episode,) = episodes(with_findings(30 * "." + 12 * "M" + 10 * ".", *again), settings=SETTINGS)
    assert (episode.recognisable_s / 60, episode.last_finding_s / 60) == (31, 33.5)


def test_findings_far_apart_are_two_concerns_though_the_category_never_cleared():
    found = episodes(with_findings(60 * "M" + 20 * ".", (0.0, 2.0), (27.5, 30.0)), settings=SETTINGS)
    assert [(e.pattern_start_s / 60, e.last_finding_s / 60, e.end_s / 60) for e in found] == [(0, 2, 5), (27.5, 30, 33)]
    assert (found[1].recognisable_s / 60, found[1].evidence_minutes) == (28, 2.5)
    assert (found[0].at_start, found[1].at_start) == (True, False)


def test_an_episode_ends_before_the_next_and_begins_no_earlier_than_the_last_finding_of_the_one_before():
    """Findings of a quarter of an hour each at minutes 5, 15 and 25; a clear time of 20 min, a gap of 5. By hand."""
    slow = changed(SETTINGS, end_after_clear_minutes=20.0, finding_gap_minutes=5.0)
    given = series("".join("M" if k in (5, 15, 25) else "." for k in range(1, 51)))
    given = replace(given, finding_from_s=given.at_s - 900.0, finding_until_s=given.at_s)
    found = episodes(given, settings=slow)
    assert [(e.pattern_start_s / 60, e.recognisable_s / 60) for e in found] == [(-15, 5), (5, 15), (15, 25)]
    assert [e.end_s for e in found] == pytest.approx([899.999, 1499.999, 2700.0], abs=1e-6)
    assert all(a.end_s < b.recognisable_s for a, b in pairwise(found))
    (short,) = episodes(series("M....."), settings=slow)  # five clear minutes: it had ended when the tracing did
    assert (short.end_s / 60, short.open_end) == (21, False)


@pytest.mark.parametrize(("met_from", "count"), [(18, 1), (19, 0)])
def test_a_finding_of_a_quarter_of_an_hour_ago_still_starts_a_concern(met_from, count):
    marks = (met_from - 1) * "." + 3 * "M" + 10 * "."
    assert len(episodes(with_findings(marks, (1.0, 3.0)), settings=SETTINGS)) == count


def test_a_finding_that_ended_over_a_minute_ago_is_not_of_this_minute():
    # minute 2 has the second finding, so that minutes 3 to 17 are the fifteen clear ones before the third
    spans_min = (0.0, 1.0), (1.2, 1.99), (17.1, 17.9)
    assert len(episodes(with_findings(40 * "M", *spans_min), settings=SETTINGS)) == 2


def test_the_criteria_held_until_the_first_seen_minute_without_them():
    (episode,) = episodes(with_findings("M.MMM" + 20 * ".", (0.0, 1.0)), settings=SETTINGS)
    assert episode.category_until_s == 60.0


def test_a_series_that_tells_no_beginning_of_its_findings_is_taken_by_its_minutes():
    given = series("..MM" + 20 * ".")
    assert episodes(replace(given, finding_until_s=np.zeros(24)), settings=SETTINGS) == episodes(
        given, settings=SETTINGS
    )


def test_unseen_minutes_within_an_episode_are_counted():
    (episode,) = episodes(series("..MMM???MMM!MM....?"), settings=SETTINGS)
    assert episode.unseen_minutes == 4
    assert episode.reasons == ("minute 3",)


def test_the_pattern_start_is_that_of_the_first_met_minute_and_never_after_recognition():
    (episode,) = episodes(series("..MMMMMM..."), settings=SETTINGS)
    assert episode.pattern_start_s == (3 - 20) * 60
    (late_start,) = episodes(series("..MMMMMM...", begun_min=-5), settings=SETTINGS)
    assert late_start.pattern_start_s == late_start.recognisable_s
    unknown = series("..MMMMMM...")
    unknown.pattern_start_s[:] = np.nan
    assert episodes(unknown, settings=SETTINGS)[0].pattern_start_s == 180


def test_an_exact_second_within_the_minute_replaces_the_minute():
    assert spans("..MMMMMM...", exact=(90.0, 121.0, 150.0, 200.0))[0][0] == pytest.approx(121 / 60)
    # a limit of 'more than' is passed at the mark itself, where it cannot be met yet
    assert spans("..MMMMMM...", exact=(120.0,))[0][0] == 2
    assert spans("..MMMMMM...", exact=(119.0,))[0][0] == 3  # that second belongs to the minute before
    assert spans("..MMMMMM...", exact=(180.0,))[0][0] == 3


@pytest.mark.parametrize("shift_s", [0.25, 17.5, 3600.0, -7200.25])
def test_a_shift_of_all_times_shifts_episodes_and_nothing_else(shift_s):
    marks = "..MMM?.MM....MMMMMM??M......M.."
    here = episodes(series(marks), settings=SETTINGS)
    there = episodes(series(marks, start_s=shift_s), settings=SETTINGS)
    for a, b in zip(here, there, strict=True):
        assert (b.recognisable_s - shift_s, b.end_s - shift_s) == pytest.approx((a.recognisable_s, a.end_s))
        assert (b.open_end, b.unseen_minutes, b.reasons) == (a.open_end, a.unseen_minutes, a.reasons)
        assert b.at_start is a.at_start


def test_the_input_is_left_alone_and_bad_input_is_refused():
    given = series("..MM?M...")
    copy = given.met.copy()
    episodes(given, settings=SETTINGS)
    assert (given.met == copy).all()
    with pytest.raises(ValueError, match="one length"):
        episodes(
            TriggerSeries("figo-2015", "pathological", np.arange(3.0), np.ones(2, bool), np.zeros(3, bool), np.ones(3)),
            settings=SETTINGS,
        )
    with pytest.raises(ValueError, match="increase"):
        episodes(
            TriggerSeries("figo-2015", "pathological", np.zeros(2), np.ones(2, bool), np.zeros(2, bool), np.ones(2)),
            settings=SETTINGS,
        )


def test_a_trigger_without_settings_is_an_error_and_one_switched_off_finds_nothing(tmp_path):
    unknown = series("MMM")
    with pytest.raises(SettingsError, match="figo-2015/no_such"):
        episodes(
            TriggerSeries("figo-2015", "no_such", unknown.at_s, unknown.met, unknown.unseen, unknown.pattern_start_s),
            settings=SETTINGS,
        )
    unit = tmp_path / "unit_settings.toml"
    unit.write_text('[response.triggers."figo-2015/pathological"]\nin_use = false\n', encoding="utf-8")
    assert episodes(unknown, settings=load_settings(unit).response) == []


def own_rule(minutes: float) -> TriggerRule:
    return TriggerRule("nichd-2008", "own", 30.0, frozenset(), categories=("II", "III"), for_minutes=minutes)


def test_a_units_own_trigger_is_met_when_the_categories_lasted():
    words = {"1": "I", "2": "II", "3": "III", "?": "not assessable"}
    marks = "112223?2221"
    at_s = 60.0 * np.arange(1, len(marks) + 1)
    found = category_trigger(at_s, [words[c] for c in marks], np.array([c == "?" for c in marks]), rule=own_rule(5))
    # minutes 3, 4, 5, 6 and 8 are the first five seen ones in II or III; minute 11 is not
    assert np.flatnonzero(found.met).tolist() == [7, 8, 9]
    assert found.pattern_start_s[7] == 120
    assert "for 5 seen minutes" in found.reasons[7][0]


def test_a_units_own_trigger_on_nothing_or_on_one_minute():
    assert category_trigger(np.array([]), [], np.array([], dtype=bool), rule=own_rule(5)).met.tolist() == []
    halves = category_trigger(np.array([30.0, 60.0]), ["II", "II"], np.zeros(2, dtype=bool), rule=own_rule(1))
    assert halves.met.tolist() == [False, True]
    one = category_trigger(np.array([60.0]), ["II"], np.array([False]), rule=own_rule(1))
    assert one.met.tolist() == [True]
    assert one.pattern_start_s.tolist() == [0.0]


@pytest.mark.parametrize(
    ("if_abrupt", "if_gradual", "told"),
    [
        (None, None, ()),
        ("....MMMM" + 20 * ".", None, (Otherwise("abrupt", 300.0),)),
        (None, 28 * ".", (Otherwise("gradual", None),)),
        # as the judged one, though it lasts longer
        ("......MMMMMM" + 16 * ".", None, ()),
        # of another time of the labour
        (26 * "." + "MM", "..MMMMMMMMMM" + 16 * ".", (Otherwise("abrupt", None), Otherwise("gradual", 180.0))),
    ],
)
def test_an_episode_tells_when_it_would_be_recognised_with_falls_of_one_kind(if_abrupt, if_gradual, told):
    others = {"if_abrupt": if_abrupt, "if_gradual": if_gradual}
    made = {name: None if marks is None else series(marks, begun_min=1.0) for name, marks in others.items()}
    own = replace(series("......MMMM" + 18 * ".", begun_min=1.0), **made)
    found = episodes(own, settings=SETTINGS)
    assert [episode.recognisable_s for episode in found] == [420.0]
    assert recognised_otherwise(found, own, settings=SETTINGS) == [told]


def test_a_concern_that_the_other_kind_alone_makes_is_told_apart():
    """What meets an episode is that episode at another time; what meets none is a concern that nobody counts."""
    own = replace(
        series("......MMMM" + 30 * "."),
        if_abrupt=series("......MMMM" + 20 * "." + "MMM" + 7 * "."),
        if_gradual=series("..MMMM" + 34 * "."),
        if_longer=series("......MMMM" + 24 * "." + "MMM" + 3 * "."),
    )
    found = episodes(own, settings=SETTINGS)
    only, longer = only_otherwise(found, own, settings=SETTINGS)
    assert (only.falls_taken_as, only.recognisable_s, only.end_s) == ("abrupt", 31 * 60.0, 36 * 60.0)
    assert (longer.falls_taken_as, longer.recognisable_s) == ("longer", 35 * 60.0)
    taken = [one.falls_taken_as for one in only_otherwise([], own, settings=SETTINGS)]
    assert taken == ["abrupt", "abrupt", "gradual", "longer", "longer"]

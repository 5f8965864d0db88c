"""A steep change of the baseline is listed where it happened, whatever the noise."""

import numpy as np
import pytest

from audit.settings import load_settings
from audit.tracing.baseline import at_other_levels, carry, find_baseline, rough_events
from audit.tracing.level_changes import (
    LevelOfLine,
    _apart,
    _excused_s,
    _lasting_onset,
    follow_long_departures,
    hold_levels,
    is_passage,
    list_changes,
    sharpen_jumps,
)
from audit.tracing.levels import level_path
from audit.tracing.types import Caution
from tests.textbook import Dip, read, strip

SETTINGS = load_settings().tracing
SEEN = np.ones(6000, dtype=bool)


@pytest.mark.parametrize("seed", range(1, 6))
@pytest.mark.parametrize(("before", "after"), [(140.0, 80.0), (140.0, 105.0), (178.0, 140.0), (130.0, 165.0)])
def test_a_step_that_lasts_is_a_change_of_level_from_its_second_on(before: float, after: float, seed: int) -> None:
    # NICHD 2008: a departure of 10 minutes or more is a baseline change. Drawn: 20 s from one level to the other.
    made = read(strip(60, baseline=[(0, before), (40, after)], peaks=range(180, 3600, 240), seed=seed))
    (change,) = made.level_changes
    assert 2390.0 <= change.onset_s <= 2420.0
    assert change.from_bpm == pytest.approx(before, abs=3.0)
    assert change.to_bpm == pytest.approx(after, abs=3.0)


@pytest.mark.parametrize("seed", range(1, 4))
@pytest.mark.parametrize("depth_bpm", [-30.0, 65.0])
def test_the_way_to_a_level_that_lasts_is_no_event_of_its_own(depth_bpm: float, seed: int) -> None:
    # NICHD 2008: a departure of 10 minutes or more is a baseline change. Drawn: a minute from one level to the other.
    made = read(strip(60, dips=[Dip(2400.0, depth_bpm, 60.0, 1130.0, 10.0)], seed=seed))
    assert len(made.level_changes) == 1
    assert made.decelerations == ()
    assert [a for a in made.accelerations if 2380.0 <= a.onset_s <= 2500.0] == []


def test_the_level_of_a_minute_is_that_of_its_middle() -> None:
    line = sharpen_jumps(140.0 + 2.0 * np.arange(20), np.full(1200, 140.0), 1200)  # 2 bpm a minute: a drift
    seconds = np.array([270, 300, 330, 570, 900])
    np.testing.assert_allclose(line[seconds], 139.0 + seconds / 30)


@pytest.mark.parametrize(("seen_s", "known"), [(120, slice(820, 1300)), (119, slice(0, 0))])
def test_two_minutes_of_signal_are_a_baseline_for_three_minutes_on_either_side(seen_s: int, known: slice) -> None:
    # NICHD 2008: at least 2 minutes of baseline in a window of 10, else indeterminate. Three minutes are our choice.
    fhr = np.full(3600, np.nan)
    fhr[1000 : 1000 + seen_s] = 140.0
    expected = np.full(3600, np.nan)
    expected[known] = 140.0
    np.testing.assert_allclose(find_baseline(fhr, load_settings().tracing).baseline_1hz, expected)


@pytest.mark.parametrize(
    ("extreme_bpm", "levels", "onset_s", "end_s", "passage"),
    [
        (115.0, (140.0, 120.0), 590, 610, True),  # 5 bpm past the levels
        (114.9, (140.0, 120.0), 590, 610, False),
        (145.0, (140.0, 120.0), 590, 610, True),
        (145.1, (140.0, 120.0), 590, 610, False),
        (130.0, (140.0, 125.0), 590, 610, True),
        (130.0, (140.0, 125.1), 590, 610, False),
        (110.0, (105.0, 120.0), 590, 610, True),
        (140.0, (140.0, 140.0), 590, 610, False),
        (130.0, (140.0, 120.0), 540, 660, True),
        (130.0, (140.0, 120.0), 540, 661, False),  # longer than two minutes
        (130.0, (140.0, 120.0), 604, 650, True),  # the line steps 4 s before it, and 5 s
        (130.0, (140.0, 120.0), 605, 650, False),
        (130.0, (140.0, 120.0), 550, 595, True),  # and 5 s after it, and 6 s
        (130.0, (140.0, 120.0), 550, 594, False),
        (130.0, (140.0, 120.0), 599, 690, True),  # five seconds after it the tracing was over
    ],
)
def test_a_way_between_two_levels_stays_between_them(extreme_bpm, levels, onset_s, end_s, passage):
    """A change of the baseline is one by 15 bpm, as a deceleration (NICHD 2008); the other limits are our choice."""
    line = np.where(np.arange(692) < 600, *levels)
    assert is_passage(float(onset_s), float(end_s), extreme_bpm, line, SETTINGS) is passage


@pytest.mark.parametrize(("side", "size_bpm", "excused_s"), [(1, 40, 120), (-1, 30.0, 30), (-1, 30.1, 10)])
def test_so_long_a_return_does_not_undo_a_change(side, size_bpm, excused_s):
    """Our choice: two minutes of a deceleration after a rise, half a minute of an acceleration after a fall."""
    assert _excused_s(side, size_bpm) == excused_s
    change = LevelOfLine(1000, 140.0, 140.0 + side * size_bpm)
    for longer, lasts in ((0, True), (1, False)):
        joined = np.where(np.arange(2000) < 1000, 140.0, change.to_bpm)
        joined[1200 : 1200 + excused_s + longer] = 140.0
        assert (_lasting_onset(change, joined, SEEN[:2000], SETTINGS) is not None) is lasts


@pytest.mark.parametrize(("away_s", "lasts"), [(540, True), (539, False)])
def test_a_change_lasts_ten_minutes_but_for_half_a_minute_at_either_edge(away_s, lasts):
    # NICHD 2008: 10 minutes; half a minute of settling is our choice
    joined = np.full(2000, 140.0)
    joined[1000 : 1000 + away_s] = 120.0
    assert (_lasting_onset(LevelOfLine(1000, 140.0, 120.0), joined, SEEN[:2000], SETTINGS) is not None) is lasts
    assert _lasting_onset(LevelOfLine(1000, 140.0, 120.0), np.full(2000, 140.0), SEEN[:2000], SETTINGS) is None


@pytest.mark.parametrize(("again_s", "onset_s"), [(100, 1100), (150, 1150), (151, None)])
def test_a_level_begins_after_a_deceleration_that_came_back(again_s, onset_s):
    """By hand; so soon after it is our choice."""
    joined = np.where(np.arange(3000) < 1000, 140.0, 105.0)
    joined[1050 : 1000 + again_s] = 140.0
    assert _lasting_onset(LevelOfLine(1000, 140.0, 105.0), joined, SEEN[:3000], SETTINGS) == onset_s


def test_of_two_changes_closer_than_that_the_larger_is_kept():
    small, large = LevelOfLine(1000, 140.0, 120.0), LevelOfLine(1539, 120.0, 150.0)
    far, apart = LevelOfLine(2079, 150.0, 130.0), LevelOfLine(1540, 120.0, 150.0)
    assert _apart([small, large, far], SETTINGS) == [large, far]
    assert _apart([far, small, apart], SETTINGS)[:2] == [small, apart]
    assert _apart([LevelOfLine(1100, 140.0, 120.0), small], SETTINGS) == [small]  # of two alike the first


@pytest.mark.parametrize("side", [-1.0, 1.0])
@pytest.mark.parametrize(
    ("away_s", "away_bpm", "moved"), [(600, 15.0, True), (599, 15.0, False), (600, 14.9, False), (900, 40.0, True)]
)
def test_the_line_follows_a_departure_of_ten_minutes_and_fifteen_bpm(side, away_s, away_bpm, moved):
    # NICHD 2008: 10 minutes; 15 bpm is our choice, the depth of a deceleration
    joined, line = np.full(2400, 140.0), np.full(2400, 140.0)
    joined[1000 : 1000 + away_s] += side * away_bpm
    followed, told = follow_long_departures(joined, line, SEEN[:2400], SETTINGS)
    assert told is moved
    np.testing.assert_array_equal(followed, joined if moved else line)
    assert not follow_long_departures(joined, line, SEEN[:1599], SETTINGS)[
        1
    ]  # what is drawn after the last sample is none


@pytest.mark.parametrize(("steady_s", "moved"), [(600, True), (599, False)])
def test_a_departure_is_a_level_where_six_tenths_of_it_lie_together(steady_s, moved):
    joined = np.full(2400, 140.0)
    joined[1000:2000] = 180.0 + 11.0 + np.arange(1000) % 30  # our choice: within 10 bpm of its own median
    joined[1000 : 1000 + steady_s] = 180.0
    assert follow_long_departures(joined, np.full(2400, 140.0), SEEN[:2400], SETTINGS)[1] is moved


@pytest.mark.parametrize(
    ("from_s", "to_s", "held"),
    [
        (600, 1200, list(range(10, 20))),
        (600, 1199, []),  # back within ten minutes
        (719, 2400, list(range(10, 40))),
        (720, 2400, list(range(11, 40))),  # the tracing left two minutes later than the path
    ],
)
def test_the_path_keeps_a_level_that_was_left_for_ten_minutes(from_s, to_s, held):
    path, joined = np.full(40, 140.0), np.full(2400, 140.0)
    path[10 : -(-to_s // 60)] = 120.0
    joined[from_s:to_s] = 120.0
    kept = hold_levels(path, joined, SEEN[:2400], SETTINGS)
    assert np.flatnonzero(kept == 120.0).tolist() == held


@pytest.mark.parametrize("side", [-1.0, 1.0])
@pytest.mark.parametrize(("back_bpm", "held"), [(6.6, False), (6.7, True)])
def test_the_path_leaves_a_level_that_was_there_for_less_than_ten_minutes(side, back_bpm, held):
    """Back is within a third of the change of the former level, however it went there. Our choice."""
    path, joined = np.full(40, 140.0), np.full(2400, 140.0)
    path[10:], joined[600:] = 140.0 + 20.0 * side, 140.0 + back_bpm * side
    joined[600:900] = 140.0 + 20.0 * side
    kept = hold_levels(path, joined, SEEN[:2400], SETTINGS)
    assert np.flatnonzero(kept != 140.0).tolist() == (list(range(10, 40)) if held else [])


def test_a_slow_change_begins_where_the_rate_leaves_the_former_level():
    """20 bpm in 200 s: 5 bpm, the edge of an event, after 50 s. By hand."""
    line = np.interp(np.arange(3000), (1000, 1200), (140.0, 160.0))
    (change,) = list_changes(line, line, SEEN[: line.size], SETTINGS)
    assert (change.onset_s, change.end_s) == (1051.0, 3000.0)
    assert (change.from_bpm, change.to_bpm) == (140.0, 160.0)


@pytest.mark.parametrize(
    ("back_to_bpm", "back_s", "end_s"),
    [
        (140.0, 1600.0, 2500 + 1600 * 30 / 35),  # back within 5 bpm of where it was, the edge of an event
        (140.0, 2600.0, 2500 + 2600 * 17.5 / 35),  # half-way, where the rest takes more than another ten minutes
        (125.0, 2000.0, 2500 + 2000 * 17.5 / 20),  # half-way of a return that goes no further
        (120.0, 2000.0, 6000.0),  # less than half-way is the level still
    ],
)
def test_a_level_ends_where_the_rate_has_come_back_however_slowly(back_to_bpm, back_s, end_s):
    """Our choice: a level has been left once the line has come back half of the way. By hand."""
    line = np.interp(np.arange(6000), (1000, 1030, 2500, 2500 + back_s), (140.0, 105.0, 105.0, back_to_bpm))
    (change,) = list_changes(line, line, SEEN[: line.size], SETTINGS)
    assert change.end_s == pytest.approx(end_s, abs=1.5)


@pytest.mark.parametrize(("seen_s", "level"), [(120, True), (119, False)])
def test_two_minutes_of_a_level_must_be_seen_before_it_is_seen_to_be_left(seen_s, level):
    """NICHD 2008: a baseline needs 2 identifiable minutes. A rise to 170 bpm, then 20 minutes without signal."""
    joined, seen = np.full(3600, 140.0), SEEN[:3600].copy()
    joined[1000:2400] = 170.0
    seen[1000 + seen_s : 2400] = False
    line = np.where(np.arange(3600) < 1000, 140.0, 170.0)
    assert len(list_changes(line, joined, seen, SETTINGS)) == level
    flat = np.full(3600, 140.0)
    assert follow_long_departures(joined, flat, seen, SETTINGS)[1] is level
    path = np.where(np.arange(60) < 17, 140.0, np.where(np.arange(60) < 40, 170.0, 140.0))
    assert (hold_levels(path, joined, seen, SETTINGS) == 170.0).any() == level
    seen[2400:] = False  # nothing was seen after it
    assert len(list_changes(line, joined, seen, SETTINGS)) == 0


@pytest.mark.parametrize(("n_s", "listed"), [(599, 0), (600, 1)])
def test_a_tracing_of_under_ten_minutes_holds_no_change(n_s, listed):
    # NICHD 2008: a change of the baseline lasts for 10 minutes or more
    line = np.where(np.arange(n_s) < 20, 140.0, 100.0)
    assert len(list_changes(line, line, SEEN[:n_s], SETTINGS)) == listed


def test_the_baseline_of_the_last_minutes_is_known_from_the_last_ten():
    # NICHD 2008: 2 minutes of baseline in 10; here 400 s, of which 100 in the last five minutes
    fhr = np.where((np.arange(1800) < 1500) | ((np.arange(1800) >= 1600) & (np.arange(1800) < 1700)), 140.0, np.nan)
    assert find_baseline(fhr, SETTINGS).baseline_1hz[1799] == 140.0
    assert level_path(fhr, SETTINGS).tolist() == [140.0] * 30


def test_a_stretch_that_two_cautions_name_is_moved_once():
    fhr = np.full(1800, 120.0)
    base = find_baseline(np.full(1800, 140.0), SETTINGS)
    told = tuple(
        Caution("baseline_doubtful", start, start + 1200.0, 140.0, 120.0, "Text.", "short") for start in (0.0, 600.0)
    )
    np.testing.assert_allclose(at_other_levels(fhr, base, told, SETTINGS).drawn_1hz, fhr)


@pytest.mark.parametrize("side", [-1, 1])
@pytest.mark.parametrize(
    ("beyond_bpm", "length_s", "peak_bpm", "left_out"),
    [(4.1, 10, 10.0, True), (4.0, 10, 10.0, False), (4.1, 9, 10.0, False), (4.1, 10, 9.9, False)],
)
def test_what_is_left_out_of_a_baseline_is_ten_bpm_away_at_its_peak(side, beyond_bpm, length_s, peak_bpm, left_out):
    """Ten seconds beyond 4 bpm, and 8 s on either side: our choice."""
    away = np.zeros(100)
    away[50 : 50 + length_s] = side * beyond_bpm
    away[55] = side * peak_bpm
    away[20] = np.nan
    for margin_s, more in ((0, {"margin_s": 0}), (8, {})):
        expected = list(range(50 - margin_s, 60 + margin_s)) if left_out else []
        assert np.flatnonzero(rough_events(away, **more)).tolist() == expected


def test_a_line_is_drawn_straight_where_nothing_near_it_was_seen():
    """Seen near the line up to second 299 and from 600 on; it is kept for half a minute more on either side."""
    second = np.arange(900)
    fhr = np.select([second < 300, second < 600], [140.0, 60.0], 150.0)
    line = np.select([second < 330, second < 570], [140.0, 90.0], 150.0)
    none = np.zeros(900, dtype=bool)
    expected = np.interp(second, (329, 570), (140.0, 150.0))
    np.testing.assert_allclose(carry(fhr, line, none, SETTINGS), expected)
    np.testing.assert_array_equal(carry(fhr, line, ~none, SETTINGS), line)


@pytest.mark.parametrize(("first_bpm", "passage"), [(150.0, True), (120.0, False)])
def test_the_first_and_the_last_second_stand_for_what_lies_beyond_them(first_bpm, passage):
    # our choice: five seconds beside an event are looked at, at the edges of a tracing the outermost one
    line = np.full(60, 120.0)
    line[0] = first_bpm
    assert is_passage(3.0, 40.0, 130.0, line, SETTINGS) is passage
    assert is_passage(20.0, 57.0, 130.0, line[::-1], SETTINGS) is passage

"""A steep change of the baseline is listed where it happened, whatever the noise."""

import numpy as np
import pytest

from audit.settings import load_settings
from audit.tracing.baseline import find_baseline
from audit.tracing.level_changes import sharpen_jumps
from tests.textbook import Dip, read, strip


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

"""Falls near 10 minutes: marked as what they were not read as, and read the other way too.

NICHD 2008: 'prolonged ... lasting 2 minutes or more but less than 10 minutes'; a deceleration that 'lasts 10 minutes or
longer ... is a baseline change'. How near is too near to tell is our choice, measured on drawn falls.
"""

import numpy as np
import pytest

from audit.analysis.kept import KeptReading, for_later_stages, pack_reading, unpack_reading
from audit.standards.types import TakenAs
from audit.tracing.types import Reading
from tests.textbook import Dip, read, strip


def fall_of(length_s: float, *, depth_bpm: float = 50.0, seed: int = 200) -> Reading:
    """A fall that begins after 15 min, with edges of 10 s."""
    return read(strip(60, dips=[Dip(900.0, depth_bpm, 10.0, length_s - 20.0, 10.0)], seed=seed))


@pytest.mark.parametrize("length_s", [585.0, 590.0])
def test_a_deceleration_just_short_of_ten_minutes_could_be_a_level(length_s):
    found = fall_of(length_s)
    (event,) = found.decelerations
    assert (event.kind, event.kind_certain, event.other_kind) == ("prolonged", False, "level_change")
    assert (found.level_changes, found.if_shorter) == ((), None)
    (down,) = [change for change in found.if_longer.level_changes if change.to_bpm < change.from_bpm]
    assert (found.if_longer.decelerations, down.onset_s) == ((), event.onset_s)


@pytest.mark.parametrize("length_s", [605.0, 620.0])
def test_a_level_that_was_left_soon_after_ten_minutes_could_be_a_deceleration(length_s):
    found = fall_of(length_s)
    down, back = found.level_changes
    assert (down.kind_certain, down.other_kind) == (False, "prolonged")
    assert (back.kind_certain, back.other_kind) == (True, None)  # the way up is no fall
    assert (found.decelerations, found.if_longer) == ((), None)
    (event,) = found.if_shorter.decelerations
    assert (event.kind, event.onset_s, found.if_shorter.level_changes) == ("prolonged", down.onset_s, ())


@pytest.mark.parametrize("length_s", [560.0, 660.0])
def test_further_from_ten_minutes_nothing_is_marked(length_s):
    found = fall_of(length_s)
    assert all(one.kind_certain for one in (*found.decelerations, *found.level_changes))
    assert found.if_longer is found.if_shorter is None
    assert len(found.decelerations) == (length_s < 600)


@pytest.mark.parametrize("seed", [1, 3, 6, 203])
def test_dips_beside_a_fall_of_nine_minutes_make_no_ten_of_it(seed):
    # each was read as a change of level: dips of 5 bpm and more within 30 s of it were taken for a part of it
    found = read(strip(60, baseline=145.0, dips=[Dip(900.0, 30.0, 10.0, 540.0, 10.0)], seed=seed))
    (event,) = found.decelerations
    assert abs(event.end_s - event.onset_s - 560.0) < 20.0
    assert found.level_changes == ()


def test_a_level_that_goes_on_to_the_end_is_certain():
    # what it would have lasted nobody knows; 10 min of it were there
    found = read(strip(25.1, dips=[Dip(900.0, 50.0, 10.0, 900.0, 10.0)], seed=200))
    (down,) = found.level_changes
    assert (down.end_s, down.kind_certain, found.if_shorter) == (1506.0, True, None)


@pytest.mark.parametrize("seed", [200, 201, 202])
def test_a_level_near_ten_minutes_after_a_rise_is_no_fall(seed):
    found = read(strip(60, dips=[Dip(900.0, -50.0, 10.0, 585.0, 10.0)], seed=seed))
    assert found.if_longer is found.if_shorter is None


@pytest.mark.parametrize(("length_s", "taken"), [(590.0, "longer"), (605.0, "shorter")])
def test_later_stages_are_given_both(length_s: float, taken: TakenAs):
    made = for_later_stages(fall_of(length_s))
    again = unpack_reading(pack_reading(KeptReading(0.0, made))).reading
    other, same = getattr(again, f"if_{taken}"), getattr(made, f"if_{taken}")
    assert (other.decelerations, other.level_changes) == (same.decelerations, same.level_changes)
    assert np.array_equal(other.baseline_1hz, same.baseline_1hz, equal_nan=True)

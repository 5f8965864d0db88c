"""The share in time that chance gives: acts moved inside their labour, by hand and at random."""

import numpy as np
import pytest

from audit.response.chance import LETTERS, chance_of, shifted_statuses
from audit.response.responses import labour_of
from audit.response.types import CareEvent, Episode
from audit.settings import load_settings
from audit.vocabulary import STATUSES

SETTINGS = load_settings().response
HOUR = 3600.0


def letters(episodes, acts, *, shifts=400, name="c1", born_s=10 * HOUR):
    labour = labour_of(
        acts, birth_s=born_s, second_stage_s=None, mode_of_birth=None, tracing_end_s=born_s, events_recorded=True,
        settings=SETTINGS,
    )  # fmt: skip
    return shifted_statuses(episodes, labour, name=name, start_s=0.0, end_s=born_s, shifts=shifts, seed=1)


# One act moved evenly over 10 h answers a concern when it falls into the span from the pattern's start (a minute before
# it, for rounded notes) to the target: here 60 + 15 + 1 of 600 minutes. Arithmetic.
def test_a_single_act_answers_by_chance_for_the_share_of_the_labour_that_counts():
    concern = Episode("figo-2015", "pathological", 4 * HOUR, 5 * HOUR, 8 * HOUR)
    (found,) = letters([concern], [CareEvent(9 * HOUR, "senior_called")])
    assert found.count("i") / len(found) == pytest.approx(76 / 600, abs=0.005)
    assert set(found) <= {"i", "l", "n"}


def test_an_act_that_does_not_decide_answers_never_and_birth_does_not_move():
    severe = Episode("figo-2015", "pathological", 4 * HOUR, 5 * HOUR, 8 * HOUR)
    last = Episode("figo-2015", "suspicious_persistent", 9.5 * HOUR, 9.9 * HOUR, 10 * HOUR, True)
    turned, unborn = letters([severe, last], [CareEvent(HOUR, "position_change"), CareEvent(10 * HOUR, "birth")])
    assert set(turned) == {"n"}
    assert set(unborn) == {"i", "b"}


def test_the_same_labour_is_moved_alike_and_others_otherwise():
    concern = [Episode("nichd-2008", "category_ii_persistent", HOUR, 2 * HOUR, 6 * HOUR)]
    acts = [CareEvent(3 * HOUR, "iv_fluid_bolus")]
    assert letters(concern, acts) == letters(concern, acts)
    assert letters(concern, acts) != letters(concern, acts, name="c2")
    assert letters([], acts) == []


def test_acts_spread_without_regard_to_concerns_are_in_time_as_often_as_chance_says():
    rng = np.random.default_rng(3)
    statuses, shifted = [], []
    for k in range(150):
        begun = float(rng.uniform(1, 6)) * HOUR
        concern = Episode("figo-2015", "suspicious_persistent", begun, begun + 1200, begun + 1200 + 2 * HOUR)
        acts = [CareEvent(float(at), "position_change") for at in rng.uniform(0, 10 * HOUR, 6)]
        (text,) = letters([concern], acts, shifts=100, name=f"c{k}")
        (as_recorded,) = letters([concern], acts, shifts=1, name=f"recorded {k}")
        shifted.append(text)
        statuses.append({letter: status for status, letter in LETTERS.items()}[as_recorded])
    found = chance_of(statuses, shifted)
    # three standard deviations of a share of 150 at its widest
    assert abs(found.in_time - found.share) <= 3 * np.sqrt(0.25 / 150)
    assert found.low < found.share < found.high


def test_shares_by_hand():
    found = chance_of(["in_time", "late", "resolved", "none_recorded"], ["ii", "il", "rr", "n-"])
    assert (found.in_time, found.episodes) == (pytest.approx(1 / 4), 4)
    assert found.share == pytest.approx(3 / 7)
    # under the first shift 2 of 4, under the second 1 of 3
    assert (found.low, found.high) == (pytest.approx(1 / 3 + 0.025 / 6), pytest.approx(1 / 2 - 0.025 / 6))
    assert chance_of([], []).in_time is None
    assert chance_of(["late"], [None]).share is None
    assert set(LETTERS) == set(STATUSES)
    assert len(set(LETTERS.values())) == len(LETTERS)

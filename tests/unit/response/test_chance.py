"""The share in time that chance gives: acts moved inside their labour, by hand and at random."""

import zlib
from dataclasses import replace

import numpy as np
import pytest

from audit.response.chance import LETTERS, chance_of_tallies, shifted_statuses, tally_of
from audit.response.responses import in_order, labour_of, status_of
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
    found = chance_of_tallies([tally_of(statuses, shifted)])
    # three standard deviations of a share of 150 at its widest
    assert abs(found.in_time - found.share) <= 3 * np.sqrt(0.25 / 150)
    assert found.low < found.share < found.high


# Shifts that are alike are judged once. Each is judged alone here, from the same draw: two ways to one answer.
@pytest.mark.parametrize("seed", range(6))
def test_shifts_that_are_alike_get_what_each_would_get_alone(seed):
    rng = np.random.default_rng(seed)
    rules, born_s = list(SETTINGS.rules), 10 * HOUR
    acts, concerns = [], []
    for name in rng.choice(sorted({event for rule in SETTINGS.rules.values() for event in rule.counts}), 5).tolist():
        acts.append(CareEvent(float(rng.integers(-600, born_s)), name))
    for urgency in (None, 1, 2, 2, 4):
        acts.append(CareEvent(float(rng.integers(0, born_s)), "decision_for_birth", urgency))
    for _ in range(6):
        (standard, trigger), begun = rules[rng.integers(len(rules))], float(rng.uniform(0, 9)) * HOUR
        seen_s = begun + float(rng.uniform(0, HOUR))
        end_s = seen_s + float(rng.exponential(HOUR))
        concerns.append(Episode(standard, trigger, begun, seen_s, end_s, bool(rng.random() < 0.3)))
    labour = labour_of(
        acts, birth_s=born_s, second_stage_s=None, mode_of_birth=["caesarean", None][seed % 2], tracing_end_s=9 * HOUR,
        events_recorded=True, settings=SETTINGS,
    )  # fmt: skip
    found = shifted_statuses(concerns, labour, name="c1", start_s=0.0, end_s=born_s, shifts=20, seed=seed)
    begin_s = min(0.0, *(act.at_s for act in labour.acts))
    draw = np.random.default_rng([seed, zlib.crc32(b"c1")])
    by_s = draw.permutation((np.arange(20) + draw.random(20)) / 20) * (born_s - begin_s)
    for k, shift_s in enumerate(by_s.tolist()):
        moved = [replace(a, at_s=begin_s + (a.at_s - begin_s + shift_s) % (born_s - begin_s)) for a in labour.acts]
        there = replace(labour, acts=tuple(sorted(moved, key=in_order)))
        assert [text[k] for text in found] == [LETTERS[status_of(concern, there)] for concern in concerns]


def test_shares_by_hand():
    found = chance_of_tallies([tally_of(["in_time", "late", "resolved", "none_recorded"], ["ii", "il", "rr", "n-"])])
    assert (found.in_time, found.episodes) == (pytest.approx(1 / 4), 4)
    assert found.share == pytest.approx(3 / 7)
    # under the first shift 2 of 4, under the second 1 of 3
    assert (found.low, found.high) == (pytest.approx(1 / 3 + 0.025 / 6), pytest.approx(1 / 2 - 0.025 / 6))
    assert chance_of_tallies([tally_of([], [])]).in_time is None
    assert tally_of(["late", "late"], ["iii", "n-"]).shifts_counted.tolist() == [2, 1]  # as many as both have
    assert chance_of_tallies([tally_of(["late"], [None])]).share is None
    assert set(LETTERS) == set(STATUSES)
    assert len(set(LETTERS.values())) == len(LETTERS)


def test_counts_of_two_units_add_up():
    """By hand: 1 of 2 in time; under the first shift 2 of 2, under the second 1 of 2; the third is of one alone."""
    tallies = [tally_of(["in_time"], ["il"]), tally_of(["late"], ["iii"]), tally_of(["not_assessable"], [""])]
    found = chance_of_tallies(tallies)
    assert (found.in_time, found.episodes) == (0.5, 2)
    assert found.share == pytest.approx(3 / 4)


@pytest.mark.parametrize(("length_s", "drawn"), [(0.0, 0), (1.0, 20)])
def test_a_labour_without_length_has_no_other_times_for_its_acts(length_s, drawn):
    concern = Episode("figo-2015", "pathological", -HOUR, -HOUR, length_s)
    (found,) = letters([concern], [CareEvent(length_s / 2, "senior_called")], shifts=20, born_s=length_s)
    assert len(found) == drawn


def test_an_act_after_the_span_stays_where_it_is():
    """It answers three minutes after recognition, and nothing within the two hours in which the other act moves."""
    early = Episode("figo-2015", "pathological", 0.5 * HOUR, HOUR, 1.9 * HOUR)
    concern = Episode("figo-2015", "pathological", 4.8 * HOUR, 4.9 * HOUR, 8 * HOUR)
    labour = labour_of(
        [CareEvent(HOUR, "epidural"), CareEvent(4.95 * HOUR, "senior_called")], birth_s=10 * HOUR, second_stage_s=None,
        mode_of_birth=None, tracing_end_s=10 * HOUR, events_recorded=True, settings=SETTINGS,
    )  # fmt: skip
    found = shifted_statuses([early, concern], labour, name="c1", start_s=0.0, end_s=2 * HOUR, shifts=20, seed=1)
    assert found == ["n" * 20, "i" * 20]


@pytest.mark.parametrize("by_s", [-4096.0, 8192.0])
def test_a_clock_that_reads_otherwise_changes_nothing(by_s):
    concern = Episode("figo-2015", "pathological", 4 * HOUR, 5 * HOUR, 8 * HOUR)
    acts = [CareEvent(at_s, "senior_called") for at_s in (HOUR, 5.1 * HOUR)]

    def read(by_s):
        labour = labour_of(
            [replace(act, at_s=act.at_s + by_s) for act in acts], birth_s=10 * HOUR + by_s, second_stage_s=None,
            mode_of_birth=None, tracing_end_s=10 * HOUR + by_s, events_recorded=True, settings=SETTINGS,
        )  # fmt: skip
        span = {"start_s": by_s, "end_s": 10 * HOUR + by_s}
        return shifted_statuses([concern.moved(by_s)], labour, name="c1", **span, shifts=100, seed=1)

    assert read(by_s) == read(0.0)

"""What a report of a year tells beside the packs of its months: counted by hand, and by an attacker who has them all.

Source of the attack: Hundepool et al., Statistical Disclosure Control, 2012, ch. 4 (from memory).
"""

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from audit.pack.outside import EPISODES, untold_episodes, untold_hours, untold_labours
from audit.tables.episodes import STATUSES

NAMES = ("with_tracing", "analysed", "failed", "with_reads")
ASSESSED = ("in_time", "late", "none_recorded", "resolved", "born_first")


def month(cases: int, *counts: int) -> dict[str, int]:
    return {"cases": cases, **dict(zip(NAMES, counts, strict=True))}


def test_tracings_less_those_read_do_not_tell_how_many_could_not_be() -> None:
    # 40 less 38 would be the 2
    assert untold_labours([month(50, 40, 38, 2, 20)], NAMES, 5) == {"analysed", "failed"}
    assert untold_labours([month(4, 4, 4, 0, 0)], NAMES, 5) == {"cases", *NAMES}


def test_a_year_less_its_other_months_tells_no_count_of_labours_that_one_hides() -> None:
    read = {"with_reads"}
    months = [month(30, 30, 30, 0, 9), month(30, 30, 30, 0, 3)]
    assert [untold_labours([one], NAMES, 5) for one in months] == [set(), read]
    assert untold_labours(months, NAMES, 5) == read  # 12 less 9
    assert untold_labours([*months, month(30, 30, 30, 0, 1)], NAMES, 5) == read  # 4 of two months
    assert untold_labours([*months, month(30, 30, 30, 0, 2)], NAMES, 5) == set()  # 5 of two months
    assert untold_labours([month(30, 30, 30, 0, 9), month(3, 3, 3, 0, 3)], NAMES, 5) == {"cases", *NAMES}


def statuses(**counts: int) -> dict[str, int]:
    return dict.fromkeys(STATUSES, 0) | counts


def test_a_share_in_time_does_not_tell_what_the_statuses_hide() -> None:
    """2 late are hidden: not behind those in time, of whom the share and Trends tell, but behind those resolved."""
    assert untold_episodes([statuses(late=2, in_time=9, resolved=20)], 5) == {"late", "resolved"}
    # all less those that can be assessed would be the 2
    assert untold_episodes([statuses(in_time=9, resolved=20, not_assessable=2)], 5) == {
        EPISODES, "under_way", "not_assessable"
    }  # fmt: skip
    assert untold_episodes([statuses(in_time=9, late=2)], 5) == {"in_time", "late"}


def test_a_year_of_the_hourly_audit_tells_no_month_of_it() -> None:
    def hours(labours: int, without: int, gaps: int, second: int = 0) -> dict[str, int]:
        every = {"hours": 3 * labours, "assessed": 3 * labours, "second_person": second}
        return {"labours": labours, "without": without, "gap_over_hour": gaps, **every}

    assert untold_hours([hours(20, 0, 8), hours(3, 0, 0)], 5) >= {"labours", "without", "gap_over_hour"}
    assert untold_hours([hours(20, 1, 8), hours(13, 4, 6)], 5) == set()
    # 58 of 60 hours: the 2 are hidden on Trends, and 2 hidden months of them are 6
    assert untold_hours([hours(20, 0, 0, 58)], 5) == {"second_person"}
    assert untold_hours([hours(20, 0, 0, 58), hours(20, 0, 0, 30)], 5) == {"second_person"}
    assert untold_hours([hours(20, 0, 0, 58), hours(20, 0, 0, 56)], 5) == set()


@pytest.mark.parametrize("seed", [0, 1, 68, 97, 161])
def test_an_attacker_with_the_year_and_every_month_works_no_small_count_of_answers_out(seed: int) -> None:
    """Each small count can still have several values, for all that the packs tell, the share in time included."""
    rng = np.random.default_rng(seed)
    months = [
        dict(zip(STATUSES, map(int, rng.choice([0, 0, 1, 2, 4, 6, 12], size=len(STATUSES))), strict=True))
        for _ in range(3)
    ]
    size = len(months) * len(STATUSES)
    known, at = [], []
    for which in ([0], [1], [2], [0, 1, 2]):
        own = [months[k] for k in which]
        hidden = untold_episodes(own, 5)
        told = [(name,) for name in STATUSES if name not in hidden]
        told += [STATUSES] if EPISODES not in hidden else []
        told += [ASSESSED] if "in_time" not in hidden else []
        for names in told:
            known.append([float(k // 7 in which and STATUSES[k % 7] in names) for k in range(size)])
            at.append(sum(one[name] for one in own for name in names))
    true = [one[name] for one in months for name in STATUSES]
    within = LinearConstraint(np.array(known), at, at)
    for place in (place for place in range(size) if 0 < true[place] < 5):
        cost = np.eye(size)[place]
        ends = [
            milp(sign * cost, constraints=within, bounds=Bounds(0, 100), integrality=np.ones(size)).fun
            for sign in (1, -1)
        ]
        assert -ends[1] - ends[0] >= 1, (place, months)

"""Both sides of every limit of the measures, each case counted by hand."""

from dataclasses import replace

import numpy as np
import pytest

from audit.measures.burden import BurdenRow, burden_rows
from audit.measures.clustered import share_of_sums
from audit.measures.cord_gas import base_deficit_ecf_mmol_l, pair_flags
from audit.measures.level_falls import former_levels
from audit.measures.proportions import wilson_of_share
from audit.measures.roc import roc_area
from audit.measures.standardised import Standardised, count_limits, standardised
from audit.measures.suppression import hidden_rows, hide_parts, hides_share
from audit.tracing.types import LevelChange, Reading
from tests.reading_builder import SETTINGS, contraction, deceleration, edited, reading


def rows(made: Reading, **more: float | None) -> dict[str, BurdenRow]:
    known = {"birth_s": None, "second_stage_s": None, **more}
    return {row.span: row for row in burden_rows(made, settings=SETTINGS.burden, **known)}


@pytest.mark.parametrize(("nadir_s", "inside"), [(1799.0, False), (1800.0, True), (3599.0, True)])
def test_a_deceleration_belongs_to_the_span_that_its_nadir_begins(nadir_s: float, inside: bool) -> None:
    event = deceleration(nadir_s - 20.0, drop=30.0, length_s=40.0, nadir_after_s=20.0)
    assert rows(reading(60, decelerations=[event]))["last_30_min"].decelerations == inside


@pytest.mark.parametrize(("peak_s", "count"), [(1799.9, 0), (1800.0, 1), (3599.9, 1), (3600.0, 0)])
def test_a_contraction_belongs_to_the_span_that_its_peak_begins(peak_s: float, count: int) -> None:
    assert rows(reading(61, contractions=[contraction(peak_s)]), birth_s=3600.0)["last_30_min"].contractions == count


@pytest.mark.parametrize(
    ("peak_s", "named_s", "with_one"),
    [
        (600.0, None, 1),  # at the onset
        (639.9, None, 1),
        (640.0, None, 0),  # at the end
        (599.9, None, 0),
        (560.0, 560.9, 1),  # named by the deceleration, to within a second
        (560.0, 561.0, 0),
    ],
)
def test_a_contraction_goes_with_a_deceleration_that_holds_its_peak_or_names_it(
    peak_s: float, named_s: float | None, with_one: int
) -> None:
    event = replace(deceleration(600.0, drop=30.0, length_s=40.0, nadir_after_s=20.0), contraction_peak_s=named_s)
    made = reading(60, decelerations=[event], contractions=[contraction(peak_s)])
    assert rows(made)["whole"].contractions_with_deceleration == with_one


def test_the_triangle_is_half_of_depth_times_length() -> None:
    # Cahill 2018 (from memory): 0.5 x depth x duration
    events = [deceleration(at_s, drop=40.0, length_s=60.0, nadir_after_s=20.0) for at_s in (600.0, 1200.0)]
    row = rows(reading(60, decelerations=events))["whole"]
    assert (row.triangle_area_bpm_s, row.minutes_in_deceleration, row.longest_s) == (2400.0, 2.0, 60.0)
    assert row.decelerations_per_20_min == pytest.approx(2 / 3)


@pytest.mark.parametrize(
    ("birth_s", "end_s"), [(None, 3600.0), (0.0, 3600.0), (-5.0, 3600.0), (0.5, 0.5), (900.0, 900.0)]
)
def test_spans_end_with_a_birth_after_the_first_sample(birth_s: float | None, end_s: float) -> None:
    assert rows(reading(60), birth_s=birth_s)["whole"].span_minutes == pytest.approx(end_s / 60)


def between(lost_s: float, open_ends: tuple[bool, bool], seen_inside: float = 0.0) -> float:
    """Minutes unseen in falls: one cut off at 1000 s, another from the end of the loss on."""
    before = deceleration(940.0, drop=30.0, length_s=60.0, nadir_after_s=30.0)
    after = deceleration(1000.0 + lost_s, drop=30.0, length_s=60.0, nadir_after_s=30.0)
    events = [replace(before, open_end=open_ends[0]), replace(after, open_end=open_ends[1])]
    made = reading(60, decelerations=events, unseen=[(1000.0, 1000.0 + lost_s)])
    if seen_inside:
        rate = made.fhr_1hz.copy()
        rate[1005 : 1005 + int(seen_inside)] = 140.0
        made = edited(made, {"fhr_1hz": rate})
    return rows(made)["whole"].unseen_in_falls_minutes


def test_a_loss_that_two_falls_lead_into_belongs_to_them_for_up_to_ten_minutes() -> None:
    # NICHD 2008: from 10 minutes on it would be another baseline
    assert between(600.0, (True, True)) == 10.0
    assert between(601.0, (True, True)) == 0.0
    assert between(300.0, (True, False)) == between(300.0, (False, True)) == 0.0
    assert between(300.0, (True, True), seen_inside=1.0) == 0.0


def test_what_follows_the_end_of_monitoring_is_no_loss_at_the_bedside() -> None:
    made = edited(reading(60, unseen=[(1200.0, 1500.0), (2400.0, 3600.0)]), {"monitored_until_s": 2400.0})
    found = rows(made)
    assert (found["whole"].after_monitoring_minutes, found["whole"].bedside_loss_fraction) == (20.0, 300 / 2400)
    assert found["last_30_min"].bedside_loss_fraction == 0.0
    assert rows(edited(made, {"monitored_until_s": 0.0}))["whole"].bedside_loss_fraction is None


def test_one_second_is_something() -> None:
    made = edited(reading(60, unseen=[(1.0, 3600.0)]), {"monitored_until_s": 1.0})
    whole = rows(made)["whole"]
    assert (whole.area_bpm_s, whole.area_per_seen_hour_bpm_s, whole.bedside_loss_fraction) == (0.0, 0.0, 0.0)


def fallen(levels: list[float], changes: list[LevelChange], *, below: float = 110.0) -> list[tuple[int, int, float]]:
    """Spans of former levels: start, stop (s) and level (bpm), of one level a minute."""
    former = former_levels(reading(len(levels), baseline=levels, level_changes=changes), below)
    known = np.flatnonzero(np.isfinite(former))
    cuts = np.flatnonzero((np.diff(known) > 1) | (np.diff(former[known]) != 0)) + 1
    return [(int(part[0]), int(part[-1]) + 1, float(former[part[0]])) for part in np.split(known, cuts) if part.size]


def test_a_listed_fall_has_its_former_level_for_its_seconds() -> None:
    # NICHD 2008: a baseline under 110 bpm is a bradycardia
    low = [140.0] * 20 + [100.0] * 20
    assert fallen(low, [LevelChange(1200.0, 2400.0, 140.0, 100.0)]) == [(1200, 2400, 140.0)]
    # of what lies further back than those 10 minutes it did not come down
    high = [150.0] * 10 + [140.0] * 20 + [100.0] * 20
    assert fallen(high, [LevelChange(1800.0, 3000.0, 140.0, 100.0)]) == [(1800, 3000, 140.0)]
    # on its way down already by more than 5 bpm: from where it left its highest level of the 10 minutes before
    slow = [140.0] * 15 + [136.0] * 3 + [130.0] * 2 + [100.0] * 20
    assert fallen(slow, [LevelChange(1200.0, 2400.0, 130.0, 100.0)]) == [(1080, 2400, 140.0)]
    assert fallen([135.0] * 20 + [100.0] * 20, [LevelChange(1200.0, 2400.0, 130.0, 100.0)]) == [(1200, 2400, 130.0)]


def test_a_rise_and_a_fall_to_a_usual_rate_are_none() -> None:
    assert fallen([100.0] * 20 + [140.0] * 20, [LevelChange(1200.0, 2400.0, 100.0, 140.0)]) == []
    assert fallen([170.0] * 20 + [110.0] * 20, [LevelChange(1200.0, 2400.0, 170.0, 110.0)]) == []


def test_a_slow_fall_that_no_change_tells_of_has_the_level_of_the_half_hour_before_it() -> None:
    drawn = [150.0] * 10 + [140.0] * 20 + [100.0] * 12
    assert fallen(drawn, []) == [(600, 2520, 150.0)]
    # what lies further back than 30 minutes is not looked at
    assert fallen([150.0] * 10 + [140.0] * 30 + [100.0] * 12, []) == [(2400, 3120, 140.0)]


@pytest.mark.parametrize(("minutes", "found"), [(9, False), (10, True)])
def test_a_slow_fall_counts_from_ten_minutes_on(minutes: int, found: bool) -> None:
    assert bool(fallen([140.0] * 20 + [100.0] * minutes, [])) is found


def test_a_low_rate_from_the_first_second_has_no_level_before_it() -> None:
    assert fallen([100.0] * 40, []) == []


def test_of_two_falls_over_a_second_the_higher_former_level_counts() -> None:
    changes = [LevelChange(1200.0, 2400.0, 150.0, 100.0), LevelChange(1800.0, 2400.0, 130.0, 80.0)]
    drawn = [150.0] * 20 + [100.0] * 10 + [80.0] * 10
    assert fallen(drawn, changes) == [(1200, 2400, 150.0)]


def test_seconds_above_the_former_level_take_nothing_from_a_falls_area_and_add_nothing() -> None:
    """By hand: 40 bpm for 10 minutes; 5 minutes at 145 lie above the 140 that the rate fell from."""
    drawn = [140.0] * 20 + [100.0] * 10 + [145.0] * 5 + [100.0] * 5
    made = reading(40, baseline=drawn, level_changes=[LevelChange(1200.0, 2100.0, 140.0, 100.0)])
    assert rows(made)["whole"].level_change_area_bpm_s == 40.0 * 600


@pytest.mark.parametrize(
    ("artery", "vein", "flags"),
    [
        ((7.20, 6.5), (7.22, 6.0), 0),  # exactly 0.02 and 0.5 kPa: Westgate 1994 (from memory)
        ((7.20, 6.5), (7.21, 6.0), 1),
        ((7.20, 6.4), (7.22, 6.0), 1),
        ((7.20, 6.5), (7.20, 6.5), 2),
        ((7.20, None), (7.20, 6.5), 1),
        ((None, 6.5), (7.20, None), 0),
    ],
)
def test_a_pair_is_remarked_on_below_the_least_differences(artery, vein, flags) -> None:
    assert len(pair_flags(*artery, *vein, SETTINGS.cord_gas)) == flags


def test_an_artery_above_its_vein_looks_swapped_and_an_equal_one_does_not() -> None:
    (above,) = pair_flags(7.21, None, 7.20, None, SETTINGS.cord_gas)
    (equal,) = pair_flags(7.20, None, 7.20, None, SETTINGS.cord_gas)
    assert above.endswith("samples swapped?")
    assert equal == "artery and vein pH differ by 0; expected at least 0.02"


def test_a_carbon_dioxide_pressure_only_has_to_be_above_nothing() -> None:
    # Siggaard-Andersen's equation by hand at pH 7.40, 0.9 kPa: bicarbonate 4.178, 20.222 under 24.4, of that 0.9234
    assert base_deficit_ecf_mmol_l(7.40, 0.9) == pytest.approx(18.67, abs=0.01)
    with pytest.raises(ValueError, match="positive"):
        base_deficit_ecf_mmol_l(7.40, 0.0)


def test_a_ratio_is_told_of_any_expected_part_of_a_birth() -> None:
    assert Standardised(1, 0.5, 1).ratio == 2.0
    assert Standardised(0, 0.0, 1).ratio is None


def test_certain_births_leave_chance_nothing() -> None:
    certain = np.array([0.0, 1.0, 1.0])
    assert count_limits(certain, tail=0.025) == (2, 2)
    group = standardised(np.array([False, True, True]), certain)
    assert (group.observed, group.expected, group.ratio) == (2, 2.0, 1.0)


@pytest.mark.parametrize("p", [-1e-9, 1.0 + 1e-9, np.nan])
def test_a_probability_outside_0_to_1_is_refused(p: float) -> None:
    with pytest.raises(ValueError, match="0 to 1"):
        standardised(np.array([True]), np.array([p]))


@pytest.mark.parametrize("tail", [0.0, 0.5, -0.1])
def test_a_tail_is_more_than_nothing_and_less_than_half(tail: float) -> None:
    with pytest.raises(ValueError, match="both exclusive"):
        count_limits(np.array([0.1]), tail=tail)
    assert count_limits(np.array([0.1]), tail=0.499) == (0, 0)


def test_the_error_of_a_roc_area_worked_by_hand() -> None:
    # DeLong 1988: cases at 2 and 4, others at 1 and 3. Placements 1/2, 1 and 1, 1/2; each varies by 1/8
    found = roc_area([1.0, 2.0, 3.0, 4.0], [0, 1, 0, 1], level=0.95)
    assert (found.area, found.with_outcome, found.without) == (0.75, 2, 2)
    assert found.standard_error == pytest.approx(np.sqrt(1 / 8))
    assert (found.low, found.high) == (pytest.approx(0.75 - 1.959964 * np.sqrt(1 / 8)), 1.0)
    # ties count half: two cases at 2, others at 2 and 1
    assert roc_area([2.0, 2.0, 2.0, 1.0], [1, 1, 0, 0], level=0.95).area == 0.75


@pytest.mark.parametrize(("share", "size"), [(-0.01, 5.0), (1.01, 5.0), (0.5, 0.0)])
def test_a_share_that_cannot_be_is_refused(share: float, size: float) -> None:
    with pytest.raises(ValueError, match="expected"):
        wilson_of_share(share, size, 0.95)


def test_shares_of_none_and_of_all_have_an_end_at_0_and_1() -> None:
    # Newcombe 1998, method 3: 0 of 10 reaches to 0.2775
    assert wilson_of_share(0.0, 10.0, 0.95) == (0.0, pytest.approx(0.2775, abs=5e-5))
    assert 0.0 < wilson_of_share(0.5, 0.5, 0.95)[0] < 0.5  # an effective number may be under one
    assert wilson_of_share(1.0, 10.0, 0.95) == (pytest.approx(0.7225, abs=5e-5), 1.0)


def test_clusters_without_anything_are_left_out_and_a_part_may_be_its_whole() -> None:
    found = share_of_sums([1.0, 0.0, 2.0], [2.0, 0.0, 2.0], level=0.95)
    assert found.share == 0.75
    assert found == share_of_sums([1.0, 2.0], [2.0, 2.0], level=0.95)
    with pytest.raises(ValueError, match="as many"):
        share_of_sums([1.0], [2.0, 3.0], level=0.95)
    with pytest.raises(ValueError, match="0 <= part"):
        share_of_sums([-0.1], [2.0], level=0.95)


@pytest.mark.parametrize(
    ("table", "already", "hidden"),
    [
        ([(9, 8), (7, 6)], (), set()),
        ([(9, 8), (4, 6)], (), {0, 1}),  # a lone hidden row is the sum less the rest
        ([(9, 9), (4, 6), (7, 7)], (), {1, 2}),  # the smallest of the others goes with it
        ([(9, 9), (1, 6), (1, 7)], (), {0, 1, 2}),  # two of them still add up to less than five
        ([(9, 9), (2, 6), (3, 7)], (), {1, 2}),  # and these to five
        ([(0, 9), (0, 8)], (), set()),
        ([(9, 9), (8, 8), (7, 7)], (0,), {0, 2}),
        ([(3, 9)], (), {0}),
        ([], (), set()),
    ],
)
def test_rows_are_hidden_in_twos_whose_counts_say_nothing(table, already, hidden) -> None:
    # Hundepool et al. 2012, chapter 4 (from memory): primary and complementary suppression
    assert hidden_rows(table, least=5, already=already) == hidden


def test_a_part_is_hidden_behind_the_smallest_that_is_not_none() -> None:
    assert hide_parts([3, 7, 6, 0], least=5) == [None, 7, None, 0]
    assert hide_parts([3, 0, 0], least=5) == [None, None, 0]
    assert hide_parts([2, 3, 9], least=5) == [None, None, 9]  # together they are five
    assert hide_parts([], least=5) == []
    assert not hides_share(5, None, least=5)

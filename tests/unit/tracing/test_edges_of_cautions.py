"""Both sides of every limit by which a low rate could be the mother's, on rates laid out by hand.

FIGO 2015 and NICE NG229 (from memory) name what points to it: a sudden change of level, a rate in the maternal range
and rises with contractions. Neither gives a number: the limits are our choice.
"""

from dataclasses import replace

import numpy as np
import pytest

from audit.tracing.cautions import sentences
from audit.tracing.maternal_suspicion import maternal_suspicions
from audit.tracing.types import Caution, Contraction, LevelChange
from tests.reading_builder import deceleration

NAN = float("nan")
STEP_S, END_S = 1800, 3600
PEAKS = (2100.0, 2400.0, 2700.0)


def suspected(to_bpm=85.0, *, end_s=END_S, bpm=10.0, fhr=None, listed=True, rises=(), peaks=None, falls=()):
    """What is suspected of an hour that steps from 140 bpm to another level after 30 minutes.

    `rises` : so many bpm more during each of the contractions, which last 80 s; `bpm` : the variability.
    """
    if fhr is None:
        fhr = np.where(np.arange(END_S) < STEP_S, 140.0, to_bpm)
    peaks = PEAKS[: len(rises)] if peaks is None else peaks
    for peak, rise in zip(peaks, rises, strict=False):
        fhr[int(peak) - 30 : int(peak) + 30] += rise
    uterus = tuple(Contraction(peak - 40.0, peak, peak + 40.0, 40.0, 10.0) for peak in peaks)
    changes = (LevelChange(float(STEP_S), float(end_s), 140.0, to_bpm),) if listed else ()
    return maternal_suspicions(fhr, np.full(END_S // 60, bpm), changes, uterus, tuple(falls))


@pytest.mark.parametrize(
    ("to_bpm", "found"), [(49.0, 0), (50.0, 1), (120.0, 1), (121.0, 0), (150.0, 0)]
)  # the usual maternal rate in labour
def test_only_a_fall_into_the_maternal_range_is_suspected(to_bpm, found):
    assert len(suspected(to_bpm)) == found


@pytest.mark.parametrize(("end_s", "found"), [(2400, 1), (2399, 0)])
def test_a_level_of_ten_minutes_is_suspected_and_a_shorter_one_is_not(end_s, found):
    assert len(suspected(end_s=end_s)) == found


@pytest.mark.parametrize(("bpm", "found"), [(5.0, 1), (4.9, 0), (NAN, 0)])
def test_without_contractions_a_lively_rate_is_suspected(bpm, found):
    told = suspected(bpm=bpm)
    assert len(told) == found
    assert all("variability stayed at 5 bpm" in caution.text for caution in told)


def test_the_minute_of_the_step_and_those_before_it_say_nothing_of_how_lively_the_level_is():
    # our choice: of the 29 minutes from 31 to 59 fifteen have 5 bpm
    bpm = np.full(END_S // 60, 4.0)
    bpm[31:46] = 5.0
    assert len(suspected(bpm=bpm)) == 1
    bpm[45] = 4.0
    assert len(suspected(bpm=bpm)) == 0


@pytest.mark.parametrize(("lasts_s", "found"), [(1, 1), (40, 1), (60, 0)])
def test_a_level_that_is_reached_slowly_is_a_fetus_that_falls(lasts_s, found):
    # 35 s of 40 are nearly all of the way, of 60 under six tenths
    way = np.interp(np.arange(END_S), (STEP_S - lasts_s / 2, STEP_S + lasts_s / 2), (140.0, 85.0))
    assert len(suspected(fhr=way)) == found


@pytest.mark.parametrize(
    ("rises", "found"),
    [
        ((4.0, 4.0, 4.0), 1),
        ((3.9, 3.9, 3.9), 0),
        ((4.0, 4.0, 0.0), 1),
        ((4.0, 0.0, 0.0), 0),
        ((0.0, 0.0, 0.0), 0),  # three decide, however lively the rate
        ((0.0, 0.0), 1),  # two do not
    ],
)
def test_with_three_contractions_it_is_suspected_where_the_rate_rises_with_two_of_them(rises, found):
    told = suspected(rises=rises)
    assert len(told) == found
    if found and len(rises) == 3:
        assert f"the rate rises with {sum(r > 0 for r in rises)} of 3 contractions" in told[0].text


@pytest.mark.parametrize(
    ("peaks", "found"),
    [
        (
            (1860.0, 2400.0, 3560.0),
            0,
        ),  # from 20 s after the step to the level's end: with none it rises
        ((1859.0, 2400.0, 3560.0), 1),  # two do not decide
        ((1860.0, 2400.0, 3561.0), 1),
    ],
)
def test_only_contractions_within_the_level_decide(peaks, found):
    assert len(suspected(rises=(0.0, 0.0, 0.0), peaks=peaks)) == found


def test_a_rise_is_that_of_the_middle_half_of_a_contraction_over_half_a_minute_on_either_side():
    """Elsewhere the rate does as it likes; it is looked at in means of 11 s. Our choice."""
    for offset in (0.0, -0.1):
        fhr = np.where(np.arange(END_S) < STEP_S, 140.0, 85.0)
        for peak in map(int, PEAKS):
            fhr[peak - 110 : peak + 110] += 40.0
            fhr[peak - 75 : peak + 75] = 85.0
            fhr[peak - 34 : peak + 35] = 45.0
            fhr[peak - 25 : peak + 26] = 89.0 + offset
        assert len(suspected(fhr=fhr, peaks=PEAKS)) == (offset == 0.0)


@pytest.mark.parametrize(("count", "found"), [(1, 1), (2, 0)])
def test_decelerations_with_most_contractions_are_those_of_a_fetus(count, found):
    falls = [
        deceleration(peak + 60.0, drop=20.0, length_s=60.0, nadir_after_s=30.0, lag_s=90.0) for peak in PEAKS[:count]
    ]
    assert len(suspected(rises=(8.0, 8.0, 8.0), falls=falls)) == found
    alone = [deceleration(peak + 60.0, drop=20.0, length_s=60.0, nadir_after_s=30.0) for peak in PEAKS[:count]]
    assert len(suspected(rises=(8.0, 8.0, 8.0), falls=alone)) == 1  # with no contraction, they tell nothing


def test_one_deceleration_with_a_contraction_is_that_of_a_fetus_where_few_are_known():
    fall = deceleration(2200.0, drop=20.0, length_s=60.0, nadir_after_s=30.0, lag_s=30.0)
    assert suspected(falls=[fall]) == ()
    assert len(suspected()) == 1


@pytest.mark.parametrize("from_bpm", [85.0, 70.0])
def test_a_level_that_is_no_lower_than_before_is_not_suspected(from_bpm):
    change = LevelChange(1800.0, 3600.0, from_bpm, 85.0)
    assert maternal_suspicions(np.full(3600, 85.0), np.full(60, 10.0), (change,), (), ()) == ()


@pytest.mark.parametrize(
    ("to_bpm", "lost_s", "listed", "found"),
    [
        (115.0, 600, False, [(2400.0, 3600.0, 140.0, 115.0)]),
        (115.0, 599, False, []),  # the levels themselves are listed there
        (116.0, 600, True, [(1800.0, 3600.0, 140.0, 116.0)]),  # named once
    ],
)
def test_a_fall_across_a_loss_of_ten_minutes_is_looked_at_too(to_bpm, lost_s, listed, found):
    fhr = np.where(np.arange(END_S) < STEP_S, 140.0, to_bpm)
    fhr[STEP_S : STEP_S + lost_s] = NAN
    told = suspected(to_bpm, fhr=fhr, listed=listed)
    assert [(c.start_s, c.end_s, c.other_bpm, c.level_bpm) for c in told] == found


@pytest.mark.parametrize(("listed_s", "found"), [(1739.0, 1), (1740.0, 0), (2400.0, 0)])
def test_a_change_that_is_listed_within_a_minute_of_a_loss_is_that_of_the_loss(listed_s, found):
    fhr = np.where(np.arange(END_S) < STEP_S, 140.0, 115.0)
    fhr[STEP_S : STEP_S + 600] = NAN
    rise = LevelChange(listed_s, 3600.0, 115.0, 140.0)  # no fall, so not suspected itself
    assert len(maternal_suspicions(fhr, np.full(60, 10.0), (rise,), (), ())) == found


@pytest.mark.parametrize(("half_way_bpm", "found"), [(101.5, 1), (102.0, 0)])
def test_seven_tenths_of_a_fall_at_once_are_a_step(half_way_bpm, found):
    """Of 55 bpm 38.5, and the rest a minute later. Our choice."""
    fhr = np.where(np.arange(END_S) < STEP_S, 140.0, 85.0)
    fhr[STEP_S : STEP_S + 80] = half_way_bpm
    assert len(suspected(fhr=fhr)) == found


@pytest.mark.parametrize(("seen_of_11", "found"), [(5, 1), (4, 0)])
def test_a_rise_is_told_where_five_of_eleven_seconds_were_seen(seen_of_11, found):
    fhr = np.where(np.arange(END_S) < STEP_S, 140.0, 85.0)
    for peak in map(int, PEAKS):
        fhr[peak - 30 : peak + 30] += 8.0
        here = np.arange(peak - 100, peak + 100)
        fhr[here[here % 11 >= seen_of_11]] = NAN
    assert len(suspected(fhr=fhr, peaks=PEAKS, bpm=2.0)) == found


def test_a_contraction_beside_which_most_was_lost_tells_nothing():
    fhr = np.where(np.arange(END_S) < STEP_S, 140.0, 85.0)
    for peak in map(int, PEAKS):
        fhr[peak - 30 : peak + 30] += 8.0
    assert len(suspected(fhr=fhr.copy(), peaks=PEAKS, bpm=2.0)) == 1
    fhr[2100 - 80 : 2100 - 38] = fhr[2100 + 60 : 2100 + 80] = NAN  # of one of three
    assert suspected(fhr=fhr, peaks=PEAKS, bpm=2.0) == ()


@pytest.mark.parametrize(("before_bpm", "found"), [(130.0, 1), (129.0, 0)])
def test_a_fall_across_a_loss_is_one_of_fifteen_bpm_between_what_was_mostly_seen(before_bpm, found):
    fhr = np.where(np.arange(END_S) < STEP_S, before_bpm, 115.0)
    fhr[STEP_S : STEP_S + 600] = NAN
    assert len(suspected(fhr=fhr.copy(), listed=False)) == found
    fhr[STEP_S - 300 : STEP_S - 149] = NAN  # of the five minutes before it 149 s are left
    assert suspected(fhr=fhr, listed=False) == ()


@pytest.mark.parametrize(
    ("start_s", "said"), [(0.0, "00:00"), (3540.0, "00:59"), (3600.0, "01:00"), (36061.0, "10:01"), (-3660.0, "-01:01")]
)
def test_a_caution_is_said_with_hours_and_minutes_of_the_case(start_s, said):
    caution = Caution("monitoring_ended", 0.0, 0.0, NAN, NAN, "Text.", "short")
    assert sentences((caution,), (), start_s) == (f"{said} to {said}: Text.",)


def test_falls_of_which_much_was_lost_are_counted_in_words():
    fall = deceleration(600.0, drop=20.0, length_s=60.0, nadir_after_s=30.0)
    lost = replace(fall, at_least=True, unseen_duration_s=12.0)
    assert sentences((), (fall,), 0.0) == ()
    (one,) = sentences((), (fall, lost), 0.0)
    (two,) = sentences((), (lost, lost), 0.0)
    assert one.startswith("Of one deceleration 12 s were not seen")
    assert two.startswith("Of 2 decelerations 24 s were not seen")

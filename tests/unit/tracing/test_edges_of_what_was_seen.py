"""What was seen of a fall, a segment or a toco counts, and no more; by hand. What has no source is our choice."""

import math

import numpy as np
import pytest

from audit.settings import load_settings
from audit.tracing.contractions import UterineActivity
from audit.tracing.decelerations import judged_fall
from audit.tracing.epochs import epochs_of
from audit.tracing.monitoring import monitored_until
from audit.tracing.read import read_tracing
from audit.tracing.types import Contraction, Tracing

SETTINGS = load_settings().tracing
NAN = math.nan


def test_more_noise_than_drowns_a_fall_judges_it_no_further():
    # our choice: from noise of 11 % of the depth on a fall is judged by its whole shape, below 3.5 % by its time alone
    quiet, half, most = (judged_fall(28.0, 45.0, 40.0, share * 40.0) for share in (0.035, 0.0725, 0.11))
    assert quiet == 28.0 < half < most == judged_fall(28.0, 45.0, 40.0, 40.0)
    assert math.log(half / 28.0) == pytest.approx(math.log(most / 28.0) / 2)


def test_lost_seconds_of_a_fall_have_no_area():
    # the contract of `area_bpm_s`: 40 s of 30 bpm, of which 10 s were not seen
    fhr = np.full(1200 * 4, 140.0)
    fhr[600 * 4 : 640 * 4] -= 30.0
    fhr[615 * 4 : 625 * 4] = NAN
    (found,) = read_tracing(Tracing(fhr, np.full(fhr.size, NAN)), SETTINGS).decelerations
    assert found.area_bpm_s == 30 * 30.0


def test_the_variability_of_a_segment_is_the_median_of_its_own_ten_minutes():
    of_ten = [10.0, 20.0, *[NAN] * 6, 10.0, 20.0]
    fhr, none = np.full(4800, 140.0), np.zeros(4800, dtype=bool)
    found = epochs_of(fhr, fhr, none, np.array(of_ten * 8), (), none, (), SETTINGS)
    assert [epoch.variability_bpm for epoch in found] == [15.0] * 8


@pytest.mark.parametrize(("seen_s", "until_s"), [(30, 1800.0), (31, 3060.0)])
def test_a_minute_of_toco_shows_movement_where_more_than_half_of_it_was_seen(seen_s, until_s):
    fhr = np.where(np.arange(3600) < 1800, 140.0, NAN)
    toco = np.full(3600, 10.0)
    toco[3000:3060:2] = 30.0  # half of a usual contraction, within one minute
    toco[3000 + seen_s : 3060] = NAN
    usual = (Contraction(840.0, 870.0, 900.0, 40.0, 10.0),)
    uterus = UterineActivity(usual, np.ones(3600, dtype=bool))
    assert monitored_until(fhr, toco, uterus) == until_s

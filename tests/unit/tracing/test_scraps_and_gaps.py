"""Scraps of signal amid loss, losses inside events, overshoots and the end of monitoring, on drawn signals.

The truth is what was drawn; nothing of it comes from the reading. Where no source is named the rule is common practice.
"""

import numpy as np
import pytest

from audit.settings import load_settings
from audit.standards.registry import STANDARDS
from audit.tracing.read import read_tracing
from audit.tracing.types import Exclusion, Reading, Tracing
from tests.accuracy.known_truth import RATE, draw_shape, fluctuation

SETTINGS = load_settings().tracing
LEVEL_BPM = 140.0


def drawn(minutes: float, seed: int, range_bpm: float = 10.0) -> np.ndarray:
    """A steady baseline at LEVEL_BPM with pink fluctuation."""
    n = int(minutes * 60 * RATE)
    return LEVEL_BPM + fluctuation(np.random.default_rng(seed), n, range_bpm, "pink")


def read(fhr: np.ndarray, toco: np.ndarray | None = None) -> Reading:
    return read_tracing(Tracing(fhr, np.full(fhr.size, np.nan) if toco is None else toco), SETTINGS)


def lose(fhr: np.ndarray, start_s: float, end_s: float) -> None:
    fhr[int(start_s * RATE) : int(end_s * RATE)] = np.nan


def put(fhr: np.ndarray, start_s: float, shape: np.ndarray) -> None:
    fhr[int(start_s * RATE) : int(start_s * RATE) + shape.size] += shape


def contractions(minutes: float, every_s: float = 200.0) -> np.ndarray:
    t = np.arange(int(minutes * 60 * RATE)) / RATE
    phase = np.abs((t % every_s) - 100.0) / 40.0
    rng = np.random.default_rng(2)
    return 10 + 25 * (1 + np.cos(np.pi * np.minimum(phase, 1.0))) + np.repeat(rng.normal(0, 0.5, t.size // RATE), RATE)


@pytest.mark.parametrize("level", [65.0, 90.0, 115.0, 185.0])
@pytest.mark.parametrize(
    ("scrap_s", "gap_s"), [(3, 15), (4, 40), (6, 20), (8, 25), (12, 30), (12, 70), (20, 40), (28, 45)]
)
def test_scraps_amid_loss_are_no_event_and_no_baseline(scrap_s: int, gap_s: int, level: float) -> None:
    # NICHD 2008: a deceleration is a visually apparent decrease, timed from its onset: here none was seen to begin.
    fhr = drawn(40, scrap_s)
    rng = np.random.default_rng(gap_s)
    lose(fhr, 900, 1500)
    at = 900 + gap_s
    while at + scrap_s + gap_s < 1500:
        fhr[at * RATE : (at + scrap_s) * RATE] = level + rng.normal(0, 2, scrap_s * RATE)
        at += scrap_s + gap_s
    reading = read(fhr)
    events = (*reading.decelerations, *reading.accelerations, *reading.level_changes)
    assert [event for event in events if event.end_s > 880 and event.onset_s < 1520] == []
    known = ~np.isnan(reading.baseline_1hz)
    assert np.abs(reading.baseline_1hz[known] - LEVEL_BPM).max() < 8
    assert (reading.exclusion[950 * RATE : 1450 * RATE] != Exclusion.ACCEPTED).all()


@pytest.mark.parametrize("lost_s", [15, 30, 60])
@pytest.mark.parametrize("scrap_s", [5, 10])
def test_one_scrap_between_two_losses_is_no_event(lost_s: int, scrap_s: int) -> None:
    fhr = drawn(30, lost_s)
    lose(fhr, 900, 900 + 2 * lost_s + scrap_s)
    fhr[(900 + lost_s) * RATE : (900 + lost_s + scrap_s) * RATE] = 75.0
    assert [d for d in read(fhr).decelerations if d.end_s > 880 and d.onset_s < 1100] == []


def test_scraps_that_drift_from_the_baseline_are_no_fall_that_lasts() -> None:
    # Of a loss of 15 minutes a minute was seen near the baseline, lower and lower: no prolonged deceleration (NICHD
    # 2008: visually apparent), no new baseline (two identifiable minutes in ten).
    fhr = drawn(45, 3)
    lose(fhr, 900, 1800)
    for at in range(920, 1760, 40):
        scrap = LEVEL_BPM - (at - 900) / 15 + np.random.default_rng(at).normal(0, 2, 12 * RATE)
        fhr[at * RATE : (at + 12) * RATE] = scrap
    reading = read(fhr, contractions(45))
    assert (reading.level_changes, reading.decelerations) == ((), ())


@pytest.mark.parametrize(("seen_s", "found"), [(24, True), (9, False)])
def test_a_fall_that_was_seen_to_begin_goes_on_where_its_signal_comes_and_goes(seen_s: int, found: bool) -> None:
    # FIGO 2015: one deceleration of more than 5 minutes is pathological. Drawn: 140 to 75 bpm within 10 s, then so many
    # seconds of each minute for the last 12. Nine are scraps: nobody can say.
    t = np.arange(60 * 60 * RATE) / RATE
    fhr = drawn(60, 1, 8.0) - LEVEL_BPM + np.interp(t, [2880, 2890], [140, 75])
    for at in range(2900, 3600, 60):
        lose(fhr, at, at + 60 - seen_s)
    minutes = STANDARDS["figo-2015"].minute_categories(
        read(fhr, contractions(60)), load_settings().of_standards["figo-2015"]
    )
    assert bool(minutes.triggers["prolonged_deceleration"].met.any()) == found
    assert (minutes.categories[-1] == "pathological") == found


def test_a_bradycardia_that_recovers_slowly_or_unseen_is_over_when_it_is() -> None:
    # FIGO 2015, NICE NG229: a bradycardia is a rate under 110 bpm; drawn: 95 bpm for 15 min, 110 at 37 min, 140 at 53.
    t = np.arange(95 * 60 * RATE) / RATE
    course = np.interp(t, [1200, 1230, 2000, 2800, 3200], [140, 95, 95, 130, 140])
    for lost in (False, True):
        fhr = drawn(95, 1, 8.0) - LEVEL_BPM + course
        if lost:
            lose(fhr, 1990, 3190)
        reading = read(fhr, contractions(95))
        for name, trigger in (("figo-2015", "prolonged_deceleration"), ("nice-ng229", "urgent_review")):
            minutes = STANDARDS[name].minute_categories(reading, load_settings().of_standards[name])
            found = minutes.triggers[trigger]
            assert found.at_s[found.met][-1] < 2600
            assert minutes.categories[-1] != "pathological"  # NG229: amber, 20 bpm over an hour ago


@pytest.mark.parametrize("lost_s", [4, 8])
@pytest.mark.parametrize("bottom_s", [30, 60])
def test_a_fall_with_lost_flanks_stays_one(lost_s: int, bottom_s: int) -> None:
    # Its bottom was seen for most of the time: loss on a steep flank is what ultrasound does.
    fhr = drawn(30, bottom_s)
    put(fhr, 900, -50 * draw_shape(lost_s, bottom_s, lost_s, "line", "line"))
    lose(fhr, 900, 900 + lost_s)
    lose(fhr, 900 + lost_s + bottom_s, 900 + 2 * lost_s + bottom_s)
    (event,) = (d for d in read(fhr).decelerations if d.onset_s < 960 < d.end_s + 60)
    assert event.depth_bpm == pytest.approx(50, abs=5)
    assert event.unseen_duration_s == pytest.approx(2 * lost_s, abs=4)


@pytest.mark.parametrize("range_bpm", [0.5, 6.0, 12.0])
@pytest.mark.parametrize(("lost_from_s", "lost_s"), [(14, 10), (10, 25), (8, 40)])
def test_a_nadir_that_was_lost_leaves_depth_and_area_at_least(lost_from_s: int, lost_s: int, range_bpm: float) -> None:
    # Nothing is filled in (published areas are integrals over what was recorded), so both are lower bounds.
    for seed in range(3):
        fhr = drawn(30, seed, range_bpm)
        shape = -60 * draw_shape(28, 4, 28, "line", "line")
        put(fhr, 900, shape)
        whole = read(fhr.copy()).decelerations[0]
        lose(fhr, 900 + lost_from_s, 900 + lost_from_s + lost_s)
        (event,) = (d for d in read(fhr).decelerations if d.end_s > 890 and d.onset_s < 970)
        assert event.at_least
        assert event.unseen_duration_s == pytest.approx(lost_s, abs=2)
        assert event.depth_bpm <= 60 + range_bpm / 3
        assert event.area_bpm_s <= whole.area_bpm_s
        assert not whole.at_least
        assert whole.unseen_duration_s == 0


@pytest.mark.parametrize("range_bpm", [0.1, 6.0, 12.0])
def test_an_overshoot_is_no_acceleration_that_reassures(range_bpm: float) -> None:
    # NICHD 2008 lists overshoots among the features of variable decelerations (category II).
    rng = np.random.default_rng(7)
    fhr, over, alone = drawn(60, 3, range_bpm), [], []
    for k in range(9):
        start = 200 + 350 * k
        fall, hold, back = rng.uniform(6, 18), rng.uniform(5, 25), rng.uniform(6, 15)
        put(fhr, start, -rng.uniform(30, 55) * draw_shape(fall, hold, back, "line", "line"))
        begins = start + fall + hold + back
        put(fhr, begins, rng.uniform(18, 26) * draw_shape(rng.uniform(6, 12), 12, 15, "cosine", "cosine"))
        over.append(begins + 12)
        put(fhr, start + 190, rng.uniform(18, 26) * draw_shape(8, 12, 15, "cosine", "cosine"))
        alone.append(start + 202)
    found = read(fhr).accelerations

    def marked(times: list[float]) -> list[bool]:
        return [a.overshoot for at in times for a in found if a.onset_s <= at < a.end_s]

    assert marked(over) == [True] * 9
    assert marked(alone) == [False] * 9


@pytest.mark.parametrize(("pause_s", "marked"), [(3, [True, True]), (20, [True, False])])
def test_a_second_hump_belongs_to_the_overshoot(pause_s: int, marked: list[bool]) -> None:
    # A recovery of under 10 s does not divide an event (`merge_recovery_s`, our choice).
    fhr, hump = drawn(30, 2, 3.0), 20 * draw_shape(6, 10, 8, "cosine", "cosine")
    put(fhr, 900, -45 * draw_shape(10, 20, 10, "line", "line"))
    put(fhr, 940, hump)
    put(fhr, 964 + pause_s, hump)
    assert [a.overshoot for a in read(fhr).accelerations if a.height_bpm > 15] == marked


def test_a_rise_after_a_gradual_fall_is_no_overshoot() -> None:
    fhr = drawn(30, 5, 2.0)
    put(fhr, 600, -30 * draw_shape(45, 5, 40, "cosine", "cosine"))
    put(fhr, 690, 20 * draw_shape(8, 15, 12, "cosine", "cosine"))
    (rise,) = (a for a in read(fhr).accelerations if a.height_bpm >= 15)
    assert not rise.overshoot


END_S = 40 * 60.0


@pytest.mark.parametrize("off_min", [2.0, 8.0, 20.0])
@pytest.mark.parametrize("left", ["lost", "flat", "noise"])
def test_both_transducers_off_is_the_end_of_monitoring(off_min: float, left: str) -> None:
    # Common practice, no source: taken off for theatre or birth is no loss of signal at the bedside.
    fhr, toco = drawn(40, 1), contractions(40)
    off_s = END_S - 60 * off_min
    lose(fhr, off_s, END_S)
    rest = toco[int(off_s * RATE) :]
    rest[:] = np.nan if left == "lost" else 0.0
    if left == "noise":
        rest += np.random.default_rng(1).normal(0, 0.5, rest.size)
    # A belt that is taken off in a contraction seems to end it.
    found = read(fhr, toco)
    assert found.monitored_until_s == pytest.approx(off_s, abs=20)
    # nothing is said to be lost that was not there to be lost
    assert [note for note in found.notes if "hold no signal" in note] == []


@pytest.mark.parametrize("lost_min", [2.0, 8.0, 20.0])
def test_heart_rate_lost_while_the_toco_goes_on_is_loss_at_the_bedside(lost_min: float) -> None:
    fhr, toco = drawn(40, 1), contractions(40)
    lose(fhr, END_S - 60 * lost_min, END_S)
    reading = read(fhr, toco)
    found = reading.monitored_until_s
    assert found >= END_S - 200 if lost_min <= 4 else found == END_S
    assert any("hold no signal" in note for note in reading.notes)


def test_a_loss_within_monitoring_and_a_short_one_at_its_end_are_no_end() -> None:
    fhr = drawn(40, 1)
    lose(fhr, 900, 1500)
    lose(fhr, END_S - 40, END_S)
    assert read(fhr, contractions(40)).monitored_until_s == END_S


def test_scraps_after_the_end_do_not_prolong_monitoring() -> None:
    fhr, toco = drawn(40, 1), contractions(40)
    lose(fhr, END_S - 900, END_S)
    fhr[int((END_S - 500) * RATE) : int((END_S - 490) * RATE)] = 82.0
    toco[int((END_S - 900) * RATE) :] = 0.0
    assert read(fhr, toco).monitored_until_s == pytest.approx(END_S - 900, abs=5)


def test_a_tracing_without_any_heart_rate_was_not_monitored() -> None:
    empty = np.full(1200 * RATE, np.nan)
    assert read(empty).monitored_until_s == 0.0

"""What a reader must know before trusting a reading: doubtful baselines and rates that could be the mother's.

The truth is what was drawn. FIGO 2015 and NICE NG229 warn of both (from memory) and give no number.
"""

import numpy as np
import pytest

from audit.settings import load_settings
from audit.standards.registry import STANDARDS
from audit.tracing.read import read_tracing
from audit.tracing.types import Caution, Reading, Tracing
from tests.accuracy.known_truth import RATE, draw_shape, fluctuation
from tests.simulate import simulate_labour

SETTINGS = load_settings()
BASE_BPM = 132.0


def read(fhr: np.ndarray, toco: np.ndarray | None = None, mhr: np.ndarray | None = None) -> Reading:
    toco = np.full(fhr.size, np.nan) if toco is None else toco
    return read_tracing(Tracing(fhr, toco, mhr_bpm=mhr), SETTINGS.tracing)


def of_kind(reading: Reading, kind: str) -> list[Caution]:
    return [caution for caution in reading.cautions if caution.kind == kind]


def confluent(share: float, seed: int, height: float, range_bpm: float, length: tuple[float, float]) -> np.ndarray:
    """45 minutes with accelerations for this share of the time."""
    rng = np.random.default_rng(seed)
    n, at = 45 * 60 * RATE, 200.0
    fhr = np.full(n, BASE_BPM)
    while at < 45 * 60 - 150:
        lasts, up, down = rng.uniform(*length), rng.uniform(5, 10), rng.uniform(6, 12)
        shape = draw_shape(up, max(lasts - up - down, 3), down, "cosine", "cosine")
        fhr[int(at * RATE) : int(at * RATE) + shape.size] += height * rng.uniform(0.85, 1.15) * shape
        at += lasts * (1 + (1 - share) / share * rng.uniform(0.7, 1.3))
    return fhr + fluctuation(rng, n, range_bpm, "pink")


@pytest.mark.parametrize("range_bpm", [3.0, 9.0, 16.0])
@pytest.mark.parametrize(("height", "length"), [(18.0, (25, 50)), (24.0, (40, 110)), (28.0, (60, 150))])
@pytest.mark.parametrize("share", [0.41, 0.5, 0.6, 0.75])
def test_a_baseline_under_accelerations_that_run_together_is_right_or_flagged(
    share: float, height: float, length: tuple[float, float], range_bpm: float
) -> None:
    for seed in range(2):
        reading = read(confluent(share, seed, height, range_bpm, length))
        level = float(np.nanmedian(reading.baseline_1hz[300:2500]))
        if abs(level - BASE_BPM) <= 5:
            continue
        (caution,) = of_kind(reading, "baseline_doubtful")
        assert caution.other_bpm == pytest.approx(BASE_BPM, abs=4)
        assert any(f"could be {caution.other_bpm:.0f} bpm" in note for note in reading.notes)
        minutes = STANDARDS["figo-2015"].minute_categories(reading, SETTINGS.of_standards["figo-2015"])
        marked = [caution.short in reasons for reasons in minutes.reasons]
        assert [mark for mark, code in zip(marked, minutes.codes, strict=True) if code > 0] == [True] * int(
            (minutes.codes > 0).sum()
        )


def test_the_category_under_the_other_level_of_a_doubtful_baseline_is_said() -> None:
    """FIGO 2015 calls a strip of 110 to 160 bpm with 5 to 25 bpm of variability and no decelerations normal.

    That is what was drawn: accelerations that run together for most of the time, taken for the baseline.
    """
    reading = read(confluent(0.6, 1, 24.0, 9.0, (40, 110)))
    (caution,) = of_kind(reading, "baseline_doubtful")
    assert reading.at_other_level is not None
    assert reading.at_other_level.decelerations == ()
    assert float(np.nanmedian(reading.at_other_level.baseline_1hz)) == pytest.approx(BASE_BPM, abs=4)
    standard, settings = STANDARDS["figo-2015"], SETTINGS.of_standards["figo-2015"]
    minutes = standard.minute_categories(reading, settings)
    said = f"with the baseline at {caution.other_bpm:.0f} bpm: normal"
    assert (minutes.codes > 0).any()
    for code, reasons in zip(minutes.codes, minutes.reasons, strict=True):
        assert (said in reasons) == (code > 0)
    window = standard.window_category(reading, 600.0, 2400.0, settings)
    assert (window.category, said in window.reasons) == ("suspicious", True)


@pytest.mark.parametrize("share", [0.1, 0.25])
def test_single_accelerations_leave_no_doubt(share: float) -> None:
    for seed in range(4):
        assert of_kind(read(confluent(share, seed, 22.0, 9.0, (25, 60))), "baseline_doubtful") == []


def test_labours_with_most_of_the_time_in_decelerations_are_hardly_ever_flagged() -> None:
    # The drawn truth: their baseline is the upper level.
    flagged = 0
    for seed in range(730, 738):
        samples, _ = simulate_labour(seed, artefact_level="mild", share_in_decelerations=0.6, hours=1.5)
        flagged += bool(of_kind(read(samples["fhr_bpm"], samples["toco"]), "baseline_doubtful"))
    assert flagged <= 1


def labour(
    seed: int,
    *,
    level: float = 88.0,
    range_bpm: float = 12.0,
    rise: float = 15.0,
    lost_s: float = 0.0,
    last_min: float = 25.0,
    fall_s: float = 1.0,
) -> tuple[np.ndarray, np.ndarray]:
    """An hour at 140 bpm with contractions every 3 min; for the last minutes another level that rises with them."""
    rng = np.random.default_rng(seed)
    n = 60 * 60 * RATE
    t, end = np.arange(n) / RATE, 3600.0
    phase = np.abs((t % 180) - 90) / 38
    bell = np.where(phase < 1, (1 + np.cos(np.pi * np.minimum(phase, 1))) / 2, 0.0)
    toco = 10 + 50 * bell + np.repeat(rng.normal(0, 0.5, n // RATE), RATE)
    begins = end - 60 * last_min
    fhr = np.interp(t, [0, begins, begins + fall_s, end], [140, 140, level, level])
    own = fluctuation(rng, n, 10.0, "pink")
    fhr += np.where(t > begins, fluctuation(rng, n, range_bpm, "autoregressive") + rise * bell, own)
    if lost_s:
        fhr[int((begins - lost_s / 2) * RATE) : int((begins + lost_s / 2) * RATE)] = np.nan
    return np.round(fhr * 4) / 4, toco


SUSPECT = [
    {},
    {"level": 72.0, "rise": 8.0},
    {"level": 102.0},
    {"level": 115.0, "rise": 20.0},
    {"lost_s": 90.0},
    {"lost_s": 700.0},
    {"last_min": 14.0},
    {"range_bpm": 5.0, "rise": 20.0},
]


@pytest.mark.parametrize("how", SUSPECT, ids=str)
def test_a_level_like_the_mothers_is_suspected(how: dict[str, float]) -> None:
    for seed in range(2):
        fhr, toco = labour(seed, **how)
        reading = read(fhr, toco)
        (caution,) = of_kind(reading, "maternal_rate_suspected")
        lasts = 60 * how.get("last_min", 25.0)
        assert caution.start_s == pytest.approx(3600 - lasts, abs=10 + how.get("lost_s", 0.0) * 0.75)
        assert any("could be the mother's" in note for note in reading.notes)
        minutes = STANDARDS["nichd-2008"].minute_categories(reading, SETTINGS.of_standards["nichd-2008"])
        assert caution.short in minutes.reasons[-1]
        # A caution only: what was recorded stays.
        assert np.isfinite(reading.fhr_1hz[-600:]).mean() > 0.95


def test_without_contractions_its_variability_decides() -> None:
    fhr, _ = labour(1)
    assert len(of_kind(read(fhr), "maternal_rate_suspected")) == 1
    fhr, _ = labour(1, range_bpm=2.0, rise=0.0)
    assert of_kind(read(fhr), "maternal_rate_suspected") == []


FETAL = [
    {"rise": 0.0, "range_bpm": 2.0},
    {"rise": 0.0, "range_bpm": 9.0},
    {"rise": -20.0, "range_bpm": 9.0},
    {"rise": 0.0, "fall_s": 240.0},
    {"level": 128.0, "rise": 0.0},
]


@pytest.mark.parametrize("how", FETAL, ids=str)
def test_a_final_bradycardia_of_the_fetus_is_not_taken_for_the_mother(how: dict[str, float]) -> None:
    for seed in range(2):
        fhr, toco = labour(seed, **how)
        assert of_kind(read(fhr, toco), "maternal_rate_suspected") == []


def test_nobody_is_suspected_where_a_maternal_channel_tells() -> None:
    fhr, toco = labour(1)
    assert of_kind(read(fhr, toco, np.full(fhr.size, 71.0)), "maternal_rate_suspected") == []


@pytest.mark.parametrize(("start_s", "end_s"), [(0, 900), (2700, 3600), (0, 3600)])
def test_a_loss_at_either_end_leads_to_no_suspicion(start_s: int, end_s: int) -> None:
    fhr, toco = labour(1, last_min=0.0)
    fhr[start_s * RATE : end_s * RATE] = np.nan
    assert of_kind(read(fhr, toco), "maternal_rate_suspected") == []

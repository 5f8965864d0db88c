"""More textbook strips: both sides of published limits. Answers written down from the texts before they were read.

Sources as in `test_textbook_strips`: NICHD 2008 (Macones), FIGO 2015 (Ayres-de-Campos) and NICE NG229 (December 2022,
and as amended) by secondary tables; 'from memory' where no source was seen. Unless said: 60 minutes, baseline 140 bpm,
variability 12 bpm, a contraction every 4 minutes, the category at the end, NICE by the amended text.
"""

import pytest

from audit.tracing.types import Tracing
from tests.textbook import LAST_45, PEAKS, Dip, early, ends, every, gradual, judged, late, strip, variable


def dense(minutes: float, every_min: float = 2.4) -> list[float]:
    """Peaks of contractions, so many minutes apart, of the last minutes of an hour."""
    return [p for p in every(every_min, 1, 60) if p > 60 * (60 - minutes)]


def single(length_s: float, depth_bpm: float = 50.0) -> Tracing:
    """One deceleration of so many seconds from 40:00 on."""
    return strip(60, peaks=PEAKS, dips=[Dip(2400, depth_bpm, 10, length_s - 20, 10)])


STRIPS = {
    # NICHD: variable >= 15 bpm and >= 15 s, FIGO > 15 and > 15, NICE > 15 and >= 15.
    "abrupt 10 bpm x 40 s": (
        strip(60, peaks=PEAKS, variability=6, dips=[variable(p, depth_bpm=10) for p in LAST_45[:-1]]),
        ["I", "normal", "normal"],
    ),
    "abrupt 22 bpm x 25 s": (
        strip(60, peaks=PEAKS, variability=6, dips=[Dip(p - 12, 22, 5, 15, 5) for p in LAST_45[:-1]]),
        ["II", "suspicious", "normal"],
    ),
    "abrupt 25 bpm x 9 s": (
        strip(60, peaks=PEAKS, variability=6, dips=[Dip(p - 4, 25, 3, 3, 3) for p in LAST_45[:-1]]),
        ["I", "normal", "normal"],
    ),
    # NICHD prints no least depth of late ones; FIGO and NICE take shallow ones only where variability is reduced.
    "late of 13 bpm, accelerations": (
        strip(60, peaks=PEAKS, variability=6, rises=[7 * 60, 23 * 60, 39 * 60, 53 * 60],
              dips=[gradual(p, 35, depth_bpm=13, fall_s=40, rise_s=40) for p in LAST_45[2:-1:2]]),
        ["II", "normal", "normal"],
    ),
    # NICHD: prolonged from 2 min. FIGO: one of over 5 min pathological. NICE: one of 3 min or more red.
    "one of 110 s": (single(110), ["II", "normal", "normal"]),
    "one of 150 s": (single(150), ["II", "normal", "normal"]),
    "one of 170 s": (single(170), ["II", "normal", "normal"]),
    "one of 195 s": (single(195), ["II", "normal", "pathological"]),
    "one of 285 s": (single(285), ["II", "normal", "pathological"]),
    "one of 315 s": (single(315), ["II", "pathological", "pathological"]),
    "one of 9 min": (single(540), ["II", "pathological", "pathological"]),
    "one of 12 min": (single(720), ["II", "pathological", "pathological"]),
    # NICHD rounds the baseline to 5 bpm: 108 is 110 and 162 is 160. FIGO 110-160. NICE 100-109 amber, over 160 red.
    "baseline 113": (strip(60, peaks=PEAKS, baseline=113), ["I", "normal", "normal"]),
    "baseline 108": (strip(60, peaks=PEAKS, baseline=108.3), ["I", "suspicious", "suspicious"]),
    "baseline 106": (strip(60, peaks=PEAKS, baseline=106), ["II", "suspicious", "suspicious"]),
    "baseline 102": (strip(60, peaks=PEAKS, baseline=102), ["II", "suspicious", "suspicious"]),
    "baseline 98": (strip(60, peaks=PEAKS, baseline=98), ["II", "pathological", "pathological"]),
    "baseline 157": (strip(60, peaks=PEAKS, baseline=157), ["I", "normal", "normal"]),
    "baseline 162": (strip(60, peaks=PEAKS, baseline=161.7), ["I", "suspicious", "pathological"]),
    "baseline 164": (strip(60, peaks=PEAKS, baseline=164), ["II", "suspicious", "pathological"]),
    # NICE: a rise of 20 bpm or more since the start or the last hourly review is amber.
    "baseline 120 to 145": (
        strip(60, peaks=PEAKS, baseline=[(0, 120), (35, 145)]), ["I", "normal", "suspicious"]),
    "baseline 120 to 134": (
        strip(60, peaks=PEAKS, baseline=[(0, 120), (35, 134)]), ["I", "normal", "normal"]),
    "tachycardia ended 20 min ago": (
        strip(60, peaks=PEAKS, baseline=[(0, 175), (38, 145)]), ["I", "normal", "normal"]),
    # NICHD minimal <= 5. FIGO under 5 lacks a feature, reduced over 50 min. NICE amber 30 to 50 min, red over 50.
    "variability 3 for 26 min": (
        strip(60, peaks=PEAKS, variability=[(0, 12), (34, 3)]), ["II", "suspicious", "normal"]),
    "variability 3 for 34 min": (
        strip(60, peaks=PEAKS, variability=[(0, 12), (26, 3)]), ["II", "suspicious", "suspicious"]),
    "variability 3 for 46 min": (
        strip(60, peaks=PEAKS, variability=[(0, 12), (14, 3)]), ["II", "suspicious", "suspicious"]),
    "variability 3 for 54 min": (
        strip(80, peaks=every(4, 3, 80), variability=[(0, 12), (26, 3)]), ["II", "pathological", "pathological"]),
    "variability 3 for 90 min": (
        strip(120, peaks=every(4, 3, 120), variability=[(0, 12), (30, 3)]), ["II", "pathological", "pathological"]),
    "variability 3.5 for 90 min": (
        strip(120, peaks=every(4, 3, 120), variability=[(0, 12), (30, 3.5)]), ["II", "pathological", "pathological"]),
    "variability 8": (strip(60, peaks=PEAKS, variability=8), ["I", "normal", "normal"]),
    "variability 20": (strip(60, peaks=PEAKS, variability=20), ["I", "normal", "normal"]),
    # NICHD marked > 25. FIGO over 25 for more than 30 min. NICE over 25: amber up to 10 min, red over 10 (from memory).
    "variability 30 for 8 min": (
        strip(60, peaks=PEAKS, variability=[(0, 12), (52, 30)]), ["II", "suspicious", "suspicious"]),
    "variability 30 for 15 min": (
        strip(60, peaks=PEAKS, variability=[(0, 12), (45, 30)]), ["II", "suspicious", "pathological"]),
    "variability 30 for 36 min": (
        strip(60, peaks=PEAKS, variability=[(0, 12), (24, 30)]), ["II", "pathological", "pathological"]),
    # NICHD: absent variability with recurrent late or variable ones, or with bradycardia, is III; alone it is II.
    "absent variability alone": (strip(60, peaks=PEAKS, variability=0.8), ["II", "pathological", "pathological"]),
    "absent variability, baseline 95": (
        strip(60, peaks=PEAKS, variability=0.8, baseline=95), ["III", "pathological", "pathological"]),
    "absent variability, variable ones": (
        strip(60, peaks=PEAKS, variability=0.8, dips=[variable(p) for p in LAST_45[:-1]]),
        ["III", "pathological", "pathological"],
    ),
    "absent variability, late with 1 in 3": (
        strip(60, peaks=PEAKS, variability=0.8, dips=[late(p) for p in LAST_45[:-1:3]]),
        ["II", "pathological", "pathological"],
    ),
    "variability 4, baseline 95": (
        strip(60, peaks=PEAKS, variability=4, baseline=95), ["II", "pathological", "pathological"]),
    # NICE: two ambers are pathological.
    "baseline 105 and variability 3 for 40 min": (
        strip(60, peaks=PEAKS, baseline=105, variability=[(0, 12), (20, 3)]),
        ["II", "suspicious", "pathological"],
    ),
    # NICHD: 3 to 5 cycles a minute, 20 min or more. FIGO, from memory: more than 30 min, 5 to 15 bpm.
    "sinusoidal for 16 min": (
        strip(60, peaks=PEAKS, sine=(2640, 3600, 4.0, 10.0)), ["II", "normal", "pathological"]),
    "sinusoidal for 23 min": (
        strip(60, peaks=PEAKS, sine=(2220, 3600, 4.0, 10.0)), ["III", "normal", "pathological"]),
    "sinusoidal for 34 min": (
        strip(60, peaks=PEAKS, sine=(1560, 3600, 3.5, 10.0)), ["III", "pathological", "pathological"]),
    "sinusoidal of 20 bpm for 40 min": (
        strip(60, peaks=PEAKS, sine=(1200, 3600, 4.0, 20.0)), ["III", "normal", "pathological"]),
    "7 cycles a minute for 40 min": (
        strip(60, peaks=PEAKS, sine=(1200, 3600, 7.0, 10.0)), ["I", "normal", "normal"]),
    # FIGO: repetitive late for more than 30 min (20 with reduced variability), more than half of the contractions.
    "late for 27 min": (
        strip(60, peaks=dense(60), dips=[late(p) for p in dense(27)[:-1]]), ["II", "suspicious", "pathological"]),
    "late for 34 min": (
        strip(60, peaks=dense(60), dips=[late(p) for p in dense(34)[:-1]]), ["II", "pathological", "pathological"]),
    "late for 17 min, variability 3": (
        strip(60, peaks=dense(60), variability=[(0, 12), (35, 3)], dips=[late(p) for p in dense(17)[:-1]]),
        ["II", "suspicious", "pathological"],
    ),
    "late for 24 min, variability 3": (
        strip(60, peaks=dense(60), variability=[(0, 12), (35, 3)], dips=[late(p) for p in dense(24)[:-1]]),
        ["II", "pathological", "pathological"],
    ),
    "late with one in three for 45 min": (
        strip(60, peaks=dense(60, 3), dips=[late(p) for p in dense(45, 3)[:-1:3]]),
        ["II", "normal", "pathological"],
    ),
    # NICE: repetitive variable ones of over 60 s: amber under, red over 30 minutes; without them white.
    "variable of 50 s for 45 min": (
        strip(60, peaks=PEAKS, dips=[variable(p, length_s=50) for p in LAST_45[:-1]]),
        ["II", "suspicious", "normal"],
    ),
    "variable of 72 s for 26 min": (
        strip(60, peaks=dense(60, 3), dips=[variable(p, length_s=72) for p in dense(26, 3)[:-1]]),
        ["II", "suspicious", "suspicious"],
    ),
    "variable of 72 s for 36 min": (
        strip(60, peaks=dense(60, 3), dips=[variable(p, length_s=72) for p in dense(36, 3)[:-1]]),
        ["II", "suspicious", "pathological"],
    ),
    # NICHD: early may be present in I. FIGO: repetitive, of any kind. NICE: early is white.
    "one early": (strip(60, peaks=PEAKS, dips=[early(PEAKS[9])]), ["I", "normal", "normal"]),
    "early with one in three": (
        strip(60, peaks=PEAKS, dips=[early(p) for p in PEAKS[1:-1:3]]), ["I", "normal", "normal"]),
    # Toco lost: variable ones need none for their kind, the share of contractions does.
    "variable ones, toco lost from 25 min on": (
        strip(60, peaks=PEAKS, toco_lost=[(1500, 3600)], dips=[variable(p) for p in LAST_45[:-1]]),
        ["II", "suspicious", "normal"],
    ),
    "nothing, toco lost": (strip(60, peaks=PEAKS, toco_lost=[(1500, 3600)]), ["I", "normal", "normal"]),
}  # fmt: skip


# Not reached: a drawn fall of 9 s is read as 16 to 31 s long, and the swings of a fluctuation of 30 bpm in part as
# accelerations and decelerations, outside which too little of it is left for half an hour without a break.
SHORT_OF = {"abrupt 25 bpm x 9 s", "variability 30 for 36 min"}


@pytest.mark.parametrize(
    "name", [pytest.param(one, marks=pytest.mark.xfail(strict=True)) if one in SHORT_OF else one for one in STRIPS]
)
def test_category_of_a_textbook_strip(name: str) -> None:
    tracing, expected = STRIPS[name]
    found, reasons = ends(tracing)
    assert found == expected, reasons


# NICE, December 2022: late ones count when repetitive: amber under, red over 30 minutes.
@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("late for 27 min", "suspicious"),
        ("late for 34 min", "pathological"),
        ("late with one in three for 45 min", "normal"),
        ("one of 195 s", "pathological"),
        ("baseline 164", "pathological"),
    ],
)
def test_the_text_of_december_2022(name: str, expected: str) -> None:
    found, reasons = ends(STRIPS[name][0], month="2023-01")
    assert found[2] == expected, reasons


# NICE CG190 as updated in 2017, for births before December 2022, by a published summary of its table. Contractions and
# a rise of the baseline are no features of it; two non-reassuring features are pathological: from memory.
FORMER = {
    # 161 to 180 non-reassuring, over 180 abnormal; under 100 abnormal, 100 to 109 non-reassuring
    "baseline 170": (strip(60, peaks=PEAKS, baseline=170), "suspicious"),
    "baseline 186": (strip(60, peaks=PEAKS, baseline=186), "pathological"),
    "baseline 102": (strip(60, peaks=PEAKS, baseline=102), "suspicious"),
    "baseline 98": (strip(60, peaks=PEAKS, baseline=98), "pathological"),
    "baseline 120 to 145": (STRIPS["baseline 120 to 145"][0], "normal"),
    "six contractions in 10 min": (strip(60, peaks=every(1.6, 1, 60)), "normal"),
    # under 5 for 30 to 50 min non-reassuring, longer abnormal; over 25 for 15 to 25 min non-reassuring
    "variability 3 for 26 min": (STRIPS["variability 3 for 26 min"][0], "normal"),
    "variability 3 for 46 min": (STRIPS["variability 3 for 46 min"][0], "suspicious"),
    "variability 3 for 54 min": (STRIPS["variability 3 for 54 min"][0], "pathological"),
    "variability 30 for 8 min": (STRIPS["variability 30 for 8 min"][0], "normal"),
    # late in over half for under 30 min non-reassuring, for 30 min abnormal
    "late for 27 min": (STRIPS["late for 27 min"][0], "suspicious"),
    "late for 34 min": (STRIPS["late for 34 min"][0], "pathological"),
    "one late": (strip(60, peaks=PEAKS, dips=[late(PEAKS[11])]), "normal"),
    # concerning in over half for under 30 min non-reassuring, for 30 min abnormal; in half or fewer non-reassuring
    "variable of 72 s for 26 min": (STRIPS["variable of 72 s for 26 min"][0], "suspicious"),
    "variable of 72 s for 36 min": (STRIPS["variable of 72 s for 36 min"][0], "pathological"),
    "variable of 72 s with one in three for 45 min": (
        strip(60, peaks=dense(60, 3), dips=[variable(p, length_s=72) for p in dense(45, 3)[:-1:3]]), "suspicious"),
    # variable ones without concern: reassuring under, non-reassuring from 90 min on
    "variable of 45 s for 80 min": (
        strip(120, peaks=every(4, 3, 120), dips=[variable(p) for p in every(4, 39, 118)]), "normal"),
    "variable of 45 s for 100 min": (
        strip(120, peaks=every(4, 3, 120), dips=[variable(p) for p in every(4, 15, 118)]), "suspicious"),
    # a bradycardia or one deceleration of 3 min or more
    "one of 170 s": (single(170), "normal"),
    "one of 195 s": (single(195), "pathological"),
    # two non-reassuring features
    "baseline 105 and variability 3 for 40 min": (
        STRIPS["baseline 105 and variability 3 for 40 min"][0], "pathological"),
}  # fmt: skip


@pytest.mark.parametrize("name", FORMER)
def test_the_text_before_december_2022(name: str) -> None:
    tracing, expected = FORMER[name]
    found = judged(tracing, month="2021-05")["nice-ng229"]
    assert found.categories[-1] == expected, found.reasons[-1]
    assert found.edition == "cg190-2017, text for births from 2017-02 to 2022-11"


# NICE: one of 3 min or more; FIGO: more than 3; NICHD's trigger at 3 min is our choice.
@pytest.mark.parametrize(
    ("length_s", "emergency"), [(115, False), (150, False), (165, False), (195, True), (330, True)]
)
def test_three_minutes_make_an_emergency(length_s: float, emergency: bool) -> None:
    found = judged(single(length_s))
    for standard, trigger in (
        ("nichd-2008", "prolonged_deceleration"),
        ("figo-2015", "prolonged_deceleration"),
        ("nice-ng229", "urgent_review"),
    ):
        assert bool(found[standard].triggers[trigger].met.any()) is emergency, standard

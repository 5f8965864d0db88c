"""A clock run again without events that a meeting struck out: on a drawn tracing whose falls are known."""

import dataclasses

import msgspec
import numpy as np
import pytest

from audit.analysis.agreed_run import clock_with_marks, with_marks
from audit.response.agreed import Mark
from audit.settings import load_settings
from audit.tracing.read import read_tracing
from audit.tracing.types import Tracing

SETTINGS = load_settings().analysis
START_S = 300.0
FACTS = {"period": "2031-03", "gestation_weeks": 40.0, "birth_s": START_S + 5400.0, "second_stage_s": None,
         "mode_of_birth": None}  # fmt: skip


@pytest.fixture(scope="module")
def tracing() -> Tracing:
    """90 minutes at 1 Hz with one fall of 40 bpm for 5 minutes, prolonged (NICHD 2008: 2 minutes or more)."""
    t = np.arange(5400.0)
    rng = np.random.default_rng(1)
    fhr = 140 + 6 * np.sin(2 * np.pi * t / 8) + rng.normal(0, 0.5, t.size)
    fhr -= 40 * np.clip(np.minimum((t - 3000) / 20, (3300 - t) / 20), 0, 1)
    toco = 10 + 40 * np.clip(1 - np.abs((t % 240) - 120) / 40, 0, 1)
    return Tracing(fhr, toco, 1.0, start_s=START_S)


def run(tracing, *marks):
    found = clock_with_marks(tracing, marks, facts=FACTS, events=[], settings=SETTINGS)
    return {(one.standard, one.trigger) for one in found.clock.episodes}


def test_without_the_one_fall_no_concern_is_left_and_the_tracing_stays_as_it_was(tracing):
    kept = tracing.fhr_bpm.copy()
    before = run(tracing)
    assert ("figo-2015", "prolonged_deceleration") in before
    (fall,) = [each for each in read_tracing(tracing, SETTINGS.tracing).decelerations if each.kind == "prolonged"]
    struck = Mark("struck_out", "deceleration", fall.onset_s + START_S, fall.end_s + START_S, "artefact")
    assert run(tracing, struck) == set()
    assert np.array_equal(tracing.fhr_bpm, kept)
    elsewhere = Mark("struck_out", "deceleration", fall.onset_s + START_S + 60, fall.end_s + START_S, "artefact")
    assert run(tracing, elsewhere) == before


def test_the_mothers_rate_is_taken_out_before_the_reading(tracing):
    assert run(tracing, Mark("added", "maternal_rate", START_S + 2990, START_S + 3320, "mother_s_rate")) == set()


def test_an_added_fall_is_measured_on_what_was_seen_and_one_without_signal_is_none(tracing):
    reading = read_tracing(tracing, SETTINGS.tracing)
    drawn = Mark("added", "deceleration", START_S + 3010, START_S + 3290, "event_not_found")
    more = with_marks(reading, [drawn], START_S, SETTINGS.tracing)
    added = [each for each in more.decelerations if each not in reading.decelerations]
    assert [each.kind for each in added] == ["prolonged"]
    assert 35 < added[0].depth_bpm < 55  # 40 bpm were drawn, and a ripple of 6 either way
    outside = with_marks(reading, [Mark("added", "deceleration", 9e4, 9.1e4, "event_not_found")], START_S,
                         SETTINGS.tracing)  # fmt: skip
    assert outside.decelerations == reading.decelerations


def test_a_fall_added_where_the_rate_did_not_fall_is_told_by_its_depth_and_starts_no_clock(tracing):
    def again(first, last):
        mark = Mark("added", "deceleration", START_S + first, START_S + last, "event_not_found")
        return clock_with_marks(tracing, [mark], facts=FACTS, events=[], settings=SETTINGS)

    level = again(600, 900)  # drawn level, with a ripple of 6 bpm
    assert level.added_falls[0].depth_bpm < 15
    assert {(one.standard, one.trigger) for one in level.clock.episodes} == run(tracing)
    (drawn,) = again(3010, 3290).added_falls
    assert 35 < drawn.depth_bpm < 55
    assert drawn.length_s == 280
    assert again(9e4, 9.1e4).added_falls[0].depth_bpm is None


def test_an_added_fall_is_long_and_timed_by_the_units_own_limits(tracing):
    """By those that decide it for a fall that the reading found: a meeting's fall and the reading's are told alike."""

    def added(settings, **changed):
        reading = dataclasses.replace(read_tracing(tracing, SETTINGS.tracing), **changed)
        mark = Mark("added", "deceleration", START_S + 600, START_S + 750, "event_not_found")
        (fall,) = [each for each in with_marks(reading, [mark], START_S, settings).decelerations
                   if each not in reading.decelerations]  # fmt: skip
        return fall

    assert added(SETTINGS.tracing).kind == "prolonged"
    assert added(msgspec.structs.replace(SETTINGS.tracing, prolonged_s=180.0)).kind == "unclassified"
    # 30 s before it and 150 s of it: usable in 70 %, where 80 % are wanted
    usable = np.ones(5400, dtype=bool)
    usable[696:750] = False
    assert not added(SETTINGS.tracing, toco_usable_1hz=usable).toco_usable
    half = msgspec.structs.replace(SETTINGS.tracing, event_toco_fraction=0.5)
    assert added(half, toco_usable_1hz=usable).toco_usable

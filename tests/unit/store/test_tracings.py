"""What is stored as minutes of hundredths comes back as the same arrays."""

import itertools
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from audit.store import database, tracings
from audit.store.tracings import Stretch


@pytest.fixture
def con(tmp_path: Path) -> Iterator[database.Connection]:
    with database.open_for_writing(tmp_path / "unit.duckdb") as opened:
        yield opened


def made(
    case_id: str, samples: int, *, start_s: float = 0.0, mhr: bool = False, seed: int = 1, rate_hz: float = 4.0
) -> Stretch:
    rng = np.random.default_rng(seed)
    fhr = np.where(rng.random(samples) < 0.1, np.nan, np.round(rng.uniform(60, 200, samples), 2))
    toco = np.where(rng.random(samples) < 0.1, np.nan, np.round(rng.uniform(0, 100, samples), 2))
    maternal = tracings.to_hundredths(np.round(rng.uniform(60, 120, samples), 2)) if mhr else None
    channels = tracings.to_hundredths(fhr), tracings.to_hundredths(toco), maternal
    return Stretch(case_id, "A", start_s, *channels, rate_hz, rate_hz)


def put(con: database.Connection, *stretches: Stretch) -> None:
    con.register("minutes_in", tracings.minutes_table(stretches))
    con.execute("insert into tracing_minutes select * from minutes_in")
    for s in stretches:
        con.execute("insert or ignore into cases (case_id) values (?)", [s.case_id])
        con.execute(
            "insert into tracings values (?, ?, ?, ?, ?, ?, 1.0, 1.0, ?, ?, null)",
            [
                *(s.case_id, s.fetus, s.start_s, s.samples, s.sample_rate_hz, s.source_rate_hz),
                *(s.mhr_cbpm is not None, s.content_sha256()),
            ],
        )


@pytest.mark.slow
def test_a_stretch_comes_back_sample_for_sample_at_its_rate(con):
    for rate_hz, samples in itertools.product([0.5, 1.0, 3.0, 4.0], [1, 59, 60, 61, 239, 240, 241, 1000]):
        case_id = f"C-{rate_hz}-{samples}"
        stretch = made(case_id, samples, start_s=12.5, mhr=True, rate_hz=rate_hz)
        put(con, stretch)
        lengths = con.execute(
            "select len(fhr_cbpm) from tracing_minutes where case_id = ? order by minute", [case_id]
        ).fetchall()
        assert {count for (count,) in lengths[:-1]} <= {60 * rate_hz}
        back = tracings.load_tracing(con, case_id, "A")
        assert (back.start_s, back.sample_rate_hz) == (12.5, rate_hz)
        np.testing.assert_array_equal(back.fhr_bpm, tracings.to_units(stretch.fhr_cbpm))
        np.testing.assert_array_equal(back.toco, tracings.to_units(stretch.toco_hundredths))
        np.testing.assert_array_equal(back.mhr_bpm, tracings.to_units(stretch.mhr_cbpm))


def test_minutes_come_back_in_order_however_they_lie(con):
    stretches = [made(f"C-{k}", 1000, seed=k) for k in range(2)]
    put(con, *stretches)
    con.execute("create temp table former as from tracing_minutes")
    con.execute("delete from tracing_minutes")
    con.execute("insert into tracing_minutes from former order by minute % 3, case_id desc, minute desc")
    found = tracings.load_many(con, [(s.case_id, s.fetus) for s in stretches])
    for s in stretches:
        np.testing.assert_array_equal(found[s.case_id, "A"].toco, tracings.to_units(s.toco_hundredths))


def test_between_stretches_there_is_no_signal(con):
    first, second = made("C-1", 500), made("C-1", 300, start_s=400.0, mhr=True, seed=2)
    put(con, second, first)
    back = tracings.load_tracing(con, "C-1")
    assert len(back.fhr_bpm) == 1600 + 300
    assert np.isnan(back.fhr_bpm[500:1600]).all()
    assert np.isnan(back.mhr_bpm[:1600]).all()
    np.testing.assert_array_equal(back.toco[1600:], tracings.to_units(second.toco_hundredths))


def test_pieces_of_one_rate_stay_at_it_and_move_by_less_than_a_quarter_second(con):
    first, second = made("C-1", 60, rate_hz=1.0), made("C-1", 60, start_s=100.2, rate_hz=1.0, seed=2)
    put(con, first, second)
    back = tracings.load_tracing(con, "C-1")
    assert (back.sample_rate_hz, len(back.fhr_bpm)) == (1.0, 160)
    assert np.isnan(back.fhr_bpm[60:100]).all()
    np.testing.assert_array_equal(back.fhr_bpm[100:], tracings.to_units(second.fhr_cbpm))


def test_pieces_of_different_rates_are_held_on_quarter_seconds(con):
    slow, usual = made("C-1", 60, rate_hz=1.0), made("C-1", 400, start_s=60.0, seed=2)
    put(con, slow, usual)
    back = tracings.load_tracing(con, "C-1")
    assert (back.sample_rate_hz, back.rates_hz, back.source_rate_hz) == (4.0, (1.0, 4.0), 1.0)
    np.testing.assert_array_equal(back.fhr_bpm[:240], np.repeat(tracings.to_units(slow.fhr_cbpm), 4))
    np.testing.assert_array_equal(back.fhr_bpm[240:], tracings.to_units(usual.fhr_cbpm))


def test_pieces_of_one_rate_half_a_second_apart_are_held_on_quarter_seconds(con):
    put(con, made("C-1", 60, rate_hz=1.0), made("C-1", 60, start_s=100.5, rate_hz=1.0, seed=2))
    back = tracings.load_tracing(con, "C-1")
    assert (back.sample_rate_hz, back.rates_hz, len(back.fhr_bpm)) == (4.0, (1.0,), 642)


def test_a_part_of_a_slow_stretch_keeps_its_rate_unless_a_sample_is_cut():
    stretch = made("C-1", 60, start_s=0.1, rate_hz=1.0)
    whole_samples = stretch.part(40, 120)
    assert (whole_samples.start_s, whole_samples.sample_rate_hz, whole_samples.samples) == (10.1, 1.0, 20)
    np.testing.assert_array_equal(whole_samples.fhr_cbpm, stretch.fhr_cbpm[10:30])
    cut = stretch.part(41, 120)
    assert (cut.start_s, cut.sample_rate_hz, cut.samples) == (10.5, 4.0, 79)
    np.testing.assert_array_equal(cut.fhr_cbpm, np.repeat(stretch.fhr_cbpm[10:30], 4)[1:])


def test_many_cases_are_loaded_together_and_kept_apart(con):
    stretches = [made(f"C-{k}", 300 + 7 * k, seed=k, mhr=k % 2 == 0) for k in range(5)]
    put(con, *stretches)
    found = tracings.load_many(con, [(s.case_id, s.fetus) for s in stretches])
    for stretch in stretches:
        np.testing.assert_array_equal(
            found[stretch.case_id, "A"].fhr_bpm, tracings.to_units(stretch.fhr_cbpm), stretch.case_id
        )


def test_sensors_and_the_rates_of_the_files_come_with_the_samples(con):
    put(con, made("C-1", 500), made("C-1", 300, start_s=400.0, seed=2), made("C-2", 240))
    con.execute("update cases set fhr_sensor = 'ultrasound', toco_sensor = 'external' where case_id = 'C-1'")
    con.execute("update tracings set source_rate_hz = null where start_s = 400")
    first, second = tracings.load_many(con, [("C-1", "A"), ("C-2", "A")]).values()
    assert (first.fhr_sensor, first.toco_sensor) == ("ultrasound", "external")
    assert (first.rates_hz, first.source_rate_hz) == ((4.0, None), 4.0)
    assert (second.fhr_sensor, second.toco_sensor, second.rates_hz) == (None, None, (4.0,))


def test_a_tracing_that_is_not_stored_is_named(con):
    with pytest.raises(LookupError, match="C-9, fetus B"):
        tracings.load_tracing(con, "C-9", "B")


def test_hundredths_keep_two_decimals_and_nan():
    values = np.array([0.0, 0.005, 143.25, np.nan, 299.99])
    back = tracings.to_units(tracings.to_hundredths(values))
    np.testing.assert_allclose(back, values, rtol=0, atol=0.005)


def test_the_content_hash_tells_samples_start_rate_and_maternal_channel_apart():
    stretch = made("C-1", 10)
    later = made("C-1", 10, start_s=1.0)
    with_mhr = Stretch("C-1", "A", 0.0, stretch.fhr_cbpm, stretch.toco_hundredths, stretch.fhr_cbpm, 4.0)
    slower = made("C-1", 10, rate_hz=1.0)
    assert len({s.content_sha256() for s in (stretch, later, with_mhr, slower)}) == 4
    assert stretch.content_sha256() == made("C-1", 10).content_sha256()

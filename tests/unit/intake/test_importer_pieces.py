"""Tracings that come in pieces, at other rates, again or with other samples: what the store holds of them then."""

import hashlib
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from audit.questions.check import stored_ranges
from audit.store import database
from audit.store.tracings import load_stretches, load_tracing, minutes_table
from tests.asking import ask
from tests.offering import SETTINGS, content, csv_of, parquet_of, samples, take


@pytest.mark.slow
@pytest.mark.parametrize("rate_hz", [1.0, 2.0, 4.0, 5.0, 10.0])
@pytest.mark.parametrize("backwards", [False, True])
def test_a_tracing_in_pieces_equals_the_whole(db, tmp_path, rate_hz, backwards):
    whole = samples(rate_hz=rate_hz, seconds=300)
    cut = int(len(whole) * 0.4) + 1
    pieces = [csv_of(whole.slice(0, cut), tmp_path / "1.csv"), csv_of(whole.slice(cut), tmp_path / "2.csv")]
    for piece in reversed(pieces) if backwards else pieces:
        assert take(db, piece).files[0].outcome == "stored"
    assert ask(db, "select count(*) from tracings") == [(2,)]
    other = tmp_path / "whole.duckdb"
    take(other, csv_of(whole, tmp_path / "whole.csv"))
    with database.open_for_reading(db) as con:
        split = load_tracing(con, "C1")
    with database.open_for_reading(other) as con:
        together = load_tracing(con, "C1")
    unlike = split.fhr_bpm != together.fhr_bpm
    unlike &= ~(np.isnan(split.fhr_bpm) & np.isnan(together.fhr_bpm))
    assert unlike.sum() <= (1 if rate_hz > 4 else 0)  # a cut within a quarter second
    assert take(db, tmp_path / "whole.csv").exit_code == 0
    assert take(db, *pieces).files[0].outcome == "unchanged"


@pytest.mark.parametrize("rate_hz", [0.5, 1.0, 2.0, 3.0])
def test_a_slower_file_is_stored_with_its_own_samples(db, tmp_path, rate_hz):
    table = samples(rate_hz=rate_hz, seconds=300)
    take(db, csv_of(table, tmp_path / "slow.csv"))
    stored = ask(db, "select samples, sample_rate_hz, source_rate_hz from tracings")
    assert stored == [(len(table), rate_hz, pytest.approx(rate_hz, abs=0.001))]
    with database.open_for_reading(db) as con:
        tracing = load_tracing(con, "C1")
    np.testing.assert_array_equal(tracing.fhr_bpm, np.asarray(table["fhr_bpm"].to_numpy(), float))


def held_up(db: Path) -> None:
    """As a slower file lay in the store before it kept its own rate: every sample held on quarter seconds."""
    with database.open_for_writing(db) as con:
        (stretches,) = load_stretches(con, ["C1"]).values()
        held = [stretch.held() for stretch in stretches]
        con.execute("delete from tracing_minutes")
        con.from_arrow(minutes_table(held)).insert_into("tracing_minutes")
        con.execute("delete from tracings where start_s <> (select min(start_s) from tracings)")
        con.execute(
            "update tracings set start_s = ?, samples = ?, sample_rate_hz = 4, content_sha256 = ?",
            [held[0].start_s, held[0].samples, held[0].content_sha256()],
        )


@pytest.mark.slow
@pytest.mark.parametrize("rate_hz", [0.5, 1.0, 2.0, 3.0])
@pytest.mark.parametrize("start_s", [0.0, 0.1])
def test_a_database_that_held_a_slower_file_up_knows_it_again_and_takes_what_follows(db, tmp_path, rate_hz, start_s):
    whole = samples(rate_hz=rate_hz, seconds=400)
    whole = whole.set_column(1, "t_s", pa.array(np.round(whole["t_s"].to_numpy() + start_s, 4)))
    early = whole.slice(0, int(300 * rate_hz))
    take(db, csv_of(early, tmp_path / "early.csv"))
    held_up(db)
    before = content(db)
    # the same file, the same content in another format
    assert take(db, tmp_path / "early.csv").files[0].outcome == "unchanged"
    assert take(db, parquet_of(early, tmp_path / "early.parquet")).files[0].outcome == "unchanged"
    assert content(db) == before
    # the same tracing, grown: what is new comes with its own samples
    assert take(db, csv_of(whole, tmp_path / "whole.csv")).files[0].outcome == "stored"
    assert ask(db, "select samples, sample_rate_hz from tracings order by start_s")[1:] == [(100 * rate_hz, rate_hz)]
    with database.open_for_reading(db) as con:
        tracing = load_tracing(con, "C1")
        assert database.rows(con, "check/ranges", stored_ranges(SETTINGS)).empty
    assert tracing.sample_rate_hz == 4.0
    at = np.floor((np.arange(tracing.fhr_bpm.size) / 4 + tracing.start_s - start_s) * rate_hz + 0.005).astype(int)
    expected = np.asarray(whole["fhr_bpm"].to_numpy(), float)[np.minimum(at, len(whole) - 1)]
    np.testing.assert_array_equal(tracing.fhr_bpm, expected)


def test_pieces_of_different_rates_make_one_tracing_and_say_so(db, tmp_path):
    slow, usual = samples(rate_hz=1.0, seconds=200), samples(seconds=200, seed=2)
    usual = usual.set_column(1, "t_s", pa.array(usual["t_s"].to_numpy() + 200))
    assert take(db, csv_of(slow, tmp_path / "1.csv"), csv_of(usual, tmp_path / "2.csv")).exit_code == 0
    assert ask(db, "select samples, sample_rate_hz from tracings order by start_s") == [(200, 1.0), (800, 4.0)]
    with database.open_for_reading(db) as con:
        tracing = load_tracing(con, "C1")
    assert (tracing.sample_rate_hz, tracing.rates_hz) == (4.0, (1.0, 4.0))
    np.testing.assert_array_equal(tracing.toco[:800], np.repeat(slow["toco"].to_numpy(), 4))
    np.testing.assert_array_equal(tracing.toco[800:], usual["toco"].to_numpy())


@pytest.mark.slow
def test_other_samples_in_a_slower_file_are_refused_and_named(db, tmp_path):
    take(db, csv_of(samples(rate_hz=1.0, seed=1), tmp_path / "a.csv"))
    before = content(db)
    report = take(db, csv_of(samples(rate_hz=1.0, seed=2), tmp_path / "b.csv"))
    assert "other samples are stored; at 0 s" in report.lines()[1]
    assert content(db) == before


def test_a_tracing_that_grew_is_stored_from_where_it_ended(db, tmp_path):
    whole = samples(seconds=300)
    take(db, csv_of(whole.slice(0, 700), tmp_path / "early.csv"))
    assert take(db, csv_of(whole, tmp_path / "late.csv")).files[0].outcome == "stored"
    assert ask(db, "select start_s, samples from tracings order by 1") == [(0.0, 700), (175.0, 500)]


@pytest.mark.slow
def test_other_samples_for_the_same_time_are_refused_and_named(db, tmp_path):
    take(db, csv_of(samples(seed=1), tmp_path / "a.csv"))
    before = content(db)
    report = take(db, csv_of(samples(seed=2), tmp_path / "b.csv"))
    assert report.exit_code == 3
    assert "other samples are stored; at 0 s" in report.lines()[1]
    assert "--replace" in report.lines()[1]
    assert report.rows_rejected == 800
    assert content(db) == before


@pytest.mark.slow
def test_replace_puts_the_new_samples_in_place_and_keeps_the_former_hash(db, tmp_path):
    take(db, csv_of(samples(seed=1), tmp_path / "a.csv"))
    former = ask(db, "select content_sha256 from tracings")[0][0]
    second = samples(seed=2)
    pieces = [csv_of(second.slice(0, 300), tmp_path / "b1.csv"), csv_of(second.slice(300), tmp_path / "b2.csv")]
    report = take(db, *pieces, replace=True)
    assert report.files[0].outcome == "replaced"
    assert report.exit_code == 0
    other = tmp_path / "other.duckdb"
    take(other, *pieces)
    assert content(db) == content(other)
    assert ask(db, "select former_sha256, kind from content_history") == [
        (hashlib.sha256(former.encode()).hexdigest(), "tracing")
    ]
    # the first file is no longer what is stored, so it must not pass as imported before
    assert take(db, tmp_path / "a.csv").exit_code == 3

"""The way in for Python users: same samples, same findings as by command; a mistake says what is wrong."""

import doctest
import shutil
from pathlib import Path

import altair as alt
import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

import audit
from audit.cli import cli
from audit.errors import AuditError, UsageError
from audit.notebook import reading as reading_module
from audit.notebook import samples
from audit.notebook import unit as unit_module

pytestmark = pytest.mark.slow

SAMPLE = Path(__file__).resolve().parents[3] / "synthetic_cases" / "sample" / "files"
CSV = SAMPLE / "tracing_S001.csv"


@pytest.fixture(scope="module")
def unit(tmp_path_factory):
    """The sample, imported and analysed by the commands."""
    folder = tmp_path_factory.mktemp("unit")
    files = folder / "files"
    shutil.copytree(SAMPLE, files)
    db = folder / "unit.duckdb"
    for command in (["import", str(files)], ["analyse", "--workers", "1"]):
        done = CliRunner().invoke(cli, [*command, "--db", str(db)])
        assert done.exit_code == 0, done.output
    return audit.open_unit(db)


@pytest.fixture(scope="module")
def reading():
    return audit.read(audit.read_csv(CSV), gestation_weeks=39)


def test_every_name_of_the_face_is_there():
    assert [name for name in audit.__all__ if not hasattr(audit, name)] == []
    assert dir(audit) == sorted(audit.__all__)
    with pytest.raises(AttributeError, match="no attribute 'reads'"):
        audit.reads  # noqa: B018 - looking it up is the test


def test_the_examples_in_the_docstrings_run():
    done = [doctest.testmod(module) for module in (samples, reading_module, unit_module)]
    assert sum(result.attempted for result in done) >= 5
    assert sum(result.failed for result in done) == 0


def test_the_reading_of_a_file_is_the_reading_of_the_commands(unit, reading):
    stored = unit.table("decelerations", case_id="S001")
    found = reading.frame("decelerations")
    assert len(found) == len(stored) > 3
    for name in ("onset_s", "nadir_s", "end_s", "depth_bpm", "area_bpm_s"):
        np.testing.assert_allclose(sorted(found[name]), sorted(stored[name]), rtol=0, atol=1e-9)
    again = unit.reading("S001").frame("decelerations")
    pd.testing.assert_frame_equal(again, found)


def test_the_minutes_are_those_of_the_commands(unit, reading):
    stored = unit.table("minute_categories", case_id="S001")
    stored = stored[stored["standard"] == "figo-2015"].sort_values("at_s")
    found = audit.classify(reading, "figo-2015")
    assert found["category"].tolist() == stored["category"].tolist()
    assert found["reasons"].map(list).tolist() == stored["reasons"].map(list).tolist()


def test_a_unit_answers_for_a_month_and_a_standard(unit):
    assert sorted(unit.cases(period="2025-03")["case_id"]) == ["S001", "S002"]
    assert unit.cases(period="2025-04").empty
    every = unit.episodes()
    chosen = unit.episodes(period="2025-03", standard="nice-ng229")
    assert set(chosen["standard"]) <= {"nice-ng229"}
    assert len(chosen) == int((every["standard"] == "nice-ng229").sum())


@pytest.mark.parametrize("kind", [list, tuple, np.asarray, pd.Series])
def test_lists_and_arrays_do_as_well(kind):
    made = audit.from_samples(kind([140.0, 0.0, float("nan"), 141.0]), kind([10.0, 11.0, 12.0, 13.0]), sample_rate_hz=2)
    np.testing.assert_array_equal(made.fhr_bpm, [140.0, np.nan, np.nan, 141.0])
    np.testing.assert_array_equal(made.toco, [10.0, 11.0, 12.0, 13.0])
    assert made.sample_rate_hz == 2.0


@pytest.mark.parametrize("kind", [list, pd.Series])
def test_a_tracing_made_of_lists_is_read_as_one_of_arrays(kind):
    fhr, toco = [140.0, 141.0] * 1200, [10.0] * 2400
    found = audit.read(audit.Tracing(kind(fhr), kind(toco), start_s=30.0)).frame("epochs")
    expected = audit.read(audit.Tracing(np.array(fhr), np.array(toco), start_s=30.0)).frame("epochs")
    pd.testing.assert_frame_equal(found, expected)


def test_given_samples_are_not_changed():
    given = np.array([0.0, 140.0])
    audit.from_samples(given)
    assert given.tolist() == [0.0, 140.0]


def test_a_record_is_read_by_its_name(open_record):
    made = audit.read_wfdb(open_record)
    assert made.sample_rate_hz == 4.0
    assert np.isfinite(made.fhr_bpm).mean() > 0.3
    assert audit.read_wfdb(open_record.with_suffix(".hea")).fhr_bpm.size == made.fhr_bpm.size


@pytest.fixture
def open_record(tmp_path):
    """A record of two minutes in format 16 as the format's description has it: 100 units a bpm, 4 samples a second."""
    samples = np.column_stack((np.full(480, 14000), np.full(480, 1000))).astype("<i2")
    (tmp_path / "Q1.dat").write_bytes(samples.tobytes())
    sums = [int(column.sum(dtype=np.int64)) & 0xFFFF for column in samples.T]  # 16 bits, either sign's reading
    (tmp_path / "Q1.hea").write_text(
        f"Q1 2 4 480\nQ1.dat 16 100/bpm 16 0 14000 {sums[0]} 0 FHR\nQ1.dat 16 100/nd 16 0 1000 {sums[1]} 0 UC\n"
    )
    return tmp_path / "Q1"


def test_the_strip_is_a_chart_of_its_true_width(reading):
    chart = reading.plot(8000, 8600, standard="figo-2015")
    assert isinstance(chart, alt.TopLevelMixin)
    widths = {pane["width"] for pane in chart.to_dict()["vconcat"]}
    assert widths == {round(10 * 96 / 2.54)}  # 10 min at 1 cm/min; CSS defines 96 px to the inch
    bare = reading.plot(8000, 8600, findings=False).to_dict()
    assert len(bare["vconcat"]) < len(chart.to_dict()["vconcat"])
    assert max(map(len, reading.plot().to_dict()["datasets"].values())) > 5000  # of a frame the library takes no more


@pytest.mark.parametrize(
    ("act", "says"),
    [
        (lambda: audit.from_samples([140, "a"]), "fhr_bpm: found list that is not one row of numbers"),
        (lambda: audit.from_samples([[1, 2], [3, 4]]), "fhr_bpm: found an array of 2 dimensions"),
        (lambda: audit.from_samples([]), "fhr_bpm: found no samples"),
        (lambda: audit.read(audit.Tracing(np.array([]), np.array([]))), "fhr_bpm: found no samples"),
        (lambda: audit.from_samples([1, 2], [1]), "toco: found 1 samples, expected 2"),
        (lambda: audit.read(audit.Tracing([1, 2], [1])), "toco: found 1 samples, expected 2"),
        (lambda: audit.from_samples([1], sample_rate_hz=0), "sample_rate_hz: found 0"),
        (lambda: audit.read_csv(SAMPLE / "reads.csv"), "reads.csv: found reads, expected tracing"),
        (lambda: audit.read_csv(SAMPLE / "none.csv"), "none.csv: does not exist"),
        (lambda: audit.read_csv(CSV, case_id="S9"), "found no tracing of case S9"),
        (lambda: audit.read([140] * 10).frame("falls"), "frame 'falls': expected one of decelerations"),
        (lambda: audit.classify(audit.read([140] * 10), "figo"), "standard 'figo': expected one of nichd-2008"),
        (lambda: audit.read([140] * 10).plot(5, 5), "expected an end after its start"),
        (lambda: audit.read([140] * 10).plot(cm_per_min=2), "cm_per_min: found 2, expected 1 or 3"),
    ],
)
def test_a_mistake_says_what_was_found_and_expected(act, says):
    with pytest.raises(UsageError, match=says):
        act()


def test_a_file_with_several_tracings_wants_one_named(tmp_path):
    file = tmp_path / "two.csv"
    rows = [f"{case},{t},140,10" for case in ("C1", "C2") for t in range(60)]
    file.write_text("\n".join(["case_id,t_s,fhr_bpm,toco", *rows, ""]))
    with pytest.raises(UsageError, match="found 2 tracings, expected one"):
        audit.read_csv(file)
    assert audit.read_csv(file, case_id="C2").fhr_bpm.size == 60


def test_rows_left_out_are_counted_in_a_warning(tmp_path):
    file = tmp_path / "bad.csv"
    rows = [f"C1,{t},140,10" for t in range(60)]
    rows[5] = "C1,early,140,10"
    file.write_text("\n".join(["case_id,t_s,fhr_bpm,toco", *rows, ""]))
    with pytest.warns(UserWarning, match=r"bad.csv: 1 rows and 0 values left out, the first one: bad.csv: row 7, t_s"):
        audit.read_csv(file)


def test_without_a_database_it_says_so(tmp_path, unit):
    with pytest.raises(AuditError, match=r"none.duckdb: no database here"):
        audit.open_unit(tmp_path / "none.duckdb")
    with pytest.raises(UsageError, match="table 'x': expected one of"):
        unit.table("x")
    with pytest.raises(UsageError, match="no tracing is stored"):
        unit.tracing("S9")

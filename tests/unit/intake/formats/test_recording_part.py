"""Channels of other rates beside the heart rate, and their units."""

import io

import numpy as np
import pyarrow.parquet as pq
import pytest

from audit.intake.checks.wfdb_record import read_record
from audit.intake.door.remarks import Remarks
from audit.intake.formats import wfdb_file
from audit.intake.formats.recording_part import Signal, held, recording_part
from audit.intake.formats.signal_names import IN_KPA, toco_factor
from audit.settings import load_settings

QUARTERS = np.arange(24) / 4


def test_a_sample_stands_until_the_next_one_and_for_one_step_where_that_is_late():
    # one a second at 0, 1 and 2, then a gap until 4.5 (worked by hand)
    own = np.array([0.0, 1.0, 2.0, 4.5])
    expected = [10.0] * 4 + [11.0] * 4 + [12.0] * 4 + [np.nan] * 6 + [13.0] * 6
    np.testing.assert_array_equal(held(own, np.array([10.0, 11.0, 12.0, 13.0]), QUARTERS)[:22], expected[:22])
    # the last one stands for a step and no longer
    assert np.isnan(held(np.array([0.0, 1.0]), np.array([10.0, 11.0]), np.array([1.75, 2.0]))).tolist() == [False, True]


def test_times_printed_with_few_decimals_leave_no_gap_and_a_lone_sample_fills_nothing():
    thirds = np.array([0.0, 0.333, 0.667, 1.0, 1.333, 1.667])
    assert not np.isnan(held(thirds, np.arange(6.0), QUARTERS[:8])).any()
    np.testing.assert_array_equal(held(np.array([0.5]), np.array([20.0]), QUARTERS[:4]), [np.nan, np.nan, 20.0, np.nan])


@pytest.mark.parametrize(("unit", "factor"), [("kPa", 7.50062), ("mmHg", 1.0), ("", 1.0), ("nd", 1.0)])
def test_uterine_activity_in_kpa_becomes_mmhg_and_that_is_said(unit, factor):
    # 1 kPa is 7.50062 mmHg (NIST Special Publication 811, appendix B.8)
    assert toco_factor(unit) == pytest.approx(factor, abs=1e-5)
    lines = f"R1 2 4 2\nR1.dat 16 100/bpm 16 0 14000 0 0 FHR\nR1.dat 16 100/{unit or 'x'} 16 0 400 0 0 UC\n"
    remarks = Remarks(9)
    signals = [np.array([140.0, 141.0]), np.array([4.0, 5.0])]
    (rows,) = read_record(wfdb_file.read_header(lines.encode()), signals, remarks, load_settings()).tracings
    assert rows.toco.tolist() == pytest.approx([4 * factor, 5 * factor], abs=1e-4)
    assert any(IN_KPA in message for message in remarks.messages) is (factor != 1.0)


def test_what_is_said_of_uterine_activity_is_told_with_the_recording():
    t_s = np.array([0.0, 0.25])
    rate, toco = Signal("fhr_bpm", "A", t_s, t_s + 140), Signal("toco", "A", t_s, t_s + 30, IN_KPA)
    part = recording_part("C1", [rate, toco], 0)
    assert part.said == (f"the uterine activity {IN_KPA}",)
    assert pq.read_table(io.BytesIO(part.data))["toco"].to_pylist() == [30.0, 30.25]

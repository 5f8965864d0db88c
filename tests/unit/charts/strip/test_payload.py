"""What is sent to the browser: every sample within half a hundredth, and to a blind reader nothing else."""

import numpy as np
import pytest

from audit.charts.strip.concerns import concerns, opening_s
from audit.charts.strip.payload import bare_payload, case_payload, hundredths
from audit.tracing.types import Tracing
from tests.strip_bytes import strip

pytestmark = pytest.mark.slow


def test_every_sample_is_there(case):
    head, channels = strip(case_payload(case, "figo-2015"))
    assert channels["fhr"] == pytest.approx(case.tracing.fhr_bpm, abs=0.0051, nan_ok=True)
    assert channels["toco"] == pytest.approx(case.tracing.toco, abs=0.0051, nan_ok=True)
    assert (head["start_s"], head["end_s"]) == (case.start_s, case.end_s)


def test_the_other_twin_is_there_too(twins):
    head, channels = strip(case_payload(twins, "figo-2015"))
    assert head["others"] == ["A"]
    assert channels["fhr_A"] == pytest.approx(twins.others["A"].fhr_bpm, abs=0.0051, nan_ok=True)


def test_findings_stand_where_the_tables_have_them(case):
    found = strip(case_payload(case, "figo-2015"))[0]["findings"]
    table = case.frame("decelerations")
    assert [row["minute"] * 60 for row in found["decelerations"]] == pytest.approx(table["onset_s"].tolist(), abs=0.01)
    lanes = {lane["name"]: lane for lane in found["categories"]}
    assert list(lanes) == ["NICHD 2008", "FIGO 2015", "NICE NG229", "second reading"]
    minutes = case.frame("minutes")
    own = minutes[minutes["standard"] == "figo-2015"]
    assert lanes["FIGO 2015"]["category"] == own.sort_values("at_s")["category"].tolist()


def test_the_clock_of_a_concern_is_a_line_of_times(case):
    (first, *_) = concerns(case, "figo-2015")
    assert opening_s(case, "figo-2015") == 3000.0
    assert [(point["at"], point["found"]) for point in first["points"] if point["role"] == "recognisable"] == [
        ("00:50:00", True)
    ]
    assert [point["minute"] for point in first["points"]] == sorted(point["minute"] for point in first["points"])
    assert first["points"][-1]["text"] == "birth"
    # what was recorded and what was found are told apart
    assert {point["role"] for point in first["points"] if not point["found"]} <= {"response", "birth"}


def test_a_blind_strip_holds_its_own_samples_and_no_word_of_anything_else():
    fhr = np.arange(4 * 3600, dtype=float) / 100
    tracing = Tracing(fhr, fhr, mhr_bpm=fhr, fhr_sensor="ultrasound", start_s=60.0)
    head, channels = strip(bare_payload(tracing, 660.0, 2460.0))
    assert set(channels) == {"fhr", "toco"}
    assert channels["fhr"] == pytest.approx(fhr[2400 : 2400 + 7200], abs=0.0051)
    assert (head["start_s"], head["end_s"], head["findings"]) == (0.0, 1800.0, None)
    assert set(head) == {
        "start_s", "end_s", "findings", "scales", "px_per_cm", "fhr", "toco", "look", "channels",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("value", "zero", "kept"), [(0.0, 0.0, 0), (140.255, 0.0, 14026), (np.nan, 0.0, 65535), (-3.2, -100.0, 9680),
                                (900.0, 0.0, 65534), (-200.0, -100.0, 0)]
)  # fmt: skip
def test_a_value_is_held_as_hundredths(value, zero, kept):
    assert hundredths(np.array([value]), zero).tolist() == [kept]

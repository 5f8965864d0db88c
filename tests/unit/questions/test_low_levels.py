"""A low level and a rate that could be the mother's are reasons by themselves, without clock, rank and outcome."""

import pytest

from tests.discussing import document

RUN = "r1"

# FIGO 2015: a baseline under 100 bpm is pathological. NICHD 2008: a departure of 10 minutes or more is a baseline.


def level(unit, case_id, onset_s, end_s, to_bpm, after_bpm=None):
    unit.insert(
        "level_changes",
        case_id=case_id,
        onset_s=onset_s,
        end_s=end_s,
        from_bpm=140.0,
        to_bpm=to_bpm,
        run_id=RUN,
        fetus="A",
    )
    for start_s in range(0, 18000, 600):
        inside = onset_s <= start_s < end_s
        baseline_bpm = (to_bpm if after_bpm is None else after_bpm) if inside else 140.0
        segment(unit, case_id, start_s, baseline_bpm)


def segment(unit, case_id, start_s, baseline_bpm):
    unit.insert(
        "epochs", case_id=case_id, start_s=start_s, end_s=start_s + 600, baseline_bpm=baseline_bpm,
        run_id=RUN, fetus="A", sinusoidal=False,
    )  # fmt: skip


def texts(unit, kind):
    return {
        case["case_id"]: reason["text"]
        for case in document(unit)["cases"]
        for reason in case["reasons"]
        if reason["kind"] == kind
    }


@pytest.mark.parametrize(
    ("onset_s", "end_s", "to_bpm", "after_bpm", "says"),
    [
        (17160.0, 18000.0, 72.0, None, "for 14 min (level 72 bpm, still so at the end of the tracing)"),
        (3000.0, 3840.0, 72.0, None, "for 14 min (level 72 bpm)"),
        (3000.0, 3600.0, 99.0, None, "for 10 min"),
        (3000.0, 3840.0, 100.0, None, None),
        (3000.0, 3540.0, 72.0, 140.0, None),
        (3000.0, 9000.0, 96.0, 127.0, None),  # low at its beginning alone
    ],
)
def test_ten_minutes_under_100_bpm_are_found_among_labours_without_care_events(
    unit, onset_s, end_s, to_bpm, after_bpm, says
):
    for k in range(10):
        unit.case(f"c{k}")
        unit.tracing(f"c{k}")
    level(unit, "c3", onset_s, end_s, to_bpm, after_bpm)
    found = texts(unit, "bradycardia")
    assert set(found) == ({"c3"} if says else set())
    assert says is None or says in found["c3"]


def test_a_tracing_that_was_low_from_its_beginning_has_no_change_and_is_found(unit):
    unit.case("c1")
    unit.tracing("c1")
    for start_s in range(0, 3600, 600):
        segment(unit, "c1", start_s, 92.0 if start_s < 1800 else 140.0)
    assert "for 30 min (level 92 bpm)" in texts(unit, "bradycardia")["c1"]


def test_a_rate_that_could_be_the_mothers_is_a_reason(unit):
    unit.case("c1")
    unit.tracing(
        "c1", notes=["5% of the samples hold no signal.", "01:10 to 02:00: The rate could be the mother's: x."]
    )
    unit.case("c2")
    unit.tracing("c2", notes=["No maternal channel: a maternal rate recorded as the fetal one cannot be told apart."])
    assert texts(unit, "maternal_rate") == {"c1": "01:10 to 02:00: The rate could be the mother's: x"}

"""The story that a review should find is in the written files, counted from them."""

from collections import Counter, defaultdict
from statistics import median

import pytest

from synthetic_cases.archetypes import PATHOLOGICAL, SUSPICIOUS
from synthetic_cases.scenario import unit as all_specs

pytestmark = pytest.mark.slow  # a unit of eight months is written

ANSWERS = {
    *("position_change", "iv_fluid_bolus", "oxytocin_reduced", "oxytocin_stopped", "tocolytic_given"),
    *("hypotension_treated", "senior_called", "senior_at_bedside", "decision_for_birth"),
}
CHANGE = "2025-07"
SLOW_TO_TELL = ("prolonged_deceleration", "terminal_bradycardia", "short_prolonged_deceleration")


def _case(unit, case_id):
    return next(c for c in unit.truth["cases"] if c["case_id"] == case_id)


def _rows(unit, case_id):
    return [row for row in unit.cases if row["case_id"] == case_id]


def _answers(unit, case_id, from_s, to_s):
    """Seconds of the written events that answer a pattern."""
    return [
        float(row["at_s"])
        for row in unit.care_events
        if row["case_id"] == case_id and row["event"] in ANSWERS and from_s <= float(row["at_s"]) <= to_s
    ]


def test_eight_months_of_thirty_have_the_shares_of_a_typical_unit():
    specs = all_specs(20250301, 8, 30)
    assert Counter(s.period for s in specs) == {f"2025-{m:02d}": 30 for m in range(3, 11)}
    for period in {s.period for s in specs}:
        kinds = [s.archetype for s in specs if s.period == period]
        assert 0.6 <= sum(k == "unremarkable" for k in kinds) / 30 <= 0.72
        assert 0.2 <= sum(k in SUSPICIOUS for k in kinds) / 30 <= 0.3
        assert 0.05 <= sum(k in PATHOLOGICAL for k in kinds) / 30 <= 0.17


def test_every_kind_of_labour_and_every_planted_case_is_there(unit):
    kinds = Counter(c["archetype"] for c in unit.truth["cases"])
    assert set(kinds) >= set(PATHOLOGICAL)
    assert {"recurrent_variable", "rising_baseline", "tachysystole", "reduced_variability", "tachycardia"} <= set(kinds)
    story = unit.truth["story"]
    counts = {name: len(cases) for name, cases in story.items() if isinstance(cases, list)}
    assert counts == {
        "long_delay": 2,
        "bad_outcome_unremarkable_tracing": 1,
        "good_outcome_pathological_tracing": 1,
        "oxytocin_increased_in_concern": 2,
        "twins": 1,
        "preterm": 1,
        "poor_toco": 2,
        "maternal_channel": 3,
        "implausible_gas_pairs": 3,
        "no_outcome": 2,
        "no_events": 3,
        "unrecorded_response": 3,
        "died": 1,
        "seizures": 2,
        "transferred": 2,
        "category_1": 10,
        "acidosis_though_well": 1,
    }


def test_what_followed_birth_and_why_a_birth_could_not_wait_are_in_the_files(unit):
    story = unit.truth["story"]
    for column, case_ids in {name: story[name] for name in ("died", "seizures", "transferred")}.items():
        noted = {row["case_id"] for row in unit.cases if row[column] not in ("", "false")}
        assert noted == set(case_ids)
    # NICE NG192, from memory: category 1, an immediate threat to life; five in a month are a point of its chart
    first = {
        row["case_id"] for row in unit.care_events if row["event"] == "decision_for_birth" and row["urgency"] == "1"
    }
    assert set(story["category_1"]) <= first
    months = Counter(row["period"] for row in unit.cases if row["case_id"] in story["category_1"])
    assert set(months.values()) == {5}


def test_two_cases_waited_over_an_hour_after_every_criterion_was_met(unit):
    for case_id in unit.truth["story"]["long_delay"]:
        (planted,) = _case(unit, case_id)["responses"]
        met = max(planted["recognisable_s"].values())
        assert planted["pace"] == "long_delay"
        assert _answers(unit, case_id, planted["pattern_start_s"] - 3600, met + 3600) == []
        assert planted["pattern_end_s"] > met + 3600
        assert len(_answers(unit, case_id, met + 3600, planted["pattern_end_s"] + 600)) > 0


def _minutes_to_first_answer(unit, shift, before_change):
    found = []
    for case in unit.truth["cases"]:
        if case["shift"] != shift or (case["period"] < CHANGE) != before_change:
            continue
        for planted in case["responses"]:
            if planted["pattern"] in SLOW_TO_TELL or planted["pace"] == "long_delay" or planted["response_s"] is None:
                continue
            start = planted["pattern_start_s"]
            answers = _answers(unit, case["case_id"], start, planted["pattern_end_s"] + 7200)
            found.append((min(answers) - start) / 60)
    return found


def test_nights_answer_late_until_the_change_and_as_days_do_after_it(unit):
    assert unit.truth["story"]["change"]["period"] == CHANGE
    groups = {(s, b): _minutes_to_first_answer(unit, s, b) for s in ("day", "night") for b in (True, False)}
    assert all(len(found) >= 5 for found in groups.values())
    slow = median(groups["night", True])
    others = [median(found) for key, found in groups.items() if key != ("night", True)]
    assert slow > max(others) + 15


def test_prompt_answers_follow_every_criterion_within_ten_minutes(unit):
    checked = 0
    for case in unit.truth["cases"]:
        for planted in case["responses"]:
            if planted["pace"] != "prompt" or "no_events" in case["specials"]:
                continue
            for met in planted["recognisable_s"].values():
                assert _answers(unit, case["case_id"], met - 600, met + 660), (case["case_id"], planted["pattern"])
                checked += 1
    assert checked >= 15


def test_a_bad_outcome_has_an_unremarkable_tracing_and_a_good_one_a_pathological_tracing(unit):
    (bad,) = unit.truth["story"]["bad_outcome_unremarkable_tracing"]
    (row,) = _rows(unit, bad)
    assert float(row["cord_artery_ph"]) < 7.05
    assert float(row["cord_artery_base_deficit_mmol_l"]) > 10
    assert int(row["encephalopathy_grade"]) == 2
    assert _case(unit, bad)["responses"] == []
    (good,) = unit.truth["story"]["good_outcome_pathological_tracing"]
    (row,) = _rows(unit, good)
    assert float(row["cord_artery_ph"]) >= 7.15
    assert int(row["apgar_5"]) >= 7
    (well,) = unit.truth["story"]["acidosis_though_well"]
    (row,) = _rows(unit, well)
    assert 7.0 <= float(row["cord_artery_ph"]) < 7.1
    assert int(row["apgar_5"]) >= 7
    assert (row["neonatal_unit_admission"], row["encephalopathy_grade"]) == ("false", "0")
    falls = _case(unit, good)["fetuses"]["A"]["decelerations"]
    assert sum(f["kind"] == "late" for f in falls) >= 12


def test_unremarkable_tracings_are_really_unremarkable(unit):
    for case in unit.truth["cases"]:
        if case["archetype"] != "unremarkable":
            continue
        for fetus in case["fetuses"].values():
            kinds = Counter(f["kind"] for f in fetus["decelerations"])
            assert not kinds["late"] + kinds["prolonged"]
            assert kinds["variable"] <= 0.25 * max(len(fetus["contractions"]), 1)
            assert all(110 < level < 160 for level in fetus["baseline_1min_bpm"])
            low = [v < 5 for v in fetus["variability_1min_bpm"]]
            assert sum(low) <= 0.05 * len(low)
            assert not any(all(low[k : k + 5]) for k in range(len(low) - 5))
            assert len(fetus["accelerations"]) >= 3
            hours = fetus["duration_s"] / 3600
            assert 2.0 <= len(fetus["contractions"]) / hours / 6 < 4.5


@pytest.mark.parametrize("pattern", ["recurrent_late", "absent_variability_recurrent_late"])
def test_late_patterns_meet_the_published_share_in_every_20_minutes(unit, pattern):
    # NICHD 2008: recurrent is half of the contractions or more in any 20 minutes. FIGO 2015: repetitive is over half.
    cases = [c for c in unit.truth["cases"] if c["archetype"] == pattern]
    assert cases
    for case in cases:
        (planted,) = case["responses"]
        fetus = case["fetuses"]["A"]
        start, end = planted["pattern_start_s"], planted["pattern_end_s"]
        assert end - start > 40 * 60
        late = [f["contraction_peak_s"] for f in fetus["decelerations"] if f["kind"] == "late"]
        at = start
        while at + 1200 <= end - 120:
            peaks = [c["peak_s"] for c in fetus["contractions"] if at <= c["peak_s"] < at + 1200]
            with_late = sum(at <= p < at + 1200 for p in late)
            assert with_late > 0.5 * len(peaks), (case["case_id"], at)
            at += 60
        minutes = fetus["variability_1min_bpm"][int(start // 60) + 1 : int(end // 60) - 1]
        assert max(minutes) < 5
        if pattern.startswith("absent"):
            assert median(minutes) < 1.5


def test_the_sinusoidal_run_lasts_over_half_an_hour_at_3_to_5_cycles(unit):
    # NICHD 2008: 3 to 5 cycles a minute for 20 minutes or more; FIGO 2015: 5 to 15 bpm for over 30 minutes.
    (case,) = [c for c in unit.truth["cases"] if c["archetype"] == "sinusoidal"]
    (run,) = case["fetuses"]["A"]["sinusoidal"]
    assert run["end_s"] - run["start_s"] > 40 * 60
    assert 3 < run["cycles_per_min"] < 5
    assert 5 < run["peak_to_trough_bpm"] < 15


def test_terminal_bradycardia_ends_in_an_emergency_birth(unit):
    for case in (c for c in unit.truth["cases"] if c["archetype"] == "terminal_bradycardia"):
        (fall,) = case["fetuses"]["A"]["level_changes"]
        assert fall["to_bpm"] < 82
        (row,) = _rows(unit, case["case_id"])
        assert row["mode_of_birth"] == "caesarean"
        assert float(row["birth_s"]) - fall["onset_s"] < 45 * 60


def test_twins_have_two_rows_two_tracings_and_two_births(unit):
    (case_id,) = unit.truth["story"]["twins"]
    assert [row["fetus"] for row in _rows(unit, case_id)] == ["A", "B"]
    assert {row["plurality"] for row in _rows(unit, case_id)} == {"2"}
    births = [row for row in unit.care_events if row["case_id"] == case_id and row["event"] == "birth"]
    assert len(births) == 2
    assert sorted(_case(unit, case_id)["fetuses"]) == ["A", "B"]


def test_missing_records_are_missing(unit):
    story = unit.truth["story"]
    noted = {row["case_id"] for row in unit.care_events}
    assert not noted & set(story["no_events"])
    for case_id in story["no_outcome"]:
        (row,) = _rows(unit, case_id)
        assert not row["cord_artery_ph"] + row["apgar_5"] + row["birth_weight_g"]
    for case_id in story["unrecorded_response"]:
        (planted,) = _case(unit, case_id)["responses"]
        assert planted["response_s"] is None
        start, end = planted["pattern_start_s"], planted["pattern_end_s"]
        met = max(planted["recognisable_s"].values(), default=start + 1800)
        assert _answers(unit, case_id, start, min(met + 900, end)) == []


def test_one_reader_overcalls_and_the_others_do_not(unit):
    steps = {"normal": 0, "suspicious": 1, "pathological": 2, "I": 0, "II": 1, "III": 2}
    windows = defaultdict(dict)
    for row in unit.reads:
        if row["category"] in steps and row["occasion"] == "1":
            windows[row["case_id"], row["start_s"], row["standard"]][row["reader"]] = steps[row["category"]]
    above = {}
    for reader in ("R1", "R2", "R3", "R4"):
        gaps = [w[reader] - median([v for k, v in w.items() if k != reader]) for w in windows.values() if reader in w]
        above[reader] = sum(gaps) / len(gaps)
    assert unit.truth["story"]["overcalling_reader"] == "R4"
    assert above["R4"] > 0.3
    assert all(abs(above[r]) < 0.2 for r in ("R1", "R2", "R3"))


def test_reads_cover_the_three_standards_and_hold_repeats(unit):
    first = [row for row in unit.reads if row["occasion"] == "1"]
    assert {row["reader"] for row in first} == {"R1", "R2", "R3", "R4"}
    assert Counter(row["standard"] for row in first)["figo-2015"] == len(first) / 2
    assert {row["standard"] for row in first} == {"figo-2015", "nichd-2008", "nice-ng229"}
    assert 0.05 < sum(row["occasion"] == "2" for row in unit.reads) / len(unit.reads) < 0.25
    assert {row["period"] for row in unit.cases if row["case_id"] in {r["case_id"] for r in first}} == {
        f"2025-{m:02d}" for m in range(3, 11)
    }

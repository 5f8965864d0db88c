"""What was written down at the bedside, oxytocin and bands: the truth beside the files, recounted from the files."""

from collections import defaultdict

import pytest

from audit.response.hourly import hourly_audit
from audit.response.oxytocin import oxytocin_use
from audit.response.types import CareEvent
from audit.vocabulary import EQUITY_FIELDS
from synthetic_cases.scenario import CHANGE_MONTH, OXYTOCIN_MONTH, period

pytestmark = pytest.mark.slow  # a unit of eight months is written


def noted(unit):
    found = defaultdict(list)
    for row in unit.assessments:
        found[row["case_id"]].append((float(row["at_s"]), row["assessor"]))
    return found


def ends(unit):
    """Birth or the end of the tracing, whichever comes first, s."""
    lasted = {case["case_id"]: case["fetuses"]["A"]["duration_s"] for case in unit.truth["cases"]}
    return {row["case_id"]: min(float(row["birth_s"]), lasted[row["case_id"]]) for row in unit.cases}


def test_the_truth_of_the_hours_is_what_an_hourly_audit_finds_in_the_files(unit):
    """NICE NG229 (2022, from memory): a systematic assessment every hour; counted by the product's pure function."""
    rows, end = noted(unit), ends(unit)
    for case in unit.truth["cases"]:
        own = rows[case["case_id"]]
        found = hourly_audit([at for at, _ in own], [who for _, who in own], start_s=0.0, end_s=end[case["case_id"]])
        assert case["bedside"] == {
            "hours": found.hours, "assessed": found.assessed, "second_person": found.second_person
        }  # fmt: skip


def test_nights_before_the_change_leave_hours_out_and_the_others_do_not(unit):
    # planted: 38 of 100 rounds skipped on those nights, 8 of 100 else
    change = period(CHANGE_MONTH - 1)
    hours, assessed = defaultdict(int), defaultdict(int)
    for case in unit.truth["cases"]:
        weak = case["shift"] == "night" and case["period"] < change
        if "no_events" not in case["specials"]:
            hours[weak] += case["bedside"]["hours"]
            assessed[weak] += case["bedside"]["assessed"]
    assert 0.50 < assessed[True] / hours[True] < 0.76
    assert 0.86 < assessed[False] / hours[False] <= 0.98


def test_oxytocin_was_increased_while_two_concerns_lasted_and_stopped_only_with_the_answer(unit):
    """By hand from the files, and by the product's function given the planted span."""
    cases = {case["case_id"]: case for case in unit.truth["cases"]}
    assert len(unit.truth["story"]["oxytocin_increased_in_concern"]) == 2
    for case_id in unit.truth["story"]["oxytocin_increased_in_concern"]:
        (planted,) = cases[case_id]["responses"]
        known, answered = max(planted["recognisable_s"].values()), planted["response_s"]
        events = [(float(e["at_s"]), e["event"]) for e in unit.care_events if e["case_id"] == case_id]
        up = [at for at, name in events if name == "oxytocin_increased" and known <= at <= planted["pattern_end_s"]]
        assert up == cases[case_id]["oxytocin"]["increased_s"] != []
        assert all(at < answered for at in up)
        down = [at for at, name in events if name in ("oxytocin_reduced", "oxytocin_stopped")]
        assert min(down) >= answered - 1
        use = oxytocin_use(
            [CareEvent(at, name) for at, name in events], [(known, planted["pattern_end_s"])], [], end_s=1e6
        )
        assert use.increases_in_concern == len(up)
        (wait,) = use.waits
        assert (wait.reduced, wait.minutes) == (True, pytest.approx((min(down) - known) / 60.0))


def test_tachysystole_is_followed_by_less_oxytocin_as_long_after_as_the_truth_says(unit):
    checked = 0
    for case in unit.truth["cases"]:
        for told in case["oxytocin"]["tachysystole"]:
            events = [CareEvent(float(e["at_s"]), e["event"]) for e in unit.care_events
                      if e["case_id"] == case["case_id"]]  # fmt: skip
            assert told["less_s"] is not None
            span = (told["from_s"], told["less_s"] + 1.0)
            (wait,) = oxytocin_use(events, [], [span], end_s=1e6).waits
            assert (wait.reduced, wait.minutes) == (True, pytest.approx((told["less_s"] - told["from_s"]) / 60.0))
            checked += 1
    assert checked >= 2


def test_labours_with_a_pattern_ran_on_oxytocin_in_the_last_months_and_most_had_less_of_it(unit):
    """The truth's own spans, held against the files' events by the product's pure function."""
    late = sorted({case["period"] for case in unit.truth["cases"]})[OXYTOCIN_MONTH - 1 :]
    assert len(late) == 2
    less = []
    for case in unit.truth["cases"]:
        told = case["oxytocin"]["concern"]
        if case["period"] in late:
            assert len(told) == len(case["responses"])
            less += [each["less_s"] is not None for each in told]
        events = [CareEvent(float(e["at_s"]), e["event"]) for e in unit.care_events if e["case_id"] == case["case_id"]]
        for each in told:
            (wait,) = oxytocin_use(events, [(each["from_s"], each["to_s"])], [], end_s=1e6).waits
            assert wait.reduced == (each["less_s"] is not None)
            assert not wait.reduced or wait.minutes == pytest.approx((each["less_s"] - each["from_s"]) / 60.0)
    assert 0.5 < sum(less) / len(less) < 1.0


def test_bands_are_in_the_files_as_the_truth_has_them(unit):
    told = {case["case_id"]: {name: band or "" for name, band in case["bands"].items()} for case in unit.truth["cases"]}
    assert {row["case_id"]: {name: row[name] for name in EQUITY_FIELDS} for row in unit.cases} == told


def test_the_units_own_counts_hold_what_was_exported(unit):
    labours = defaultdict(set)
    for row in unit.cases:
        labours[row["period"]].add(row["case_id"])
    counts = {row["period"]: row for row in unit.unit_months}
    assert set(counts) == set(labours)
    for month, own in labours.items():
        row = {name: int(value) for name, value in counts[month].items() if name != "period" and value}
        assert 1 <= row["continuously_monitored"] - len(own) <= 3  # planted: so many were not exported
        assert row["births"] >= row["continuously_monitored"] + row["auscultated"]
        operated = [case["case_id"] for case in unit.cases
                    if case["period"] == month and case["mode_of_birth"] == "caesarean"]  # fmt: skip
        urgent = {event["case_id"] for event in unit.care_events if event["urgency"] == "1"}
        assert row["caesareans_category_1"] == sum(case_id in urgent for case_id in operated)
        assert sum(row[f"caesareans_category_{k}"] for k in (1, 2, 3, 4)) <= row["caesareans"]


def test_the_truth_names_risks_switches_to_monitoring_and_the_units_counts_as_the_files_have_them(unit):
    told = {case["case_id"]: case["context"] for case in unit.truth["cases"]}
    for row in unit.cases:
        context = told[row["case_id"]]
        assert (row["risk_factors"], row["monitored_because"]) == (
            context["risk_factors"], context["monitored_because"] or ""
        )  # fmt: skip
        until_s = context["auscultated_until_s"]
        assert row["auscultated_until_s"] == ("" if until_s is None else f"{until_s:g}")
    counts = {row["period"]: row for row in unit.unit_months}
    for month in unit.truth["unit_months"]:
        assert counts[month["period"]] == {name: str(value) for name, value in month.items()}

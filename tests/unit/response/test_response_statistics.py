"""Waits of many episodes, counted by hand."""

import numpy as np
import pandas as pd
import pytest

from audit import response_statistics as statistics
from audit import store
from audit.proportions import wilson_interval

ENDED_BY = {"in_time": "response", "late": "response", "resolved": "resolved", "born_first": "birth"}


def waits(*rows: tuple[str, float | None], shift: str | None = "day", target: float = 15.0, **more) -> pd.DataFrame:
    """(status or end, minutes)."""
    table = [
        {
            "case_id": f"c{k}", "fetus": "A", "period": "2031-03", "shift": shift, "stage": "first",
            "standard": "figo-2015", "trigger": "pathological", "target_minutes": target,
            "status": "none_recorded" if status in ("end_of_tracing", "birth_after") else status,
            "wait_minutes": minutes, "ended_by": ENDED_BY.get(status, {"birth_after": "birth"}.get(status, status)),
        } | more
        for k, (status, minutes) in enumerate(rows)
    ]  # fmt: skip
    frame = pd.DataFrame(table)
    frame.loc[frame["status"] == "not_assessable", ["wait_minutes", "ended_by"]] = [np.nan, None]
    return frame


MIXED = waits(
    ("in_time", 5.0), ("in_time", 10.0), ("late", 20.0), ("resolved", 8.0), ("born_first", 12.0),
    ("end_of_tracing", 30.0), ("not_assessable", None), ("birth_after", 40.0),
)  # fmt: skip


def test_the_summary_counts_every_row_once():
    (row,) = statistics.summary(MIXED, "shift").to_dict("records")
    assert row["episodes"] == 8
    assert [row[name] for name in ("in_time", "late", "none_recorded", "resolved", "born_first", "not_assessable")] == [
        2, 1, 2, 1, 1, 1,
    ]  # fmt: skip
    # of those followed to the target, 2 of 5 were answered within it
    assert (row["within_fraction"], row["within_of"]) == (0.4, 5)
    assert (row["within_low"], row["within_high"]) == wilson_interval(2, 5, 0.95)
    # of all 7 whose clock ran, 2 were: resolution and birth came first for others
    assert row["answered_by_target_fraction"] == pytest.approx(2 / 7)


def test_the_waiting_curve_by_hand():
    curve = statistics.waiting_curves(MIXED, "shift")
    # at 5 min 7 wait, at 8 one resolves, at 10 five wait, at 12 one is born, at 20 three wait
    steps = dict(zip(curve["minutes"], curve["waiting_fraction"]))
    assert steps[5.0] == pytest.approx(6 / 7)
    assert steps[10.0] == pytest.approx(6 / 7 * 4 / 5)
    assert steps[20.0] == pytest.approx(6 / 7 * 4 / 5 * 2 / 3)
    assert steps[40.0] == steps[20.0]
    assert curve["minutes"].is_monotonic_increasing


def test_competing_ends_add_up_and_never_exceed_one():
    ends = statistics.ends_over_time(MIXED, "shift")
    last = ends.groupby("ended_by")["fraction"].last()
    assert last["response"] == pytest.approx(3 / 7)
    # the one still waiting at 30 min is censored; the last one is born at 40
    assert last.sum() == pytest.approx(1.0)
    assert set(last.index) == {"response", "resolved", "birth"}


def test_no_mean_of_waits_that_are_not_over():
    """Nine still waiting at 10 minutes and one answered at 1: half had no answer, so there is no median."""
    rows = [("in_time", 1.0)] + [("end_of_tracing", 20.0)] * 9
    (row,) = statistics.summary(waits(*rows), "shift").to_dict("records")
    assert np.isnan(row["median_minutes"])
    assert "Not reached" in row["median_note"]


def test_groups_are_in_order_and_a_missing_one_comes_last():
    frame = pd.concat([waits(("late", 30.0), shift=None), waits(("in_time", 1.0), shift="night"), MIXED])
    assert statistics.summary(frame, "shift")["group"].tolist() == ["day", "night", "not given"]
    assert statistics.waiting_curves(frame, "shift")["group"].unique().tolist() == ["day", "night", "not given"]


def test_targets_may_differ_from_row_to_row():
    frame = pd.concat([waits(("in_time", 25.0), target=30.0), waits(("late", 10.0), target=6.0)])
    (row,) = statistics.summary(frame, "shift").to_dict("records")
    assert row["within_fraction"] == 0.5
    assert row["answered_by_target_fraction"] == pytest.approx(0.5)


def test_a_response_at_exactly_the_target_is_within_it():
    (row,) = statistics.summary(waits(("in_time", 15.0), ("late", 15.01)), "shift").to_dict("records")
    assert row["answered_by_target_fraction"] == pytest.approx(0.5)


def test_empty_frames_and_groups_without_a_running_clock():
    empty = MIXED.iloc[:0]
    assert statistics.summary(empty, "shift").empty
    assert statistics.waiting_curves(empty, "period").empty
    assert statistics.ends_over_time(empty, "trigger").empty
    only = waits(("not_assessable", None))
    (row,) = statistics.summary(only, "shift").to_dict("records")
    assert (row["episodes"], row["not_assessable"], row["within_of"]) == (1, 1, 0)
    assert np.isnan(row["within_fraction"])
    assert np.isnan(row["median_minutes"])
    assert statistics.waiting_curves(only, "shift").empty


def test_the_comparison_needs_two_groups():
    assert statistics.comparison(MIXED, "shift").note == "Not tested: there is only one group."
    slow = waits(*[("late", 60.0 + k) for k in range(12)], shift="night")
    quick = waits(*[("in_time", 1.0 + k) for k in range(12)])
    found = statistics.comparison(pd.concat([slow, quick]), "shift")
    assert found.groups == ("day", "night")
    assert found.p is not None
    assert found.p < 0.001


def test_an_unknown_grouping_is_refused():
    for function in (statistics.summary, statistics.waiting_curves, statistics.ends_over_time, statistics.comparison):
        with pytest.raises(ValueError, match="expected one of"):
            function(MIXED, "case_id")


def test_the_query_says_what_ended_each_wait(unit):
    unit.case("c1")
    unit.episode("c1", "in_time", 3.0, at_s=100.0)
    unit.episode("c1", "late", 20.0, at_s=200.0)
    unit.episode("c1", "resolved", at_s=300.0, lasted_minutes=9.0)
    unit.episode("c1", "born_first", at_s=400.0, to_birth=7.0, open_end=True)
    unit.episode("c1", "none_recorded", at_s=500.0, lasted_minutes=30.0)
    unit.episode("c1", "none_recorded", at_s=600.0, lasted_minutes=30.0, to_birth=90.0, open_end=True)
    unit.episode("c1", "none_recorded", at_s=700.0, lasted_minutes=30.0, to_birth=None, open_end=True)
    unit.episode("c1", "none_recorded", at_s=800.0, lasted_minutes=12.0, to_birth=None, open_end=True)
    unit.episode("c1", "not_assessable", at_s=900.0)
    found = store.rows(unit.con, "response_times", {"period": "2031-03", "standard": "figo-2015"})
    assert found["ended_by"].fillna("-").tolist() == [
        "response", "response", "resolved", "birth", "resolved", "birth", "end_of_tracing", "end_of_tracing", "-",
    ]  # fmt: skip
    assert found["wait_minutes"].fillna(-1).tolist() == [3.0, 20.0, 9.0, 7.0, 30.0, 90.0, 30.0, 15.0, -1.0]
    assert store.rows(unit.con, "response_times", {"period": "2031-04", "standard": None}).empty


def test_birth_intervals_come_from_the_noted_events(unit):
    unit.case("c1", birth_s=5000.0, mode_of_birth="caesarean", shift="night")
    unit.case("c2", birth_s=5000.0)
    unit.event("c1", 3200.0, "decision_for_birth", "category 1")
    unit.event("c1", 4700.0, "incision")
    unit.event("c2", 4700.0, "incision")
    rows = store.rows(unit.con, "response_birth_events", {"period": None, "case_id": None})
    (row,) = statistics.birth_intervals(rows).to_dict("records")
    assert (row["case_id"], row["shift"], row["urgency"], row["standard_minutes"]) == ("c1", "night", 1, 30.0)
    assert (row["decision_to_birth_minutes"], row["decision_to_incision_minutes"]) == (30.0, 25.0)
    assert row["within_standard"]
    assert statistics.birth_intervals(rows.iloc[:0]).empty

"""Control charts, curves, bars: valid drawings whose numbers and words can be read without the colour."""

import pandas as pd
import pytest

from audit.agreement.measures import CATEGORY_MEASURES
from audit.charts import agreement
from audit.charts import waits as wait_charts
from audit.charts.control import control_chart, funnel_chart, measure_title
from audit.charts.month import category_shares
from audit.charts.quality import signal_seen
from audit.control_charts.measure import trend_measure
from audit.questions import waits
from audit.settings import load_settings
from tests.chart_specs import spec_of


def rows_with(spec, column):
    return [row for rows in spec["datasets"].values() for row in rows if column in row]


def measure(events, phases=()):
    periods = [f"2031-{month:02d}" for month in range(1, len(events) + 1)]
    options = load_settings().trends
    return trend_measure(
        "answered_within_target", "p", "share", periods, options=options, numerators=events,
        denominators=[40] * len(events), phases=phases,
    )  # fmt: skip


def test_a_signal_is_a_mark_of_its_own_and_says_its_rule():
    # eleven months about 70 % on both sides of the centre and one at 20 %: centre 0.6625, one sd 0.075 at n = 40
    found = measure([30, 26, 30, 26, 30, 26, 30, 26, 30, 26, 30, 8])
    spec = spec_of(control_chart(found), checked=True)
    shapes = [layer["mark"].get("shape") for layer in spec["layer"] if layer["mark"]["type"] == "point"]
    assert shapes == [None, "diamond"]
    loud = [row for row in rows_with(spec, "signal_words") if row["signal_words"]]
    assert {row["period"] for row in loud} == {"2031-12"}
    assert loud[0]["shown"] == "20%"
    assert loud[0]["of"] == "8 of 40"


def test_a_phase_is_named_where_it_begins():
    spec = spec_of(control_chart(measure([30] * 12, phases=[("2031-05", "night round")])), checked=True)
    mark, = {(row["label"], row["place"]) for row in rows_with(spec, "label")}  # fmt: skip
    assert mark == ("night round", 3.5)  # between the fourth and the fifth month


def test_without_a_point_there_is_no_chart():
    assert control_chart({"points": [], "phases": [], "unit": "share"}) is None


def test_titles_are_words():
    assert measure_title("area_last_hour_bpm_s_per_h") == "Area last hour"
    assert measure_title("decision_to_birth_within_30_min") == "Decision to birth within 30 minutes"


def test_a_funnel_names_its_groups_and_draws_both_limits():
    points = [
        {"group": "day", "numerator": 18, "denominator": 20, "share": 0.9, "low_95": 0.5, "high_95": 0.9,
         "low_998": 0.4, "high_998": 0.95},
    ]  # fmt: skip
    spec = spec_of(funnel_chart({"points": points, "target": 0.7}, width_px=400), checked=True)
    texts = [layer["encoding"]["text"]["field"] for layer in spec["layer"] if layer["mark"]["type"] == "text"]
    assert texts == ["group"]
    assert funnel_chart({"points": [], "target": None}, width_px=400) is None


def row(minutes, ended_by, shift):
    return {"wait_minutes": minutes, "ended_by": ended_by, "shift": shift, "target_minutes": 15.0, "status": "in_time"}


def test_curves_have_a_dash_and_a_name_beside_their_colour():
    rows = [row(m, "response", shift) for shift in ("day", "night") for m in (1.0, 9.0, 20.0)]
    points = pd.DataFrame(waits.answers(waits.curve_rows(waits.wait_groups(rows, "shift"), longest_min=30.0)))
    spec = spec_of(wait_charts.answer_curves(points, targets_min=[15.0], longest_min=30.0), checked=True)
    dashes = next(layer["encoding"]["strokeDash"] for layer in spec["layer"] if "strokeDash" in layer["encoding"])
    assert dashes["scale"]["domain"] == ["day", "night"]
    assert dashes["scale"]["range"][0] != dashes["scale"]["range"][1]
    names = [layer for layer in spec["layer"] if layer["mark"]["type"] == "text"]
    assert names[0]["encoding"]["text"]["field"] == "group"


def test_a_curve_that_stops_early_is_not_drawn_on_and_keeps_its_name_in_the_picture():
    rows = [row(2.0, "response", "day"), row(4.0, "birth", "day"), row(9.0, "response", "night")]
    points = pd.DataFrame(waits.uninterrupted_rows(rows, "shift", longest_min=30.0))
    drawing = wait_charts.answer_curves(
        points, targets_min=[15.0], longest_min=30.0, share_title="share that would be answered"
    )
    spec = spec_of(drawing, checked=True)
    line = next(layer for layer in spec["layer"] if layer["mark"]["type"] == "line")
    assert line["encoding"]["y"]["title"] == "share that would be answered"
    ends = {
        name: max(r["minutes"] for r in rows_with(spec, "waiting") if r["group"] == name) for name in ("day", "night")
    }
    # the name of the short curve stands a little beyond its end, for it would run off the left edge
    assert ends == {"day": wait_charts.SHORTEST_NAMED * 30.0, "night": 30.0}
    drawn = [r["minutes"] for r in spec["datasets"][line["data"]["name"]] if r["group"] == "day"]
    assert max(drawn) == 4.0


def test_how_concerns_ended_gives_words_and_counts():
    rows = pd.DataFrame({"status": ["late", "in_time"], "episodes": [2, 5]})
    spec = spec_of(wait_charts.how_they_ended(rows, width_px=300), checked=True)
    assert {row["words"]: row["episodes"] for row in rows_with(spec, "words")} == {
        "answered late": 2, "answered in time": 5,
    }  # fmt: skip


def test_category_bars_run_from_0_to_1_with_their_words():
    rows = pd.DataFrame(
        {"standard": ["figo-2015"] * 3, "category": ["normal", "pathological", "not assessable"],
         "fraction": [0.7, 0.02, 0.28], "minutes": [70, 2, 28], "standard_minutes": [100] * 3}
    )  # fmt: skip
    spec = spec_of(category_shares(rows, width_px=400), checked=True)
    found = {row["category"]: row for row in rows_with(spec, "category")}
    assert found["normal"]["text"] == "normal 70%"
    assert found["pathological"]["text"] == ""  # too narrow for a word; the table has it
    assert found["not assessable"]["end"] == pytest.approx(1.0)


def test_signal_bars_count_every_tracing_once():
    rows = pd.DataFrame({"seen_fraction": [0.0, 0.099, 0.1, 0.95, 1.0, None]})
    spec = spec_of(signal_seen(rows, width_px=400), checked=True)
    found = {row["share"]: row["tracings"] for row in rows_with(spec, "share")}
    assert (found["0–10"], found["10–20"], found["90–100"], found["not read"]) == (2, 1, 2, 1)
    assert sum(found.values()) == len(rows)


def figure(name, estimate, low=None, high=None, category=None):
    return {"name": name, "category": category, "estimate": estimate, "low": low, "high": high, "n": 12}


def test_the_forest_draws_each_estimate_with_its_interval_and_leaves_out_what_is_none():
    measures = [
        figure("fleiss_kappa", 0.41, 0.2, 0.6),
        figure("specific_agreement", -0.1, category="normal"),
        figure("gwet_ac1", None),
    ]
    rows = agreement.forest_rows(measures)
    assert list(rows["label"]) == ["Fleiss' kappa", "specific agreement, normal"]
    assert rows["low"].tolist()[0] == 0.2
    for part in (one.to_dict() for one in agreement.forest(measures)):
        bars, points = part["layer"]
        assert (bars["encoding"]["x"]["field"], bars["encoding"]["x2"]["field"]) == ("low", "high")
        assert points["encoding"]["x"]["scale"]["domain"] == [-0.1, 1.0]


def test_a_forest_holds_on_one_axis_only_what_can_be_held_against_each_other():
    """Source: de Vet et al., BMJ 2013;346:f2125: agreement and what is beyond chance answer different questions."""
    names = [
        "proportion_of_agreement",
        "category_share",
        "fleiss_kappa",
        "specific_agreement",
        "intraclass_correlation",
    ]
    rows = agreement.forest_rows([figure(name, 0.5, 0.4, 0.6) for name in names])
    by_axis = {axis.split(",")[0]: list(part["label"]) for axis, part in rows.groupby("axis")}
    assert not any("share" in label for label in rows["label"])  # how often a category was chosen is no agreement
    assert [axis for axis, labels in by_axis.items() if any("kappa" in label for label in labels)] == [
        "agreement beyond chance (0 = chance)"
    ]
    assert len(by_axis) == 3


def test_every_figure_over_all_readers_has_its_place_in_the_forest_or_is_no_agreement_of_categories():
    placed = {name for names in agreement.FOREST.values() for name in names}
    assert set(CATEGORY_MEASURES) <= placed


def test_an_action_is_a_triangle_at_the_foot_of_its_month_and_is_named():
    found = control_chart(
        measure([30] * 12), [("2031-05", "no. 1, night round"), ("2031-05", "no. 2"), ("2030-01", "x")]
    )
    spec = spec_of(found, checked=True)
    marks = {(row["label"], row["place"]) for row in rows_with(spec, "label")}
    assert marks == {("no. 1, night round; no. 2", 4)}  # the fifth month; what lies outside the chart is not drawn
    (drawn,) = [layer for layer in spec["layer"] if layer["mark"].get("shape") == "triangle-up"]
    # a page gives a chart's axes a part of its height: the foot is that of the plot, not of what was asked for
    assert drawn["encoding"]["y"] == {"value": {"expr": "height - 6"}}

"""The agreement document: its fields, what counts as a read, and that nothing undefined becomes a number."""

import json

import numpy as np
import pytest
from msgspec.structs import replace

from audit.agreement.document import NUMBERS_HAVE_LIMITS, agreement_document
from audit.agreement.measures import FOR_CATEGORIES, FOR_NUMBERS, NO_ORDER
from audit.agreement.reads import ReadsTable, arrange
from audit.agreement.scales import scale_for
from audit.errors import UsageError
from audit.settings import load_settings

OPTIONS = load_settings().agreement
CONTRACT_MEASURES = {
    "proportion_of_agreement", "specific_agreement", "fleiss_kappa", "krippendorff_alpha_nominal",
    "krippendorff_alpha_ordinal", "krippendorff_alpha_interval", "gwet_ac1", "gwet_ac2", "intraclass_correlation",
}  # fmt: skip


def reads(*entries):
    """(case, reader, value) or (case, reader, value, occasion)."""
    rows = [(*entry, 1)[:4] for entry in entries]
    case, reader, value, occasion = zip(*rows, strict=True) if rows else ((),) * 4
    n = len(rows)
    return ReadsTable(case, ["A"] * n, [0.0] * n, [1800.0] * n, reader, occasion, value)


def document(table, item="category", standard="figo-2015", *, seed=OPTIONS.seed, **more):
    options = replace(OPTIONS, draws=200, seed=seed)
    made = agreement_document(table, item=item, standard=standard, period=None, options=options, **more)
    json.dumps(made, allow_nan=False)
    return made


def measure(made, name, category=None):
    (row,) = [row for row in made["measures"] if row["name"] == name and row["category"] == category]
    return row


def grid_of(rows, readers="abc"):
    """One row of answers per case; None = no read."""
    return reads(*((f"case{i:02d}", readers[r], v) for i, row in enumerate(rows) for r, v in enumerate(row)))


MIXED = grid_of(
    [
        ("normal", "normal", "suspicious"),
        ("normal", "normal", "normal"),
        ("suspicious", "pathological", "suspicious"),
        ("pathological", "pathological", "pathological"),
        ("suspicious", "normal", None),
        ("normal", "suspicious", "normal"),
        ("pathological", "suspicious", "pathological"),
        ("normal", "normal", "normal"),
    ]
)


def test_the_document_has_the_fields_of_the_contract():
    made = document(MIXED)
    assert {"standard", "item", "period", "windows", "readers", "measures", "pairs", "repeat_reads", "computed"} <= set(
        made
    )
    assert (made["windows"], made["readers"], len(made["pairs"])) == (8, 3, 3)
    assert {row["name"] for row in made["measures"]} >= CONTRACT_MEASURES
    # words of Landis and Koch 1977 stand beside kappas alone
    assert [row["name"] for row in made["measures"] if "band" in row] == ["fleiss_kappa"]
    fields = {
        "reader_a",
        "reader_b",
        "windows",
        "agreement",
        "kappa",
        "weighted_kappa_linear",
        "weighted_kappa_quadratic",
    }
    assert fields <= set(made["pairs"][0])
    assert {"against", "windows", "agreement", "kappa", "weighted_kappa_linear", "confusion"} <= set(made["computed"])


def test_counts_by_hand():
    """22 pairs of reads of one window: 3 in each of seven windows, 1 in the fifth; 13 of them agree."""
    row = measure(document(MIXED), "proportion_of_agreement")
    # windows in order: 1 + 3 + 1 + 3 + 0 + 1 + 1 + 3 agreeing pairs of 7 x 3 + 1
    assert row["estimate"] == pytest.approx(13 / 22)
    assert row["low"] < row["estimate"] < row["high"]
    pair = document(MIXED)["pairs"][0]
    assert (pair["reader_a"], pair["reader_b"], pair["windows"]) == ("a", "b", 8)
    assert pair["agreement"] == pytest.approx(4 / 8)
    assert pair["note"].startswith(
        "Only 8 windows were read by both or by more readers, fewer than 10. agreement: Rough"
    )


def test_the_same_seed_gives_the_same_interval_and_another_seed_another():
    first, second = document(MIXED, seed=1), document(MIXED, seed=1)
    assert first == second
    assert (first["method"]["draws"], first["method"]["seed"]) == (200, 1)
    assert measure(document(MIXED, seed=2), "gwet_ac1")["low"] != measure(first, "gwet_ac1")["low"]


def test_the_order_of_reads_changes_nothing():
    backwards = MIXED.rows(range(len(MIXED) - 1, -1, -1))
    assert document(backwards) == document(MIXED)


def test_windows_of_one_case_are_drawn_together():
    """Eight copies of each case tell nothing new: the interval must not shrink."""
    copies = [range(len(MIXED))] * 8
    columns = {name: [getattr(MIXED, name)[i] for part in copies for i in part] for name in MIXED.__dataclass_fields__}
    columns["start_s"] = [1800.0 * k for k, part in enumerate(copies) for _ in part]
    columns["end_s"] = [1800.0 * (k + 1) for k, part in enumerate(copies) for _ in part]
    many, one = (measure(document(t), "gwet_ac1") for t in (ReadsTable(**columns), MIXED))
    assert many["estimate"] == pytest.approx(one["estimate"])
    assert (many["low"], many["high"]) == pytest.approx((one["low"], one["high"]))


@pytest.mark.parametrize(
    ("table", "note"),
    [
        (reads(), "No reads of this item."),
        (reads(("c1", "a", None), ("c1", "b", float("nan"))), "No reads of this item."),
        (reads(("c1", "a", "normal"), ("c2", "a", "suspicious")), "Only one reader: agreement needs two."),
        (reads(("c1", "a", "normal"), ("c2", "b", "suspicious")), "No window was read by two readers."),
    ],
)
def test_without_two_reads_of_a_window_every_figure_is_null_with_a_sentence(table, note):
    made = document(table)
    for row in made["measures"]:
        if row["name"] == "category_share" and note != "No reads of this item.":
            continue
        assert row["estimate"] is None
        assert row["low"] is None
        assert row["note"], row
    assert measure(made, "proportion_of_agreement")["note"] == note


def test_one_category_gives_agreement_but_no_figure_beyond_chance():
    made = document(grid_of([("normal",) * 3] * 10))
    assert measure(made, "proportion_of_agreement")["estimate"] == 1.0
    for name in ("fleiss_kappa", "krippendorff_alpha_nominal", "krippendorff_alpha_ordinal", "gwet_ac1", "gwet_ac2"):
        assert measure(made, name)["estimate"] is None
        assert "one category" in measure(made, name)["note"]
    assert made["pairs"][0]["kappa"] is None
    assert "one category" in made["pairs"][0]["note"]
    with_single = document(grid_of([("normal", "normal")] * 9 + [("normal", None)]))
    assert "one category" in measure(with_single, "fleiss_kappa")["note"]
    assert measure(made, "specific_agreement", "pathological")["estimate"] is None
    # every resample is the same: an interval of no width would claim certainty
    assert measure(made, "proportion_of_agreement")["low"] is None


def test_one_case_gives_a_figure_without_an_interval():
    row = measure(document(reads(("c1", "a", "normal"), ("c1", "b", "suspicious"))), "proportion_of_agreement")
    assert (row["estimate"], row["low"], row["high"]) == (0.0, None, None)
    assert "1 cases are fewer than" in row["note"]


def test_not_assessable_is_a_category_without_order():
    rows = [("normal", "not assessable", None), ("not assessable", "not assessable", None)] * 4
    rows += [("suspicious", "normal", None)] * 2
    made = document(grid_of(rows))
    assert measure(made, "specific_agreement", "not assessable")["estimate"] == pytest.approx(8 / 12)
    assert measure(made, "krippendorff_alpha_nominal")["n"] == 10
    assert measure(made, "krippendorff_alpha_ordinal")["n"] == 2
    assert made["pairs"][0]["windows"] == 10


def test_linear_and_quadratic_weights_are_told_by_their_names():
    """Cohen, Psychol Bull 1968;70:213-20, by hand: three agree, one is two steps apart, of classes 2, 1, 1 and 1, 1, 2.

    Agreement is 3/4 by either; expected 1/2 by linear weights, 19/32 by quadratic ones.
    """
    three = ("normal", "suspicious", "pathological")
    (pair,) = document(grid_of([*((each, each) for each in three), ("normal", "pathological")]))["pairs"]
    assert pair["weighted_kappa_linear"] == pytest.approx(1 / 2)
    assert pair["weighted_kappa_quadratic"] == pytest.approx(5 / 13)


def test_the_computed_reading_stays_apart_from_the_people():
    keys = {(f"case{i:02d}", "A", 0.0, 1800.0) for i in range(8)}
    with_ours, without = document(MIXED, computed=dict.fromkeys(keys, "normal")), document(MIXED)
    assert {**with_ours, "computed": None} == {**without, "computed": None}
    assert without["computed"]["note"] == "No computed reading of these windows."
    one_of_eight = document(MIXED, computed={("case00", "A", 0.0, 1800.0): "normal"})
    assert one_of_eight["computed"].get("note") != without["computed"]["note"]
    confusion = with_ours["computed"]["confusion"]
    assert confusion["categories"] == ["normal", "suspicious", "pathological"]
    # consensus: normal, normal, suspicious, pathological, tie -> suspicious, normal, pathological, normal
    assert confusion["counts"] == [[4, 0, 0], [2, 0, 0], [2, 0, 0]]
    assert with_ours["computed"]["agreement"] == pytest.approx(0.5)
    assert len(with_ours["computed"]["against_readers"]) == 3


def test_repeat_reads_compare_the_first_two_occasions():
    entries = [(f"c{i}", "a", "normal", 1) for i in range(6)] + [(f"c{i}", "a", "normal", 3) for i in range(4)]
    entries += [("c4", "a", "suspicious", 2), ("c4", "a", "normal", 3), ("c0", "b", "suspicious", 1)]
    (row,) = document(reads(*entries))["repeat_reads"]
    assert (row["reader"], row["windows"]) == ("a", 5)
    assert row["agreement"] == pytest.approx(4 / 5)
    # (po - 1/k) / (1 - 1/k) of three categories: Brennan and Prediger 1981 (from memory)
    assert row["pabak"] == pytest.approx((4 / 5 - 1 / 3) / (2 / 3))
    # shares 9/10 and 1/10, so by chance (9/100 + 9/100) / 2: Gwet 2008
    assert row["gwet_ac1"] == pytest.approx((4 / 5 - 9 / 100) / (91 / 100))


def test_a_later_entry_corrects_an_earlier_one():
    table = reads(("c1", "a", "normal"), ("c1", "b", "suspicious"), ("c1", "a", "suspicious"))
    assert measure(document(table), "proportion_of_agreement")["estimate"] == 1.0


def test_numbers_have_intraclass_correlation_and_limits():
    rng = np.random.default_rng(3)
    true = rng.normal(140, 12, 40)
    table = grid_of([(t, t + 2 + rng.normal(0, 3), t + rng.normal(0, 3)) for t in true])
    made = document(table, item="baseline_bpm", computed={("case00", "A", 0.0, 1800.0): true[0]})
    row = measure(made, "intraclass_correlation")
    assert 0.85 < row["low"] < row["estimate"] < row["high"] < 1
    assert measure(made, "fleiss_kappa")["note"] == "Not given: for categories only."
    limits = made["limits_of_agreement"][0]
    assert limits["mean_difference"] == pytest.approx(-2, abs=1.5)
    assert limits["high"] - limits["low"] == pytest.approx(2 * 1.96 * limits["standard_deviation"])
    assert (made["computed"]["windows"], made["computed"]["note"]) == (1, NUMBERS_HAVE_LIMITS)
    assert [row["note"] for row in made["limits_of_agreement"]] == [None] * 3
    equal = document(grid_of([(140.0, 140.0)] * 6), item="baseline_bpm")
    assert equal["measures"][0]["estimate"] is None
    assert equal["computed"]["note"] == "No computed reading of these windows."


@pytest.mark.parametrize(("common", "told"), [(1, "Fewer than two windows"), (2, "None")])
def test_the_spread_of_one_difference_is_unknown(common, told):
    """Bland and Altman 1986: a standard deviation takes two differences. One window more is read by a alone."""
    made = document(grid_of([*[(140.0, 142.0), (150.0, 156.0)][:common], (130.0, None)]), item="baseline_bpm")
    (row,) = made["limits_of_agreement"]
    assert (row["windows"], made["pairs"][0]["windows"]) == (common, common)
    assert (row["standard_deviation"] is None) == (common == 1)
    assert str(row["note"]).startswith(told)


def test_repeat_reads_of_numbers_have_the_coefficient_of_repeatability():
    """Bland and Altman, Lancet 1986;i:307-10, by hand: differences 4 and 0, so 1.96 times the root of 16 / 2."""
    table = reads(*((case, "a", value, n) for n, pair in ((1, (130, 140)), (2, (134, 140)))
                    for case, value in zip(("c1", "c2"), pair, strict=True)))  # fmt: skip
    (row,) = document(table, item="baseline_bpm")["repeat_reads"]
    assert (row["windows"], row["repeatability_coefficient"]) == (2, pytest.approx(1.96 * 8**0.5))


def test_an_answer_without_occasion_is_the_first():
    (row,) = document(reads(("c1", "a", "normal", 2), ("c1", "a", "normal", None)))["repeat_reads"]
    assert row["windows"] == 1
    (row,) = document(reads(*[("c1", "a", "normal", n) for n in (1, 2)],
                            *[("c2", "a", ("normal", "not assessable")[n], n) for n in (0, 1)],
                            *[("c1", "b", "normal", n) for n in (1, 2)]))["repeat_reads"][:1]  # fmt: skip
    assert (row["windows"], row["agreement"]) == (2, 0.5)  # a category of its own once anybody chose it


def test_not_assessable_of_the_computed_reading_alone_is_a_category_of_the_table():
    ours = {(f"case{i:02d}", "A", 0.0, 1800.0): "normal" for i in range(7)}
    made = document(MIXED, computed=ours | {("case07", "A", 0.0, 1800.0): "not assessable"})["computed"]
    assert made["confusion"]["categories"][3:] == ["not assessable"]
    assert (made["windows"], made["confusion"]["counts"][0]) == (8, [3, 0, 0, 1])


@pytest.mark.parametrize(
    ("item", "rule"),
    [
        ("category", "majority, ties: the more severe answer; at least 2 readers"),
        ("baseline_bpm", "median of the reads; at least 2 readers"),
        ("decelerations", "majority, ties: no consensus; at least 2 readers"),
    ],
)
def test_without_any_read_nothing_is_said_but_how_it_would_be_counted(item, rule):
    made = document(reads(), item=item)
    assert {row["note"] for row in made["measures"]} <= {
        "No reads of this item.",
        NO_ORDER,
        FOR_NUMBERS,
        FOR_CATEGORIES,
    }
    assert made["method"]["consensus"] == rule
    if item == "decelerations":
        assert (made["computed"]["confusion"]["categories"], made["computed"]["confusion"]["counts"]) == ([], [])


@pytest.mark.parametrize(
    ("item", "answers"), [("category", ("normal", "suspicious")), ("baseline_bpm", (140.0, 150.0))]
)
@pytest.mark.parametrize(("common", "note"), [(9, "Rough interval"), (5, "Rough interval"), (4, "No interval")])
def test_only_cases_that_two_read_count_for_an_interval(item, answers, common, note):
    """One case more is read by one reader alone."""
    one, other = answers
    alike = ([(one, one), (other, other), (one, other)] * 3)[:common]
    made = document(grid_of([*alike, (one, None)]), item=item)
    row = measure(made, "proportion_of_agreement" if item == "category" else "mean_absolute_difference")
    assert (row["note"].startswith(f"{note}: {common} cases"), row["n"]) == (True, common)
    if item == "category":
        assert (made["pairs"][0]["agreement_low"] is None) == (common == 4)
        by_category = measure(made, "specific_agreement", other)
        assert by_category["note"].startswith(f"{note}: {common} cases")
        assert by_category["n"] == sum(other in row for row in alike)


def test_yes_and_no_come_in_every_usual_spelling():
    made = document(
        grid_of([(True, "yes"), (False, "no"), ("1", "true"), ("0", "False"), (True, False)]), item="would_act"
    )
    assert measure(made, "proportion_of_agreement")["estimate"] == pytest.approx(4 / 5)


@pytest.mark.parametrize(
    ("item", "standard", "value", "found"),
    [
        ("category", "figo-2015", "III", "'III'"),
        ("category", "figo-1999", "normal", "'figo-1999'"),
        ("colour", "figo-2015", "normal", "'colour'"),
        ("baseline_bpm", "figo-2015", "high", "'high'"),
    ],
)
def test_an_answer_off_the_scale_is_refused_with_what_was_found_and_expected(item, standard, value, found):
    with pytest.raises(UsageError, match="expected") as caught:
        document(reads(("c1", "a", value)), item=item, standard=standard)
    assert found in str(caught.value)


def test_columns_of_unequal_length_are_refused():
    with pytest.raises(UsageError, match="different lengths"):
        ReadsTable(["c1"], ["A"], [0.0], [1800.0], ["a"], [1], [])


def test_times_that_went_through_text_name_the_same_window():
    table = ReadsTable(["c"] * 2, ["A"] * 2, [0.1 + 0.2, 0.3], [600.0] * 2, ["a", "b"], [1, None], ["normal"] * 2)
    assert len(arrange(table, scale_for("category", "figo-2015", table.value)).windows) == 1
    apart = ReadsTable(["c"] * 3, ["A"] * 3, [0.0, 0.0004, 0.001], [600.0] * 3, list("abc"), [1] * 3, ["normal"] * 3)
    assert len(arrange(apart, scale_for("category", "figo-2015", apart.value)).windows) == 2  # a millisecond
    ends = ReadsTable(["c"] * 3, ["A"] * 3, [0.0] * 3, [600.0, 600.0004, 600.001], list("abc"), [1] * 3, ["normal"] * 3)
    assert len(arrange(ends, scale_for("category", "figo-2015", ends.value)).windows) == 2

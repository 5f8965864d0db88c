"""The computed reading and the experts against a consensus, on tables that can be counted by hand."""

import numpy as np
import pytest
from sklearn.metrics import cohen_kappa_score, roc_auc_score

from audit.agreement.reads import MISSING
from audit.setting_types import changed
from audit.validate.compare import NOT_ASSESSABLE, ExpertTable, compare, consensus_of, each_expert
from audit.validate.outcomes import TOGETHER, outcome_areas, sorted_births
from audit.validate.readings import AREA_PER_HOUR, SHARE_LOST, RecordReading, WindowReading, part_of
from audit.validate.records import ExpertClass
from audit.validate.run import expert_table, summarise
from tests.reading_builder import SETTINGS

pytestmark = pytest.mark.slow

VALIDATE = changed(SETTINGS.validate, draws=200)
NAMES = tuple(f"r{k}" for k in range(30))


def test_kappa_is_that_of_a_general_purpose_library() -> None:
    generator = np.random.default_rng(3)
    consensus = generator.integers(0, 3, 30)
    codes = np.where(generator.random(30) < 0.6, consensus, generator.integers(0, 3, 30))
    found = compare(codes, consensus, NAMES, VALIDATE)
    # Oracle: scikit-learn's cohen_kappa_score with linear weights
    assert found.kappa_linear.value == pytest.approx(cohen_kappa_score(codes, consensus, weights="linear"), abs=1e-12)
    assert found.agreement.value == pytest.approx(float((codes == consensus).mean()))
    assert np.array(found.confusion).sum() == found.windows == 30
    assert found.kappa_linear.low is not None
    assert found.kappa_linear.low < found.kappa_linear.value < (found.kappa_linear.high or 0)


def test_rows_are_the_reader_and_columns_the_consensus() -> None:
    found = compare(np.array([2, 0]), np.array([1, 0]), ("a", "b"), VALIDATE)
    assert found.confusion == ((1, 0, 0), (0, 0, 0), (0, 1, 0))


def test_windows_that_are_not_assessable_are_counted_and_left_out() -> None:
    codes = np.array([0, NOT_ASSESSABLE, 2, MISSING, 1])
    found = compare(codes, np.array([0, 1, 2, 1, MISSING]), NAMES[:5], VALIDATE)
    assert (found.windows, found.not_assessable) == (2, 1)


def test_nothing_to_compare_gives_a_sentence() -> None:
    found = compare(np.full(4, MISSING), np.zeros(4, dtype=np.int64), NAMES[:4], VALIDATE)
    assert found.kappa_linear.value is None
    assert found.kappa_linear.note


@pytest.mark.parametrize(
    ("codes", "expected"),
    [
        ([0, 1, 2], 1),
        ([0, 0, 2], 0),
        ([0, 1, 2, 2], MISSING),  # the middle two differ
        ([1, 1, 2, 2, 2], 2),
        ([0, 1, MISSING, MISSING, MISSING], MISSING),  # fewer than three experts
        ([MISSING] * 9, MISSING),
    ],
)
def test_consensus_is_the_median_without_ties(codes: list[int], expected: int) -> None:
    assert consensus_of(np.array([codes]), VALIDATE).tolist() == [expected]


def test_each_expert_is_held_against_the_others_only() -> None:
    others = np.tile(np.arange(3), 10)
    codes = np.column_stack([np.zeros(30, dtype=int), others, others, others])
    table = ExpertTable(NAMES, ("eval_step1",) * 30, ("1", "2", "3", "4"), codes)
    found = each_expert(table, VALIDATE)
    assert found["1"].kappa_linear.value == pytest.approx(0.0)
    # with expert 1 in it the consensus of expert 2's others is still the class that two of three give
    assert found["2"].kappa_linear.value == pytest.approx(1.0)


def test_parts_are_fixed_by_the_name() -> None:
    # Parity of the last hexadecimal digit that sha256sum prints for the name.
    assert {name: part_of(name) for name in PRINTED} == PRINTED


PRINTED = {"1002": "reporting", "1005": "tuning", "1008": "reporting", "1012": "tuning", "2046": "tuning"}


def made(name: str, ph: float | None, code: int, area: float | None) -> RecordReading:
    window = WindowReading("eval_step1", 0.0, 1800.0, 0.95, {"figo-1986": code, "figo-2015": code}, ())
    return RecordReading(name, "reporting", ph, (window,), {"area": area})


def test_more_of_the_measure_with_lower_ph_is_above_one_half() -> None:
    readings = [made(f"r{k}", 7.0 if k < 4 else 7.3, 0, 100.0 - k) for k in range(10)]
    areas = {a.outcome: a for a in outcome_areas(readings, VALIDATE)}
    assert areas["pH <= 7.05"].estimate == 1.0
    assert (areas["pH <= 7.05"].with_outcome, areas["pH <= 7.05"].without) == (4, 6)


@pytest.mark.parametrize(("ph", "counted"), [(7.05, 1), (7.051, 0)])
def test_the_outcome_includes_its_limit(ph: float, counted: int) -> None:
    readings = [made("a", ph, 0, 1.0), made("b", 7.3, 0, 0.0)]
    area = next(a for a in outcome_areas(readings, VALIDATE) if a.outcome == "pH <= 7.05")
    assert area.with_outcome == counted
    assert (area.estimate is None) is (counted == 0)
    assert bool(area.note) is (counted == 0)


def test_records_without_ph_or_measure_are_left_out() -> None:
    readings = [made("a", 7.0, 0, 1.0), made("b", 7.3, 0, 0.0), made("c", None, 0, 5.0), made("d", 7.0, 0, None)]
    area = next(a for a in outcome_areas(readings, VALIDATE) if a.outcome == "pH <= 7.05")
    assert (area.with_outcome, area.without) == (1, 1)


def both(name: str, ph: float, area: float | None, lost: float | None) -> RecordReading:
    return RecordReading(name, "reporting", ph, (), {AREA_PER_HOUR: area, SHARE_LOST: lost})


def test_area_and_loss_together_are_an_order_of_births_whatever_their_units() -> None:
    generator = np.random.default_rng(2)
    area, lost = generator.random(40), generator.random(40)
    ph = np.where(generator.random(40) < 0.3, 7.0, 7.3)
    plain = [both(f"r{k}", ph[k], area[k], lost[k]) for k in range(40)]
    other_units = [both(f"r{k}", ph[k], 3600 * area[k] ** 3, lost[k]) for k in range(40)]
    one, two = ({a.measure: a for a in outcome_areas(r, VALIDATE)}[TOGETHER] for r in (plain, other_units))
    assert one.estimate == two.estimate
    # Oracle: scikit-learn's roc_auc_score of the sum of both ranks
    ranks = np.argsort(np.argsort(area)) + np.argsort(np.argsort(lost))
    assert one.estimate == pytest.approx(roc_auc_score(ph <= 7.05, ranks), abs=1e-12)


def test_a_birth_without_one_of_both_is_not_sorted() -> None:
    readings = [
        both("a", 7.0, 1.0, 0.5),
        both("b", 7.3, 0.0, 0.1),
        both("c", 7.0, None, 0.9),
        both("d", 7.0, 3.0, None),
    ]
    area = next(a for a in outcome_areas(readings, VALIDATE) if a.measure == TOGETHER)
    assert (area.with_outcome, area.without) == (1, 1)


def test_it_is_said_how_many_of_those_put_first_had_the_outcome_and_how_many_were_missed() -> None:
    readings = [both(f"r{k}", 7.0 if k in (0, 9) else 7.3, 10.0 - k, 1.0 - k / 10) for k in range(10)]
    (found,) = sorted_births(readings, VALIDATE)[:1]
    assert (found.first, found.first_with_outcome, found.missed, found.with_outcome) == (2, 1, 1, 2)
    assert found.low < found.share == 0.5 < found.high
    assert sorted_births([both("a", 7.3, 1.0, 1.0)], VALIDATE) == []


def test_only_the_part_asked_for_is_reported() -> None:
    readings = [made(f"r{k}", 7.2, k % 3, float(k)) for k in range(12)]
    other = RecordReading("x", "tuning", 7.0, readings[0].windows, {"area": 1.0})
    classes = [ExpertClass(f"r{k}", "eval_step1", str(e), k % 3) for k in range(12) for e in range(1, 4)]
    classes += [ExpertClass("x", "eval_step1", str(e), 2) for e in range(1, 4)]
    found = summarise([*readings, other], classes, VALIDATE, part="reporting")
    assert (found.recordings, found.recordings_in_folder, found.windows) == (12, 13, 12)
    assert found.to_json()["kappa_linear"] == pytest.approx(1.0)
    assert found.to_json()["part"] == "reporting"
    # each recording is read anew: nothing is out of date, and the document says of what settings it is
    assert found.to_json()["stale"] == {"tracings": 12, "stale": 0, "never_read": 0, "reasons": [], "note": None}
    assert {"settings_sha256", "version"} <= found.to_json().keys()


def test_expert_table_keeps_missing_reads_apart() -> None:
    readings = [made("a", 7.2, 0, 1.0), made("b", 7.2, 0, 1.0)]
    table = expert_table([ExpertClass("a", "eval_step1", "2", 1), ExpertClass("b", "eval_step1", "10", 2)], readings)
    assert table.experts == ("2", "10")
    assert table.codes.tolist() == [[1, MISSING], [MISSING, 2]]

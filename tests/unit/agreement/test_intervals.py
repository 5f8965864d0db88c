"""What the intervals and the estimates with missing reads promise, held against simulated readers with known truth."""

import numpy as np
import pytest

from audit.agreement import measured
from audit.agreement.many_readers import (
    category_totals,
    fleiss_kappa,
    proportion_of_agreement,
    window_features,
)  # fmt: skip
from audit.agreement.options import IntervalRule
from audit.agreement.reads import category_counts
from audit.agreement.resampling import drawn_cases, estimate, expanded_tail, resample, sums_by_case
from audit.settings import load_settings

WINDOWS_PER_CASE, READERS = 4, 4


def simulated_reads(rng, cases):
    """Readers who agree more on some cases than on others, so windows of one case resemble each other."""
    hard = np.repeat(rng.random(cases), WINDOWS_PER_CASE)
    truth = rng.integers(0, 3, len(hard))
    slips = rng.random((len(hard), READERS)) < 0.8 * hard[:, None]
    return np.where(slips, rng.integers(0, 3, (len(hard), READERS)), truth[:, None])


@pytest.mark.slow
@pytest.mark.parametrize("cases", [10, 20, 40])
@pytest.mark.parametrize("figure", [proportion_of_agreement, fleiss_kappa])
def test_intervals_hold_the_truth_about_as_often_as_they_say(figure, cases):
    """400 units: a 95 % interval over cases should hold the truth in 92.5 to 98 of 100 (three errors of 1.1).

    The truth is the figure on 20,000 simulated cases. Resampling windows instead of cases holds it less often.
    """
    rng = np.random.default_rng(5)
    features = window_features(category_counts(simulated_reads(rng, 20_000), 3))
    truth = float(figure(category_totals(features.sum(axis=0), 3)))
    rule = IntervalRule(0.95, 5, 10, 0.05)
    held, repeats = {"case": 0, "window": 0}, 400
    for seed in range(repeats):
        features = window_features(category_counts(simulated_reads(rng, cases), 3))
        by_case = sums_by_case(features, np.repeat(np.arange(cases), WINDOWS_PER_CASE), cases)
        for by, rows in (("case", by_case), ("window", features)):
            (drawn,) = resample([rows], 500, seed)
            values = figure(category_totals(drawn, 3))
            found = estimate(0.5, values, n=1, cases=len(rows), rule=rule, undefined="")
            held[by] += found.low <= truth <= found.high
    assert 0.925 <= held["case"] / repeats <= 0.98
    assert held["window"] < held["case"]


@pytest.mark.slow
def test_intraclass_correlation_with_missing_reads_recovers_the_variances():
    """Windows 100, readers 9, residual 16 bpm^2: ICC(2,1) = 100 / 125. Four reads in ten are missing."""
    rng = np.random.default_rng(8)
    found = []
    for _ in range(200):
        values = 140 + rng.normal(0, 10, (120, 1)) + rng.normal(0, 3, (1, 12)) + rng.normal(0, 4, (120, 12))
        values[rng.random(values.shape) < 0.4] = np.nan
        found.append(float(measured.intraclass_correlation(measured.number_features(values).sum(axis=0))))
    assert np.mean(found) == pytest.approx(100 / 125, abs=0.01)


def test_an_interval_says_when_it_is_rough_or_withheld():
    rule = load_settings().agreement.interval
    drawn = np.linspace(0.2, 0.8, 1001)

    def made(draws=drawn, value=0.5, cases=30):
        return estimate(value, draws, n=cases, cases=cases, rule=rule, undefined="Why not.")

    assert (made(cases=10**6).low, made(cases=10**6).high) == (pytest.approx(0.215), pytest.approx(0.785))
    assert made().note is None
    assert made(cases=9).note == "Rough interval: 9 cases are fewer than 10."
    assert made(cases=9).low is not None
    assert made(cases=4).low is None
    # as many as asked are enough; of 100 resamples 5 without a value are not more than 5 %
    assert (made(cases=10).note, made(cases=5).low is None) == (None, False)
    hundred = np.linspace(0.2, 0.8, 100)
    assert [made(np.where(np.arange(100) < gone, np.nan, hundred)).low is None for gone in (5, 6)] == [False, True]
    holes = np.where(np.arange(1001) % 10 == 0, np.nan, drawn)
    assert made(holes).low is None
    assert made(holes).note == "No interval: 10% of the resamples give no value."
    assert made(value=float("nan")).note == "Why not."
    assert made(np.full(1001, 0.5)).note == "No interval: every resample gives the same value."


def test_as_many_resamples_are_drawn_as_asked_and_nobody_changes_them():
    times = drawn_cases(3, 300, 7)
    assert sum(drawn.shape[1] for drawn in times) == 300
    assert {int(total) for drawn in times for total in drawn.sum(axis=0)} == {3}  # as many cases as there are
    assert not any(drawn.flags.writeable for drawn in times)


@pytest.mark.parametrize(("cases", "student", "beyond"), [(10, 2.262, 0.0086), (20, 2.093, 0.0159)])
def test_the_tails_of_few_cases_are_those_of_printed_tables(cases, student, beyond):
    """Hesterberg, Am Stat 2015;69:371-86; t of 9 and 19 degrees of freedom and the normal tail from printed tables
    (from memory): root of 10 / 9 times 2.262 is 2.384, root of 20 / 19 times 2.093 is 2.147."""
    assert student * (cases / (cases - 1)) ** 0.5 == pytest.approx({10: 2.384, 20: 2.147}[cases], abs=1e-3)
    assert expanded_tail(0.95, cases) == pytest.approx(beyond, abs=1e-4)

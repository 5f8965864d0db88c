"""Agreement figures against general-purpose libraries on random tables with missing cells, to 1e-6.

statsmodels (kappa, its standard errors, Fleiss), scikit-learn (weighted kappa), krippendorff (alpha). Where no library
has the figure, a second route written out pair by pair.
"""

from itertools import combinations

import krippendorff
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from sklearn.metrics import cohen_kappa_score
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.inter_rater import fleiss_kappa as statsmodels_fleiss

from audit.agreement import many_readers as many
from audit.agreement import measured
from audit.agreement import two_readers as two
from audit.agreement.measured import number_features
from audit.agreement.reads import category_counts
from audit.agreement.resampling import resample, sums_by_case
from audit.agreement.scales import agreement_weights

pytestmark = pytest.mark.slow

STEADY = settings(max_examples=60)
CLOSE = {"rtol": 0, "atol": 1e-6}


@st.composite
def codes(draw, missing=True, most_readers=6):
    """Windows by readers, -1 = no read, and the number of categories."""
    k = draw(st.integers(2, 5))
    shape = draw(st.tuples(st.integers(2, 25), st.integers(2, most_readers)))
    return draw(arrays(np.int64, shape, elements=st.integers(-1 if missing else 0, k - 1))), k


def totals_of_counts(counts):
    return many.category_totals(many.window_features(counts).sum(axis=0), np.shape(counts)[1])


def _pair_table(first, second, k):
    both = (first >= 0) & (second >= 0)
    return np.histogram2d(first[both], second[both], bins=[np.arange(k + 1) - 0.5] * 2)[0]


@STEADY
@given(codes(most_readers=2))
def test_kappa_and_its_errors_equal_statsmodels(table):
    read, k = table
    counts = _pair_table(read[:, 0], read[:, 1], k)
    assume(counts.sum() > 0)
    assume(two.chance_agreement(counts) < 1 - 1e-9)
    for name in ("identity", "linear", "quadratic"):
        weights = agreement_weights(name, k)
        with np.errstate(divide="ignore", invalid="ignore"):
            theirs = cohens_kappa(counts, weights=None if name == "identity" else 1.0 - weights)
        assume(np.isfinite(theirs.kappa))
        np.testing.assert_allclose(two.cohen_kappa(counts, weights), theirs.kappa, **CLOSE)
        np.testing.assert_allclose(two.kappa_standard_error(counts, weights) ** 2, max(theirs.var_kappa, 0), **CLOSE)


@STEADY
@given(codes(most_readers=2))
def test_weighted_kappa_equals_scikit_learn(table):
    read, k = table
    both = (read >= 0).all(axis=1)
    counts = _pair_table(read[:, 0], read[:, 1], k)
    assume(both.any())
    assume(two.chance_agreement(counts) < 1 - 1e-9)
    for name, theirs in (("identity", None), ("linear", "linear"), ("quadratic", "quadratic")):
        expected = cohen_kappa_score(read[both, 0], read[both, 1], labels=list(range(k)), weights=theirs)
        np.testing.assert_allclose(two.cohen_kappa(counts, agreement_weights(name, k)), expected, **CLOSE)


@STEADY
@given(codes(missing=False))
def test_fleiss_kappa_equals_statsmodels(table):
    read, k = table
    counts = category_counts(read, k)
    assume((counts.sum(axis=0) > 0).sum() > 1)
    np.testing.assert_allclose(many.fleiss_kappa(totals_of_counts(counts)), statsmodels_fleiss(counts), **CLOSE)
    randolph = statsmodels_fleiss(counts, method="randolph")
    np.testing.assert_allclose(many.brennan_prediger(totals_of_counts(counts)), randolph, **CLOSE)


@STEADY
@given(codes())
def test_alpha_equals_krippendorff(table):
    read, k = table
    paired = read[(read >= 0).sum(axis=1) > 1]
    assume(len(np.unique(paired[paired >= 0])) > 1)
    totals = totals_of_counts(category_counts(read, k))
    data = np.where(read < 0, np.nan, read + 1.0).T
    for level in ("nominal", "ordinal", "interval"):
        expected = krippendorff.alpha(data, level_of_measurement=level, value_domain=np.arange(1.0, k + 1))
        np.testing.assert_allclose(many.krippendorff_alpha(totals, level), expected, **CLOSE)


@st.composite
def numbers(draw, missing=True):
    """Windows by readers of whole numbers about a baseline rate, NaN = no read."""
    shape = draw(st.tuples(st.integers(2, 20), st.integers(2, 6)))
    one = st.integers(100, 180).map(float)
    return draw(arrays(np.float64, shape, elements=st.one_of(one, st.just(np.nan)) if missing else one))


@STEADY
@given(numbers())
def test_alpha_of_numbers_equals_krippendorff(values):
    paired = values[np.isfinite(values).sum(axis=1) > 1]
    assume(len(np.unique(paired[np.isfinite(paired)])) > 1)
    ours = measured.alpha_interval(number_features(values).sum(axis=0))
    np.testing.assert_allclose(ours, krippendorff.alpha(values.T, level_of_measurement="interval"), **CLOSE)


@STEADY
@given(numbers(missing=False))
def test_intraclass_correlation_equals_the_analysis_of_variance_when_complete(values):
    assume(len(np.unique(values)) > 1)
    ours = measured.intraclass_correlation(number_features(values).sum(axis=0))
    # Shrout & Fleiss, Psychol Bull 1979;86:420-8: mean squares between windows, between readers and of the rest
    (n, k), rows, columns = values.shape, values.mean(axis=1, keepdims=True), values.mean(axis=0)
    between = k * ((rows - values.mean()) ** 2).sum() / (n - 1)
    readers = n * ((columns - values.mean()) ** 2).sum() / (k - 1)
    rest = ((values - rows - columns + values.mean()) ** 2).sum() / ((n - 1) * (k - 1))
    total = between + (k - 1) * rest + k * (readers - rest) / n
    assume(total != 0)
    theirs = (between - rest) / total
    assume(abs(theirs) < 50)  # a total variance near 0 leaves nothing to compare
    np.testing.assert_allclose(ours, theirs, **CLOSE)


@STEADY
@given(numbers())
def test_mean_absolute_difference_is_that_of_every_pair(values):
    gaps = [abs(a - b) for row in values for a, b in combinations(row[np.isfinite(row)], 2)]
    ours = measured.mean_absolute_difference(number_features(values).sum(axis=0))
    np.testing.assert_allclose(ours, np.mean(gaps) if gaps else np.nan, **CLOSE)


@STEADY
@given(codes())
def test_agreement_by_category_is_that_of_every_pair(table):
    read, k = table
    pairs = [pair for row in read for pair in combinations(row[row >= 0], 2)]
    totals = totals_of_counts(category_counts(read, k))
    same = [a == b for a, b in pairs]
    np.testing.assert_allclose(many.proportion_of_agreement(totals), np.mean(same) if pairs else np.nan, **CLOSE)
    for c in range(k):
        both = sum(a == c and b == c for a, b in pairs)
        used = sum(int(a == c) + int(b == c) for a, b in pairs)
        specific = 2 * both / used if used else np.nan
        jaccard = both / (used - both) if used else np.nan
        np.testing.assert_allclose(many.specific_agreement(totals)[c], specific, **CLOSE)
        np.testing.assert_allclose(many.jaccard_agreement(totals)[c], jaccard, **CLOSE)


@STEADY
@given(codes(missing=False, most_readers=2))
def test_figures_for_many_readers_equal_those_for_two(table):
    read, k = table
    counts, totals = _pair_table(read[:, 0], read[:, 1], k), totals_of_counts(category_counts(read, k))
    for ours, theirs in (
        (many.gwet_ac(totals), two.gwet_ac1_of_table(counts)),
        (many.brennan_prediger(totals), two.prevalence_adjusted_kappa(counts)),
    ):
        np.testing.assert_allclose(ours, theirs, **CLOSE)


@STEADY
@given(codes(), st.integers(0, 2**32 - 1))
def test_a_draw_as_a_weighted_sum_equals_the_figure_on_the_drawn_rows(table, seed):
    """The bootstrap without shortcuts: draw cases, stack their windows, count anew."""
    read, k = table
    case_index = np.arange(len(read)) // 2
    cases = int(case_index.max()) + 1
    counts = category_counts(read, k)
    (drawn,) = resample([sums_by_case(many.window_features(counts), case_index, cases)], 3, seed)
    generator = np.random.default_rng(seed)
    for draw, chosen in zip(drawn, generator.integers(0, cases, size=(3, cases)), strict=True):
        stacked = np.vstack([counts[case_index == case] for case in chosen])
        ours, again = many.category_totals(draw, k), totals_of_counts(stacked)
        for figure in (many.proportion_of_agreement, many.fleiss_kappa, many.gwet_ac):
            np.testing.assert_allclose(figure(ours), figure(again), **CLOSE)
        ordinal = [many.krippendorff_alpha(totals, "ordinal") for totals in (ours, again)]
        np.testing.assert_allclose(*ordinal, **CLOSE)


@pytest.mark.parametrize("table", [[[40, 9], [6, 45]], [[118, 5], [2, 0]]])
def test_prevalence_and_bias_are_those_of_byrt_for_two_categories(table):
    """|a - d| / n and |b - c| / n (Byrt, Bishop & Carlin 1993, from memory)."""
    (a, b), (c, d) = table
    n = a + b + c + d
    assert float(two.prevalence_index(table)) == pytest.approx(abs(a - d) / n)
    assert float(two.bias_index(table)) == pytest.approx(abs(b - c) / n)


def test_weights_are_those_that_were_published():
    # linear 1 - |i - j| / (k - 1), Cicchetti and Allison 1971; quadratic with squares of both, Fleiss and Cohen 1973
    np.testing.assert_allclose(agreement_weights("linear", 4)[0], [1.0, 2 / 3, 1 / 3, 0.0], **CLOSE)
    np.testing.assert_allclose(agreement_weights("quadratic", 4)[0], [1.0, 8 / 9, 5 / 9, 0.0], **CLOSE)
    np.testing.assert_allclose(agreement_weights("linear", 2), np.eye(2), **CLOSE)
    for name in ("identity", "linear", "quadratic"):
        np.testing.assert_allclose(agreement_weights(name, 1), [[1.0]], **CLOSE)  # one category: all agree

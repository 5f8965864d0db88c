"""Intervals for shares, differences of shares, and what a yes/no criterion finds.

Source of the interval methods: Newcombe, Stat Med 1998;17:857-72 (one share) and 17:873-90 (a difference).
"""

from dataclasses import dataclass
from math import exp, sqrt

from scipy import optimize, stats

Interval = tuple[float, float]


def _checked(events: int, total: int) -> None:
    if not 0 <= events <= total or total == 0:
        raise ValueError(f"{events} of {total}: expected 0 <= events <= total, and a total above 0")


def _z(level: float) -> float:
    return float(stats.norm.ppf(0.5 + level / 2.0))


def wilson_interval(events: int, total: int, level: float) -> Interval:
    """Wilson's score interval of a share.

    Parameters
    ----------
    events, total : counts.
    level : level of the interval, for example 0.95.

    Returns
    -------
    low, high : 0 to 1.

    Raises
    ------
    ValueError : a total of 0, or events outside 0 to total.

    Notes
    -----
    Newcombe 1998, method 3.
    """
    _checked(events, total)
    z = _z(level)
    middle = 2.0 * events + z**2
    reach = z * sqrt(z**2 + 4.0 * events * (total - events) / total)
    scale = 2.0 * (total + z**2)
    low = 0.0 if events == 0 else (middle - reach) / scale
    high = 1.0 if events == total else (middle + reach) / scale
    return low, high


def wilson_interval_corrected(events: int, total: int, level: float) -> Interval:
    """Wilson's interval with continuity correction.

    Parameters, returns and errors as `wilson_interval`. Newcombe 1998, method 4.
    """
    _checked(events, total)
    z, share = _z(level), events / total
    scale = 2.0 * (total + z**2)
    middle = 2.0 * events + z**2
    down = z * sqrt(z**2 - 2.0 - 1.0 / total + 4.0 * share * (total * (1.0 - share) + 1.0))
    up = z * sqrt(z**2 + 2.0 - 1.0 / total + 4.0 * share * (total * (1.0 - share) - 1.0))
    low = 0.0 if events == 0 else max(0.0, (middle - 1.0 - down) / scale)
    high = 1.0 if events == total else min(1.0, (middle + 1.0 + up) / scale)
    return low, high


def exact_interval(events: int, total: int, level: float) -> Interval:
    """Clopper and Pearson's exact interval of a share.

    Parameters, returns and errors as `wilson_interval`. Newcombe 1998, method 5.
    """
    _checked(events, total)
    found = stats.binomtest(events, total).proportion_ci(confidence_level=level, method="exact")
    return float(found.low), float(found.high)


def mid_p_interval(events: int, total: int, level: float) -> Interval:
    """The exact interval that counts half of the observed point.

    Parameters, returns and errors as `wilson_interval`. Newcombe 1998, method 6.
    """
    _checked(events, total)
    tail = (1.0 - level) / 2.0

    def above(share: float) -> float:
        return float(stats.binom.sf(events, total, share) + 0.5 * stats.binom.pmf(events, total, share) - tail)

    def below(share: float) -> float:
        return float(stats.binom.cdf(events - 1, total, share) + 0.5 * stats.binom.pmf(events, total, share) - tail)

    low = 0.0 if events == 0 else float(optimize.brentq(above, 0.0, 1.0, xtol=1e-12))
    high = 1.0 if events == total else float(optimize.brentq(below, 0.0, 1.0, xtol=1e-12))
    return low, high


def rule_of_three(total: int) -> float:
    """Upper 95 % bound of a share when no event was seen: 3 / n.

    Parameters
    ----------
    total : number without an event.

    Returns
    -------
    bound : at most 1.

    Raises
    ------
    ValueError : a total of 0.

    Notes
    -----
    Hanley & Lippman-Hand, JAMA 1983;249:1743-5. The exact one-sided bound is 1 - 0.05^(1/n), a little lower.
    """
    _checked(0, total)
    return min(1.0, 3.0 / total)


def difference_interval(first: tuple[int, int], second: tuple[int, int], level: float) -> Interval:
    """Interval of the difference of two independent shares, first minus second.

    Parameters
    ----------
    first, second : events and total.
    level : level of the interval.

    Returns
    -------
    low, high : -1 to 1.

    Raises
    ------
    ValueError : a total of 0, or events outside 0 to total.

    Notes
    -----
    Newcombe 1998, method 10: from the two Wilson intervals.
    """
    (low1, high1), (low2, high2) = wilson_interval(*first, level), wilson_interval(*second, level)
    p1, p2 = first[0] / first[1], second[0] / second[1]
    down = sqrt((p1 - low1) ** 2 + (high2 - p2) ** 2)
    up = sqrt((high1 - p1) ** 2 + (p2 - low2) ** 2)
    return max(-1.0, p1 - p2 - down), min(1.0, p1 - p2 + up)


@dataclass(frozen=True)
class CriterionAccuracy:
    """What a yes/no criterion finds; each share with its Wilson interval. None = no case to count it on."""

    sensitivity: float | None
    sensitivity_interval: Interval | None
    specificity: float | None
    specificity_interval: Interval | None
    positive_predictive_value: float | None
    positive_predictive_value_interval: Interval | None
    negative_predictive_value: float | None
    negative_predictive_value_interval: Interval | None
    likelihood_ratio_positive: float | None
    likelihood_ratio_positive_interval: Interval | None
    likelihood_ratio_negative: float | None
    likelihood_ratio_negative_interval: Interval | None


def criterion_accuracy(
    true_positive: int, false_positive: int, false_negative: int, true_negative: int, level: float
) -> CriterionAccuracy:
    """Sensitivity, specificity, predictive values and likelihood ratios of one two-by-two table.

    Parameters
    ----------
    true_positive, false_positive, false_negative, true_negative : counts of cases.
    level : level of the intervals.

    Returns
    -------
    CriterionAccuracy. Predictive values hold for the share of cases in these data only.

    Notes
    -----
    Altman & Bland, BMJ 1994;308:1552 and 309:102; likelihood ratios with log intervals, Simel et al 1991, J Clin
    Epidemiol 44:763-70 (from memory).
    """
    with_event, without = true_positive + false_negative, false_positive + true_negative
    shares: list[float | Interval | None] = []
    for events, total in (
        (true_positive, with_event),
        (true_negative, without),
        (true_positive, true_positive + false_positive),
        (true_negative, true_negative + false_negative),
    ):
        shares += [events / total, wilson_interval(events, total, level)] if total else [None, None]
    ratios = [
        *_likelihood_ratio(true_positive, with_event, false_positive, without, level),
        *_likelihood_ratio(false_negative, with_event, true_negative, without, level),
    ]
    return CriterionAccuracy(*shares, *ratios)  # type: ignore[arg-type]


def _likelihood_ratio(
    events: int, total: int, other_events: int, other_total: int, level: float
) -> tuple[float | None, Interval | None]:
    if not total or not other_total or not other_events:
        return None, None
    ratio = (events / total) / (other_events / other_total)
    if not events:
        return ratio, None
    reach = _z(level) * sqrt(1.0 / events - 1.0 / total + 1.0 / other_events - 1.0 / other_total)
    return ratio, (ratio * exp(-reach), ratio * exp(reach))

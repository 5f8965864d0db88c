"""One monthly measure as a chart: points, limits from a stated baseline, phases, and signals by named rules."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.control_charts.in_force import InForce, PhaseLimits, limits_in_force
from audit.control_charts.limits import ChartLimits, g_chart, p_chart, xmr_chart
from audit.control_charts.options import TrendOptions
from audit.control_charts.rules import RULE_TEXT, ZONE_RULES, signals
from audit.control_charts.run_chart import RUN_CHART_SOURCE, run_chart
from audit.control_charts.run_length import average_run_length
from audit.figures import number_or_none
from audit.measures.proportions import wilson_interval

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

CHARTS = ("p", "xmr", "g", "run")
SHIFT = f"shift: 6 or more points in a row on one side of the median ({RUN_CHART_SOURCE})"
TREND = f"trend: 5 or more points in a row going one way ({RUN_CHART_SOURCE})"


CLUSTERED = (
    "Births of one day, team or mother are not quite independent of each other, so the true limits are somewhat wider"
    " than those drawn."
)


@dataclass(frozen=True)
class Phase:
    """A stretch with its own baseline, begun where the lead entered a change of practice."""

    start: str  # first period of the phase
    label: str


@dataclass(frozen=True)
class _Series:
    """What is plotted: NaN = no point, infinite = beyond the scale, with the reason beside it."""

    values: FloatArray
    events: FloatArray
    totals: FloatArray
    reasons: list[str | None]

    @property
    def shown(self) -> BoolArray:
        """Points that are there, those beyond the scale (infinite) among them."""
        return np.asarray(~np.isnan(self.values))


def trend_measure(
    name: str,
    chart: str,
    unit: str,
    periods: Sequence[str],
    *,
    options: TrendOptions,
    values: Sequence[float | None] | None = None,
    numerators: Sequence[float | None] | None = None,
    denominators: Sequence[float | None] | None = None,
    phases: Sequence[Phase | tuple[str, str]] = (),
    lowest: float | None = None,
    beyond_words: str | None = None,
    clustered: str = CLUSTERED,
    values_low: Sequence[float | None] | None = None,
    values_high: Sequence[float | None] | None = None,
) -> dict[str, Any]:
    """One measure of the `trends` document.

    Parameters
    ----------
    name, unit : passed on; `unit` is that of `value`.
    chart : `p` (share; numerators and denominators), `xmr` (single values such as a mean; values), `g` (births
        between events; values), `run` (values about their median, no limits).
    periods : one text per point in order of time, YYYY-MM; on g charts the period of each event.
    options : rules, baseline and smallest numbers.
    values, numerators, denominators : one entry per period, None or NaN = unknown. Denominators given beside values
        (the number a median rests on) suppress points as for shares. Values given on a `p` chart take the place of
        numerator / denominator: a share out of all that some of them left before it was known.
    values_low, values_high : interval of each value, shown beside it and used for nothing else; shares get their
        Wilson interval where none is given.
    beyond_words : what a value of infinity means on a run chart (half never reached, say): the point has no figure but
        is there, above every other one. None = such values are refused.
    clustered : the caution of a `p` chart that its counts are not independent.
    lowest : the least value that can occur, for example 0 for minutes; a lower limit below it is left out.
    phases : changes of practice; the first phase begins with the first period whether or not it is named.

    Returns
    -------
    measure : plain dict for JSON. A point without enough behind it has value None and a `reason`; a measure or phase
        without limits has a `note`.

    Raises
    ------
    ValueError : an unknown chart or rule, columns of unequal length, periods out of order, a column that the chart
        needs missing, or on a p chart counts that are no whole numbers or a numerator above its denominator.
    """
    series = _series(chart, periods, values, numerators, denominators, options, beyond_words)
    given = _column(values_low, periods, "values_low"), _column(values_high, periods, "values_high")
    around = _intervals(chart, series, given, options)
    changes = [phase if isinstance(phase, Phase) else Phase(*phase) for phase in phases]
    rules = tuple(rule for rule in options.rules if chart != "g" or rule not in ZONE_RULES)
    points, stretches = _points_and_phases(chart, series, periods, changes, rules, options)
    for i, point in enumerate(points):
        point |= _interval(around, i, point)
        if lowest is not None and point["low"] is not None and point["low"] < lowest:
            point["low"] = None
    return {
        "name": name,
        "chart": chart,
        "unit": unit,
        "points": points,
        "phases": stretches,
        "rules": [SHIFT, TREND] if chart == "run" else [RULE_TEXT[rule] for rule in rules],
        "points_per_false_signal": None if chart in ("run", "g") else average_run_length(rules),
        "note": _measure_note(chart, series, options, clustered),
    }


def _points_and_phases(
    chart: str,
    series: _Series,
    periods: Sequence[str],
    changes: Sequence[Phase],
    rules: Sequence[str],
    options: TrendOptions,
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Go through the phases; one without limits of its own yet is judged by those of the one before."""
    points: list[dict[str, Any]] = []
    stretches: list[dict[str, Any]] = []
    before: InForce | None = None
    for start, stop, phase in _stretches(periods, changes):
        found = limits_in_force(series.shown, start, stop, before=before, options=options)
        described = _describe(phase, periods, start, stop, found, before, options)
        for force in found.stretches:
            rows, extra = _chart_points(chart, series, force, rules, options)
            for i, row in enumerate(rows, force.start):
                points.append({"period": periods[i], **row, "phase": phase.label})
            described |= extra
        last = found.stretches[-1]
        if found.own is not None:
            caution = _unsteady(chart, series, last, options)
            described["note"] = " ".join(part for part in (described["note"], caution) if part) or None
        if last.baseline is not None:
            before = replace(last, judged=True)
        stretches.append(described)
    return points, stretches


def _unsteady(chart: str, series: _Series, force: InForce, options: TrendOptions) -> str | None:
    """A caution when points that limits rest on lie outside them; None where all is well or a chart has no limits."""
    if chart == "run" or force.baseline is None:
        return None
    part = slice(force.begun, force.stop)
    baseline = force.baseline[part]
    outside = int((_limits(chart, series, part, force.baseline, options).beyond & baseline).sum())
    if not outside:
        return None
    return (
        f"{outside} of the {int(baseline.sum())} points that the limits rest on lie outside them: look for the cause"
        " before trusting the limits."
    )


def _column(given: Sequence[float | None] | None, periods: Sequence[str], what: str) -> FloatArray:
    if given is None:
        return np.full(len(periods), np.nan)
    if len(given) != len(periods):
        raise ValueError(f"{what}: {len(given)} entries for {len(periods)} periods")
    return np.array([np.nan if entry is None else float(entry) for entry in given], float)


def _series(
    chart: str,
    periods: Sequence[str],
    values: Sequence[float | None] | None,
    numerators: Sequence[float | None] | None,
    denominators: Sequence[float | None] | None,
    options: TrendOptions,
    beyond_words: str | None,
) -> _Series:
    if chart not in CHARTS:
        raise ValueError(f"chart {chart!r}: expected one of {', '.join(CHARTS)}")
    if list(periods) != sorted(periods):
        raise ValueError("periods: expected in order of time")
    if any(column is None for column in ((numerators, denominators) if chart == "p" else (values,))):
        raise ValueError(f"a {chart} chart needs {'numerators and denominators' if chart == 'p' else 'values'}")
    events, totals = _column(numerators, periods, "numerators"), _column(denominators, periods, "denominators")
    if chart == "p" and (events > totals).any():
        raise ValueError("p chart: a numerator is larger than its denominator")
    if chart == "p" and any((column[np.isfinite(column)] % 1 != 0).any() for column in (events, totals)):
        raise ValueError("p chart: numerators and denominators must be whole numbers")
    if chart == "p" and values is None:
        with np.errstate(divide="ignore", invalid="ignore"):
            plotted = np.where(totals > 0, events / totals, np.nan)
    else:
        plotted = _column(values, periods, "values")
    if np.isinf(plotted).any() and (chart != "run" or beyond_words is None):
        raise ValueError("values: expected finite numbers, or on a run chart words for those beyond the scale")
    reasons = [_reason(p, t, denominators is not None, options) for p, t in zip(plotted, totals, strict=True)]
    plotted[[reason is not None for reason in reasons]] = np.nan
    for i in np.flatnonzero(np.isinf(plotted)):
        reasons[i] = beyond_words
    return _Series(plotted, events, totals, reasons)


def _reason(value: float, total: float, has_totals: bool, options: TrendOptions) -> str | None:
    """Why a point is not shown; None when it is."""
    if has_totals and np.isfinite(total) and total < options.denominator_min:
        return f"Not shown: {total:g} in the denominator, fewer than {options.denominator_min}."
    if has_totals and np.isfinite(total) and total <= 0:
        return "Not shown: nothing in the denominator."
    if np.isnan(value):
        return "No data."
    return None


def _stretches(periods: Sequence[str], changes: Sequence[Phase]) -> list[tuple[int, int, Phase]]:
    """First and last-but-one position of each phase that has points."""
    if not periods:
        return []
    ordered = sorted(changes, key=lambda phase: phase.start)
    if not ordered or ordered[0].start > periods[0]:
        ordered = [Phase(periods[0], "baseline"), *ordered]
    starts = [sum(period < phase.start for period in periods) for phase in ordered]
    stops = [*starts[1:], len(periods)]
    return [(a, b, phase) for a, b, phase in zip(starts, stops, ordered, strict=True) if b > a]


def _describe(
    phase: Phase,
    periods: Sequence[str],
    start: int,
    stop: int,
    found: PhaseLimits,
    before: InForce | None,
    options: TrendOptions,
) -> dict[str, Any]:
    used = found.own if found.own is not None else (before.baseline if before is not None else None)
    positions = [] if used is None else np.flatnonzero(used).tolist()
    note = None
    if found.own is None:
        note = f"No limits of its own: {found.count} points are fewer than {options.baseline_points_min}."
        if before is not None:
            note += " The limits of the phase before go on."
    elif len(positions) < options.baseline_points_firm:
        note = f"Provisional limits: {len(positions)} points are fewer than {options.baseline_points_firm}."
    return {
        "from": periods[start],
        "to": periods[stop - 1],
        "label": phase.label,
        "baseline_from": periods[positions[0]] if positions else None,
        "baseline_to": periods[positions[-1]] if positions else None,
        "baseline_points": len(positions),
        "note": note,
    }


def _limits(chart: str, series: _Series, part: slice, baseline: BoolArray, options: TrendOptions) -> ChartLimits:
    values, marked = series.values[part], baseline[part]
    shown = np.isfinite(values)
    if chart == "p":
        totals = np.where(shown, series.totals[part], np.nan)
        return p_chart(values * totals, totals, marked)
    if chart == "g":
        return g_chart(values, marked, probability_limits=options.g_probability_limits)
    return xmr_chart(values, marked)


def _chart_points(
    chart: str,
    series: _Series,
    force: InForce,
    rules: Sequence[str],
    options: TrendOptions,
) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """The points of one stretch, and what else is known of its phase so far."""
    part, baseline = slice(force.begun, force.stop), force.baseline
    nothing = np.full(force.stop - force.begun, np.nan)
    centre, low, high, extra = nothing, nothing, nothing, dict[str, Any]()
    fired: list[list[str]] = [[] for _ in nothing]
    if baseline is not None and chart == "run":
        found = run_chart(series.values[part], float(np.median(series.values[baseline])))
        centre = np.where(series.shown[part], found.median, np.nan)
        for at, rule in ((found.shift_at, SHIFT), (found.trend_at, TREND)):
            for position in at:
                fired[position].append(rule)
        extra = {"runs": found.runs, "runs_low": found.runs_low, "runs_high": found.runs_high,
                 "runs_signal": found.runs_signal, "useful_points": found.useful_points}  # fmt: skip
    elif baseline is not None:
        limits = _limits(chart, series, part, baseline, options)
        centre, low, high = limits.centre, limits.low, limits.high
        fired = [[RULE_TEXT[rule] for rule in names] for names in signals(limits, rules)]
        if not (np.isfinite(low) | np.isfinite(high)).any():
            extra = {"note": "No limits: the baseline points do not vary, or the event never or always happened."}
    rows = []
    for i in range(force.start, force.stop):
        own = i - force.begun
        verdict = fired[own] if force.judged else []
        rows.append(_point(series, i, (centre[own], low[own], high[own]), verdict, judged=force.judged))
    return rows, extra


def _intervals(
    chart: str, series: _Series, given: tuple[FloatArray, FloatArray], options: TrendOptions
) -> tuple[FloatArray, FloatArray]:
    """The interval of each value: Wilson's for shares, else what was given."""
    if chart != "p" or np.isfinite(given[0]).any():
        return given
    low, high = np.full(len(series.values), np.nan), np.full(len(series.values), np.nan)
    for i in np.flatnonzero(np.isfinite(series.values)):
        low[i], high[i] = wilson_interval(int(series.events[i]), int(series.totals[i]), options.interval_level)
    return low, high


def _interval(around: tuple[FloatArray, FloatArray], i: int, row: dict[str, Any]) -> dict[str, float | None]:
    shown = row["value"] is not None
    return {
        name: number_or_none(side[i]) if shown else None
        for name, side in zip(("value_low", "value_high"), around, strict=True)
    }


def _count(value: float) -> int | float | None:
    """A count as a whole number; an exposure may be a fraction."""
    return int(value) if np.isfinite(value) and float(value).is_integer() else number_or_none(value)


def _point(
    series: _Series, i: int, limits: tuple[float, float, float], fired: list[str], *, judged: bool
) -> dict[str, Any]:
    value, event, total = series.values[i], series.events[i], series.totals[i]
    return {
        "value": number_or_none(value),
        "numerator": _count(event),
        "denominator": _count(total),
        "centre": number_or_none(limits[0]),
        "low": number_or_none(limits[1]),
        "high": number_or_none(limits[2]),
        "signal": "; ".join(fired) or None,
        "judged": judged and bool(series.shown[i]),
        "beyond_scale": bool(np.isinf(value)),
        "reason": series.reasons[i],
    }


def _measure_note(chart: str, series: _Series, options: TrendOptions, clustered: str) -> str | None:
    """A caution about the whole chart, or None."""
    if not series.shown.any():
        return "No points to show."
    if chart != "p":
        return None
    shown = series.shown
    centre = (series.values[shown] * series.totals[shown]).sum() / series.totals[shown].sum()
    expected = float(np.median(series.totals[shown])) * min(centre, 1.0 - centre)
    if expected < options.expected_events_min:
        rare, other = "events", "; a chart of births between events suits rare events better"
        if centre > 0.5:
            rare, other = "without the event", ""
        return (
            f"About {expected:.1f} {rare} are expected per point, fewer than {options.expected_events_min:g}: limits "
            f"from the normal distribution are rough here{other}. {clustered}"
        )
    return clustered

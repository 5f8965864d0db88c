"""Charts over months: limits from a baseline, signals by published rules, funnels over shifts and sites."""

from audit.control_charts.dispersion import dispersion, widened_limits
from audit.control_charts.funnel import funnel_limits
from audit.control_charts.luck import luck_of_page
from audit.control_charts.measure import Phase, trend_measure
from audit.control_charts.options import TrendOptions
from audit.control_charts.run_chart import run_chart

__all__ = [
    "Phase",
    "TrendOptions",
    "dispersion",
    "funnel_limits",
    "luck_of_page",
    "run_chart",
    "trend_measure",
    "widened_limits",
]

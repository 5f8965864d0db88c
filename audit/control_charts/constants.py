"""Constants of charts for single values, moving range of two points, exact (books print 1.128, 3.267, 2.66, 0.954)."""

from math import pi, sqrt

from scipy import stats

# Expected range of two normal values in standard deviations, and the standard deviation of that range.
D2 = 2.0 / sqrt(pi)
D3_SPREAD = sqrt(2.0 - 4.0 / pi)
# Upper limit of the moving range as a multiple of its mean, and reach of the limits of single values likewise.
D4 = 1.0 + 3.0 * D3_SPREAD / D2
E2 = 3.0 / D2
# Median of the range of two normal values in standard deviations.
MEDIAN_RANGE = sqrt(2.0) * float(stats.norm.ppf(0.75))
# Limits at three standard deviations leave this share on each side of a normal distribution.
TAIL = float(stats.norm.sf(3.0))

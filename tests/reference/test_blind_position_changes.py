"""The clock on real recordings whose acts know nothing of them: position changes at random times, mean 30 minutes.

A clock that a fair person would run does not call such a labour answered: at most 25 % of severe concerns (those that
escalation decides) may be in time by its deciding clock. The limit is our choice; the recordings are those of the open
intrapartum database (Chudacek 2014). All of them at once: `tests/benchmarks/figures.py --chance`.
"""

import numpy as np
import pytest

from audit import read_wfdb
from audit.analysis.clock import case_clock
from audit.settings import load_settings
from audit.standards.registry import STANDARDS
from audit.tracing.read import read_tracing

SETTINGS = load_settings()
RECORDINGS, MEAN_MIN, MOST_BY_LUCK = 10, 30.0, 0.25


@pytest.fixture(scope="module")
def statuses(ctu_uhb) -> list[tuple[str, str]]:
    """(deciding clock, status) of every concern that can be assessed."""
    found = []
    for k, header in enumerate(sorted(ctu_uhb.glob("*.hea"))[:RECORDINGS]):
        reading = read_tracing(read_wfdb(header), SETTINGS.tracing)
        tables = SETTINGS.of_standards_for(None)
        minutes = {name: one.minute_categories(reading, tables[name]) for name, one in STANDARDS.items()}
        at_s = np.cumsum(np.random.default_rng([5, k]).exponential(60.0 * MEAN_MIN, size=200))
        clock = case_clock(
            minutes,
            start_s=0.0,
            end_s=reading.duration_s,
            facts={"birth_s": reading.duration_s},
            events=[{"at_s": float(at), "event": "position_change"} for at in at_s[at_s < reading.duration_s]],
            reads=[],
            settings=SETTINGS.response,
        )
        found += [(row.decided_by, row.status) for row in clock.responses if row.status != "not_assessable"]
    return found


def test_severe_concerns_are_not_answered_by_luck(statuses):
    severe = [status for clock, status in statuses if clock == "escalation"]
    assert len(severe) >= 10
    assert sum(status == "in_time" for status in severe) <= MOST_BY_LUCK * len(severe)

"""Controls: labours with nothing to discuss and a newborn known to be well, read blind among the others."""

import random
from collections.abc import Mapping, Sequence

from audit.questions.outcome_reasons import good_recorded_outcome
from audit.questions.reason_types import Record, Rules
from audit.questions.reasons import unremarkable_tracing
from audit.setting_tables.find import FindOptions


def hindrances(members: Sequence[Record], rules: Rules, *, with_outcome: bool) -> list[str]:
    """Why a labour without any reason is no control; empty for one that may be drawn.

    `members`: rows of `find/cases` of the labour's fetuses. `with_outcome`: False leaves the outcome out of it.
    """
    found: list[str] = []
    least = rules.find.control_seen_last_30_min_fraction
    for row in members:
        if not unremarkable_tracing(row, rules):
            found.append(_not_unremarkable(row))
        seen = row["last_30_min_seen_fraction"]
        if seen is None or seen < least:
            found.append(f"less than {100 * least:.0f} % of the last 30 minutes seen")
        if row["open_fall_at_end"]:
            found.append("a fall that was still going on at the end")
        if with_outcome and not good_recorded_outcome(row, rules):
            found.append("no good outcome on record")
    return list(dict.fromkeys(found))


def _not_unremarkable(row: Record) -> str:
    if row["tracing"] != "read":
        return "a tracing that was not read"
    if row["concern_episodes"]:
        return "concerns, none of them late or unanswered"
    return "too little of the tracing seen"


def draw_controls(candidates: Mapping[str, Sequence[str]], options: FindOptions) -> list[str]:
    """A random sample of each month's candidates; the same month, cases and seed give the same sample."""
    drawn: list[str] = []
    for month in sorted(candidates):
        chance = random.Random(f"{options.controls_seed}/{month}")
        cases = sorted(candidates[month])
        drawn += sorted(chance.sample(cases, min(options.controls_per_month, len(cases))))
    return drawn

"""What do databases say, side by side? One table of figures of each, older schemas included.

    python -m tests.benchmarks.figures BEFORE.duckdb AFTER.duckdb
    python -m tests.benchmarks.figures --chance AFTER.duckdb

Printed: minutes of each category under each standard with the share not assessable; concern episodes per trigger and
status; the share in time, beside chance where it is stored; of how many clocks unanswered ones are late; the list of
`find` and its scores; the last point of each monthly measure. The last two need this program's schema.

With `--chance`: every labour with a concern gets position changes at random times (mean 30 min, blind to the tracing)
in place of its own events, and the clock judges the stored episodes again: the share of severe concerns in time should
be no more than 25 %.
"""

import sys
from collections import Counter, defaultdict
from pathlib import Path
from typing import Any

import duckdb
import numpy as np

from audit.questions import cases_to_discuss, trends
from audit.response.responses import labour_of, respond
from audit.response.types import CareEvent, Episode
from audit.settings import load_settings
from audit.store import database

SETTINGS = load_settings()
ANSWERABLE = ("in_time", "late", "none_recorded")


def tell(text: str) -> None:
    print(text)


def rows(con: duckdb.DuckDBPyConnection, sql: str) -> list[tuple[Any, ...]]:
    """The rows, or none where the database lacks what is asked for."""
    try:
        return con.execute(sql).fetchall()
    except duckdb.Error:
        return []


def figures(con: duckdb.DuckDBPyConnection) -> dict[str, str]:
    """Figures that need no program, by name."""
    found: dict[str, str] = {}
    minutes: dict[str, Counter[str]] = defaultdict(Counter)
    for standard, category, count in rows(
        con, "select standard, category, count(*) from minute_categories group by 1, 2 order by 1, 2"
    ):
        minutes[standard][category] = count
    for standard, counts in minutes.items():
        for category, count in counts.items():
            found[f"minutes {standard} {category}"] = f"{count:,} ({100 * count / counts.total():.1f} %)"
    statuses: dict[str, Counter[str]] = defaultdict(Counter)
    for name, status, count in rows(
        con, "select standard || ' ' || trigger, status, count(*) from responses group by 1, 2 order by 1, 2"
    ):
        statuses[name][status] = count
        statuses["all"][status] += count
    letters = rows(con, "select standard || ' ' || trigger, chance_statuses from responses")
    for name, counts in statuses.items():
        told = ", ".join(f"{status} {count}" for status, count in counts.most_common())
        due = sum(counts[status] for status in ANSWERABLE)
        share = f"; in time {100 * counts['in_time'] / due:.0f} % of {due} answered or due" if due else ""
        drawn = "".join(text or "" for one, text in letters if name in ("all", one))
        chance = sum(map(drawn.count, "iln"))
        beside = f", by chance {100 * drawn.count('i') / chance:.0f} %" if chance else ""
        found[f"episodes {name}"] = f"{counts.total()}: {told}{share}{beside}"
    lasted = rows(
        con, "select median(end_s - recognisable_s) / 60, max(end_s - recognisable_s) / 60 from concern_episodes"
    )
    if lasted and lasted[0][0] is not None:
        found["minutes from recognition to end"] = f"median {lasted[0][0]:.1f}, longest {lasted[0][1]:.0f}"
    votes = Counter(
        f"{late} of {of}"
        for late, of in rows(con, "select count(*) filter (where late), count(*) from votes group by episode_id")
    )
    former = Counter(
        f"{late} of {of}"
        for late, of in rows(
            con,
            "select count(*) filter (where verdict = 'late'), count(*) filter (where applies) from clocks"
            " group by case_id, fetus",
        )
    )
    for name, counts in (("late under, episodes", votes), ("late under, cases (former count)", former)):
        if counts:
            found[name] = ", ".join(f"{key}: {count}" for key, count in sorted(counts.items()))
    return found


def of_the_program(file: Path) -> dict[str, str]:
    """Figures that this program's questions give; nothing for a database of another schema."""
    try:
        with database.open_for_reading(file) as con:
            listed = cases_to_discuss.document(con, SETTINGS)
            measures = trends.document(con, SETTINGS)["measures"]
    except Exception as error:  # an older schema: said, not hidden
        return {"find and trends": f"not asked: {type(error).__name__}"}
    scores = [case["score"] for case in listed["cases"]]
    found = {"find": f"{len(scores)} of {listed['considered']} cases, {len(listed['controls'])} controls"}
    if scores:
        quartiles = ", ".join(f"{value:.1f}" for value in np.percentile(scores, [0, 25, 50, 75, 100]))
        found["find scores, lowest to highest by quarters"] = quartiles
    kinds = Counter(reason["kind"] for case in listed["cases"] for reason in case["reasons"])
    found["find reasons"] = ", ".join(f"{kind} {count}" for kind, count in kinds.most_common())
    for measure in measures:
        known = [point for point in measure["points"] if point["value"] is not None]
        if known:
            found[f"trend {measure['name']}"] = f"{known[-1]['period']}: {known[-1]['value']:.3g} {measure['unit']}"
    return found


def random_position_changes(con: duckdb.DuckDBPyConnection, seed: int = 1, mean_minutes: float = 30.0) -> None:
    """Print the share in time of stored concerns when every labour's record is position changes at random times."""
    labours: dict[tuple[str, str], list[Episode]] = defaultdict(list)
    columns = "case_id, fetus, standard, trigger, pattern_start_s, recognisable_s, end_s, open_end"
    for case_id, fetus, *episode in rows(con, f"select {columns} from concern_episodes order by all"):
        labours[case_id, fetus].append(Episode(*episode))
    spans = {(case_id, fetus): end for case_id, fetus, end in rows(
        con, "select case_id, fetus, start_s + duration_s from tracing_states")}  # fmt: skip
    rng = np.random.default_rng(seed)
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for key, episodes in labours.items():
        end_s = spans.get(key, max(episode.end_s for episode in episodes))
        at_s = np.cumsum(rng.exponential(60.0 * mean_minutes, size=int(end_s / 60.0) + 10))
        events = [CareEvent(float(at), "position_change") for at in at_s[at_s < end_s]]
        found = respond(
            episodes,
            labour_of(
                events,
                birth_s=end_s,
                second_stage_s=None,
                mode_of_birth=None,
                tracing_end_s=end_s,
                events_recorded=True,
                settings=SETTINGS.response,
            ),
        )
        for response in found:
            severe = "severe" if response.decided_by == "escalation" else "milder"
            counts[f"{response.standard} {response.trigger}"][response.status] += 1
            counts[f"all {severe}"][response.status] += 1
    for name, each in sorted(counts.items()):
        due = sum(each[status] for status in ANSWERABLE)
        tell(f"{name:<46} {each.total():>5} episodes, in time {each['in_time']:>4} of {due} answered or due"
             f" ({100 * each['in_time'] / max(due, 1):.0f} %)")  # fmt: skip


def main(arguments: list[str]) -> None:
    files = [Path(name) for name in arguments if name != "--chance"]
    if "--chance" in arguments:
        for file in files:
            with duckdb.connect(str(file), read_only=True) as con:
                tell(str(file))
                random_position_changes(con)
        return
    found = []
    for file in files:
        with duckdb.connect(str(file), read_only=True) as con:
            own = figures(con)
        found.append(own | of_the_program(file))
    for name in dict.fromkeys(key for one in found for key in one):
        tell(f"{name}")
        for file, one in zip(files, found, strict=True):
            tell(f"    {file.name if len(files) == 1 else file}: {one.get(name, '-')}")


if __name__ == "__main__":
    main(sys.argv[1:])

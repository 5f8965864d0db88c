"""Two sanity tables of the minute categories of a database: how often each category, and how much is not assessable.

    python -m tests.benchmarks.category_shares BEFORE.duckdb AFTER.duckdb

Prints markdown for DEVELOPERS.md, one row a standard and database. Beside them for the eye: in one cohort of term
labours category I was seen 77.9 %, II 22 % and III 0.004 % of the time (Jackson, by way of a review); the open
recordings are the last 90 minutes before birth and hold eight times as many acidotic newborns, so more of II is right.
"""

import sys
from pathlib import Path

import duckdb

MILDEST = ("I", "normal")
MIDDLE = ("II", "suspicious")
WORST = ("III", "pathological")

SHARES = """
select
    standard,
    count(*) as minutes,
    count(*) filter (category in ($mild_a, $mild_b)) / count(*) as mildest,
    count(*) filter (category in ($mid_a, $mid_b)) / count(*) as middle,
    count(*) filter (category in ($worst_a, $worst_b)) / count(*) as worst,
    count(*) filter (category = 'not assessable') / count(*) as refused,
    count(*) filter (category <> 'not assessable' and list_any_value(list_filter(
        reasons, lambda words: words like 'cannot say%')) is not null) / count(*) as unsaid,
    count(*) filter (list_any_value(list_filter(reasons, lambda words: words like '%hinges on%')) is not null)
        / count(*) as hinging
from minute_categories group by standard order by standard
"""

LAST_HALF_HOUR = """
with last as (
    select *, max(at_s) over (partition by case_id, fetus, standard) as end_s from minute_categories
),
each_tracing as (
    select standard, case_id, fetus, count(*) filter (category = 'not assessable') / count(*) as refused
    from last where at_s > end_s - 1800 group by all
)
select standard, count(*) as tracings, count(*) filter (refused >= 0.5) as half_hidden
from each_tracing group by standard order by standard
"""


def print_tables(files: list[Path]) -> None:
    """Both tables, a row for each standard and file."""
    words = {f"{name}_{letter}": word for name, both in (("mild", MILDEST), ("mid", MIDDLE), ("worst", WORST))
             for letter, word in zip("ab", both, strict=True)}  # fmt: skip
    found = []
    for file in files:
        with duckdb.connect(str(file), read_only=True) as con:
            found.append((file.stem, con.execute(SHARES, words).fetchall(), con.execute(LAST_HALF_HOUR).fetchall()))
    print("| database | standard | minutes | I / normal | II / suspicious | III / pathological |")
    print("| --- | --- | --- | --- | --- | --- |")
    for name, shares, _ in found:
        for standard, minutes, mildest, middle, worst, *_ in shares:
            print(f"| {name} | {standard} | {minutes:,} | {mildest:.1%} | {middle:.1%} | {worst:.1%} |")
    print()
    print("| database | standard | not assessable | 'cannot say' | hinges on a limit | last 30 min half hidden |")
    print("| --- | --- | --- | --- | --- | --- |")
    for name, shares, hidden in found:
        for (standard, _, _, _, _, refused, unsaid, hinging), (_, tracings, half) in zip(shares, hidden, strict=True):
            rest = f"{unsaid:.1%} | {hinging:.1%} | {half} of {tracings} tracings |"
            print(f"| {name} | {standard} | {refused:.1%} | {rest}")


if __name__ == "__main__":
    print_tables([Path(name) for name in sys.argv[1:]])

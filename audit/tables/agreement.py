"""Tables of reader agreement."""

from collections.abc import Mapping
from typing import Any

from audit.charts.agreement import PAIR_MEASURES
from audit.tables.case import READS, from_to
from audit.tables.definition import Column, Kind, Table, TableDefinition, numbers, shares, texts
from audit.tables.episodes import CASE, FETUS

_INTERVAL = numbers(2, low="95 % from", high="95 % to")
_REMARK = Column("note", "Remark")
_WINDOWS = numbers(windows="Windows by both")
_READERS = (*texts(reader_a="Reader", reader_b="And reader"), *_WINDOWS)
_SHORT = {
    "weighted_kappa_linear": "Linear",
    "weighted_kappa_quadratic": "Quadratic",
    "kappa": "Kappa",
    "agreement": "Agreement",
}
_FIGURES = tuple(
    Column(name, text[:1].upper() + text[1:], Kind.NUMBER, 2, short=_SHORT[name])
    for name, text in PAIR_MEASURES.items()
)

MEASURES = TableDefinition(
    "agreement",
    (
        *texts(Kind.CODE, name="Measure"),
        Column("category", "Category"),
        *numbers(2, estimate="Estimate"),
        *_INTERVAL,
        *numbers(n="Windows"),
        *texts(band="In words"),
        _REMARK,
    ),
    title="Agreement of the readers",
    empty="There is nothing to compare yet.",
)
MEASURES_ON_PAPER = MEASURES.only("name", "category", "estimate", "low", "high", "n", "note")
PAIRS = TableDefinition(
    "pairs",
    (
        *_READERS,
        *_FIGURES,
        *numbers(
            2, prevalence_index="Prevalence index", bias_index="Bias index", pabak="Prevalence- and bias-adjusted"
        ),
        _REMARK,
    ),
    empty="No pair.",
    first_columns=("reader_a", "reader_b", "windows", "weighted_kappa_linear", "kappa", "agreement"),
)
PAIRS_ON_TERMINAL = PAIRS.only("reader_a", "reader_b", "windows", *PAIR_MEASURES)
REPEATS = TableDefinition(
    "repeat_reads",
    (Column("reader", "Reader"), *numbers(windows="Read twice"), *_FIGURES, _REMARK),
    empty="No strip was read twice by the same reader.",
)
COMPUTED = TableDefinition("computed", (Column("reader", "Reader"), *_WINDOWS, *_FIGURES, _REMARK))
LIMITS = TableDefinition(
    "limits_of_agreement",
    (
        *_READERS,
        *numbers(1, mean_difference="Mean difference", low="Limits from", high="Limits to"),
        Column("unit", "Unit"),
        _REMARK,
    ),
    empty="No pair has read the same windows.",
)
PUBLISHED = TableDefinition(
    "agreement_published",
    (
        *texts(study="Study", setting="Setting", part="Part", statistic="Statistic"),
        *numbers(2, value="Value"),
        *_INTERVAL,
        Column("reference", "Source"),
    ),
    title="Published figures",
    empty="No published figure for this item is known to the program.",
)
APART = TableDefinition(
    "windows_apart",
    (
        CASE, Column("window", "Window", value=from_to), *numbers(reads="Reads"), *numbers(2, score="Apart"),
        Column("answers", "Answers"),
    ),
)  # fmt: skip


def two_answers(first: str, second: str) -> TableDefinition:
    """The windows behind a figure of two columns of answers; `first` and `second` are whose they are."""
    return TableDefinition(
        "windows_behind",
        (
            CASE, FETUS, Column("window", "Window", value=from_to), Column("first", first), Column("second", second),
            Column("same", "Same", Kind.YES_NO),
        ),
        empty="No window.",
    )  # fmt: skip


READS_OF_WINDOW = READS.only(
    "reader", "category", "baseline_bpm", "variability", "accelerations", "decelerations", "contractions_per_10_min",
    "would_act", name="reads_of_window",
)  # fmt: skip
LEANING = TableDefinition("leaning", (*texts(who="Who", category="Category"), *shares(share="Share, %")))


def months_definition(measure: str) -> TableDefinition:
    """Agreement month by month; `measure` is the heading of the estimate."""
    return TableDefinition(
        "agreement_months",
        (
            Column("period", "Month", width="small"),
            *numbers(2, estimate=measure),
            *_INTERVAL,
            *numbers(windows="Windows", readers="Readers"),
            _REMARK,
        ),
    )


def confusion_table(confusion: Mapping[str, Any]) -> Table:
    """The readers' consensus in rows, the computed reading in columns."""
    names = confusion["categories"]
    counts = numbers(**{name: f"Computed {name}" for name in names})
    definition = TableDefinition("confusion", (Column(" ", "Consensus"), *counts))
    lines = zip(names, confusion["counts"], strict=True)
    return definition.filled({" ": name} | dict(zip(names, line, strict=True)) for name, line in lines)

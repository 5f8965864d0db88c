"""From the stored reads and the computed windows to the agreement figures: one place for the command, page and pack."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from audit.agreement import behind
from audit.agreement.behind import TwoAnswers
from audit.agreement.document import agreement_document
from audit.agreement.options import AgreementOptions
from audit.agreement.pairs import MOST_PAIRS as MOST_WORKED_OUT
from audit.agreement.readers import (
    DisclosureShift,
    Leaning,
    MonthlyAgreement,
    WindowDisagreement,
    disagreements,
    disclosure_shift,
    leanings,
    monthly_agreement,
)
from audit.agreement.reads import ReadsTable, WindowKey, arrange, codes_of, window_key
from audit.agreement.scales import CATEGORIES, ITEMS, NUMBER_UNITS, scale_for
from audit.errors import one_of
from audit.store import database

DEFAULT_STANDARD = "figo-2015"
DEFAULT_ITEM = "category"
MOST_PAIRS = 200  # pairs on the page and the terminal: 20 readers, each beside each, are 190; our choice
_NOT_COMPUTED = ("would_act",)  # the program reads tracings; it never says what to do


@dataclass(frozen=True)
class Question:
    """One item under one standard, in one month or (None) in all."""

    standard: str
    item: str = DEFAULT_ITEM
    period: str | None = None


def standards_read(con: database.Connection, period: str | None = None) -> list[str]:
    """Standards that readers applied, the most used first."""
    return [str(name) for name in database.rows(con, "agreement/standards", {"period": period})["standard"]]


def question(
    con: database.Connection, *, standard: str | None = None, item: str | None = None, period: str | None = None
) -> Question:
    """A question with what was left open filled in: the most used standard, and the category.

    Raises UsageError for a standard or item that does not exist.
    """
    one_of("standard", standard, CATEGORIES)
    one_of("item", item, ITEMS)
    used = [] if standard else standards_read(con, period)
    return Question(standard or next(iter(used), DEFAULT_STANDARD), item or DEFAULT_ITEM, period)


def document(con: database.Connection, asked: Question, options: AgreementOptions) -> dict[str, Any]:
    """The document of the `agreement` command; figures that cannot be estimated are None with a note.

    `reads_outcome_not_stated` counts the reads for which nobody said whether the outcome was hidden, and
    `reads_blind_as_file_says` those that a file alone calls blind; they are used, those made with the outcome known are
    not. `outcome_said` says it.
    """
    rows = _reads(con, asked)
    found = agreement_document(
        _table(rows, asked.item),
        item=asked.item,
        standard=asked.standard,
        period=asked.period,
        options=options,
        computed=_computed(con, asked),
    )
    found["reads"] = len(rows)
    not_stated = rows["outcome_hidden"].isna()
    found["reads_outcome_not_stated"] = int(not_stated.sum())
    found["reads_blind_as_file_says"] = int((rows["by_file"].astype(bool) & ~not_stated).sum())
    found["outcome_said"] = _outcome_said(found)
    return found


def _outcome_said(found: Mapping[str, Any]) -> str | None:
    by_file, not_stated = found["reads_blind_as_file_says"], found["reads_outcome_not_stated"]
    parts = [f"{by_file} of {found['reads']} came by file and are blind as the file says"] if by_file else []
    parts += [f"for {not_stated} nobody stated whether the outcome was hidden"] if not_stated else []
    return f"Reads: {'; '.join(parts)}; they are used. Reads made with the outcome known are not." if parts else None


def reads_and_computed(con: database.Connection, asked: Question) -> tuple[ReadsTable, Mapping[WindowKey, Any]]:
    """People's reads made without the outcome, and the computed reading of the same windows."""
    return _table(_reads(con, asked), asked.item), _computed(con, asked)


def first_pairs(rows: Sequence[Mapping[str, Any]]) -> tuple[list[Mapping[str, Any]], str | None]:
    """The rows of pairs that a page or terminal shows, and a sentence about the rest; None where all are shown.

    `rows`: `pairs` or `limits_of_agreement` of a document; each has `windows`.
    Gives shown: all rows as they stand, or of more than MOST_PAIRS those with the most windows read by both, then by
    name. sentence: how many more there are, and where.
    """
    if len(rows) <= MOST_PAIRS:
        return list(rows), None
    shown = sorted(rows, key=lambda row: (-row["windows"], row["reader_a"], row["reader_b"]))[:MOST_PAIRS]
    return shown, (
        f"The {MOST_PAIRS} pairs with the most windows read by both are shown; {len(rows) - MOST_PAIRS} more are in"
        " the document of `agreement --json`."
    )


def pairs_apart(found: Mapping[str, Any]) -> str | None:
    """How many pairs of readers a document has no row for, and why; None where every pair has one."""
    count, left_out = found["pairs_without_common_window"], found["pairs_left_out"]
    says = []
    if count:
        says.append(f"{count} {'pair' if count == 1 else 'pairs'} of readers read no window in common and have no row.")
    if left_out:
        says.append(f"{left_out} more met, but only the {MOST_WORKED_OUT} with the most common windows are worked out.")
    return " ".join(says) or None


def reader_leanings(con: database.Connection, asked: Question, options: AgreementOptions) -> list[Leaning]:
    """How each reader uses the answers beside the consensus of the others; empty for measured numbers."""
    if asked.item in NUMBER_UNITS:
        return []
    table = _table(_reads(con, asked), asked.item)
    return leanings(arrange(table, scale_for(asked.item, asked.standard, table.value)), options)


def windows_apart(con: database.Connection, asked: Question) -> list[WindowDisagreement]:
    """The windows on which readers differ, those furthest apart first."""
    table = _table(_reads(con, asked), asked.item)
    return disagreements(arrange(table, scale_for(asked.item, asked.standard, table.value)))


def windows_behind(
    con: database.Connection, asked: Question, options: AgreementOptions, figure: str, readers: Sequence[str] = ()
) -> list[TwoAnswers]:
    """The windows that a figure of the document rests on, each with its two answers, those that differ most first.

    `figure`: `pair` of two readers, `repeats` of one, `reader` beside the consensus of the others, `computed` beside
    that of all, or `hindsight`. `readers`: their codes. Of a reader who read nothing there is none.
    """
    if figure == "hindsight":
        both_ways = _both_ways(con, asked)
        scale = scale_for(asked.item, asked.standard, [answer for table in both_ways for answer in table.value])
        return behind.of_disclosure(*(arrange(table, scale) for table in both_ways))
    reads, ours = reads_and_computed(con, asked)
    grid = arrange(reads, scale_for(asked.item, asked.standard, [*reads.value, *ours.values()]))
    if figure == "computed":
        return behind.of_computed(grid, codes_of(ours, grid), options)
    if not set(readers) <= set(grid.repeats if figure == "repeats" else grid.readers):
        return []
    if figure == "pair":
        return behind.of_pair(grid, *readers)
    [reader] = readers
    return behind.of_repeats(grid, reader) if figure == "repeats" else behind.of_reader(grid, reader, options)


def reads_of_window(con: database.Connection, asked: Question, window: WindowKey) -> pd.DataFrame:
    """Every read of one window side by side, people's and the computed one, one row each."""
    rows = _reads(con, asked)
    rows = rows[[window_key(*key) == window for key in _keys(rows)]]
    ours = database.rows(con, "agreement/computed", {"period": asked.period, "standard": asked.standard})
    ours = ours[[window_key(*key) == window for key in _keys(ours)]].assign(reader="computed")
    columns = ["reader", "occasion", *ITEMS]
    return pd.concat([rows, ours], ignore_index=True).reindex(columns=columns)


def by_month(con: database.Connection, asked: Question, options: AgreementOptions) -> list[MonthlyAgreement]:
    """Every figure over all readers month by month, whatever month is asked for."""
    rows = _reads(con, Question(asked.standard, asked.item))
    known = rows[rows["period"].notna()]
    period_of_case = dict(zip(known["case_id"], known["period"], strict=True))
    return monthly_agreement(
        _table(known, asked.item), period_of_case, item=asked.item, standard=asked.standard, options=options
    )


def hindsight(con: database.Connection, asked: Question) -> DisclosureShift:
    """Whether the same readers read the same windows otherwise once they knew the outcome.

    Of reads made in this program alone, which knows when an outcome was opened; a file only says so.
    """
    shift = disclosure_shift(*_both_ways(con, asked), item=asked.item, standard=asked.standard)
    left_out = int(_reads(con, asked, outcome_known=True)["by_file"].sum())
    if not left_out or shift.pairs:
        return shift
    told = f"{left_out} that came by file are left out: when their readers knew it only the file says."
    return replace(shift, note=f"{shift.note} {told}")


def _both_ways(con: database.Connection, asked: Question) -> tuple[ReadsTable, ReadsTable]:
    """The reads made in this program without the outcome, and those made knowing it."""
    reads = [_reads(con, asked, outcome_known=value) for value in (False, True)]
    hidden, known = (_table(rows[~rows["by_file"].astype(bool)], asked.item) for rows in reads)
    return hidden, known


def _reads(con: database.Connection, asked: Question, *, outcome_known: bool = False) -> pd.DataFrame:
    params = {"period": asked.period, "standard": asked.standard, "outcome_known": outcome_known}
    return database.rows(con, "agreement/reads", params)


def _table(rows: pd.DataFrame, item: str) -> ReadsTable:
    return ReadsTable(
        **{name: rows[name].tolist() for name in ("case_id", "fetus", "start_s", "end_s", "reader", "occasion")},
        value=_values(rows[item]),
    )


def _keys(rows: pd.DataFrame) -> list[tuple[Any, ...]]:
    return list(zip(*(rows[name].tolist() for name in ("case_id", "fetus", "start_s", "end_s")), strict=True))


def _computed(con: database.Connection, asked: Question) -> Mapping[WindowKey, Any]:
    if asked.item in _NOT_COMPUTED:
        return {}
    rows = database.rows(con, "agreement/computed", {"period": asked.period, "standard": asked.standard})
    return {window_key(*key): value for key, value in zip(_keys(rows), _values(rows[asked.item]), strict=True)}


def _values(column: pd.Series) -> list[Any]:
    """The answers of a column; None where there is none."""
    found: list[Any] = column.astype(object).where(column.notna(), None).tolist()
    return found

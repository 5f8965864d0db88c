"""Parts of the Data quality page."""

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd
import streamlit as st

from audit.people.permissions import Deed
from audit.questions import counted
from audit.tables import cases as tables
from audit.tables.definition import Table
from dashboards import addressed, cases_behind, data, layout, session
from dashboards.keys import Key
from dashboards.month import case_strip

MOST_ROWS = 2_000
EVERY_FILE = "*"


def choose_outcome() -> bool:
    """Whether remarks on outcomes are shown, which quote values; off until somebody who may see them asks."""
    if not session.may(Deed.SEE_OUTCOMES):
        return False
    return bool(st.toggle("Show remarks on newborns' outcomes", key=Key.QUALITY_OUTCOME))


def which_files(period: str) -> None:
    """Which files a month has."""
    if period != data.ALL_MONTHS:
        st.caption(
            f"Files that brought something of {layout.month_words(period)}, files of cases, and those of which nothing"
            " is stored. All months shows every file."
        )


def of_files(found: Table, files: Sequence[Mapping[Any, Any]], period: str) -> None:
    """A table of files, in the order of `files`; a row leads to the cases of which it brought something."""
    if files:
        st.caption("Choose a row to see the cases of which a file brought something; of a file of cases, those of all.")
    cases_behind.table(found, [_cases_of(row["source"], row["kind"], period) for row in files])


def _cases_of(source: str, kind: str | None, period: str) -> dict[str, str]:
    return cases_behind.address(period, file=counted.file_words(source, kind))


def rejects(reasons: pd.DataFrame, rows: pd.DataFrame, files: pd.DataFrame, period: str) -> None:
    """Which columns bring most rejects, which leads to these, and every reject, which leads to its file's cases."""
    if rows.empty:
        st.info("No row was kept out and none was stored with a remark.")
        return
    st.caption("Choose rows to list their remarks below, and one of those to see the cases that its file brought.")
    picked = layout.table(
        tables.REJECT_REASONS.filled(reasons), on_select="rerun", selection_mode="multi-row", key="reject_reasons"
    )
    if picked is not None and picked.selection.rows:
        these = reasons.iloc[picked.selection.rows][["severity", "column_name"]]
        rows = rows.merge(these, on=["severity", "column_name"])
    sources = [EVERY_FILE, *sorted(rows["source"].unique())]
    source = st.selectbox(
        "File", sources, format_func=lambda name: "all files" if name == EVERY_FILE else name,
        **addressed.led_by_address(Key.QUALITY_SOURCE, sources, EVERY_FILE),
    )  # fmt: skip
    chosen = rows if source == EVERY_FILE else rows[rows["source"] == source]
    if len(chosen) > MOST_ROWS:
        st.caption(f"The first {MOST_ROWS:,} of {len(chosen):,} are listed; the download has them all.")
    kinds = dict(zip(files["source"], files["kind"], strict=True))
    to = [_cases_of(source, kinds.get(source), period) for source in chosen["source"]]
    cases_behind.table(tables.REJECTS.filled(chosen), to, most=MOST_ROWS)


def signal_behind(tracings: pd.DataFrame, period: str) -> None:
    """The lists of cases behind the bars: of each that holds a tracing."""
    shares = [None if pd.isna(share) else float(share) for share in tracings["seen_fraction"]]
    named = dict.fromkeys(map(counted.signal_words, sorted(shares, key=lambda share: 2.0 if share is None else share)))
    cases_behind.links([(name, cases_behind.address(period, counted=name)) for name in named])


def strip_of_a_tracing(tracings: pd.DataFrame) -> None:
    """The strip of the tracing that is chosen, to see where its signal was lost; none before that."""
    seen = {f"{row.case_id}.{row.fetus}": row.seen_fraction for row in tracings.itertuples()}

    def words(tracing: str) -> str:
        share = "not read" if pd.isna(seen[tracing]) else f"signal used {seen[tracing]:.0%} of the time"
        return f"{', fetus '.join(tracing.rsplit('.', 1))}: {share}"

    chosen = st.selectbox(
        "Strip of a tracing, least signal first", list(seen), index=None, format_func=layout.own(words),
        placeholder="choose a tracing", **addressed.led_by_address(Key.QUALITY_STRIP, list(seen), None),
    )  # fmt: skip
    case = None if chosen is None else data.case_file(*chosen.rsplit(".", 1))
    if case is not None:
        st.caption("Findings show what was not used, and why, in a lane below the heart rate.")
        case_strip.strip(case, layout.standard_chosen(), case_strip.QUALITY)


def failed(tracings: pd.DataFrame, stale: pd.DataFrame) -> None:
    """Readings that failed, and readings that are missing or out of date."""
    st.header("Failed readings", anchor=False)
    st.caption("What an earlier analysis found of such a tracing stays and is shown, with the run that found it.")
    broken = tracings[tracings["state"] == "failed"] if not tracings.empty else tracings
    cases_behind.cases(tables.FAILED.filled(broken), broken.to_dict("records"))
    st.header("Missing or out of date", anchor=False)
    st.caption(
        "Run `intrapartum-audit analyse` to read these again. Figures on other pages still show the old reading."
    )
    cases_behind.cases(tables.STALE.filled(stale), stale.to_dict("records"))

"""Parts of the pages about a month: figures, the first cases, and the headings of their tables."""

from typing import Any

import pandas as pd
import streamlit as st

from audit import words
from audit.people.permissions import Deed
from audit.questions import chance, counted, month, month_list
from audit.questions.coverage import switched_words
from audit.questions.hidden import of_month
from audit.tables.bedside import COVERAGE
from audit.tables.cases import CATEGORIES, MISSING
from dashboards import cases_behind, layout, register, session

FIRST = 5
OUTCOMES_HIDDEN = (
    "Listed without the outcomes, whatever they are. Cases to discuss can show them: deaths, cooling and encephalopathy"
    " stand first then."
)


def figures(counts: Any, found: dict[str, Any], own: pd.DataFrame) -> None:
    """The month in five figures, each with its denominator."""
    boxes = st.columns(5)
    boxes[0].metric("Labours", f"{counts['labours']:.0f}")
    unread = counts["never_read"] + counts["failed"]
    boxes[1].metric(
        "Tracings",
        f"{counts['tracings']:.0f}",
        help=f"{counts['tracing_hours']:.0f} hours read; {unread:.0f} tracings not read or failed",
    )
    seen = "not known" if pd.isna(counts["seen_fraction"]) else f"{counts['seen_fraction']:.0%}"
    boxes[2].metric("Signal used", seen, help="Share of the hours read with accepted fetal heart rate")
    late = own[own["status"].isin(["late", "none_recorded"])]
    every = own["episodes"].sum()
    boxes[3].metric(
        "Late or no response",
        f"{late['episodes'].sum():.0f} of {every:.0f}" if every else "none",
        help="Concern episodes under the chosen standard, answered late or without a recorded response",
    )
    boxes[4].metric("Cases to discuss", f"{len(found['cases'])} of {found['considered']}")


def merged(counts: Any) -> bool:
    """Say where the labours of merged summaries are, which nobody can open here; whether there are no others."""
    if counts["merged_labours"]:
        st.info(
            f"{counts['merged_labours']:.0f} labours of merged summaries are in none of these figures: Response times,"
            " Reader agreement and Trends show them, without a case to open."
        )
    return bool(counts["merged_labours"]) and not counts["labours"]


def behind(counts: Any, period: str, standard: str) -> None:
    """The lists of cases behind the figures."""
    named = [
        (f"{counts['labours']:.0f} labours", {}),
        ("with a concern", {"trigger": month_list.ANY}),
        ("late or no response", {"answer": month_list.DELAYED_WORDS}),
    ]
    cases_behind.links([(label, cases_behind.address(period, standard, **to)) for label, to in named])


def answers_behind(own: pd.DataFrame, period: str, standard: str) -> None:
    """The lists of cases behind the bars."""
    statuses = [words.status_words(status) for status in own["status"]]
    cases_behind.links([(status, cases_behind.address(period, standard, answer=status)) for status in statuses])


def hidden_behind(hidden: pd.DataFrame, period: str, standard: str) -> None:
    """What is hidden of the month's tracings, and under the standard chosen the cases behind it."""
    st.caption(of_month(hidden))
    if (hidden[hidden["standard"] == standard]["tracings_half_hidden"] > 0).any():
        cases_behind.links([(counted.HALF_HIDDEN, cases_behind.address(period, standard, counted=counted.HALF_HIDDEN))])


def minutes_behind(categories: pd.DataFrame, period: str) -> None:
    """The minutes in each category; a row leads to the cases with any such minute."""
    st.caption("Choose a row to see the cases with any such minute.")
    to = [
        cases_behind.address(period, row["standard"], any_category=row["category"])
        for row in categories.to_dict("records")
    ]
    cases_behind.table(CATEGORIES.filled(categories), to)


def missing(counts: dict[str, Any], period: str) -> None:
    """What the month lacks; a row leads to the cases that lack it."""
    rows = month.missing_rows(counts)
    st.caption("Choose a row to see which cases lack it.")
    cases_behind.table(MISSING.filled(rows), [cases_behind.address(period, lacks=row["item"]) for row in rows])


def coverage(found: dict[str, Any], period: str) -> None:
    """How much of the unit's births was imported, their shares, and where auscultation ended; of what there is."""
    if (switched := switched_words(found)) is not None:
        st.caption(layout.plain(switched))
        reasons = [counted.auscultated(row["reason"]) for row in found["switched"]]
        named = [("all of them", counted.AUSCULTATED), *((name.split(": ")[1], name) for name in reasons)]
        cases_behind.links([(label, cases_behind.address(period, counted=name)) for label, name in named])
    if found["sentence"] is None:
        return
    st.caption(f"Of the unit's own counts: {found['sentence']}")
    cases_behind.links([("the labours imported", cases_behind.address(period))])
    if found["shares"]:
        with st.expander("Shares of the unit's births"):
            st.caption("The unit's own counts: of a birth that was not imported there is no case to open.")
            layout.table(COVERAGE.filled(found["shares"]))


def by_chance(episodes: list[dict[str, Any]]) -> None:
    """The share in time by the deciding clock beside the share that chance gives."""
    st.caption(
        f"By the deciding clock: {chance.sentence(chance.of(episodes))}. By chance: each labour's acts moved in time"
        " inside the labour, 95 % of the shifts in brackets; a share no better says nothing of how fast concerns are"
        " answered."
    )


def first_cases(found: dict[str, Any]) -> None:
    """The cases with the highest scores, each one click away."""
    st.caption(OUTCOMES_HIDDEN if session.may(Deed.SEE_OUTCOMES) else "Listed without the outcomes, whatever they are.")
    if not found["cases"]:
        st.info("No case of this month reached the score from which cases are listed.")
        return
    for case in found["cases"][:FIRST]:
        link, reasons = st.columns([1, 4])
        with link:
            case_link(case["case_id"])
        texts = [layout.plain(reason["text"]) for reason in case["reasons"]]
        reasons.write(f"Score {case['score']:g}: {'; '.join(texts[:3])}")
    st.page_link(register.CASES_TO_DISCUSS.file, label=f"All cases to discuss ({len(found['cases'])})")


def case_link(case_id: str, label: str = "Open") -> None:
    """A link to the page of a case."""
    st.page_link(register.CASE.file, label=f"{label} {layout.plain(case_id)}", query_params={"case": case_id})

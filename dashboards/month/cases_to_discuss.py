"""Cases to discuss: which labours deserve the meeting's hour, with reasons; and every other one, with why not."""

import streamlit as st

from audit.questions import month
from audit.tables.cases import REASONS
from dashboards import bedside_data, cases_behind, data, layout
from dashboards.month import case_list_parts, cases_to_discuss_parts

layout.begin(
    "Cases to discuss",
    "Each case with its reasons and a score that adds up in the open. The score orders the list; it judges nobody.",
)
view, left, middle, right = st.columns([2, 2, 2, 3])
with view:
    every_case = case_list_parts.choose_view()
with left:
    period = layout.choose_month()
with middle:
    standard = layout.choose_standard() if every_case else None
with right:
    with_outcome = cases_to_discuss_parts.choose_outcome(period)
layout.shown(period, standard)
if standard is not None:
    case_list_parts.every_case(period, standard, with_outcome=with_outcome)
    st.stop()
found = data.discuss(period, with_outcome=with_outcome)
with middle:
    kinds = cases_to_discuss_parts.choose_kinds(found)
if found.get("note"):
    st.info(layout.plain(found["note"]))
st.write(f"**{len(found['cases'])}** of {found['considered']} cases are listed.")
cases_behind.links(cases_to_discuss_parts.other_lists(found, period), lead="Not listed here, each with why:")
cases_to_discuss_parts.cases(found, period, kinds)

cases_to_discuss_parts.also_to_learn_from(bedside_data.also_to_learn_from(period, with_outcome=with_outcome))
cases_to_discuss_parts.random_sample(period)
with st.expander("Every reason with its points, as a table"):
    reasons = month.reason_rows(found)
    cases_behind.cases(REASONS.filled(reasons), reasons)
st.header("Controls", anchor=False)
cases_to_discuss_parts.controls(found, period)

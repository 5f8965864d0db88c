"""Cases to discuss: which labours deserve the meeting's hour, each with its reasons, and the controls beside them."""

import streamlit as st

from audit.questions import month
from audit.tables.cases import LEFT_OUT, OTHERS, REASONS
from dashboards import bedside_data, data, layout
from dashboards.month import cases_to_discuss_parts

layout.begin(
    "Cases to discuss",
    "Each case with its reasons and a score that adds up in the open. The score orders the list; it judges nobody.",
)
left, middle, right = st.columns([2, 2, 3])
with left:
    period = layout.choose_month()
with middle:
    with_outcome = cases_to_discuss_parts.choose_outcome()
found = data.discuss(period, with_outcome=with_outcome)
with right:
    kinds = cases_to_discuss_parts.choose_kinds(found)
layout.shown(period)
st.write(
    f"**{len(found['cases'])}** of {found['considered']} cases are listed; {len(found['left_out'])} were left out and"
    f" {len(found['others'])} have nothing to discuss, or too little."
)
if found.get("note"):
    st.info(layout.plain(found["note"]))
cases_to_discuss_parts.cases(found, period, kinds)

cases_to_discuss_parts.also_to_learn_from(bedside_data.also_to_learn_from(period, with_outcome=with_outcome))
with st.expander("Every reason with its points, as a table"):
    layout.table(REASONS.filled(month.reason_rows(found)))
cases_to_discuss_parts.each_weighting(period, with_outcome=with_outcome)
st.subheader("Controls", anchor=False)
cases_to_discuss_parts.controls(found, period)
st.subheader("Left out", anchor=False)
st.caption("Cases whose tracing could not be judged and that have no other grave reason.")
layout.table(LEFT_OUT.filled(found["left_out"]))
st.subheader("All others", anchor=False)
st.caption("Every further case of the month, and why it is not listed above.")
layout.table(OTHERS.filled(found["others"]))

"""Cases to discuss: which labours deserve the meeting's hour, each with its reasons, and the controls beside them."""

import streamlit as st

from audit.questions import month
from audit.tables.cases import LEFT_OUT, REASONS
from dashboards import data, layout
from dashboards.month import cases_to_discuss_parts

layout.begin(
    "Cases to discuss",
    "Each case with its reasons and a score that adds up in the open. The score orders the list; it judges nobody.",
)
left, middle, right = st.columns([2, 2, 3])
with left:
    period = layout.choose_month()
found = data.discuss(period)
with middle:
    with_outcome = cases_to_discuss_parts.choose_outcome()
with right:
    kinds = cases_to_discuss_parts.choose_kinds(found)
layout.shown(period)
st.write(
    f"**{len(found['cases'])}** of {found['considered']} cases are listed; {found['unremarkable']} are unremarkable,"
    f" {len(found['left_out'])} could not be judged."
)
if found.get("note"):
    st.info(layout.plain(found["note"]))
cases_to_discuss_parts.cases(found, period, kinds, with_outcome=with_outcome)

with st.expander("Every reason with its points, as a table"):
    layout.table(REASONS.filled(month.reason_rows(found, with_outcome=with_outcome)))
st.subheader("Controls", anchor=False)
cases_to_discuss_parts.controls(found, period)
st.subheader("Left out", anchor=False)
st.caption("Cases whose tracing could not be judged and that have no other grave reason.")
layout.table(LEFT_OUT.filled(found["left_out"]))

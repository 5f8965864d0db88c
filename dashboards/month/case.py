"""Case: one labour's strip with what was found on it, the clock, the burden, the reads; the outcome when opened."""

import streamlit as st

from dashboards import data, layout
from dashboards.meeting import family_parts
from dashboards.month import bedside_parts, case_parts, case_print_parts, this_month_parts

left, middle, right = layout.begin_in_a_row("Case", [3, 2, 2])
cases = data.rows("case/list")
if cases.empty:
    if not this_month_parts.merged(data.rows("month/counts", period=data.ALL_MONTHS).iloc[0]):
        st.info(layout.NO_CASES)
    st.stop()
with left:
    case_id = case_parts.choose_case(cases)
with right:
    standard = layout.choose_standard(label="collapsed")
with middle:
    case = case_parts.choose_fetus(case_id)
if case is None:
    st.info("No tracing is stored for this case, so there is no strip to draw. Import its tracing file, then reload.")
    layout.shown(standard=standard)
    case_parts.outcome(case_id)
    st.stop()
case_parts.strip(case, standard)
case_parts.heading(case, standard)
case_parts.clock(case, standard)
bedside_parts.parts_of_case(case, standard)
case_parts.tables(case)
family_parts.of_case(case.facts.get("period"), case_id)
case_print_parts.print_case(case_id)
case_parts.outcome(case_id)

"""The unit: which settings are in force, and where they leave the published tables. Read only."""

import streamlit as st

from audit import words
from audit.people.permissions import Deed
from audit.questions import in_force
from audit.tables import in_force as tables
from dashboards import addressed, data, layout, session
from dashboards.keys import Key
from dashboards.over_time import people_parts, the_unit_parts

layout.begin("The unit", "Which settings are in force, and where they leave a published table.")
settings = data.settings()
layout.out_of_date(None)
the_unit_parts.hashes(settings)
tabs = ["The unit's own settings", "Standards", "Response clock", "Which cases are listed"]
tabs += ["People"] if session.may(Deed.KEEP_PEOPLE) else []
own, published, clock, weights, *people = st.tabs(tabs, **addressed.led_by_address(Key.UNIT_TAB, tabs, tabs[0]))
with own:
    st.caption(the_unit_parts.HOW_TO_CHANGE)
    layout.table(tables.OWN_SETTINGS.filled(in_force.own_settings(settings)))
with published:
    st.header("Departures", anchor=False)
    for line in in_force.departure_lines(settings):
        st.write(layout.plain(line))
    st.header("The whole table", anchor=False)
    standards = list(settings.of_standards)
    standard = st.selectbox(
        "Standard", standards, format_func=layout.own(words.standard_name),
        **addressed.led_by_address(Key.UNIT_STANDARD, standards, standards[0]),
    )  # fmt: skip
    st.caption(the_unit_parts.FROM_MEMORY)
    layout.table(tables.PUBLISHED_TABLE.filled(in_force.published_table(settings, standard)))
with clock:
    layout.table(tables.CLOCK_RULES.filled(in_force.clock_rules(settings)))
with weights:
    the_unit_parts.weightings()
for tab in people:
    with tab:
        people_parts.people()

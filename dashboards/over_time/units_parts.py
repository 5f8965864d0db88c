"""Parts of the Trends page: several units beside each other, where a database holds more than one."""

import streamlit as st

from audit.charts.control import funnel_chart, measure_title
from audit.tables import trends as tables
from dashboards import layout, unit_data


def between(standard: str, *, with_outcome: bool) -> None:
    """A funnel for each share, and the shares adjusted by case mix; nothing where there is one unit."""
    found = unit_data.beside(standard, with_outcome=with_outcome)
    if found is None:
        return
    st.header("Between units", anchor=False)
    named = "Each unit has a letter" if found["unit"] is None else f"{found['unit']} is named, the others have letters"
    st.caption(
        layout.plain(
            f"{named}; they stand in the order of their size. {found['units']} units, none of which leads to its cases."
        )
    )
    for measure in found["measures"]:
        title, funnel, adjusted = measure_title(measure["name"]), measure["funnel"], measure["adjusted"]
        st.markdown(f"**{title}**")
        st.caption(measure["says"])
        layout.drawn(funnel_chart, funnel, width_px=560, alt_text=f"{title} by unit")
        st.caption(layout.plain(funnel["note"]))
        layout.table(tables.funnel_table(funnel, f"units_{measure['name']}"))
        if adjusted is not None:
            with st.expander("Adjusted by case mix"):
                st.caption(layout.plain(adjusted["note"]))
                if adjusted["points"]:
                    st.caption(layout.plain(f"Case mix: {', '.join(adjusted['case_mix'])}."))
                    layout.table(tables.ADJUSTED.filled(adjusted["points"], name=f"adjusted_{measure['name']}"))

"""The few rules of style that the theme cannot express. Static text of ours; nothing imported ever comes here."""

import streamlit as st

_RULES = """
<style>
.st-key-strip_pane, .st-key-overview_pane { overflow-x: auto; overflow-y: hidden; }
.st-key-strip_pane [data-testid="stVegaLiteChart"], .st-key-strip_pane [data-testid="stFullScreenFrame"],
.st-key-strip_pane [data-testid="stElementContainer"] { overflow: visible !important; }
[data-testid="stMainBlockContainer"] { padding-top: 2.6rem; padding-bottom: 3rem;
  padding-left: 2rem; padding-right: 2rem; max-width: 1560px; }
[data-testid="stMetricValue"] { font-size: 1.7rem; }
[data-testid="stMetricValue"] * { white-space: normal !important; overflow: visible !important; }
[data-testid="stMain"] [data-testid="stPageLink-NavLink"] p { color: #0072B2; text-decoration: underline; }
[data-testid="stDownloadButton"] button p { color: #0072B2; text-decoration: underline; font-size: 0.9rem; }
[data-testid="stMetricLabel"] p { white-space: normal; }
h1 { font-size: 1.9rem !important; padding-bottom: 0.2rem !important; }
h2 { font-size: 1.35rem !important; } h3 { font-size: 1.1rem !important; }
</style>
"""


def apply() -> None:
    """Put the rules on the page."""
    st.html(_RULES)

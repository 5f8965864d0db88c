"""Outcomes shown in a list or beside a strip: kept before they are drawn, for what is read later is not blind."""

from collections.abc import Iterable

import streamlit as st

from audit.people import disclosures
from audit.people.permissions import Deed
from dashboards import data, layout, session
from dashboards.keys import Key
from dashboards.signed_in import database


def in_list(period: str) -> bool:
    """May a month's list show outcomes? What one person alone saw is kept; among several the lead is no reader."""
    if not session.alone():
        return True
    months = data.months() if period == data.ALL_MONTHS else [period]
    return _kept((name for month in months for name in data.case_ids(month)), session.opener(), Deed.SEE_OUTCOMES)


def beside_strip(case_id: str) -> bool:
    """May a strip of a batch that shows outcomes show its own?"""
    return _kept([case_id], session.who(Deed.READ_STRIPS), Deed.READ_STRIPS)


def _kept(case_ids: Iterable[str], who: str, deed: Deed) -> bool:
    seen = st.session_state.setdefault(Key.OUTCOMES_SHOWN, set())
    new = set(case_ids) - seen
    if new and not layout.stored(lambda: disclosures.record_shown(database(), new, who=who, deed=deed)):
        return False
    seen |= new
    return True

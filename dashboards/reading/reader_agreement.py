"""Reader agreement: would colleagues have read it alike, item by item, with intervals."""

import streamlit as st

from audit.people.permissions import Deed
from dashboards import data, layout, session
from dashboards.reading import reader_agreement_parts

layout.begin("Reader agreement", "Would colleagues have read it alike? Reads of closed batches and of imported files.")
asked = reader_agreement_parts.choose()
layout.shown(standard=asked.standard)
if reader_agreement_parts.pooled(asked) and not data.document(asked)["windows"]:
    st.stop()  # nobody here read anything: all there is stands in summaries
found = data.document(asked)
reader_agreement_parts.measures(found, asked)
reader_agreement_parts.picture(asked)
reader_agreement_parts.figures(found)
if session.may(Deed.SEE_EVERY_READ):
    reader_agreement_parts.pairs(found, asked)
reader_agreement_parts.repeats(found, asked)
reader_agreement_parts.computed(found, asked)
if session.may(Deed.SEE_EVERY_READ):
    reader_agreement_parts.windows(asked)
reader_agreement_parts.leaning(asked)
reader_agreement_parts.months(asked)
reader_agreement_parts.hindsight(asked)
reader_agreement_parts.published(found)

"""Parts of the page that makes the meeting pack."""

import io
import zipfile
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import streamlit as st

from audit.errors import AuditError
from audit.pack.made import MadePack, packs_of
from audit.pack.options import PAPERS
from audit.pack.own_process import folder_of, write_pack_apart
from audit.people import agenda, log, packs
from audit.people.permissions import Deed
from audit.tables.meeting import AGENDA_ON_PAGE
from dashboards import data, layout, outcomes_shown, session, unit_data
from dashboards.keys import ReviewKey
from dashboards.signed_in import database

_KINDS = {
    ".pdf": ("PDF to print", "application/pdf"),
    ".html": ("One HTML file", "text/html"),
    ".pptx": ("Slides", "application/vnd.openxmlformats-officedocument.presentationml.presentation"),
}


def agenda_of(period: str) -> None:
    """What will be in it."""
    if period == data.NO_MONTH:
        st.info("Choose a month: a pack is about one month.")
        st.stop()
    layout.table(AGENDA_ON_PAGE.filled(agenda.items(database(), period)))
    st.caption(
        "**This text leaves the unit with the pack:** questions, learning points, what went well and actions, as they"
        " were written. Read them for names, dates and places before you give it away; the pack for readers outside the"
        " unit has none of them, but labels of changes of practice stand in both."
    )


def choose() -> list[str]:
    """The choices as options of the `pack` command."""
    left, middle, right = st.columns(3)
    paper = left.selectbox("Paper", PAPERS, key=ReviewKey.PACK_PAPER, format_func=layout.own(str))
    no_outcome = middle.checkbox(
        "Leave the outcomes out", key=ReviewKey.PACK_OUTCOME, help="They are then opened on the screen at the meeting."
    )
    outside = right.checkbox(
        "For readers outside the unit",
        key=ReviewKey.PACK_OUTSIDE,
        help="Without case pages, actions and findings; counts under 5 are hidden, and what would give them away.",
    )
    chosen = ["--paper", str(paper)]
    unit = unit_data.chosen() if outside else None  # what has a meeting in it is of all units
    of_unit = [] if unit is None else ["--unit", unit]
    return [*chosen, *(["--no-outcome"] if no_outcome else []), *(["--for-outside", *of_unit] if outside else [])]


def make(period: str, choices: list[str]) -> None:
    """The button."""
    if not st.button("Make the pack", type="primary", key=ReviewKey.PACK_MAKE):
        return
    with st.spinner("Drawing the cases; a pack of 20 takes up to a minute …"):
        if not {"--no-outcome", "--for-outside"} & {*choices} and not outcomes_shown.in_list(period):
            return
        try:
            packs.asked_for(database(), period, choices, who=session.who(Deed.MAKE_PACK))
            written = write_pack_apart(database(), period=period, out=_folder(period), choices=choices)
        except AuditError as error:
            st.error(layout.plain(error))
            return
    st.success(f"{len(written)} files were written to the folder {layout.plain(_folder(period))}.")


def files(period: str) -> None:
    """What was made of this month, here or by a command, to take away."""
    st.header("Made of this month", anchor=False)
    found = data.copy()
    packs = packs_of(database(), period, found.state) if found else []
    if not packs:
        st.info("No pack of this month lies in the folders beside the database.")
        return
    st.caption("Keep these files as you keep the database: they hold single labours, though no names.")
    for number, pack in enumerate(packs):
        with st.container(border=True):
            _pack(number, pack)


def _pack(number: int, pack: MadePack) -> None:
    outside = ", for outside the unit" if pack.is_for_outside else ""
    at = log.readable(datetime.fromtimestamp(pack.made_s, UTC).isoformat())
    st.markdown(f"**Made {at}{outside}**, in the folder {layout.plain(pack.folder)}")
    if pack.newer:
        st.warning(f"Since then: {'; '.join(pack.newer)}. Make the pack again to have it in it.")
    with st.container(horizontal=True):
        for file in pack.files:
            words, kind = _KINDS[file.suffix]
            st.download_button(
                f"{words}{outside}", data=session.held(Deed.MAKE_PACK, file.read_bytes), file_name=file.name,
                mime=kind, key=f"get_{number}_{file.name}", on_click="ignore",
            )  # fmt: skip
        if pack.tables:
            name = f"tables_{pack.name}.zip"
            st.download_button(
                f"{len(pack.tables)} tables as CSV{outside}",
                data=session.held(Deed.MAKE_PACK, partial(_zipped, list(pack.tables))), file_name=name,
                mime="application/zip", key=f"get_{number}_{name}", on_click="ignore",
            )  # fmt: skip


def _folder(period: str) -> Path:
    return folder_of(database()) / period


def _zipped(found: list[Path]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for file in found:
            packed.writestr(file.name, file.read_bytes())
    return out.getvalue()

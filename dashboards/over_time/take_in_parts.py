"""Parts of the Import page."""

from functools import partial
from hashlib import sha256

import streamlit as st

from audit.errors import AuditError
from audit.intake.looked_at import LookedAt, looked_at
from audit.intake.proposal import Proposal
from audit.people import take_in
from audit.people.permissions import Deed
from audit.tables import files_in
from dashboards import data, large_files, layout, session
from dashboards.keys import Key
from dashboards.over_time import data_quality_parts
from dashboards.signed_in import database

_LOOK_EVERY_S = 2.0


def every_s() -> float | None:
    """How often the progress is drawn anew: only while a process is at work."""
    found = take_in.state(database())
    return _LOOK_EVERY_S if found is not None and found.running else None


def progress() -> None:
    """How far the process is, then what became of each file and of what was kept out."""
    found = take_in.state(database())
    if found is None:
        return
    st.write(layout.plain(take_in.words(found, take_in.clock())))
    if found.running:
        st.progress(found.share)
        return
    taken = files_in.taken(found.report)
    if found.dry_run:
        layout.table(files_in.TAKEN.filled(taken))
    else:
        data_quality_parts.of_files(files_in.TAKEN.filled(taken), taken, data.ALL_MONTHS)
    layout.table(files_in.KEPT_OUT.filled(files_in.kept_out(found.report)), most=500)
    for line in found.lines:
        st.write(layout.plain(line))


def hand_over() -> dict[str, bytes]:
    """The files that were dropped, by name."""
    if session.may(Deed.TAKE_IN):
        large_files.let()
    dropped = st.file_uploader(
        "Files", accept_multiple_files=True, key=Key.IMPORT_FILES, max_upload_size=large_files.LARGEST_MB,
        help="The same files, checks and limits as the command `import`. Only de-identified data.",
    )  # fmt: skip
    files = {file.name: file.getvalue() for file in dropped}
    if len(files) < len(dropped):
        st.error(
            "Two of these files have the same name, and one would take the other's place. Put them into a zip file."
        )
        return {}
    return files


def proposals(files: dict[str, bytes]) -> list[str]:
    """For each file that is none of ours: a mapping, its first rows before and after, what has to be answered.

    The names of the mappings that are kept already and fit one of them.
    """
    fitting: list[str] = []
    for number, (name, content) in enumerate(files.items(), start=1):
        file = f"{Key.IMPORT_ANSWER}_{sha256(content).hexdigest()[:16]}"
        looked = looked_at(name, content, data.settings(), partial(_answers, file))
        for place, found in enumerate(looked, start=1):
            called = f"File {number}, {found.place}" if found.place else f"File {number}"
            st.write(layout.plain(f"{called}: {found.said}"))
            fitting += [found.mapping] if found.mapping and found.mapping not in fitting else []
            if found.proposal is not None:
                name = "ward" if place == 1 else f"ward_{place}"
                _proposal(found, called, f"{number}_{place}", name, f"{file}_{place}_")
    return fitting


def _answers(file: str, place: int) -> dict[str, str]:
    """What was chosen in the boxes of the questions of one table of a file."""
    boxes = f"{file}_{place}_"
    chosen = [value for key, value in st.session_state.items() if str(key).startswith(boxes) and value]
    return dict(str(choice).split("=", 1) for choice in chosen)


def _questions(found: Proposal, boxes: str) -> None:
    """A box for each question that a choice can answer, and the others in words."""
    for question in found.to_choose:
        words = {"": "not answered"} | {str(choice): choice.words for choice in question.choices}
        label = f"To be answered: {question}"  # our own words; a label is read out with its signs of escape
        st.selectbox(label, list(words), format_func=layout.own(words.__getitem__), key=f"{boxes}{question}")
    for question in found.questions:
        if not question.choices:
            st.write(layout.plain(f"To be answered: {question}."))


def _proposal(found: LookedAt, called: str, key: str, name: str, boxes: str) -> None:
    """One proposal with what has to be answered, and the button that keeps it."""
    assert found.proposal is not None
    with st.expander(f"Proposal for {called[0].lower()}{called[1:]}", expanded=True):
        if found.proposal.zone_asked:
            zone = st.text_input("Time zone, as Europe/Paris", key=f"{Key.IMPORT_ZONE}_{key}")
            found.proposal.time_zone = zone
        for line in found.lines(asked=False):
            st.write(layout.plain(line))
        _questions(found.proposal, boxes)
        chosen = st.text_input("Name of the mapping", name, key=f"{Key.IMPORT_NAME}_{key}")
        st.code(found.proposal.toml(chosen), language="toml")
        if st.button("Keep this mapping", key=f"{Key.IMPORT_KEEP}_{key}", disabled=not found.proposal.ready):
            with layout.told():
                who = session.who(Deed.TAKE_IN)
                take_in.keep(database(), chosen, found.proposal.toml(chosen), who=who)
                st.rerun()


def start(files: dict[str, bytes], fitting: list[str]) -> None:
    """The mappings to read with, at first those that fit, and the two buttons."""
    mappings = st.multiselect(
        "Mappings",
        list(data.settings().import_.mapping),
        fitting,
        key=f"{Key.IMPORT_MAPPING}_{'_'.join(fitting)}",
        placeholder="none: our own column names",
        help="Each file is read under the one whose columns it has.",
    )
    replace = st.checkbox("Changed content takes the place of what is stored", key=Key.IMPORT_REPLACE)
    left, right = st.columns(2)
    tried = left.button("Try it; nothing is stored", key=Key.IMPORT_TRY)
    taken = right.button("Import and analyse", type="primary", key=Key.IMPORT_START)
    if not (tried or taken):
        return
    try:
        who = session.who(Deed.TAKE_IN)
        take_in.start(database(), files, who=who, mappings=mappings, dry_run=tried, replace=replace)
    except AuditError as error:
        st.error(layout.plain(error))
        return
    st.rerun()

"""Parts of blind reading: which batch, which strip, the bare drawing, and what the reader enters."""

import time
from collections.abc import Callable
from typing import Any

import pandas as pd
import streamlit as st

from audit import vocabulary
from audit import words as words_
from audit.charts.strip import bare
from audit.charts.strip.payload import bare_payload
from audit.errors import AuditError
from audit.people import batches, next_strip, reads
from audit.people.permissions import Deed
from audit.people.reads import Read
from audit.questions.case_file import plain_facts
from dashboards import data, decimals, layout, outcomes_shown, session
from dashboards.keys import Key, ReviewKey
from dashboards.signed_in import database
from dashboards.strip_viewer.show import strip_viewer

_YES_NO = ("yes", "no")
_CONFIDENCE = (1, 2, 3, 4, 5)


def choose_batch(reader: str) -> dict[str, Any]:
    """The batch to read; stops with a sentence when none waits."""
    waiting = {row["batch_id"]: row for row in batches.for_reader(database(), reader)}
    if not waiting:
        st.info(f"No open batch waits for reader {layout.plain(reader)}. The lead hands batches out on this page.")
        st.stop()

    def words(number: int) -> str:
        row = waiting[number]
        return f"{row['name']}: {row['read']} of {row['strips']} read"

    if st.session_state.get(ReviewKey.BATCH) not in waiting:
        st.session_state[ReviewKey.BATCH] = next(iter(waiting))
    return waiting[
        st.selectbox(
            "Batch", list(waiting), key=ReviewKey.BATCH, format_func=layout.own(words), label_visibility="collapsed"
        )
    ]


def choose_strip(batch: dict[str, Any], reader: str) -> dict[str, Any]:
    """The strip to read: the next one, unless the reader goes back to one that is read."""
    rows = batches.strips(database(), batch["batch_id"], reader)
    unread = next_strip.position(database(), batch["batch_id"], reader)
    places = {row["position"]: row for row in rows if row["read_id"] or row["position"] == unread}
    key = f"{ReviewKey.STRIP}_{batch['batch_id']}"
    if st.session_state.pop(f"{key}_next", False) or st.session_state.get(key) not in places:
        st.session_state[key] = unread or rows[-1]["position"]
    if unread is None:
        st.success("Every strip of this batch is read. You may still correct a read until the lead closes the batch.")

    def words(position: int) -> str:
        return f"Strip {position} of {len(rows)}" + (" (read)" if places[position]["read_id"] else "")

    return places[
        st.selectbox("Strip", list(places), key=key, format_func=layout.own(words), label_visibility="collapsed")
    ]


def show_strip(batch: dict[str, Any], strip: dict[str, Any]) -> float:
    """The bare strip with what the lead lets readers know; returns how far it was shown, s; 0 = not to its end."""
    started = f"started_{batch['batch_id']}_{strip['strip_number']}"
    st.session_state.setdefault(started, time.monotonic())
    tracing = data.signal(strip["case_id"], strip["fetus"])
    if tracing is None:
        st.info(layout.NO_DATABASE)
        st.stop()
    place = f"**Strip {strip['position']} of {batch['strips']}**"
    st.caption(" · ".join([place, *map(layout.plain, _known(batch, strip))]))
    shown = strip_viewer(
        bare_payload(tracing, strip["start_s"], strip["end_s"]),
        key=f"{Key.STRIP}_blind_{batch['batch_id']}_{strip['strip_number']}",
        name=f"Strip {strip['position']} of {batch['strips']}",
        blind=True,
    )
    if batch["outcome_shown"] and outcomes_shown.beside_strip(strip["case_id"]):
        st.header("How it ended", anchor=False)
        st.dataframe(_told(batch, strip).map(layout.own(str)), hide_index=True)
    return float(strip["end_s"] - strip["start_s"]) if shown.seen_to_end else 0.0


def _told(batch: dict[str, Any], strip: dict[str, Any]) -> pd.DataFrame:
    found = data.outcome_of_strip(batch["batch_id"], strip["strip_number"])
    return found.dropna(axis=1).drop(columns=["fetus"], errors="ignore")


def _known(batch: dict[str, Any], strip: dict[str, Any]) -> list[str]:
    gestation, stage = bool(batch["show_gestation"]), bool(batch["show_stage"])
    if not (gestation or stage):
        return []
    facts = data.rows("case/facts", case_id=strip["case_id"]).to_dict("records")
    return bare.what_may_be_known(plain_facts(facts), strip["start_s"], gestation=gestation, stage=stage)


def entries(batch: dict[str, Any], strip: dict[str, Any], reader: str, shown_s: float) -> None:
    """The form. It is stored when the button is pressed, before the next strip is drawn."""
    standard = batch["standard"]
    former = reads.latest(database(), batch["batch_id"], strip["strip_number"], reader)
    place = f"{batch['batch_id']}_{strip['strip_number']}"
    notes = data.settings().meeting.reader_notes
    st.header(f"Your read under {words_.standard_name(standard)}", anchor=False)
    if former:
        st.caption("You have read this strip. Saving again adds a correction; the newest one counts.")
    with st.form(f"read_{place}", border=True):
        found = _form(standard, former, place, notes)
        saved = st.form_submit_button("Save and go on", type="primary", key=f"save_{place}", shortcut="Ctrl+S")
    if not saved:
        return
    if found is None:
        st.error("Choose a category first; everything else may stay open.")
        return
    try:
        read = found()
        started = st.session_state.pop(f"started_{place}", None)
        seconds = None if started is None else round(time.monotonic() - started, 1)
        reads.save(
            database(),
            batch["batch_id"],
            strip["strip_number"],
            reader,
            read,
            seconds_spent=seconds,
            notes_allowed=notes,
            who=session.who(Deed.READ_STRIPS),
            shown_s=shown_s,
        )
    except AuditError as error:
        st.error(layout.plain(error))
        return
    st.session_state[f"{ReviewKey.STRIP}_{batch['batch_id']}_next"] = True
    st.rerun()


def _form(standard: str, former: Read | None, place: str, notes: bool) -> Callable[[], Read] | None:
    """The inputs, filled with the reader's former read; what reads them, or None while no category is chosen."""
    old = former or Read("")
    found, contractions = _features(old, place)
    category = _radio(
        f"Category under {words_.standard_name(standard)}",
        vocabulary.CATEGORIES[standard],
        old.category or None,
        f"category_{place}",
    )
    note = None
    if notes:
        note = st.text_input("Note (nothing that identifies anybody)", old.note or "", key=f"note_{place}")
    if category is None:
        return None
    return lambda: Read(category=str(category), note=note or None, contractions_per_10_min=contractions(), **found)


def _features(old: Read, place: str) -> tuple[dict[str, Any], Callable[[], float | None]]:
    """What was seen, item by item, and what reads the contractions; each may stay open."""
    left, middle, right = st.columns(3)
    with left:
        baseline = st.number_input(
            "Baseline, bpm",
            min_value=int(vocabulary.BASELINE_RANGE_BPM[0]),
            max_value=int(vocabulary.BASELINE_RANGE_BPM[1]),
            step=5,
            value=_whole(old.baseline_bpm),
            key=f"baseline_{place}",
        )
        variability = _radio("Variability", vocabulary.VARIABILITY, old.variability, f"variability_{place}")
    with middle:
        accelerations = _radio("Accelerations", vocabulary.ACCELERATIONS, old.accelerations, f"accelerations_{place}")
        kinds = st.multiselect(
            "Decelerations",
            vocabulary.DECELERATIONS,
            default=list(old.decelerations),
            key=f"decelerations_{place}",
            placeholder="not stated",
            format_func=layout.own(str),
        )
        recurrent = _radio("Recurrent", _YES_NO, _words(old.recurrent), f"recurrent_{place}")
    with right:
        contractions = decimals.decimal_box(
            st, "Contractions in 10 min", old.contractions_per_10_min, key=f"contractions_{place}"
        )
        act = _radio("Would you act now", _YES_NO, _words(old.would_act), f"act_{place}")
        confidence = _radio("Confidence, 1 low to 5 high", _CONFIDENCE, old.confidence, f"confidence_{place}")
    features = {
        "baseline_bpm": None if baseline is None else float(baseline),
        "variability": variability,
        "accelerations": accelerations,
        "decelerations": tuple(sorted(kinds)),
        "recurrent": _truth(recurrent),
        "would_act": _truth(act),
        "confidence": confidence,
    }
    return features, contractions


def _radio(label: str, options: tuple[Any, ...], value: Any, key: str) -> Any:
    index = options.index(value) if value in options else None
    return st.radio(label, options, index=index, key=key, horizontal=True, format_func=layout.own(str))


def _words(value: bool | None) -> str | None:
    return None if value is None else _YES_NO[0 if value else 1]


def _truth(value: str | None) -> bool | None:
    return None if value is None else value == _YES_NO[0]


def _whole(value: float | None) -> int | None:
    return None if value is None else round(value)

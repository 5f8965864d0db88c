"""Which tracings are to be read anew: asked by pages and commands that read none themselves."""

import hashlib
from typing import Any

import pandas as pd

from audit.analysis import made_by
from audit.settings import Settings
from audit.store import database


def stale_tracings(con: database.Connection, settings: Settings) -> list[tuple[str, str, str]]:
    """Tracings whose reading is missing or out of date: (case_id, fetus, why)."""
    found = []
    for row in database.rows(con, "analysis/inputs").itertuples():
        why = why_stale(row, settings)
        if why:
            found.append((str(row.case_id), str(row.fetus), why))
    return found


def inputs_sha256(row: Any) -> str:
    """Hash of everything that a reading is given: samples, facts, events and readers' windows."""
    text = "\x1f".join([row.stretches, row.facts, row.events, row.windows])
    return hashlib.sha256(text.encode()).hexdigest()


def why_stale(row: Any, settings: Settings) -> str | None:
    """Why a tracing, a row of `analysis/inputs`, is to be read anew; None for a current one."""
    if pd.isna(row.state):
        return "never read"
    if row.inputs_sha256 != inputs_sha256(row):
        return "the tracing or what is known of the case changed since it was read"
    if row.settings_sha256 != settings.analysis_sha256:
        return "the settings changed since it was read"
    if row.version != made_by.version():
        return f"it was read by another version of the program, {row.version}"
    return None

"""A batch handed out as files: numbered bare strips on one page to print, and one form per reader."""

import io
import zipfile
from pathlib import Path

from audit.charts.strip import bare
from audit.charts.strip.types import SCALE_1
from audit.pack import drawing
from audit.pack.model import Picture
from audit.pack.to_html import strips_html
from audit.people import batches, handout
from audit.settings import settings_for
from audit.store import database, published
from audit.store.published import Source
from audit.store.tracings import load_tracing

_EARLIEST = (1980, 1, 1, 0, 0, 0)


def handout_zip(db: Path, copy: Source, batch_id: int) -> bytes:
    """One folder per reader: the strips in the reader's own order (HTML to print) and the form to fill in (CSV).

    Nothing in it names a case, tells an outcome, or marks controls and repeats.
    """
    batch = batches.one(db, batch_id)
    paper = settings_for(db).locale.paper
    windows = {row["strip_number"]: row for row in batches.windows(db, batch_id)}
    with published.open_for_reading(copy) as con:
        drawn = {number: _strip(con, number, row) for number, row in windows.items()}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for row in batches.progress(db, batch_id):
            reader = row["reader"]
            order = [drawn[strip["strip_number"]] for strip in batches.strips(db, batch_id, reader)]
            page = strips_html(f"Batch {batch_id}, reader {reader}", batch["standard"], order, paper=paper)
            for name, text in ((f"{reader}/strips.html", page), (f"{reader}/reads.csv", _form(db, batch_id, reader))):
                packed.writestr(zipfile.ZipInfo(name, _EARLIEST), text, compress_type=zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _form(db: Path, batch_id: int, reader: str) -> str:
    return handout.empty_form(db, batch_id, reader)


def _strip(con: database.Connection, number: int, row: dict[str, object]) -> Picture:
    tracing = load_tracing(con, str(row["case_id"]), str(row["fetus"]))
    start_s, end_s = float(str(row["start_s"])), float(str(row["end_s"]))
    chart = bare.bare_strip(tracing, start_s, end_s, SCALE_1)
    return drawing.picture(chart, name=f"strip-{number}", alt_text=f"Strip {number}", caption=f"Strip {number}")

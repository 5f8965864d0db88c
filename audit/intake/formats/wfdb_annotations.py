"""Annotation files beside WFDB records: their notes that are care events.

Source: the annot(5) manual page (the format of the MIT-BIH databases), from memory; the tests read what the WFDB
project's own Python package writes. Beats and other codes are not looked at.
"""

from pathlib import Path

from audit.intake.door.remarks import FileRefused
from audit.intake.formats.parts import Part, events_part
from audit.intake.formats.wfdb_file import read_header
from audit.setting_tables.intake import ImportOptions

_SKIP, _AUX = 59, 63
_WITHOUT_TIME = (60, 61, 62)  # number, subtype, channel of the annotation before
_MOST_BYTES = 16 * 1024 * 1024  # a day's beats are 0.2 MiB; our choice
_RESOLUTION = "## time resolution:"


def belongs_beside(path: Path) -> Path | None:
    """The header of the record whose annotations a file of this name would be, or None."""
    header = path.with_suffix(".hea")
    short = 1 < len(path.suffix) <= 8 and path.suffix[1:].isalnum()
    return header if short and path.suffix not in (".hea", ".dat") and header.is_file() else None


def annotation_part(data: bytes, header: bytes, case_id: str, options: ImportOptions) -> Part | None:
    """The care events among the notes, or None when there is none or these are no annotations."""
    notes = read_notes(data)
    if not notes:
        return None
    rate_hz = _rate(header)
    for _, text in notes:
        if text.startswith(_RESOLUTION):
            rate_hz = _resolution(text)
    events = [(at / rate_hz, text) for at, text in notes if not text.startswith("## ")]
    return events_part(case_id, events, options, "note")


def read_notes(data: bytes) -> list[tuple[int, str]]:
    """Sample number and text of each note; empty when the bytes are no annotations."""
    found: list[tuple[int, str]] = []
    if len(data) > _MOST_BYTES:
        return found
    at = k = 0
    while k + 2 <= len(data):
        word = int.from_bytes(data[k : k + 2], "little")
        code, step = word >> 10, word & 0x3FF
        k += 2
        if code == 0 and step == 0:
            return found
        if code == _SKIP:
            high = int.from_bytes(data[k : k + 2], "little")
            low = int.from_bytes(data[k + 2 : k + 4], "little")
            long = high << 16 | low
            at += long - (1 << 32) if long >= 1 << 31 else long
            k += 4
        elif code == _AUX:
            text = data[k : k + step]
            if len(text) < step:
                return []
            found.append((at, text.decode("utf-8", "replace").strip("\0 ")))
            k += step + step % 2
        elif code not in _WITHOUT_TIME:
            at += step
    return []  # they end with a word of zeros


def _resolution(text: str) -> float:
    """Ticks a second, as the file says. Raises FileRefused."""
    try:
        rate_hz = float(text[len(_RESOLUTION) :])
    except ValueError:
        rate_hz = 0.0
    if not 1e-6 < rate_hz < 1e9:
        raise FileRefused("found a time resolution that is none in the annotation file, expected a number above 0")
    return rate_hz


def _rate(header: bytes) -> float:
    """Samples a second of the record, from its first line."""
    line = next((x for x in header.decode("utf-8", "replace").splitlines() if x.strip() and x[0] != "#"), "")
    parts = line.split()
    if parts and "/" in parts[0]:
        line = " ".join([parts[0].split("/")[0], "1", *parts[2:]])
    else:
        line = " ".join([*parts[:1], "1", *parts[2:]])
    try:
        return read_header(f"{line}\nx.dat 16 1\n".encode()).sample_rate_hz
    except FileRefused:
        return 250.0

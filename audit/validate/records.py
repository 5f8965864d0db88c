"""The open database's folder: records with what the reading may know and the outcome, and the experts' classes.

Sources: Chudacek et al., BMC Pregnancy and Childbirth 2014;14:16 (records), Hruban et al., J Eval Clin Pract 2015
(experts' classes: 1 normal, 2 suspicious, 3 pathological, -1 none).
"""

import csv
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from audit.errors import UsageError
from audit.intake.checks.expert_readings import CLASSES, RecordingTimes, windows_of
from audit.intake.door.remarks import FileRefused
from audit.intake.formats.wfdb_file import Header, read_header, read_signals
from audit.tracing.types import Tracing
from audit.vocabulary import THREE_TIERS

EXPERTS_FILE = "expert_evaluations.csv"
STEPS = ("eval_step1", "eval_step2", "eval_step3")


@dataclass(frozen=True)
class DatabaseRecord:
    """One recording of the database."""

    name: str
    tracing: Tracing
    gestation_weeks: float | None
    second_stage_s: float | None
    birth_s: float | None
    ph: float | None
    windows: dict[str, tuple[float, float]]  # by step, s


@dataclass(frozen=True)
class ExpertClass:
    """One expert's first class of one window: 0 normal, 1 suspicious, 2 pathological."""

    record: str
    step: str
    expert: str
    code: int


def record_names(folder: Path) -> list[str]:
    """The records of a folder, in order. Raises UsageError when it holds none, or no table of experts' classes."""
    names = sorted(file.stem for file in folder.glob("*.hea"))
    if not names:
        raise UsageError(f"{folder}: found no WFDB header (*.hea), expected the open database's records")
    if not (folder / EXPERTS_FILE).is_file():
        raise UsageError(f"{folder}: found no {EXPERTS_FILE}, expected the experts' classes beside the records")
    return names


def read_database_record(folder: Path, name: str) -> DatabaseRecord:
    """Read one record. Raises UsageError, with the file, when it cannot be read."""
    path = folder / f"{name}.hea"
    try:
        header = read_header(path.read_bytes())
        signals = read_signals(header, {file: (folder / file).read_bytes() for file in header.file_names})
    except (FileRefused, OSError) as error:
        raise UsageError(f"{path.name}: {error}") from error
    by_name = {line.description.strip().upper(): signal for line, signal in zip(header.signals, signals, strict=True)}
    if "FHR" not in by_name or "UC" not in by_name:
        raise UsageError(f"{path.name}: found the signals {', '.join(by_name)}, expected FHR and UC")
    fhr = by_name["FHR"].copy()
    fhr[fhr <= 0] = np.nan  # the database writes 'no signal' as 0
    end_s = fhr.size / header.sample_rate_hz
    second = _number(header, "Pos. II.st.")
    second_s = None if second is None or second < 0 else second / header.sample_rate_hz
    to_birth = _number(header, "Sig2Birth")
    tracing = Tracing(fhr_bpm=fhr, toco=by_name["UC"], sample_rate_hz=header.sample_rate_hz)
    birth_s = None if to_birth is None or to_birth < 0 else end_s + 60.0 * to_birth
    windows = windows_of(RecordingTimes(end_s, second_s))
    weeks = _number(header, "Gest. weeks")
    return DatabaseRecord(name, tracing, weeks, second_s, birth_s, _number(header, "pH"), windows)


def read_expert_classes(folder: Path) -> list[ExpertClass]:
    """The first class that each expert gave each window; repeat reads and missing ones are left out.

    Raises UsageError, with row and column, for a value that is not 1, 2, 3 or -1.
    """
    found: list[ExpertClass] = []
    seen: set[tuple[str, str]] = set()
    with (folder / EXPERTS_FILE).open(newline="", encoding="utf-8-sig") as file:
        rows = csv.DictReader(file)
        missing = {"rec_id", "expert_id", *STEPS} - set(rows.fieldnames or ())
        if missing:
            raise UsageError(f"{EXPERTS_FILE}: found no column {', '.join(sorted(missing))}")
        for number, row in enumerate(rows, start=2):
            key = (row["rec_id"].strip(), row["expert_id"].strip())
            if key in seen:
                continue
            seen.add(key)
            for step in STEPS:
                text = (row[step] or "").strip()
                if text in ("", "-1"):
                    continue
                if text not in ("1", "2", "3"):
                    raise UsageError(f"{EXPERTS_FILE}: row {number}, {step}: found {text!r}, expected 1, 2, 3 or -1")
                found.append(ExpertClass(*key[:1], step, key[1], THREE_TIERS.index(CLASSES[int(text)])))
    return found


def _number(header: Header, name: str) -> float | None:
    for _, text in header.comments:
        if text.startswith(name) and text[len(name) : len(name) + 1].isspace():
            try:
                value = float(text[len(name) :])
            except ValueError:
                return None
            return None if math.isnan(value) else value
    return None

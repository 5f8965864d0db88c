"""Run the validation on the open database's folder."""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np

from audit import processes
from audit.agreement.reads import MISSING
from audit.progress import Report
from audit.second_reading.model import FittedReading
from audit.setting_tables.validate import ValidateSettings
from audit.settings import AnalysisSettings, Settings
from audit.validate.card import card_of
from audit.validate.compare import (
    Comparison,
    ExpertTable,
    IntArray,
    compare,
    consensus_of,
    each_expert,
)
from audit.validate.equal_footing import by_stage, on_equal_footing
from audit.validate.outcomes import outcome_areas, sorted_births
from audit.validate.readings import COMPARED, REPORTING, TUNING, RecordReading, part_of, read_one
from audit.validate.records import ExpertClass, read_expert_classes, record_names
from audit.validate.result import ReadingComparison, ValidationResult
from audit.validate.second import SecondOnFolder, fit_on, read_with

# Shares of a window with signal by which the comparison is shown besides; our choice, they decide nothing.
QUALITY = (
    (0.9, 1.01, "signal seen 90 % or more"),
    (0.8, 0.9, "signal seen 80 to 90 %"),
    (0.0, 0.8, "signal seen under 80 %"),
)
SECOND = "second reading"
ODD_PANEL = 7  # experts: an odd panel that all have read is never tied
STAGES = {"first stage": ("eval_step1", "eval_step2"), "second stage": ("eval_step3",)}
_OF_PART = {
    REPORTING: "figures are those of the reporting part.",
    TUNING: "figures are those of that part, so they flatter the computed reading. The other was not opened.",
}
STEP_WORDS = {"eval_step1": "first window", "eval_step2": "second window", "eval_step3": "second stage"}


def run_validation(
    folder: Path,
    settings: Settings,
    progress: Report | None = None,
    *,
    workers: int | None = None,
    fit: bool = False,
    fitted: FittedReading | None = None,
    part: str = REPORTING,
) -> ValidationResult:
    """Read the records of the folder and compare with the experts, on one part of them.

    Parameters
    ----------
    folder : the open database's records with `expert_evaluations.csv`.
    settings : the analysis settings; `[validate]` says how the parts, the consensus and the intervals are made.
    progress : called with (done, total); with a second reading each recording counts twice: read, and counted.
    workers : worker processes; None = one per core, 1 = in this process. The result does not depend on it.
    fit : also fit a second reading on all recordings read (`second` of the result), cross-validated by recording.
    fitted : a second reading to judge on the recordings that it was not fitted on, when none is fitted here.
    part : `reporting`, on which no setting was chosen, or `tuning`. With `tuning` no other record is opened; a second
        reading is then fitted and judged on that part alone.

    Raises
    ------
    UsageError : when the folder lacks records or the experts' settings, or one of them cannot be read.
    AuditError : when a second reading cannot be fitted on the folder, or the fitted one is of another version.
    """
    every = record_names(folder)
    twice = fit or fitted is not None
    # a second reading of the reporting part is fitted, or judged, on the other part's recordings too
    names = [name for name in every if part_of(name) == part or (twice and part == REPORTING)]
    classes = read_expert_classes(folder)
    report = progress or (lambda done, total: None)

    def reading_report(done: float, total: int) -> None:
        report(done, 2 * total if twice else total)

    def counting(done: float, total: int) -> None:
        report(total + done, 2 * total)

    readings = read_all(folder, names, settings.analysis, reading_report, workers, second=twice)
    second = None
    if fit:
        second = fit_on(readings, expert_table(classes, readings), settings.validate, counting, workers)
        second = replace(second, card=card_of(second, settings.analysis_sha256, part))
    elif fitted is not None:
        second = read_with(fitted, readings, expert_table(classes, readings), settings.validate, counting, workers)
    found = summarise(readings, classes, settings.validate, part=part, second=second)
    return replace(found, recordings_in_folder=len(every), settings_sha256=settings.analysis_sha256)


def read_all(
    folder: Path,
    names: Sequence[str],
    settings: AnalysisSettings,
    progress: Report | None,
    workers: int | None,
    *,
    second: bool = False,
) -> list[RecordReading]:
    """The computed reading of each record, in the order of the names; `second`: with a second reading's numbers."""
    report = progress or (lambda done, total: None)
    found: list[RecordReading] = []
    read = partial(read_one, folder, settings=settings, second=second)
    for one in processes.in_order(read, names, workers=processes.cores(workers, len(names))):
        found.append(one)
        report(len(found), len(names))
    return found


def expert_table(classes: Sequence[ExpertClass], records: Sequence[RecordReading]) -> ExpertTable:
    """The experts' classes of the records' windows as a settings, windows in order of record and step."""
    known = {(reading.name, window.step) for reading in records for window in reading.windows}
    wanted = [c for c in classes if (c.record, c.step) in known]
    experts = sorted({c.expert for c in wanted}, key=lambda name: (len(name), name))
    windows = sorted({(c.record, c.step) for c in wanted})
    row, column = {w: k for k, w in enumerate(windows)}, {e: k for k, e in enumerate(experts)}
    codes = np.full((len(windows), len(experts)), MISSING, dtype=np.int64)
    for c in wanted:
        codes[row[c.record, c.step], column[c.expert]] = c.code
    return ExpertTable(tuple(w[0] for w in windows), tuple(w[1] for w in windows), tuple(experts), codes)


def summarise(
    readings: Sequence[RecordReading],
    classes: Sequence[ExpertClass],
    settings: ValidateSettings,
    *,
    part: str,
    second: SecondOnFolder | None = None,
) -> ValidationResult:
    """Compare one part of the records with the experts."""
    chosen = [reading for reading in readings if reading.part == part]
    experts = expert_table(classes, chosen)
    consensus = consensus_of(experts.codes, settings)
    by_window = {(r.name, w.step): w for r in chosen for w in r.windows}
    windows = [by_window[key] for key in zip(experts.record, experts.step, strict=True)]
    seen = np.array([w.seen_fraction for w in windows])
    every = {name: np.array([w.codes[name] for w in windows], dtype=np.int64) for name in COMPARED}
    if second is not None:
        every[SECOND] = second.codes_of(experts)
    compared = {}
    for standard, codes in every.items():
        groups = {}
        for low, high, words in QUALITY:
            keep = (seen >= low) & (seen < high)
            groups[words] = compare(np.where(keep, codes, MISSING), consensus, experts.record, settings)
        for step, words in STEP_WORDS.items():
            keep = np.array([s == step for s in experts.step], dtype=bool)
            groups[words] = compare(np.where(keep, codes, MISSING), consensus, experts.record, settings)
        compared[standard] = _compared(standard, codes, consensus, experts, groups, settings)
    return ValidationResult(
        part=part,
        recordings=len(chosen),
        recordings_in_folder=len(readings),
        windows=int((consensus >= 0).sum()),
        headline=settings.headline_standard,
        readings=compared,
        experts=each_expert(experts, settings),
        areas=outcome_areas(chosen, settings),
        sorting=sorted_births(chosen, settings),
        consensus=_rule_words(settings),
        notes=_notes(settings, part),
        second=second,
    )


def _compared(
    standard: str,
    codes: IntArray,
    consensus: IntArray,
    experts: ExpertTable,
    groups: dict[str, Comparison],
    settings: ValidateSettings,
) -> ReadingComparison:
    """One reading against the consensus of all, and beside each expert on equal footing."""
    return ReadingComparison(
        standard,
        compare(codes, consensus, experts.record, settings),
        groups,
        equal=on_equal_footing(codes, experts, settings),
        equal_by_stage=by_stage(codes, experts, settings, STAGES),
        equal_of_seven=on_equal_footing(codes, experts, settings, panel=ODD_PANEL),
    )


def _rule_words(settings: ValidateSettings) -> str:
    ties = {"none": "a tie is no consensus", "more_severe": "a tie goes to the more severe class"}.get(
        settings.consensus_ties, "a tie goes to the milder class"
    )
    return f"{settings.consensus_rule} of at least {settings.consensus_readers_min} experts, {ties}"


def _notes(settings: ValidateSettings, part: str) -> list[str]:
    return [
        "The experts were asked for the FIGO classes of their time (1986); the computed reading is given under "
        "those and under FIGO 2015.",
        f"Records are split by a hash of their name. Settings were chosen on the tuning part only; {_OF_PART[part]}",
        "Windows as the database describes them: 30 minutes from at most 60 and at most 30 minutes before the second "
        "stage, and the second stage itself; without one they are counted back from the end.",
        "On equal footing the computed reading takes each expert's chair in turn: both are held against the same panel "
        "of the other experts, on the windows that both classed; intervals of differences are paired.",
        f"Intervals of kappa: {settings.draws} resamples of recordings. Intervals of AUC: DeLong 1988.",
    ]

"""The second reading in full on the open database: agreement, calibration, and what small changes of the signal do.

Run by hand, some minutes on two cores: python -m tests.benchmarks.bench_second_reading FOLDER [--tuning] [--write].
With --write the table goes into DEVELOPERS.md. Every look at the reporting part is one more look: choices are made on
the tuning part alone, with --tuning, which opens no other record. What small changes of the signal do is asked of the
tuning part either way.
"""

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np

from audit import processes
from audit.agreement.resampling import Estimate
from audit.settings import AnalysisSettings, load_settings
from audit.tracing.types import Tracing
from audit.validate.readings import REPORTING, TUNING, RecordReading, part_of, read_record
from audit.validate.records import read_database_record, read_expert_classes, record_names
from audit.validate.result import CLASS_NAMES
from audit.validate.run import expert_table, run_validation
from audit.validate.second import SecondOnFolder, fit_on, read_with

SETTINGS = load_settings()
DEVELOPERS = Path(__file__).resolve().parents[2] / "DEVELOPERS.md"
BEGIN, END = "<!-- second reading: begin -->", "<!-- second reading: end -->"
NOISE_BPM = 0.5
FOLDS = 5


def _noise(tracing: Tracing, seed: int) -> Tracing:
    added = np.random.default_rng(seed).normal(0.0, NOISE_BPM, tracing.fhr_bpm.size)
    return replace(tracing, fhr_bpm=tracing.fhr_bpm + added)


def _steps(tracing: Tracing, seed: int) -> Tracing:
    return replace(tracing, fhr_bpm=np.round(tracing.fhr_bpm))


def _one_hertz(tracing: Tracing, seed: int, first: int = 0) -> Tracing:
    step = int(tracing.sample_rate_hz)
    return Tracing(tracing.fhr_bpm[first::step].copy(), tracing.toco[first::step].copy(), sample_rate_hz=1.0)


def _no_toco(tracing: Tracing, seed: int) -> Tracing:
    return replace(tracing, toco=np.full(tracing.toco.size, np.nan))


CHANGES: dict[str, Callable[[Tracing, int], Tracing]] = {
    "noise of 0.5 bpm": _noise,
    "steps of 1 bpm": _steps,
    "1 Hz": _one_hertz,
    "1 Hz, sampled half a second later": partial(_one_hertz, first=2),
    "no toco": _no_toco,
}


def changed_reading(name: str, folder: Path, settings: AnalysisSettings, change: str) -> RecordReading:
    """One record read after a change of its signal; '' = none."""
    record = read_database_record(folder, name)
    if change:
        record = replace(record, tracing=CHANGES[change](record.tracing, int(name)))
    return read_record(record, settings, second=True)


def unchanged_shares(folder: Path) -> tuple[dict[str, float], int]:
    """Share of windows of the tuning part whose class stays, each read by a fit without its recording; how many."""
    from tests.benchmarks import bench_second_reading as named  # workers do not know what was run as a program

    names = [name for name in record_names(folder) if part_of(name) == TUNING]
    classes = read_expert_classes(folder)
    read: dict[str, list[RecordReading]] = {}
    for change in ("", *CHANGES):
        work = partial(named.changed_reading, folder=folder, settings=SETTINGS.analysis, change=change)
        read[change] = list(processes.in_order(work, names, workers=2))
    same, windows = dict.fromkeys(CHANGES, 0), 0
    for fold in range(FOLDS):
        left_out = set(names[fold::FOLDS])
        others = [one for one in read[""] if one.name not in left_out]
        fitted = fit_on(others, expert_table(classes, others), SETTINGS.validate, workers=2).fitted
        assert fitted is not None
        said = {}
        for change, every in read.items():
            some = [one for one in every if one.name in left_out]
            one = read_with(fitted, some, expert_table(classes, some), SETTINGS.validate, workers=2)
            assert one is not None
            said[change] = one.probabilities.cumsum(axis=1)[:, :2] < 0.5
        windows += len(said[""])
        for change in CHANGES:
            same[change] += int((said[change] == said[""]).all(axis=1).sum())
    return {change: count / windows for change, count in same.items()}, windows


def lines_of(second: SecondOnFolder) -> list[str]:
    """The table."""
    assert second.equal is not None
    lines = [
        f"Fitted on {second.fitted_on[0]} windows of {second.fitted_on[1]} recordings; every figure by recording, from"
        " a fit without it.",
        "",
        "| second reading on the open database | figure, 95 % interval |",
        "| --- | --- |",
        f"| kappa against all nine, {second.against_all.windows} windows | {_words(second.against_all.kappa_linear)} |",
        f"| kappa against panels of eight | {_words(second.equal.reading)} |",
        f"| median expert, best expert, same panels | {_words(second.equal.median_expert)},"
        f" {_words(second.equal.best_expert)} |",
        f"| minus median expert, minus best | {_words(second.equal.over_median)}, {_words(second.equal.over_best)} |",
        f"| windows off by two classes | {second.off_by_two} |",
    ]
    for k, name in enumerate(CLASS_NAMES):
        fifths = ", ".join(f"{one.predicted:.2f}/{one.observed:.2f}" for one in second.fifths if one.category == k)
        lines.append(f"| {name}: predicted / observed, by fifths | {fifths} |")
    for k, name in enumerate(CLASS_NAMES):
        ours, theirs = second.equal.reading_classes[k], second.equal.expert_classes[k]
        lines.append(
            f"| {name}: found, right; the experts | {_words(ours.recall)}, {_words(ours.precision)};"
            f" {_words(theirs.recall)}, {_words(theirs.precision)} |"
        )
    return lines


def _words(value: Estimate) -> str:
    if value.value is None:
        return "cannot say"
    return f"{value.value:.3f}" + ("" if value.low is None else f" ({value.low:.3f} to {value.high:.3f})")


def main() -> None:
    folder = Path(sys.argv[1])
    begun = time.monotonic()
    second = run_validation(folder, SETTINGS, fit=True, part=TUNING if "--tuning" in sys.argv else REPORTING).second
    assert second is not None
    print(f"read, fitted and cross-validated in {(time.monotonic() - begun) / 60:.1f} min of clock time")
    lines = lines_of(second)
    shares, windows = unchanged_shares(folder)
    words = "; ".join(f"{change} {share:.1%}" for change, share in shares.items())
    lines.append(f"| class unchanged on {windows} windows of the tuning part | {words} |")
    print("\n".join(lines))
    if "--write" in sys.argv:
        text = DEVELOPERS.read_text(encoding="utf-8")
        before, rest = text.split(BEGIN)
        _, after = rest.split(END)
        DEVELOPERS.write_text(f"{before}{BEGIN}\n" + "\n".join(lines) + f"\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()

"""A tracing file's rows to stretches: times put in order, values checked, what cannot be true kept out."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise, repeat

import numpy as np
from numpy.typing import NDArray

from audit.intake.checks import sampling, times
from audit.intake.checks.channels import Channels, channels_of
from audit.intake.checks.codes import bad_case_id, bad_fetus, first_missing
from audit.intake.checks.fields import CALENDAR
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.door.shape import shape
from audit.intake.formats.tables import SampleTable, TracingRows, some_of
from audit.setting_tables.intake import ImportOptions
from audit.store.tracings import NO_SIGNAL, Hundredths, Stretch, to_hundredths

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class TracingContent:
    """What is to be stored of one fetus's tracing, with how many rows of the file it came from."""

    case_id: str
    fetus: str
    stretches: tuple[Stretch, ...]
    rows: int
    first_row: int


def tracings_in(table: SampleTable, remarks: Remarks, options: ImportOptions) -> Iterator[TracingContent]:
    """Each fetus's content in turn; what is kept out goes to `remarks`. Raises FileRefused for calendar times."""
    _refuse_calendar_times(table, options.calendar_from_s)
    for rows in by_fetus(table, remarks):
        content = checked(rows, remarks, options)
        if content is not None:
            yield content


def by_fetus(table: SampleTable, remarks: Remarks) -> Iterator[TracingRows]:
    """The table's rows for each (case, fetus), also when they are interleaved. Blank rows are passed over."""
    cases = [(value or "").strip() for value in table.case_id.dictionary.to_pylist()]
    fetuses = ["A"] if table.fetus is None else [(v or "").strip() or "A" for v in table.fetus.dictionary.to_pylist()]
    key = table.case_id.indices.to_numpy(zero_copy_only=False).astype(np.int64) * len(fetuses)
    if table.fetus is not None:
        key = key + table.fetus.indices.to_numpy(zero_copy_only=False)
    cases = [case_id if bad_case_id(case_id) else remarks.case_id(case_id) for case_id in cases]
    names = {k: (cases[k // len(fetuses)], fetuses[k % len(fetuses)]) for k in np.unique(key).tolist()}
    together: dict[tuple[str, str], list[int]] = {}
    for k, (case_id, typed) in names.items():
        together.setdefault((case_id, typed if bad_fetus(typed) else typed.upper()), []).append(k)
    rows_of = _rows_by_key(key)
    found: dict[str, list[str]] = {}
    for case_id, fetus in together:
        if not (bad_case_id(case_id) or bad_fetus(fetus)):
            found.setdefault(case_id, []).append(fetus)
    for (case_id, fetus), keys in sorted(together.items()):
        at = rows_of[keys[0]] if len(keys) == 1 else np.sort(np.concatenate([_numbers(rows_of[k]) for k in keys]))
        typed = sorted({names[k][1] for k in keys})
        if len(typed) > 1 and not bad_fetus(fetus):
            row = int(table.row_numbers[_numbers(rows_of[keys[-1]])[0]])
            reason = (
                f"found the fetus {' and '.join(typed)} in one case, expected one way to write it: taken as {fetus}"
            )
            remarks.flag(row, "fetus", None, reason)
        alone = first_missing(found.pop(case_id, []))
        if alone:
            remarks.flag(int(table.row_numbers[_numbers(rows_of[keys[0]])[0]]), "fetus", None, alone)
        rows = TracingRows(
            case_id,
            fetus,
            table.t_s[at],
            table.fhr_bpm[at],
            table.toco[at],
            None if table.mhr_bpm is None else table.mhr_bpm[at],
            table.row_numbers[at],
        )
        if not case_id:
            rows = some_of(rows, ~(np.isnan(rows.t_s) & np.isnan(rows.fhr_bpm) & np.isnan(rows.toco)))
        bad, column, value = bad_case_id(case_id), "case_id", case_id
        if bad is None:
            bad, column, value = bad_fetus(fetus), "fetus", fetus
        if bad is not None:
            known = rows.row_numbers[~np.isneginf(rows.t_s)]
            remarks.reject_rows(known, column, repeat(value), repeat(bad))
        else:
            yield rows


def checked(rows: TracingRows, remarks: Remarks, options: ImportOptions) -> TracingContent | None:
    """Check one fetus's rows and put them on the grid of their rate; None when nothing can be stored."""
    wrong = times.rate_out_of_bounds(rows.t_s, options.source_rate_hz)
    if wrong is not None:
        known = rows.row_numbers[~np.isneginf(rows.t_s)]
        remarks.reject_block(len(known), int(rows.row_numbers[0]), "t_s", None, wrong)
        return None
    rows = _with_usable_times(rows, remarks, options.latest_s)
    rows = _in_order(rows, remarks)
    if not len(rows.t_s):
        return None
    step_s, longest_s = sampling.step_of(rows.t_s), 1 / options.source_rate_hz[0]
    steps = None if step_s is None else times.steps_of(rows.t_s, step_s, longest_s)
    first = int(rows.row_numbers[0])
    remarks.flag(first, "t_s", float(rows.t_s[-1]), times.about_length(rows.t_s))
    if steps is not None:
        remarks.flag(first, "t_s", steps.step_s, times.about_steps(steps, longest_s))
        if steps.steady:
            rows = _on_the_step(rows, steps.step_s, remarks)
            step_s = sampling.step_of(rows.t_s)
    channels = channels_of(rows, remarks, options)
    if channels is None:
        return None
    hold_s = longest_s if steps is not None and not steps.steady else None
    return _content(rows, channels, step_s, options.new_stretch_after_s, hold_s)


def _refuse_calendar_times(table: SampleTable, calendar_from_s: float) -> None:
    at = np.flatnonzero(np.isfinite(table.t_s) & (np.abs(table.t_s) >= calendar_from_s))
    if len(at):
        row = int(table.row_numbers[at[0]])
        raise FileRefused(CALENDAR, row=row, column="t_s", value=float(table.t_s[at[0]]))


def _with_usable_times(rows: TracingRows, remarks: Remarks, latest_s: float) -> TracingRows:
    t_s = rows.t_s
    told = np.isneginf(t_s)  # rejected while the text was read
    missing = np.isnan(t_s) | np.isposinf(t_s)
    outside = ~told & ~missing & ((t_s < 0) | (t_s > latest_s))
    remarks.reject_rows(rows.row_numbers[missing], "t_s", repeat(None), repeat("found no time, expected seconds"))
    wanted = f"expected 0 to {latest_s:g} s from the first sample"
    _keep_out(rows, outside, remarks, lambda t: f"found {shape(t)}, {wanted}")
    bad = told | missing | outside
    return some_of(rows, ~bad) if bad.any() else rows


def _in_order(rows: TracingRows, remarks: Remarks) -> TracingRows:
    """Rising times. Of equal rows at one time one is kept; rows that contradict each other there are all kept out."""
    if (np.diff(rows.t_s) > 0).all():
        return rows
    doubled_times = times.mostly_doubled(rows.t_s)
    if doubled_times is not None and _contradicting(rows) > 0.5:
        remarks.reject_block(len(rows.t_s), int(rows.row_numbers[0]), "t_s", None, doubled_times)
        return some_of(rows, slice(0, 0))
    backwards = np.flatnonzero(np.diff(rows.t_s) < 0)
    # ties are put in order of their values, so that the outcome does not depend on the order of the file
    order = np.lexsort((rows.row_numbers, rows.t_s))
    ordered = some_of(rows, order)
    same = np.flatnonzero(np.diff(ordered.t_s) == 0)
    if len(backwards):
        at = int(backwards[0])
        remarks.flag(
            int(rows.row_numbers[at + 1]),
            "t_s",
            float(rows.t_s[at + 1]),
            f"found {rows.t_s[at + 1]:g} after {rows.t_s[at]:g}, expected a later time;"
            f" {len(backwards):,} such steps, the rows were put in order of time",
        )
    if not len(same):
        return ordered
    group = np.cumsum(np.append(True, np.diff(ordered.t_s) > 0)) - 1
    unlike = np.zeros(int(group[-1]) + 1, dtype=bool)
    for channel in (ordered.fhr_bpm, ordered.toco, ordered.mhr_bpm):
        if channel is not None:
            value = np.nan_to_num(channel, nan=-9999.0)
            unlike[group[same][value[same] != value[same + 1]]] = True
    doubled = np.zeros(len(ordered.t_s), dtype=bool)
    doubled[same + 1] = True
    against = unlike[group]
    again = doubled & ~against
    _keep_out(ordered, again, remarks, lambda t: f"found {t:g} a second time, expected each time once")
    unlike_said = "more than once with different values, expected each time once; none is kept"
    _keep_out(ordered, against, remarks, lambda t: f"found {t:g} {unlike_said}")
    return some_of(ordered, ~(again | against))


def _on_the_step(rows: TracingRows, step_s: float, remarks: Remarks) -> TracingRows:
    """Keep out rows that stand less than half a step after the one before: they fit no steady sampling."""
    close = np.flatnonzero(np.diff(rows.t_s) < 0.5 * step_s) + 1
    if not len(close):
        return rows
    # of a chain of close rows the first stays; those after it are measured from the last one kept
    kept = np.ones(len(rows.t_s), dtype=bool)
    last = -np.inf
    for k in range(int(close[0]) - 1, len(rows.t_s)) if len(close) > 1 else (int(close[0]) - 1, int(close[0])):
        if rows.t_s[k] - last < 0.5 * step_s:
            kept[k] = False
        else:
            last = rows.t_s[k]
    wanted = f"less than half a step after the row before; expected steps of {step_s:.3g} s"
    _keep_out(rows, ~kept, remarks, lambda t: f"found {t:g}, {wanted}")
    return some_of(rows, kept)


def _keep_out(rows: TracingRows, out: BoolArray, remarks: Remarks, why: Callable[[float], str]) -> None:
    """Say of each of these rows what is wrong with its time."""
    at_s = rows.t_s[out].tolist()
    remarks.reject_rows(rows.row_numbers[out], "t_s", at_s, map(why, at_s))


def _content(
    rows: TracingRows, channels: Channels, step_s: float | None, new_stretch_after_s: float, hold_s: float | None
) -> TracingContent:
    fhr = channels["fhr_bpm"]
    assert fhr is not None
    seen = ~np.isnan(fhr)
    runs = sampling.runs_of(rows.t_s, seen, step_s or 1 / sampling.RATE_HZ, new_stretch_after_s, hold_s=hold_s)
    packed = {name: None if values is None else to_hundredths(values) for name, values in channels.items()}
    mhr = packed["mhr_bpm"]
    if mhr is not None and (mhr == NO_SIGNAL).all():
        mhr = None
    source_rate_hz = None if step_s is None or hold_s is not None else round(1 / step_s, 3)
    stretches = []
    for run in runs:
        taken = _taken(packed["fhr_bpm"], run), _taken(packed["toco"], run), None if mhr is None else _taken(mhr, run)
        stretches.append(Stretch(rows.case_id, rows.fetus, run.start_s, *taken, source_rate_hz, run.rate_hz))
    return TracingContent(rows.case_id, rows.fetus, tuple(stretches), len(rows.t_s), int(rows.row_numbers[0]))


def _taken(values: Hundredths | None, run: sampling.Run) -> Hundredths:
    assert values is not None
    if len(run.source) == len(values) and run.source[0] == 0 and (np.diff(run.source) == 1).all():
        return values
    return np.where(run.source >= 0, values[run.source], NO_SIGNAL)


def _rows_by_key(key: NDArray[np.int64]) -> dict[int, NDArray[np.int64] | slice]:
    """The rows of each key, in their order; a slice when they lie together, which costs no copy."""
    if not len(key):
        return {}
    edges = [0, *(np.flatnonzero(np.diff(key)) + 1).tolist(), len(key)]
    pieces: dict[int, list[tuple[int, int]]] = {}
    for a, b in pairwise(edges):
        pieces.setdefault(int(key[a]), []).append((a, b))
    return {
        k: slice(*found[0]) if len(found) == 1 else np.concatenate([np.arange(a, b) for a, b in found])
        for k, found in pieces.items()
    }


def _numbers(rows: NDArray[np.int64] | slice) -> NDArray[np.int64]:
    return np.arange(rows.start, rows.stop) if isinstance(rows, slice) else rows


def _contradicting(rows: TracingRows) -> float:
    """The share of rows that stand at the time of another row and have another heart rate."""
    order = np.lexsort((rows.fhr_bpm, rows.t_s))
    t_s, fhr = rows.t_s[order], np.nan_to_num(rows.fhr_bpm[order], nan=-9999.0)
    same = (np.diff(t_s) == 0) & (np.diff(fhr) != 0)
    return float(np.mean(np.append(same, False) | np.append(False, same)))

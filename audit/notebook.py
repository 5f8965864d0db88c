"""The way in for an analyst with a notebook: files to tracings, tracings to readings, a unit's database as frames.

Everything here is thin: the importer's own parsers, the reading and the standards that `analyse` runs, and the views
that the pages read. Retrospective review only: not for care in progress, not a medical device; local guidelines decide.
"""

import dataclasses
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, TypeAlias

import altair as alt
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.analysis.one_tracing import on_case_clock
from audit.charts.strip.chart import strip_chart
from audit.charts.strip.rows import (
    acceleration_rows,
    baseline_rows,
    category_rows,
    contraction_rows,
    deceleration_rows,
    line_rows,
    unseen_rows,
    within,
)
from audit.charts.strip.types import SCALE_1, SCALE_3, StripLayers, StripRows, StripWindow
from audit.errors import AuditError, UsageError
from audit.intake.contents import Content, read_content
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.writing.ledger import Ledger
from audit.months import checked_period
from audit.settings import Settings, load_settings, settings_for
from audit.standards.registry import FORMER_STANDARDS, STANDARDS
from audit.standards.seen import Seen
from audit.store import database, published
from audit.store.tracings import load_tracing, put_together
from audit.tracing import types
from audit.tracing.read import read_tracing
from audit.tracing.types import Tracing

Channel: TypeAlias = Sequence[float | None] | NDArray[Any]  # a pandas Series does as well
FRAMES = ("decelerations", "accelerations", "contractions", "level_changes", "sinusoidal", "epochs")
SCALES = {1: SCALE_1, 3: SCALE_3}


def from_samples(
    fhr_bpm: Channel, toco: Channel | None = None, *, sample_rate_hz: float = 4.0, mhr_bpm: Channel | None = None
) -> Tracing:
    """A tracing from lists, arrays or series.

    Parameters
    ----------
    fhr_bpm : shape (n_samples,), beats per minute; None, NaN and 0 are no signal.
    toco : shape (n_samples,), arbitrary units; None = no toco was recorded.
    sample_rate_hz : samples per second, more than 0.
    mhr_bpm : shape (n_samples,), maternal heart rate; None = not recorded.

    Returns
    -------
    Tracing
        Its first sample at 0 s.

    Raises
    ------
    UsageError
        A channel that is not one row of numbers, or channels of different lengths.

    Examples
    --------
    >>> import audit
    >>> made = audit.from_samples([140, 141, None, 139] * 600, sample_rate_hz=4)
    >>> made.fhr_bpm.size, made.sample_rate_hz
    (2400, 4.0)
    """
    fhr = _channel("fhr_bpm", fhr_bpm)
    fhr[fhr == 0] = np.nan
    others = {"toco": toco, "mhr_bpm": mhr_bpm}
    arrays = {name: None if values is None else _channel(name, values) for name, values in others.items()}
    for name, values in arrays.items():
        if values is not None and values.size != fhr.size:
            raise UsageError(f"{name}: found {values.size} samples, expected {fhr.size} as in fhr_bpm")
    if not sample_rate_hz > 0:
        raise UsageError(f"sample_rate_hz: found {sample_rate_hz}, expected a number above 0")
    uterus = arrays["toco"] if arrays["toco"] is not None else np.full(fhr.size, np.nan)
    return Tracing(fhr_bpm=fhr, toco=uterus, sample_rate_hz=float(sample_rate_hz), mhr_bpm=arrays["mhr_bpm"])


def read_csv(file: str | Path, *, case_id: str | None = None, fetus: str | None = None) -> Tracing:
    """One tracing from a CSV or Parquet file with the columns of an import (`case_id, t_s, fhr_bpm, toco`).

    Rows that the import would keep out are left out here too, with a warning that counts them.

    Parameters
    ----------
    file : the file. case_id, fetus : which tracing; needed when the file holds several.

    Raises
    ------
    UsageError
        A file that the import would refuse, with its reason; a file of another kind; a case that is not in it; or
        several tracings and none named.
    """
    return _one_of(_tracings_of(Path(file), ("tracing",)), Path(file), case_id, fetus)


def read_wfdb(record: str | Path) -> Tracing:
    """One tracing from a WFDB record, given by its header or by its name without an ending.

    Raises
    ------
    UsageError
        As `read_csv`.
    """
    path = Path(record)
    header = path if path.suffix == ".hea" else path.with_name(f"{path.name}.hea")
    return _one_of(_tracings_of(header, ("wfdb",)), header, None, None)


@dataclass(frozen=True)
class Reading:
    """What one tracing showed. `findings` holds the arrays and events, `frame` gives them as tables.

    Times are seconds on the tracing's own axis (`tracing.start_s` is its first sample).
    """

    tracing: Tracing
    findings: types.Reading
    settings: Settings = dataclasses.field(repr=False)
    gestation_weeks: float | None = None
    second_stage_s: float | None = None

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reviewer should know of this reading: what could not be seen, what the sensor and rate mean."""
        return self.findings.notes

    def frame(self, name: str) -> pd.DataFrame:
        """One kind of finding as a frame, one row each, columns as in the table of the same name.

        Parameters
        ----------
        name : decelerations, accelerations, contractions, level_changes, sinusoidal or epochs.

        Raises
        ------
        UsageError
            Another name.
        """
        if name not in FRAMES:
            raise UsageError(f"frame {name!r}: expected one of {', '.join(FRAMES)}")
        kind = _KINDS[name]
        rows = [on_case_clock(dict(vars(event)), self.tracing.start_s) for event in getattr(self.findings, name)]
        return pd.DataFrame(rows, columns=[field.name for field in dataclasses.fields(kind)])

    @cached_property
    def _seen(self) -> Seen:
        second = None if self.second_stage_s is None else self.second_stage_s - self.tracing.start_s
        return Seen(self.findings, gestation_weeks=self.gestation_weeks, second_stage_s=second)

    def plot(
        self,
        start_s: float | None = None,
        end_s: float | None = None,
        *,
        cm_per_min: int = 1,
        standard: str | None = None,
        findings: bool = True,
    ) -> alt.TopLevelMixin:
        """The strip of a stretch at paper scale, FHR over toco, as an Altair chart.

        Parameters
        ----------
        start_s, end_s : the stretch, seconds; the whole tracing when not given.
        cm_per_min : paper speed, 1 or 3. Scales are common practice, no source.
        standard : whose minute categories are drawn below the strip; None = none.
        findings : False draws the bare strip.

        Raises
        ------
        UsageError
            An empty stretch, another speed, or an unknown standard.
        """
        first_s, last_s = self.tracing.start_s, self.tracing.start_s + self.findings.duration_s
        begin_s, stop_s = first_s if start_s is None else start_s, last_s if end_s is None else end_s
        if not stop_s > begin_s:
            raise UsageError(
                f"stretch from {begin_s:g} s to {stop_s:g} s: found nothing, expected an end after its start"
            )
        if cm_per_min not in SCALES:
            raise UsageError(f"cm_per_min: found {cm_per_min!r}, expected 1 or 3")
        window = SCALES[cm_per_min].window(begin_s, stop_s)
        rows = self._rows(window, standard)
        if not findings:
            return strip_chart(rows, window, StripLayers())
        layers = StripLayers(
            decelerations=True, accelerations=True, contractions=True, baseline=True, excluded=True,
            categories=standard is not None,
        )  # fmt: skip
        return strip_chart(rows, window, layers)

    def _rows(self, window: StripWindow, standard: str | None) -> StripRows:
        made, start_s = self.tracing, self.tracing.start_s
        minutes = None if standard is None else classify(self, standard).assign(standard=standard)
        return StripRows(
            fhr=line_rows(made, made.fhr_bpm, window, "bpm"),
            toco=line_rows(made, made.toco, window, "toco"),
            baseline=baseline_rows(self.findings, start_s, window),
            decelerations=deceleration_rows(within(self.frame("decelerations"), window)),
            accelerations=acceleration_rows(within(self.frame("accelerations"), window)),
            contractions=contraction_rows(within(self.frame("contractions"), window)),
            unseen=unseen_rows(self.findings, start_s, window),
            categories=pd.DataFrame() if minutes is None else category_rows(minutes, window),
        )


_KINDS: dict[str, type] = {
    "decelerations": types.Deceleration,
    "accelerations": types.Acceleration,
    "contractions": types.Contraction,
    "level_changes": types.LevelChange,
    "sinusoidal": types.Sinusoidal,
    "epochs": types.Epoch,
}


def read(
    given: Tracing | Channel,
    toco: Channel | None = None,
    *,
    sample_rate_hz: float = 4.0,
    gestation_weeks: float | None = None,
    second_stage_s: float | None = None,
    settings: Settings | None = None,
) -> Reading:
    """Read one tracing: quality, baseline, decelerations, accelerations, contractions, variability.

    Parameters
    ----------
    given : a tracing, or the fetal heart rate as a list, array or series with `toco` and `sample_rate_hz`.
    gestation_weeks : completed or decimal weeks; the standards' rules for preterm accelerations need it.
    second_stage_s : start of the second stage on the tracing's axis.
    settings : the settings; the packaged ones when not given (`audit.load_settings(file)` reads a unit's).

    Notes
    -----
    Definitions: NICHD 2008. The same function as `analyse` runs, so the same samples give the same findings.

    Examples
    --------
    >>> import audit
    >>> reading = audit.read([139, 141, 142, 140] * 1200, sample_rate_hz=4)
    >>> reading.frame("epochs")["baseline_rounded_bpm"].tolist()
    [140, 140]
    """
    chosen = settings or load_settings()
    made = given if isinstance(given, Tracing) else from_samples(given, toco, sample_rate_hz=sample_rate_hz)
    return Reading(made, read_tracing(made, chosen.tracing), chosen, gestation_weeks, second_stage_s)


def classify(reading: Reading, standard: str) -> pd.DataFrame:
    """The category of each minute under a standard, from what had been seen by then.

    Parameters
    ----------
    standard : nichd-2008, figo-2015, nice-ng229 or figo-1986.

    Returns
    -------
    DataFrame
        One row a minute: at_s (end of the minute, seconds), category, reasons (list of text).

    Raises
    ------
    UsageError
        Another standard.
    """
    known = {**STANDARDS, **FORMER_STANDARDS}
    if standard not in known:
        raise UsageError(f"standard {standard!r}: expected one of {', '.join(known)}")
    limits = reading.settings.of_standards[standard]
    minutes = known[standard].minute_categories(reading.findings, limits, seen=reading._seen)
    return pd.DataFrame(
        {
            "at_s": minutes.at_s + reading.tracing.start_s,
            "category": minutes.categories,
            "reasons": [list(reasons) for reasons in minutes.reasons],
        }
    )


class Unit:
    """A unit's database as frames, read from the published copy that the pages read. Made by `open_unit`."""

    def __init__(self, db: Path) -> None:
        self.db = db
        self.settings = settings_for(db)

    def __repr__(self) -> str:
        return f"Unit({self.db.name!r})"

    def table(self, name: str, *, case_id: str | None = None) -> pd.DataFrame:
        """A table or view of the database, whole or one case's rows.

        Raises
        ------
        UsageError
            A name that is not there, with those that are.
        """
        with published.open_for_reading(published.required(self.db)) as con:
            known = database.tables(con)
            if name not in known:
                raise UsageError(f"table {name!r}: expected one of {', '.join(known)}")
            rows = con.table(name).df()
        return (
            rows
            if case_id is None or "case_id" not in rows
            else rows[rows["case_id"] == case_id].reset_index(drop=True)
        )

    def cases(self, *, period: str | None = None) -> pd.DataFrame:
        """One row per labour: month, facts, and what is there of it. period : YYYY-MM, None = all months."""
        return self._of_month("labours", period)

    def episodes(self, *, period: str | None = None, standard: str | None = None) -> pd.DataFrame:
        """One row per concern episode with what answered it.

        Parameters
        ----------
        period : month of birth, YYYY-MM; None = all months. standard : None = all.
        """
        rows = self._of_month("episodes", period)
        return rows if standard is None else rows[rows["standard"] == standard].reset_index(drop=True)

    def tracing(self, case_id: str, fetus: str = "A") -> Tracing:
        """One stored tracing.

        Raises
        ------
        UsageError
            A case without a tracing.
        """
        with published.open_for_reading(published.required(self.db)) as con:
            try:
                return load_tracing(con, case_id, fetus)
            except LookupError as error:
                raise UsageError(str(error)) from None

    def reading(self, case_id: str, fetus: str = "A") -> Reading:
        """One stored tracing read again with the unit's settings."""
        facts = self.cases().set_index("case_id").loc[case_id]
        weeks, second = (
            None if pd.isna(facts[name]) else float(facts[name]) for name in ("gestation_weeks", "second_stage_s")
        )
        return read(self.tracing(case_id, fetus), gestation_weeks=weeks, second_stage_s=second, settings=self.settings)

    def _of_month(self, name: str, period: str | None) -> pd.DataFrame:
        rows = self.table(name)
        return rows if period is None else rows[rows["period"] == checked_period(period)].reset_index(drop=True)


def open_unit(db: str | Path) -> Unit:
    """A unit's database.

    Raises
    ------
    AuditError
        No database there, or one that this program cannot read.

    Examples
    --------
    >>> import audit
    >>> unit = audit.open_unit("unit.duckdb")  # doctest: +SKIP
    >>> unit.episodes(period="2031-04", standard="figo-2015")  # doctest: +SKIP
    """
    path = Path(db)
    if not path.is_file():
        raise AuditError(f"{path.name}: no database here; import files first")
    return Unit(path)


def _channel(name: str, values: Channel) -> NDArray[np.float64]:
    try:
        array = np.array([np.nan if value is None else value for value in values], dtype=np.float64)
    except (TypeError, ValueError):
        raise UsageError(f"{name}: found {type(values).__name__} that is not one row of numbers") from None
    if array.ndim != 1:
        raise UsageError(f"{name}: found an array of {array.ndim} dimensions, expected one row of numbers")
    return array


def _tracings_of(path: Path, kinds: tuple[str, ...]) -> dict[tuple[str, str], Tracing]:
    remarks = Remarks(limit=1)
    try:
        content = read_content(path, Ledger(), remarks, load_settings())
    except FileRefused as error:
        raise UsageError(error.remark.text(path.name)) from None
    assert isinstance(content, Content)
    if content.kind not in kinds:
        raise UsageError(f"{path.name}: found {content.kind}, expected {' or '.join(kinds)}")
    found = {(one.case_id, one.fetus): put_together(list(one.stretches)) for one in content.tracings or ()}
    if remarks.rows_rejected or remarks.values_rejected:
        first = next(iter(remarks.listed), None)
        told = "" if first is None else f", the first one: {first.text(path.name)}"
        warnings.warn(
            f"{path.name}: {remarks.rows_rejected} rows and {remarks.values_rejected} values left out{told}",
            stacklevel=3,
        )
    return found


def _one_of(found: dict[tuple[str, str], Tracing], path: Path, case_id: str | None, fetus: str | None) -> Tracing:
    fits = [key for key in found if case_id in (None, key[0]) and fetus in (None, key[1])]
    if len(fits) == 1:
        return found[fits[0]]
    if not fits:
        raise UsageError(f"{path.name}: found no tracing of case {case_id}, fetus {fetus or 'A'}")
    raise UsageError(f"{path.name}: found {len(fits)} tracings, expected one; name it with case_id and fetus")

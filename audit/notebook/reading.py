"""Tracings to readings: findings as frames, categories, the strip."""

import dataclasses
from dataclasses import dataclass
from functools import cached_property

import altair as alt
import pandas as pd

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
from audit.errors import UsageError
from audit.notebook.samples import Channel, from_samples, with_arrays
from audit.settings import Settings, load_settings
from audit.standards.registry import FORMER_STANDARDS, STANDARDS
from audit.standards.seen import Seen
from audit.tracing import types
from audit.tracing.read import read_tracing
from audit.tracing.types import Tracing, on_case_clock

FRAMES = ("decelerations", "accelerations", "contractions", "level_changes", "sinusoidal", "epochs")


SCALES = {1: SCALE_1, 3: SCALE_3}


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
        name
            decelerations, accelerations, contractions, level_changes, sinusoidal or epochs.

        Returns
        -------
        DataFrame
            In order of time; empty when nothing was found.

        Raises
        ------
        UsageError
            Another name.
        """
        if name not in FRAMES:
            raise UsageError(f"frame {name!r}: expected one of {', '.join(FRAMES)}")
        kind = _KINDS[name]
        rows = [on_case_clock(event, self.tracing.start_s) for event in getattr(self.findings, name)]
        return pd.DataFrame(rows, columns=[field.name for field in dataclasses.fields(kind)])

    @cached_property
    def _seen(self) -> Seen:
        second = None if self.second_stage_s is None else self.second_stage_s - self.tracing.start_s
        gradual_s = self.settings.tracing.gradual_s
        return Seen(self.findings, gestation_weeks=self.gestation_weeks, second_stage_s=second, gradual_s=gradual_s)

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
        start_s
            Start of the stretch, seconds; None = of the tracing.
        end_s
            Its end, seconds; None = of the tracing.
        cm_per_min
            Paper speed, 1 or 3. The scales are common practice, no source.
        standard
            Whose minute categories are drawn below the strip; None = none.
        findings
            False draws the bare strip.

        Returns
        -------
        TopLevelMixin
            An Altair chart.

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
        layers = StripLayers(
            decelerations=findings, accelerations=findings, contractions=findings, baseline=findings, excluded=findings,
            categories=findings and standard is not None,
        )  # fmt: skip
        return _with_values(strip_chart(rows, window, layers))

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


def _with_values(chart: alt.VConcatChart) -> alt.VConcatChart:
    """The chart with its rows as values: of a frame the library takes 5,000 rows, a labour's strip has more."""
    for pane in chart.vconcat:
        for part in (pane, *getattr(pane, "layer", ())):
            if isinstance(part.data, pd.DataFrame):
                part.data = alt.InlineData(values=alt.to_values(part.data)["values"])
    return chart


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
    given
        A tracing, or the fetal heart rate as a list, array or series, shape (n_samples,), bpm.
    toco
        With a heart rate: the toco, shape (n_samples,), arbitrary units; None = not recorded.
    sample_rate_hz
        With a heart rate: samples per second.
    gestation_weeks
        Completed or decimal weeks; the standards' rules for preterm accelerations need it.
    second_stage_s
        Start of the second stage on the tracing's axis.
    settings
        The settings; the packaged ones when not given (`audit.load_settings(file)` reads a unit's).

    Returns
    -------
    Reading
        What was found.

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
    if isinstance(given, Tracing):
        made = with_arrays(given)
    else:
        made = from_samples(given, toco, sample_rate_hz=sample_rate_hz)
    return Reading(made, read_tracing(made, chosen.tracing), chosen, gestation_weeks, second_stage_s)


def classify(reading: Reading, standard: str) -> pd.DataFrame:
    """The category of each minute under a standard, from what had been seen by then.

    Parameters
    ----------
    reading
        What `read` gave.
    standard
        nichd-2008, figo-2015, nice-ng229 or figo-1986.

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

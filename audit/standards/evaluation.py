"""From the criteria met at each mark to categories and reasons, and from the marks of a window to one category."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Generic, TypeVar

import numpy as np
from msgspec import structs

from audit.standards.basics import Basics, marks_of
from audit.standards.seen import Seen
from audit.standards.settings import StandardSettings
from audit.standards.types import (
    NOT_ASSESSABLE,
    BoolArray,
    FloatArray,
    IntArray,
    MinuteCategories,
    TriggerSeries,
    WindowCategory,
)
from audit.tracing.types import Reading

TRIGGER_UNSEEN_BELOW = 0.2  # share of the last minute with signal under which a minute shows nothing; our choice

S = TypeVar("S", bound=StandardSettings)
Reasons = Callable[[Sequence[int]], list[tuple[str, ...]]]  # for the marks asked for, by index


@dataclass(frozen=True)
class Criterion:
    """One criterion at n marks: where it was met, how severe it is, its words, and when its pattern began."""

    level: int
    met: BoolArray  # (n,)
    text: Callable[..., str]
    values: tuple[FloatArray, ...]  # (n,) each, rounded to what is printed
    start_s: FloatArray | None  # (n,) NaN = unknown
    feature: str


@dataclass
class Findings:
    """The criteria met at n marks, in the order in which the guideline lists them."""

    count: int
    criteria: list[Criterion] = field(default_factory=list)

    def add(
        self,
        level: int,
        met: BoolArray,
        text: Callable[..., str],
        *values: FloatArray,
        start_s: FloatArray | None = None,
        feature: str = "",
    ) -> None:
        """Add a criterion; `text` is called with the values, in order, once per distinct set of them."""
        if met.any():
            self.criteria.append(Criterion(level, met, text, values, start_s, feature))

    def worst(self) -> IntArray:
        """The highest level met at each mark, 0 where none is."""
        result = np.zeros(self.count, dtype=np.int64)
        for criterion in self.criteria:
            np.maximum(result, criterion.level * criterion.met, out=result)
        return result

    def features_at(self, level: int) -> IntArray:
        """How many distinct features have a criterion of exactly this level at each mark."""
        result = np.zeros(self.count, dtype=np.int64)
        for feature in {c.feature for c in self.criteria}:
            met = np.zeros(self.count, dtype=bool)
            for criterion in self.criteria:
                if criterion.feature == feature and criterion.level == level:
                    met |= criterion.met
            result += met
        return result

    def start_s(self, level: int) -> FloatArray:
        """Earliest known start of the patterns that met this level or a higher one, NaN where none did."""
        result = np.full(self.count, np.inf)
        for criterion in self.criteria:
            if criterion.level >= level and criterion.start_s is not None:
                usable = criterion.met & np.isfinite(criterion.start_s)
                result[usable] = np.minimum(result[usable], criterion.start_s[usable])
        return np.where(np.isfinite(result), result, np.nan)

    def reasons(self, marks: Sequence[int]) -> list[list[str]]:
        """The words of the criteria met at each of the marks (by index), most severe first."""
        ordered = sorted(self.criteria, key=lambda c: -c.level)
        if len(marks) == 1:
            (mark,) = marks
            return [[c.text(*(value.item(mark) for value in c.values)) for c in ordered if c.met[mark]]]
        result: list[list[str]] = [[] for _ in range(self.count)]
        for criterion in ordered:
            rows = np.flatnonzero(criterion.met).tolist()
            columns = [value[criterion.met].tolist() for value in criterion.values]
            made: dict[tuple[float, ...], str] = {}
            for row, key in zip(rows, zip(*columns) if columns else [()] * len(rows)):
                words = made.get(key)
                if words is None:
                    words = made[key] = criterion.text(*key)
                result[row].append(words)
        return [result[mark] for mark in marks]


@dataclass(frozen=True)
class Evaluation:
    """What one standard makes of the marks it was given."""

    basics: Basics
    levels: IntArray  # (n,) highest level that the evidence seen so far suffices for
    codes: IntArray  # (n,) the same, -1 where too little was seen for a category
    reasons: Reasons
    triggers: Callable[[], Mapping[str, TriggerSeries]] = dict  # made when asked for: a window needs none


@dataclass(frozen=True)
class Standard(Generic[S]):
    """A published standard: its name, its categories, and how it reads marks of a tracing."""

    name: str
    levels: tuple[str, ...]  # mildest first
    evaluate: Callable[[Seen, FloatArray, float, S], Evaluation]
    final_only: bool = False  # a window is read once, as a whole, at its end

    def minute_categories(self, reading: Reading, settings: S, *, seen: Seen | None = None) -> MinuteCategories:
        """The category at every minute of a tracing, as it stood on what had been seen by then.

        Parameters
        ----------
        reading : the reading of the whole tracing.
        settings : this standard's table of the settings.
        seen : the same reading prepared once, when several standards are run on it.
        """
        at_s = marks_of(reading)
        result = self.evaluate(seen or Seen(reading), at_s, 0.0, settings)
        reasons = result.reasons(range(at_s.size))
        return MinuteCategories(
            standard=self.name,
            edition=settings.edition,
            at_s=at_s,
            codes=result.codes,
            levels=self.levels,
            reasons=reasons,
            triggers={
                name: replace(series, standard=self.name, trigger=name, reasons=reasons)
                for name, series in result.triggers().items()
            },
        )

    def window_category(
        self,
        reading: Reading,
        start_s: float,
        end_s: float,
        settings: S,
        *,
        seen: Seen | None = None,
    ) -> WindowCategory:
        """The category of the window [start_s, end_s).

        Decelerations, contractions and the share of signal are those of the window; baseline, variability and the
        length of a pattern may reach back before it, since a reader sees the strip before it too. `window_rule` of the
        settings says whether the worst minute of the window counts or its end; both come back. A window that a reader
        classed is classed with less signal than a minute by itself (`window_signal_seen_fraction`).

        Raises ValueError when the window is empty.
        """
        if not end_s > start_s:
            raise ValueError(f"window from {start_s:g} s to {end_s:g} s is empty")
        of_window = structs.replace(
            settings,
            first_category_min=min(settings.first_category_min, (end_s - start_s) / 60.0),
            class_window_min=max(settings.class_window_min, (end_s - start_s) / 60.0),
            signal_seen_fraction=settings.window_signal_seen_fraction,
        )
        whole = np.arange(start_s + 60.0, end_s, 60.0)
        at_s = np.append(whole[:0] if self.final_only else whole[whole < end_s - 1e-6], end_s)
        result = self.evaluate(seen or Seen(reading), at_s, start_s, of_window)
        codes, words = result.codes, (*self.levels, NOT_ASSESSABLE)
        final = codes.size - 1
        worst = int(np.argmax(codes))  # the first minute of the most severe category
        if codes[final] < 0 and codes[worst] < len(self.levels) - 1:
            worst = final
        by_worst = settings.window_rule == "worst"
        chosen, other = (worst, final) if by_worst else (final, worst)
        (reasons,) = result.reasons([chosen])
        if codes[worst] != codes[final]:
            place = "at its end" if by_worst else "at its worst minute"
            reasons = (*reasons, f"the window {place}: {words[codes[other]]}")
        return WindowCategory(words[codes[chosen]], reasons, settings.edition, words[codes[worst]], words[codes[final]])


def assemble(
    findings: Findings,
    levels: IntArray,
    basics: Basics,
    seen_share: FloatArray,
    assessable: BoolArray,
    *,
    sufficient: int,
    seen_text: Callable[[float], str],
    unremarkable: Callable[[float, float], str],
) -> tuple[IntArray, Reasons]:
    """Codes and the maker of reasons.

    `sufficient` is the level that stands even where too little was seen for a category. Marks of the mildest level get
    one line that says what was measured, then any notes; marks that are not assessable say how much was seen, then
    what was found.
    """
    codes = np.where(assessable | (levels >= sufficient), levels, -1).astype(np.int64)

    def reasons(marks: Sequence[int]) -> list[tuple[str, ...]]:
        made: dict[tuple[float, float], tuple[str, ...]] = {}
        shares, listed = np.floor(seen_share * 100.0).tolist(), codes.tolist()
        baseline, variability = np.rint(basics.baseline_bpm).tolist(), np.rint(basics.variability_bpm).tolist()
        result: list[tuple[str, ...]] = []
        for k, lines in zip(marks, findings.reasons(marks), strict=True):
            if listed[k] < 0:
                result.append((seen_text(shares[k]), *lines))
            elif listed[k] > 0:
                result.append(tuple(lines))
            else:
                key = (baseline[k], variability[k])
                words = made.get(key)
                if words is None:
                    words = made[key] = (unremarkable(*key),)
                result.append((*words, *lines) if lines else words)
        return result

    return codes, reasons


def in_bpm(value: float) -> str:
    """A measured value with its unit, or that it is not known."""
    return "not known" if math.isnan(value) else f"{value:.0f} bpm"


def trigger_series(
    met: BoolArray,
    start_s: FloatArray,
    basics: Basics,
    *,
    cannot_say: BoolArray | None = None,
    exact_s: tuple[float, ...] = (),
) -> TriggerSeries:
    """A trigger's series; its standard gives it its name and reasons.

    `cannot_say` marks minutes in which what the trigger needs was not seen (a category, a usable toco); with the
    minutes without signal they are unseen, unless the criteria hold anyway. A fall needs the last minute's signal only.
    """
    dark = basics.seen_last_minute < TRIGGER_UNSEEN_BELOW
    unseen = ~met & (dark if cannot_say is None else dark | cannot_say)
    # A pattern whose start cannot be told is given the mark itself, so that no clock runs from before it was seen.
    begun = np.where(np.isfinite(start_s), np.minimum(start_s, basics.at_s), basics.at_s)
    starts = np.where(met, begun, np.nan)
    return TriggerSeries("", "", basics.at_s, met, unseen, starts, recognisable_exact_s=exact_s)


def persisting(
    held: BoolArray, unknown: BoolArray, at_s: FloatArray, minutes: float, inclusive: bool
) -> tuple[BoolArray, FloatArray]:
    """Where a state has held for so many minutes, bridging minutes in which nothing could be said, and since when."""
    index = np.arange(held.size)
    start = np.maximum.accumulate(np.where(held | unknown, -1, index)) + 1
    first_held = np.full(held.size, np.nan)
    # the run starts at its first minute that truly held, not at an unknown one
    next_held = np.where(held, index, held.size)
    next_held = np.minimum.accumulate(next_held[::-1])[::-1]
    inside = held & (start < held.size)
    first_held[inside] = at_s[next_held[start[inside]]] - 60.0
    length = (at_s - first_held) / 60.0
    with np.errstate(invalid="ignore"):
        long_enough = (length >= minutes) if inclusive else (length > minutes)
    met = inside & long_enough
    return met, np.where(met, first_held, np.nan)

"""From the criteria met at each mark to categories and reasons, and from the marks of a window to one category."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Generic, TypeVar

import numpy as np
from msgspec import structs

from audit.setting_types import Limit
from audit.standards.basics import Basics, marks_of
from audit.standards.cautioned import caution_notes
from audit.standards.falls import Evidence
from audit.standards.hinges import could_be
from audit.standards.seen import Seen
from audit.standards.settings import StandardSettings
from audit.standards.types import (
    BoolArray,
    FloatArray,
    IntArray,
    MinuteCategories,
    TakenAs,
    TriggerSeries,
    WindowCategory,
)
from audit.tracing.types import Reading
from audit.vocabulary import NOT_ASSESSABLE

TRIGGER_UNSEEN_BELOW = 0.2  # share of the last minute with signal under which a minute shows nothing; our choice

S = TypeVar("S", bound=StandardSettings)
Reasons = Callable[[Sequence[int]], list[tuple[str, ...]]]  # for the marks asked for, by index
Later = Callable[[], Evidence]  # worked out once a trigger asks for it: most criteria are met nowhere


@dataclass(frozen=True)
class Criterion:
    """One criterion at n marks: where it was met, how severe it is, its words, and when its pattern began."""

    level: int
    met: BoolArray  # (n,)
    text: Callable[..., str]
    values: tuple[FloatArray, ...]  # (n,) each, rounded to what is printed
    start_s: FloatArray | None  # (n,) NaN = unknown
    evidence: Later | None  # what was found last; None = it is there at the mark itself
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
        evidence: Later | None = None,
        feature: str = "",
    ) -> None:
        """Add a criterion; `text` is called with the values, in order, once per distinct set of them."""
        if met.any():
            self.criteria.append(Criterion(level, met, text, values, start_s, evidence, feature))

    def worst(self, *, besides: str | None = None) -> IntArray:
        """The highest level met at each mark, 0 where none is; without the criteria of the feature `besides`."""
        result = np.zeros(self.count, dtype=np.int64)
        for criterion in self.criteria:
            if besides is None or criterion.feature != besides:
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

    def evidence(self, level: int, at_s: FloatArray) -> Evidence:
        """Onset and end so far of the latest finding behind this level or a higher one; the mark for a state."""
        begun, until = np.full(self.count, np.nan), np.full(self.count, -np.inf)
        for criterion in self.criteria:
            if criterion.level < level:
                continue
            first, last = (at_s, at_s) if criterion.evidence is None else criterion.evidence()
            later = criterion.met & (np.where(np.isfinite(last), last, at_s) > until)
            begun = np.where(later, np.where(np.isfinite(last), first, at_s), begun)
            until = np.where(later, np.where(np.isfinite(last), last, at_s), until)
        return np.where(np.isfinite(until), begun, at_s), np.where(np.isfinite(until), until, at_s)

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
    by_one: Callable[[], Mapping[int, str]] = dict  # by mark, what one deceleration more or fewer would make of it


@dataclass(frozen=True)
class Standard(Generic[S]):
    """A published standard: its name, its categories, and how it reads marks of a tracing."""

    name: str
    levels: tuple[str, ...]  # mildest first
    evaluate: Callable[[Seen, FloatArray, float, S], Evaluation]
    final_only: bool = False  # a window is read once, as a whole, at its end
    lengths: tuple[str, ...] = ()  # limits of a fall's length by which its kind, or a trigger, is judged

    def minute_categories(self, reading: Reading, settings: S, *, seen: Seen | None = None) -> MinuteCategories:
        """The category at every minute of a tracing, as it stood on what had been seen by then.

        `reading`: the reading of the whole tracing. `settings`: this standard's table of the settings, for the month of
        birth (`for_month`). `seen`: the same reading prepared once, when several standards are run on it.
        """
        at_s = marks_of(reading)
        settings = settings.for_month(None)
        seen = seen or Seen(reading)
        of_all = (seen, at_s, 0.0, settings)
        result, otherwise = self.evaluate(*of_all), self._otherwise(*of_all)
        reasons = result.reasons(range(at_s.size))
        for mark, hinges in self._hinges(result, otherwise, *of_all).items():
            reasons[mark] = (*reasons[mark], *hinges)
        for mark, hinge in result.by_one().items():
            reasons[mark] = (*reasons[mark], hinge)
        back_s, words = settings.class_window_min * 60.0, (*self.levels, NOT_ASSESSABLE)
        other = self._at_other_level(*of_all)
        for mark, notes in caution_notes(reading, at_s, result.codes, back_s, other, words).items():
            reasons[mark] = (*reasons[mark], *notes)
        return MinuteCategories(
            standard=self.name,
            edition=settings.printed_edition,
            at_s=at_s,
            codes=result.codes,
            levels=self.levels,
            reasons=reasons,
            triggers={
                name: replace(series, reasons=reasons) for name, series in self._triggers(result, otherwise).items()
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
        settings says whether the worst minute of the window counts or its end; both come back.

        Raises ValueError when the window is empty.
        """
        if not end_s > start_s:
            raise ValueError(f"window from {start_s:g} s to {end_s:g} s is empty")
        of_window = structs.replace(
            settings.for_month(None),
            first_category_min=min(settings.first_category_min, (end_s - start_s) / 60.0),
            class_window_min=max(settings.class_window_min, (end_s - start_s) / 60.0),
        )
        at_s = np.append([] if self.final_only else np.arange(start_s + 60.0, end_s, 60.0), end_s)
        seen = seen or Seen(reading)
        result = self.evaluate(seen, at_s, start_s, of_window)
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
        otherwise = self._otherwise(seen, at_s, start_s, of_window)
        reasons = (*reasons, *self._hinges(result, otherwise, seen, at_s, start_s, of_window).get(chosen, ()))
        by_one = result.by_one()
        reasons = (*reasons, by_one[chosen]) if chosen in by_one else reasons
        instead = self._at_other_level(seen, at_s, start_s, of_window)
        instead = None if instead is None else instead[[chosen]]
        cautions = caution_notes(reading, at_s[[chosen]], codes[[chosen]], end_s - start_s, instead, words)
        reasons = (*reasons, *cautions.get(0, ()))
        return WindowCategory(
            words[codes[chosen]], reasons, of_window.printed_edition, words[codes[worst]], words[codes[final]]
        )

    def _at_other_level(self, seen: Seen, at_s: FloatArray, floor_s: float, settings: S) -> IntArray | None:
        """The categories under the other level of a doubtful baseline; None where none is doubtful."""
        other = seen.at_other_level
        return None if other is None else self.evaluate(other, at_s, floor_s, settings).codes

    def _otherwise(self, seen: Seen, at_s: FloatArray, floor_s: float, settings: S) -> dict[TakenAs, "Evaluation"]:
        """What the standard makes of the marks with all uncertain falls taken as abrupt, gradual, longer or shorter."""
        others = seen.otherwise(self._limits_s(settings))
        return {taken: self.evaluate(other, at_s, floor_s, settings) for taken, other in others.items()}

    def _limits_s(self, settings: S) -> tuple[Limit, ...]:
        return tuple(settings.limit(name) for name in self.lengths)

    def _triggers(self, result: "Evaluation", otherwise: Mapping[TakenAs, "Evaluation"]) -> dict[str, TriggerSeries]:
        """Each trigger, with what it is once uncertain falls are all of one kind or length, where that differs."""
        if_taken = {taken: other.triggers() for taken, other in otherwise.items()}
        found = {}
        for name, own in result.triggers().items():
            other = {
                taken: replace(series[name], standard=self.name, trigger=name)
                for taken, series in if_taken.items()
                if not np.array_equal(series[name].met, own.met)
            }
            found[name] = replace(
                own,
                standard=self.name,
                trigger=name,
                if_abrupt=other.get("abrupt"),
                if_gradual=other.get("gradual"),
                if_longer=other.get("longer"),
                if_shorter=other.get("shorter"),
            )
        return found

    def _hinges(
        self,
        result: "Evaluation",
        otherwise: Mapping[TakenAs, "Evaluation"],
        seen: Seen,
        at_s: FloatArray,
        floor_s: float,
        settings: S,
    ) -> dict[int, tuple[str, ...]]:
        """What the category of a mark hinges on where falls could be of another kind: by mark, with the other one."""
        limits = self._limits_s(settings)
        words = (*self.levels, NOT_ASSESSABLE)
        start_s = np.maximum(at_s - settings.class_window_min * 60.0, floor_s)
        notes: dict[int, tuple[str, ...]] = {}
        for taken, other in otherwise.items():
            moved = seen.falls.moved_when(taken, limits)
            here = seen.falls.overlapping(start_s, at_s) & moved
            for mark in np.flatnonzero(other.codes != result.codes).tolist():
                which = np.flatnonzero(here[mark]) if here[mark].any() else np.flatnonzero(moved)
                note = f"{could_be(seen.falls, which, taken, limits)}: then {words[other.codes[mark]]}"
                notes[mark] = (*notes.get(mark, ()), note)
        return notes


@dataclass(frozen=True)
class Unremarkable:
    """The line for a mark of the mildest level: `text` takes baseline, variability and the value of its mark."""

    text: Callable[[float, float, float], str]
    value: FloatArray  # (n,) rounded to what is printed


def assemble(
    findings: Findings,
    levels: IntArray,
    basics: Basics,
    seen: Seen,
    settings: StandardSettings,
    unremarkable: Unremarkable,
    unsaid: BoolArray | None = None,
) -> tuple[IntArray, Reasons]:
    """Codes and the maker of reasons.

    The most severe level stands even where too little was seen for a category; `unsaid` marks where a category is
    refused because what would decide it cannot be said, unless a criterion decides it anyway. Marks of the mildest
    level get one line that says what was measured, then any notes. Marks that are not assessable say how much was seen
    where that is why, then what was found; all others say how much was hidden from `hidden_said_from` on.
    """
    window_min, needed = settings.class_window_min, settings.signal_seen_fraction
    seen_share = seen.seen_share(basics, window_min)
    enough = Limit(">=", needed).met(seen_share)
    enough &= np.rint(basics.at_s - basics.floor_s) >= np.rint(settings.first_category_min * 60.0)
    refused = np.zeros(levels.size, dtype=bool) if unsaid is None else unsaid & (levels == 0)
    codes = np.where((enough & ~refused) | (levels >= 2), levels, -1).astype(np.int64)
    hidden = np.where(1.0 - seen_share >= settings.hidden_said_from - 1e-9, np.ceil(100.0 - seen_share * 100.0), 0.0)

    def reasons(marks: Sequence[int]) -> list[tuple[str, ...]]:
        made: dict[tuple[float, float, float], str] = {}
        shares, listed, told = np.floor(seen_share * 100.0).tolist(), codes.tolist(), enough.tolist()
        baseline, variability = np.rint(basics.baseline_bpm).tolist(), np.rint(basics.variability_bpm).tolist()
        values, lost = unremarkable.value.tolist(), hidden.tolist()
        result: list[tuple[str, ...]] = []
        for k, lines in zip(marks, findings.reasons(marks), strict=True):
            if listed[k] == 0:
                key = (baseline[k], variability[k], values[k])
                words = made.get(key)
                if words is None:
                    words = made[key] = unremarkable.text(*key)
                lines.insert(0, words)
            elif listed[k] == -1 and not told[k]:
                lines.insert(
                    0,
                    f"signal seen {shares[k]:.0f} % of the last {window_min:g} min; category needs "
                    f"{needed * 100:g} % and {settings.first_category_min:g} min",
                )
            if lost[k] and told[k]:
                lines.append(f"{lost[k]:.0f} % of the last {window_min:g} min hidden: of that nothing is said")
            result.append(tuple(lines))
        return result

    return codes, reasons


def plural(count: float, noun: str) -> str:
    """A number and its noun."""
    return f"{count:.0f} {noun}" if count == 1 else f"{count:.0f} {noun}s"


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
    evidence: Evidence | None = None,
) -> TriggerSeries:
    """A trigger's series; its standard gives it its name and reasons.

    `cannot_say` marks minutes in which what the trigger needs was not seen (a category, a usable toco); with the
    minutes without signal they are unseen, unless the criteria hold anyway. A fall needs the last minute's signal only.
    `evidence` tells the latest finding behind it at each mark; None = it is there at the mark itself.
    """
    dark = basics.seen_last_minute < TRIGGER_UNSEEN_BELOW
    unseen = ~met & (dark if cannot_say is None else dark | cannot_say)
    # A pattern whose start cannot be told is given the mark itself, so that no clock runs from before it was seen.
    begun = np.where(np.isfinite(start_s), np.minimum(start_s, basics.at_s), basics.at_s)
    starts = np.where(met, begun, np.nan)
    begun_s, until_s = (None, None) if evidence is None else evidence
    return TriggerSeries("", "", basics.at_s, met, unseen, starts, (), exact_s, begun_s, until_s)


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
    first_held[held] = at_s[next_held[start[held]]] - 60.0
    length = (at_s - first_held) / 60.0
    with np.errstate(invalid="ignore"):
        long_enough = (length >= minutes) if inclusive else (length > minutes)
    met = held & long_enough
    return met, np.where(met, first_held, np.nan)

"""Prepared tracings, readings and labours on which a changed setting must show, and what each shows of it.

They are drawn with a fixed seed, with events on both sides of what the standards ask for. No figure is expected of
them: a probe only says whether two settings give the same answer.
"""

from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

import numpy as np

from audit.analysis.clock import case_clock
from audit.errors import AuditError
from audit.measures.burden import burden_rows
from audit.questions import in_force
from audit.settings import AnalysisSettings, Settings, load_settings
from audit.standards import nice_ng229_table
from audit.standards.registry import FORMER_STANDARDS, STANDARDS
from audit.standards.seen import Seen
from audit.standards.types import MinuteCategories
from audit.tracing.read import read_tracing
from audit.tracing.types import Acceleration, LevelChange, Reading, Sinusoidal, Tracing
from audit.tracing.window_description import window_items
from audit.validate.readings import COMPARED, RecordReading, WindowReading
from audit.validate.records import ExpertClass
from audit.validate.run import STEP_WORDS, expert_table, summarise
from audit.validate.second import fit_on
from tests import textbook
from tests.reading_builder import contraction, deceleration, late_at, reading, variable_at
from tests.simulate import simulate_labour

Probe = Callable[[AnalysisSettings], Iterator[Any]]  # answers one by one, so that the first difference ends the search
READINGS = 110


@cache
def tracings() -> tuple[Tracing, ...]:
    """Drawn labours with artefacts, and hand-made stretches for what those seldom hold."""
    made = []
    for seed, level in ((11, "severe"), (12, "moderate"), (13, "mild")):
        samples, _ = simulate_labour(seed, artefact_level=level, hours=1.5, with_mhr=level == "severe")  # type: ignore[arg-type]
        made.append(Tracing(samples["fhr_bpm"], samples["toco"], mhr_bpm=samples["mhr_bpm"]))  # type: ignore[arg-type]
    samples, _ = simulate_labour(14, artefact_level="mild", hours=1.0)
    toco = samples["toco"].copy()  # type: ignore[union-attr]
    for first in range(0, toco.size, 170 * 4):
        toco[first : first + int(4 * (40 + first // 680 * 37 % 75))] = np.nan
    made.append(Tracing(samples["fhr_bpm"], toco))  # type: ignore[arg-type]
    return (*made, _waves(), _late_and_double(), _faint_contractions())


def _faint_contractions() -> Tracing:
    """Contractions of few units, every other one much lower, in noise; a toco that stands still for some minutes."""
    t, rng = np.arange(40 * 60 * 4) / 4, np.random.default_rng(7)
    height = np.where((t // 150) % 2 == 0, 6.4, 1.4)
    toco = 10 + height * np.exp(-(((t % 150) - 75) ** 2) / (2 * 15.0**2)) + rng.normal(0, 0.8, t.size)
    toco[(t > 1800) & (t < 2020)] = 10.0
    return Tracing(140 + rng.normal(0, 2, t.size), toco)


def _waves() -> Tracing:
    """25 minutes of a sine with a gap, then a steady rate: higher by 20 bpm, for a while at 230, and stuck."""
    t, rng = np.arange(40 * 60 * 4) / 4, np.random.default_rng(5)
    toco = 10 + 40 * np.exp(-(((t % 180) - 90) ** 2) / (2 * 20.0**2)) + rng.normal(0, 0.4, t.size)
    fhr = 140 + np.where(t < 1500, 8.0, 0.5) * np.sin(2 * np.pi * 4.6 * t / 60) + rng.normal(0, 0.3, t.size)
    fhr[(t > 900) & (t < 915)] = np.nan
    fhr[t > 1650] += 20.0
    fhr[(t > 2000) & (t < 2090)] += 70.0
    fhr[(t > 2200) & (t < 2220)] = 160.0
    return Tracing(fhr, toco)


def _late_and_double() -> Tracing:
    """Decelerations long after their contraction, contractions with two tops, and toco lost before a deceleration."""
    t, rng = np.arange(60 * 60 * 4) / 4, np.random.default_rng(6)
    phase = t % 300
    toco = 10 + rng.normal(0, 0.3, t.size)
    for top_s, depth in ((70.0, 40.0), (70.0 + 44.0, 38.0)):
        two = (t // 300) % 2 == 0
        toco += np.where((top_s == 70.0) | two, depth, 0.0) * np.exp(-((phase - top_s) ** 2) / (2 * 14.0**2))
    late = 150 + 8 * ((t // 300) % 4)
    toco[((t // 300) % 4 == 3) & (phase > 25) & (phase < 132)] = np.nan  # until just before the deceleration
    fhr = 140 - 40 * np.exp(-((phase - late) ** 2) / (2 * 16.0**2)) + 4 * np.sin(t / 5) + rng.normal(0, 1, t.size)
    return Tracing(fhr, toco)


def of_tracing(settings: AnalysisSettings) -> Iterator[Any]:
    """Every array and event of the readings of the prepared tracings, and the description of some windows."""
    for tracing in tracings():
        found = read_tracing(tracing, settings.tracing)
        yield [_plain(value) for value in vars(found).values()]
        for start_s in range(0, int(found.duration_s) - 900, 600):
            for weeks in (30.0, 40.0):
                yield window_items(found, float(start_s), start_s + 900.0, weeks, settings.tracing)
    for made, seen in readings():
        yield window_items(made, 0.0, 600.0, seen.gestation_weeks, settings.tracing)


@cache
def readings() -> tuple[tuple[Reading, Seen], ...]:
    """Hand-made readings with events of every kind and size, prepared for the standards."""
    made = [_persistent_and_preterm(height, length_s) for height, length_s in ((12.0, 20.0), (20.0, 12.0))]
    made += [(one, Seen(one, gestation_weeks=40.0, second_stage_s=one.duration_s / 2)) for one in _rare()]
    for seed in range(READINGS):
        rng = np.random.default_rng(seed)
        one = _reading(rng)
        weeks = float(rng.choice([30.0, 33.0, 40.0]))
        made.append((one, Seen(one, gestation_weeks=weeks, second_stage_s=one.duration_s / 2)))
    return tuple(made)


def of_standard(name: str) -> Probe:
    """Minute categories, triggers and window categories of the hand-made readings under one standard."""

    def probe(settings: AnalysisSettings) -> Iterator[Any]:
        table = settings.of_standards[name]
        standard = STANDARDS.get(name) or FORMER_STANDARDS[name]
        for made, seen in readings():
            if name in STANDARDS:
                minutes = standard.minute_categories(made, table, seen=seen)
                yield minutes.codes.tolist()
                yield [_plain(list(vars(one).values())) for one in minutes.triggers.values()]
                yield minutes.edition
            if name == nice_ng229_table.NAME:
                yield _nice_kinds(seen, table)
                yield [
                    table.for_month(month).printed_edition
                    for month in ("2017-03", "2022-11", "2023-01", "2024-01", None)
                ]
            for start_s in (0.0, 600.0, made.duration_s / 2):
                found = standard.window_category(made, start_s, start_s + 1200.0, table, seen=seen)
                yield (found.category, found.worst, found.final, found.edition)

    return probe


def _nice_kinds(seen: Seen, table: Any) -> Any:
    """The kinds under NICE: its categories use some of them only."""
    falls, _ = seen.falls_with_shallow
    around = seen.variability_before(falls.nadir_s, table.variability_minimum_min)
    none = np.zeros(falls.onset_s.size)
    return nice_ng229_table.deceleration_kinds(falls, around, none, table).tolist()


def reasons_of_standard(name: str) -> Probe:
    """The reasons of every minute: for what is said beside a category without being part of it."""

    def probe(settings: AnalysisSettings) -> Iterator[Any]:
        for made, seen in readings():
            yield STANDARDS[name].minute_categories(made, settings.of_standards[name], seen=seen).reasons

    return probe


def of_common(settings: AnalysisSettings) -> Iterator[Any]:
    """The same under every standard."""
    for name in settings.of_standards:
        yield from of_standard(name)(settings)


def of_burden(settings: AnalysisSettings) -> Iterator[Any]:
    """Burden of the hand-made readings, with births in and after the tracing."""
    for made, _ in readings():
        for after_s in (-600.0, 1200.0, 2400.0):
            rows = burden_rows(
                made, birth_s=made.duration_s + after_s, second_stage_s=made.duration_s / 2, settings=settings.burden
            )
            yield [_plain(list(vars(row).values())) for row in rows]


def of_sources(settings: AnalysisSettings) -> Iterator[Any]:
    """The clock's rules as the page The unit shows them."""
    assert isinstance(settings, Settings)
    yield in_force.clock_rules(settings)


@cache
def _minutes() -> tuple[tuple[Reading, dict[str, MinuteCategories]], ...]:
    tables = load_settings().of_standards
    return tuple(
        (made, {name: one.minute_categories(made, tables[name], seen=seen) for name, one in STANDARDS.items()})
        for made, seen in readings()
    )


def of_validation(settings: AnalysisSettings) -> Iterator[Any]:
    """The comparison of drawn classes with drawn experts, whole folders and few recordings, and a fitted reading."""
    found, classes = _folder(90)
    try:
        second = fit_on(found, expert_table(classes, found), settings.validate, workers=1)
    except AuditError as error:
        yield str(error)
        return
    assert second.fitted is not None
    yield second.fitted.weights.tolist()
    yield summarise(found, classes, settings.validate, part="reporting", second=second).to_json()
    for count in (12, 25, 30, 40):
        yield summarise(*_folder(count), settings.validate, part="reporting").to_json()


@cache
def _folder(count: int) -> tuple[list[RecordReading], list[ExpertClass]]:
    rng = np.random.default_rng(count)
    found, classes = [], []
    for number in range(count):
        truth = int(rng.integers(0, 3))
        windows = []
        for step in STEP_WORDS:
            codes = {name: int(np.clip(truth + rng.integers(-1, 2), 0, 2)) for name in COMPARED}
            numbers, hour = (tuple((truth + rng.normal(0, 1, 5)).tolist()) for _ in range(2))
            seen = float(rng.choice([0.3, 0.55, 0.85, 0.95]))
            windows.append(WindowReading(step, 0.0, 1800.0, seen, codes, numbers, hour))
            for expert in range(int(rng.integers(1, 7))):
                given = int(np.clip(truth + rng.integers(-1, 2), 0, 2))
                classes.append(ExpertClass(f"r{number}", step, f"e{expert}", given))
        part = "tuning" if number % 2 else "reporting"
        measures = {"area": float(truth + rng.normal())}
        ph = float(7.3 - 0.1 * truth + rng.normal(0, 0.05))
        names = tuple(f"number {k}" for k in range(5))
        away = rng.normal(0, 1 + 5 * truth, 1800)
        found.append(RecordReading(f"r{number}", part, ph, tuple(windows), measures, names, (away,)))
    return found, classes


def of_response(settings: AnalysisSettings) -> Iterator[Any]:
    """Episodes, responses and readers' clocks of labours with events around their concerns."""
    names = sorted({event for events in settings.response.event_classes.values() for event in events})
    for index, (made, minutes) in enumerate(_minutes()):
        for variant in range(4):
            rng = np.random.default_rng(1000 * variant + index)
            count = int(rng.integers(1, 12))
            events = sorted(
                (
                    {
                        "at_s": float(rng.integers(0, int(made.duration_s) + 1800) // 20 * 20),
                        "event": str(rng.choice([*names, "decision_for_birth", "decision_for_birth"])),
                        "urgency": [None, 1, 2, 3, 4][int(rng.integers(0, 5))],
                    }
                    for _ in range(count)
                ),
                key=lambda row: float(str(row["at_s"])),
            )
            reads = [
                {
                    "reader": f"R{k}",
                    "start_s": 600.0 * k,
                    "end_s": 600.0 * k + 1200.0,
                    "standard": "figo-2015",
                    "category": str(rng.choice(["normal", "suspicious", "pathological"])),
                    "would_act": None,
                    "outcome_hidden": bool(rng.integers(0, 2)),
                    "occasion": 1,
                }
                for k in range(3)
            ]
            clock = case_clock(
                minutes,
                start_s=0.0,
                end_s=made.duration_s,
                facts={
                    "birth_s": made.duration_s + float(rng.integers(-600, 2400)),
                    "second_stage_s": made.duration_s / 2,
                    "mode_of_birth": str(rng.choice(["spontaneous", "ventouse", "caesarean section"])),
                },
                events=events,
                reads=reads,
                settings=settings.response,
            )
            yield (clock.episodes, clock.responses, clock.reader_clocks, clock.possible)


def _rare() -> list[Reading]:
    """What chance seldom draws."""
    peaks = [float(peak) for peak in range(620, 6000, 150)]
    uterus = [contraction(peak) for peak in peaks]
    waves = [
        reading(70, sinusoidal=[Sinusoidal(300.0, 2700.0, cycles, bpm)]) for cycles in (3.5, 4.5) for bpm in (6.0, 12.0)
    ]
    rises = [Acceleration(at_s, at_s + 5.0, at_s + 20.0, 20.0) for at_s in np.arange(100.0, 5000.0, 240.0).tolist()]
    outweighed = [variable_at(peak, drop=40.0, length_s=70.0) for peak in np.arange(200.0, 5000.0, 240.0).tolist()]
    return [
        *waves,
        reading(90, decelerations=outweighed, accelerations=rises),
        reading(100, decelerations=[variable_at(peak, length_s=70.0) for peak in peaks], contractions=uterus),
        reading(120, baseline=[140.0] * 40 + [120.0] * 40 + [142.0] * 40),
        reading(90, decelerations=[variable_at(peak, drop=30.0) for peak in peaks[:35]], toco=False),
        _shoulders_lost(),
    ]


def _shoulders_lost() -> Reading:
    """Variable decelerations with shoulders, then without."""
    peaks = textbook.every(4, 3, 60)
    dips = [textbook.variable(peak, shoulder_bpm=12.0 * (k < 8)) for k, peak in enumerate(peaks)]
    return textbook.read(textbook.strip(62, peaks=peaks, dips=dips))


def _persistent_and_preterm(height_bpm: float, length_s: float) -> tuple[Reading, Seen]:
    """Late decelerations for an hour on low variability, with rises that only a preterm fetus's rule counts."""
    peaks = np.arange(60.0, 4740.0, 150.0)
    falls = [late_at(float(peak_s)) for peak_s in peaks]
    rises = [
        Acceleration(float(peak_s) + 70.0, peak_s + 75.0, peak_s + 70.0 + length_s, height_bpm) for peak_s in peaks
    ]
    made = reading(
        80,
        variability=4.0,
        decelerations=falls,
        accelerations=rises,
        contractions=[contraction(float(p)) for p in peaks],
    )
    return made, Seen(made, gestation_weeks=30.0, second_stage_s=2400.0)


def _reading(rng: np.random.Generator) -> Reading:
    minutes = int(rng.integers(45, 110))
    seconds = minutes * 60.0
    level = float(rng.choice([92, 98, 103, 107, 109, 112, 125, 140, 148, 152, 158, 162, 168, 172, 178]))
    baseline = np.full(minutes, level)
    if rng.random() < 0.5:
        baseline[int(rng.integers(10, minutes)) :] = level + float(rng.choice([-25, -12, 12, 18, 22, 30]))
    variability = np.full(minutes, float(rng.choice([1.0, 1.9, 2.5, 3.5, 4.4, 4.6, 5.2, 8.0, 12.0, 24.0, 26.0, 30.0])))
    for _ in range(int(rng.integers(0, 4))):
        first = int(rng.integers(0, minutes))
        variability[first : first + int(rng.integers(1, 40))] = float(rng.choice([1.0, 3.0, 4.0, 12.0, 27.0, np.nan]))
    every = float(rng.choice([80, 100, 118, 125, 150, 240, 400]))
    length = float(rng.choice([45, 60, 90, 130]))
    peaks = np.arange(60.0, seconds - 60.0, every)
    share, kind = float(rng.choice([0.0, 0.15, 0.45, 0.55, 0.8])), int(rng.integers(0, 6))
    falls, free_s = [], 0.0
    for peak_s in peaks:
        if rng.random() >= share:
            continue
        nadir_s = float(rng.choice([12, 20, 29, 31, 35, 45]))
        lag_s = float(rng.choice([-5, 0, 8, 12, 18, 22, 30, 40]))
        duration_s = nadir_s + float(rng.choice([4, 15, 25, 35, 60, 130, 170, 280] if kind > 2 else [15, 28, 32, 60]))
        onset_s = peak_s + lag_s - nadir_s
        if onset_s < free_s or onset_s + duration_s >= seconds:
            continue
        free_s = onset_s + duration_s
        timed = bool(rng.random() < 0.9)
        falls.append(
            deceleration(
                onset_s,
                drop=float(rng.choice([8, 9, 11, 14, 15, 16, 20, 40, 58, 62, 70])),
                length_s=duration_s,
                nadir_after_s=nadir_s,
                return_s=min(float(rng.choice([10, 29, 31, 40])), duration_s - nadir_s),
                lag_s=lag_s if timed else None,
                onset_lag_s=float(rng.choice([5, 15, 19, 21, 30])) if timed else None,
                toco=timed,
                inside_bpm=float(rng.choice([3.0, 4.5, 6.0, 12.0])),
                baseline_bpm=level,
            )
        )
    rises = [
        Acceleration(float(at_s), at_s + 5.0, at_s + float(rng.choice([9, 12, 14.5, 15.5, 20, 130])), height)
        for at_s in rng.integers(0, int(seconds) - 140, int(rng.integers(0, 12))).tolist()
        for height in [float(rng.choice([9.0, 12.0, 14.5, 15.5, 25.0]))]
    ]
    changes = []
    if rng.random() < 0.4:
        onset = float(rng.integers(600, int(seconds) - 700))
        to = level + float(rng.choice([-50, -30, 25]))
        changes = [LevelChange(onset, onset + float(rng.integers(400, 3000)), level, to)]
    waves = []
    if rng.random() < 0.3:
        start = float(rng.integers(0, int(seconds) // 2))
        waves = [
            Sinusoidal(start, start + float(rng.choice([300, 660, 900, 1300, 1900, 2400])),
                       float(rng.choice([2.6, 3.5, 4.5, 5.5])), float(rng.choice([4.0, 6.0, 12.0, 17.0])))
        ]  # fmt: skip
    unseen = []
    for _ in range(int(rng.integers(0, 4))):
        first = float(rng.integers(0, int(seconds)))
        unseen.append((first, min(first + float(rng.choice([60, 300, 700, 1100])), seconds)))
    quiet = []
    if rng.random() < 0.2:
        first = float(rng.integers(0, int(seconds) // 2))
        quiet = [(first, min(first + 1500.0, seconds))]
    made = reading(
        minutes, baseline=baseline, variability=variability, decelerations=falls, accelerations=rises,
        contractions=[contraction(float(peak), length_s=length) for peak in peaks], level_changes=changes,
        sinusoidal=waves, unseen=unseen, not_baseline=quiet,
    )  # fmt: skip
    if rng.random() < 0.4:
        first = int(rng.integers(0, made.toco_usable_1hz.size))
        made.toco_usable_1hz[first : first + int(rng.choice([300, 600, 900, 1500]))] = False
    return made


def _plain(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return [str(value.dtype), value.tobytes()]
    if isinstance(value, tuple | list):
        return [_plain(one) for one in value]
    return repr(value)

"""The reading against known truth, printed as a table, with limits that fail when it gets worse.

Two sources of truth, neither of which knows how the reading works: the shapes of `known_truth.py` beside this file, and
the random labours of `synthetic_cases`. The seeds here were never used to choose a setting.

Targets of the project: decelerations F1 >= 0.98, kinds of falls near neither 30 s nor 2 min >= 0.985 in clean
tracings and 0.975 in hard ones, their length within 2 s and depth within 1 bpm (median), area within 10 % (median),
contractions F1 >= 0.98 with the peak within 5 s (median), baseline within 2 bpm on average, also with 60 % of the time
in decelerations. Limits below a target stand where the source is harder than the target means (heavy artefacts, marked
variability), or where the target is not reached yet, and a little below what is reached.
"""

from collections import Counter
from dataclasses import dataclass, field

import numpy as np
import pytest

from audit.settings import load_settings
from audit.tracing.read import read_tracing
from audit.tracing.types import Reading, Tracing
from tests.accuracy.edges import EDGES, draw_falls
from tests.accuracy.known_truth import Drawn, Event, draw, match
from tests.simulate import simulate_labour

SETTINGS = load_settings().tracing
HEAD = (
    f"{'source':<26}{'n':>5}{'F1 .3':>7}{'F1 .5':>7}{'kind':>7}{'onset':>7}{'nadir':>7}{'end':>6}{'depth':>7}"
    f"{'area':>6}"
    f"{'UC n':>7}{'F1 .3':>7}{'F1 .5':>7}{'peak':>6}{'base':>6}{'var':>6}"
)


@dataclass
class Tally:
    """Counts and errors of one source."""

    name: str
    counts: Counter[str] = field(default_factory=Counter)
    confusion: Counter[tuple[str, str]] = field(default_factory=Counter)
    errors: dict[str, list[float]] = field(default_factory=dict)

    def error(self, name: str, value: float) -> None:
        self.errors.setdefault(name, []).append(value)

    def f1(self, what: str, least: str) -> float:
        c = self.counts
        return 2 * c[f"{what} matched {least}"] / max(c[f"{what} true"] + c[f"{what} found"], 1)

    def kinds_right(self) -> float:
        return sum(n for (a, b), n in self.confusion.items() if a == b) / max(sum(self.confusion.values()), 1)

    def kinds_outside(self) -> float:
        """Share of right kinds among falls whose kind is said to be certain."""
        return self.counts["outside right"] / max(self.counts["outside"], 1)

    def share_in_band(self) -> float:
        """Share of matched falls too near 30 s to be told abrupt or gradual, or too near 2 min to be told prolonged."""
        return 1 - self.counts["outside"] / max(self.counts["dec matched .3"], 1)

    def share_by_length(self) -> float:
        """Share of matched falls too near 2 min to be told prolonged."""
        return self.counts["near 2 min"] / max(self.counts["dec matched .3"], 1)

    def middle_error(self, name: str) -> float:
        return float(np.median(self.errors[name])) if self.errors.get(name) else float("nan")

    def median_error(self, name: str) -> float:
        return float(np.median(np.abs(self.errors[name]))) if self.errors.get(name) else float("nan")

    def mean_error(self, name: str) -> float:
        return float(np.mean(self.errors[name])) if self.errors.get(name) else float("nan")

    def add(self, drawn: Drawn, reading: Reading) -> None:
        """Add a tracing of which all was seen."""
        count(self, drawn.decelerations, reading, drawn.contractions, drawn.baseline_1hz)

    def row(self) -> str:
        m, c = self.median_error, self.counts
        return (
            f"{self.name:<26}{c['dec true']:>5}{self.f1('dec', '.3'):>7.3f}{self.f1('dec', '.5'):>7.3f}"
            f"{self.kinds_right():>7.3f}{m('onset'):>7.1f}{m('nadir'):>7.1f}{m('end'):>6.1f}{m('depth'):>7.1f}"
            f"{m('area'):>6.2f}{c['uc true']:>7}{self.f1('uc', '.3'):>7.3f}{self.f1('uc', '.5'):>7.3f}{m('peak'):>6.1f}"
            f"{self.mean_error('baseline'):>6.2f}{m('variability'):>6.2f}"
        )


def count(tally: Tally, true: list[Event], reading: Reading, contractions: list[Event], baseline: np.ndarray) -> None:
    """Add one tracing. Decelerations of which less than half was seen are neither asked for nor held against it."""
    asked = [event for event in true if event.seen >= 0.5]
    hidden = [event for event in true if event.seen < 0.5]
    found = [event for event in reading.decelerations if not event.shallow]
    spared = {j for _, j in match(hidden, found, 0.0)} - {j for _, j in match(asked, found, 0.3)}
    found = [event for j, event in enumerate(found) if j not in spared]
    tally.counts["dec true"] += len(asked)
    tally.counts["dec found"] += len(found)
    tally.counts["dec matched .5"] += len(match(asked, found, 0.5))
    for i, j in match(asked, found, 0.3):
        tally.counts["dec matched .3"] += 1
        tally.confusion[asked[i].kind, found[j].kind] += 1
        tally.error("onset", found[j].onset_s - asked[i].onset_s)
        tally.error("nadir", found[j].nadir_s - asked[i].nadir_s)
        tally.error("end", found[j].end_s - asked[i].end_s)
        tally.error("depth", found[j].depth_bpm - asked[i].depth)
        length = found[j].end_s - found[j].onset_s
        tally.error("duration", length - (asked[i].end_s - asked[i].onset_s))
        tally.error("fall", found[j].onset_to_nadir_s - (asked[i].nadir_s - asked[i].onset_s))
        tally.counts["near 2 min"] += "prolonged" in (found[j].kind, found[j].other_kind) and not found[j].kind_certain
        if found[j].kind_certain:
            tally.counts["outside"] += 1
            tally.counts["outside right"] += asked[i].kind == found[j].kind
        tally.error("area", found[j].area_bpm_s / found[j].seen_fraction / asked[i].area - 1)
    tally.counts["uc true"] += len(contractions)
    tally.counts["uc found"] += len(reading.contractions)
    tally.counts["uc matched .5"] += len(match(contractions, list(reading.contractions), 0.5))
    for i, j in match(contractions, list(reading.contractions), 0.3):
        tally.counts["uc matched .3"] += 1
        tally.error("peak", reading.contractions[j].peak_s - contractions[i].nadir_s)
    away = np.abs(reading.baseline_1hz - baseline[: reading.baseline_1hz.size])
    tally.error("baseline", float(np.nanmean(away)))


def shapes(name: str, seeds: range, **how: object) -> Tally:
    """The shapes beside this file."""
    tally = Tally(name)
    for seed in seeds:
        drawn: Drawn = draw(seed, **how)  # type: ignore[arg-type]
        reading = read_tracing(Tracing(drawn.fhr_bpm, drawn.toco), SETTINGS)
        seen = ~np.isnan(reading.fhr_1hz)
        for event in drawn.decelerations:
            event.seen = float(np.mean(seen[int(event.onset_s) : int(event.end_s)]))
        count(tally, drawn.decelerations, reading, drawn.contractions, drawn.baseline_1hz)
        wide = reading.variability_1min[~np.isnan(reading.variability_1min)] / drawn.variability_bpm - 1
        tally.errors.setdefault("variability", []).extend(wide.tolist())
    return tally


def labours(name: str, seeds: range, **how: object) -> Tally:
    """The random labours of the generator; its variability is the middle 90 % of a minute."""
    tally = Tally(name)
    for seed in seeds:
        samples, truth = simulate_labour(seed, **how)  # type: ignore[arg-type]
        reading = read_tracing(Tracing(samples["fhr_bpm"], samples["toco"], mhr_bpm=samples["mhr_bpm"]), SETTINGS)
        true = [
            Event(d.onset_s, d.nadir_s, d.end_s, d.depth_bpm, d.area_bpm_s, d.kind, seen=d.seen_fraction)
            for d in truth.decelerations
        ]
        contractions = [Event(c.onset_s, c.peak_s, c.end_s, c.amplitude) for c in truth.contractions if c.visible]
        count(tally, true, reading, contractions, truth.baseline_bpm_4hz[::4])
        n = min(reading.variability_1min.size, truth.variability_1min_bpm.size)
        ratio = reading.variability_1min[:n] / truth.variability_1min_bpm[:n] - 1
        tally.errors.setdefault("variability", []).extend(ratio[~np.isnan(ratio)].tolist())
    return tally


def show(capsys: pytest.CaptureFixture[str], tally: Tally) -> None:
    with capsys.disabled():
        print(f"\n{HEAD}\n{tally.row()}")  # noqa: T201
        told = tally.kinds_outside(), tally.share_in_band(), tally.share_by_length(), tally.median_error("duration")
        print("    kinds told {:.3f}, near a limit {:.3f}, of length {:.3f}; length {:.1f} s".format(*told))  # noqa: T201
        wrong = {f"{a} read as {b}": n for (a, b), n in sorted(tally.confusion.items()) if a != b}
        print(f"    {wrong}")  # noqa: T201


def hold(tally: Tally, f1_3: float, f1_5: float, kinds: float) -> None:
    """The limits of a source; area, contractions and baseline have the same everywhere."""
    assert tally.f1("dec", ".3") >= f1_3
    assert tally.f1("dec", ".5") >= f1_5
    # Kinds are asked of falls that can be told; those near 30 s or 2 min are marked (kind_certain).
    assert tally.kinds_outside() >= kinds
    assert tally.kinds_right() >= kinds - 0.06
    assert tally.share_in_band() <= 0.27
    assert tally.median_error("area") <= 0.10
    assert tally.f1("uc", ".3") >= 0.98
    assert tally.median_error("peak") <= 5
    assert tally.mean_error("baseline") <= 2


SHAPES = [
    # name, options, F1 at IoU 0.3 and 0.5, kinds
    ("steady, variability 6", {"artefacts": "none", "variability_bpm": 6.0}, 0.98, 0.98, 0.95),
    ("variability 3", {"variability_bpm": 3.0}, 0.98, 0.98, 0.95),
    ("variability 4 to 18", {}, 0.98, 0.97, 0.94),
    ("one after the other", {"share_with_deceleration": 1.0, "interval_s": (120, 170)}, 0.98, 0.98, 0.95),
    # The step may fall into an event, which then has no single baseline.
    ("step up by 20", {"shift_bpm": 20.0}, 0.96, 0.95, 0.96),
    ("step down by 20", {"shift_bpm": -20.0}, 0.96, 0.95, 0.96),
    ("pushing", {"pushing": True, "share_with_deceleration": 0.7}, 0.98, 0.98, 0.95),
    ("noisy toco", {"toco_noise": 4.0}, 0.98, 0.97, 0.95),
    # Harder than the targets mean: noise as large as the shallow events, a sixth of the samples lost or wrong.
    ("variability 22", {"variability_bpm": 22.0, "least_depth": 22.0}, 0.96, 0.94, 0.93),
    ("many artefacts", {"artefacts": "many"}, 0.94, 0.92, 0.95),
]


@pytest.mark.parametrize(("name", "how", "f1_3", "f1_5", "kinds"), SHAPES, ids=[row[0] for row in SHAPES])
def test_shapes_of_known_truth(capsys, name, how, f1_3, f1_5, kinds):
    tally = shapes(name, range(900, 912), **how)
    show(capsys, tally)
    hold(tally, f1_3, f1_5, kinds)


LABOURS = [
    ("labours, no artefacts", {"artefact_level": "none"}, 0.98, 0.98, 0.98),
    ("labours, mild", {"artefact_level": "mild"}, 0.98, 0.98, 0.975),
    ("labours, moderate", {"artefact_level": "moderate"}, 0.98, 0.98, 0.97),
    # A fifth to over a third of the signal is lost.
    ("labours, severe", {"artefact_level": "severe"}, 0.96, 0.95, 0.97),
    ("60 % in decelerations", {"artefact_level": "mild", "share_in_decelerations": 0.6}, 0.98, 0.98, 0.98),
    ("70 % in decelerations", {"artefact_level": "mild", "share_in_decelerations": 0.7}, 0.98, 0.98, 0.98),
]


@pytest.mark.parametrize(("name", "how", "f1_3", "f1_5", "kinds"), LABOURS, ids=[row[0] for row in LABOURS])
def test_random_labours_of_known_truth(capsys, name, how, f1_3, f1_5, kinds):
    tally = labours(name, range(700, 712), **how)
    show(capsys, tally)
    hold(tally, f1_3, f1_5, kinds)


def test_no_decelerations_are_found_where_none_was_drawn(capsys):
    tally = shapes("no decelerations", range(900, 912), share_with_deceleration=0.0, accelerations=0.5)
    show(capsys, tally)
    assert tally.counts["dec found"] <= 4  # in 24 hours with artefacts
    assert tally.mean_error("baseline") <= 1


@pytest.mark.parametrize(("gain", "offset"), [(0.25, 0.0), (0.5, -40.0), (2.0, 60.0), (4.0, 0.0)])
def test_contractions_at_any_gain_and_offset(capsys, gain, offset):
    # Toco units are arbitrary: external toco says nothing of strength (FIGO 2015).
    tally = Tally(f"toco times {gain:g}, {offset:+g}")
    for seed in range(900, 912):
        drawn = draw(seed, pushing=seed % 3 == 0)
        stored = np.round((gain * drawn.toco + offset) * 2) / 2
        tally.add(drawn, read_tracing(Tracing(drawn.fhr_bpm, stored), SETTINGS))
    show(capsys, tally)
    assert tally.f1("uc", ".3") >= 0.98
    assert tally.f1("uc", ".5") >= 0.98


@pytest.mark.parametrize("edge", EDGES)
@pytest.mark.parametrize(
    # Targets: 2 s and 1 bpm at the median. Limits above them stand where the fluctuation hides the edge: an edge that
    # is as sharp as it is deep is blurred by whatever smooths the fluctuation away.
    ("variability", "kinds", "longer_s", "deeper_bpm"),
    [(0.0, 0.985, 1.5, 0.5), (4.0, 0.975, 2.5, 1.3), (8.0, 0.97, 3.5, 1.5), (12.0, 0.96, 4.0, 1.5)],
)
def test_edges_of_every_shape(capsys, edge, variability, kinds, longer_s, deeper_bpm):
    tally = Tally(f"{edge}, {variability:g} bpm")
    for seed in range(40, 46):
        drawn = draw_falls(seed, EDGES[edge], variability)
        tally.add(drawn, read_tracing(Tracing(drawn.fhr_bpm, drawn.toco), SETTINGS))
    show(capsys, tally)
    assert tally.f1("dec", ".5") >= 0.98
    assert tally.kinds_outside() >= kinds
    assert abs(tally.middle_error("duration")) <= longer_s
    assert abs(tally.middle_error("depth")) <= deeper_bpm


def _alike(fall_s: float, hold_s: float, depth_bpm: tuple[float, float]) -> Tally:
    """Straight falls of one kind, all abrupt, in a fluctuation of 12 bpm."""

    def edge(rng: np.random.Generator, gradual: bool) -> tuple[float, float, float, str, str]:
        return fall_s, hold_s, fall_s, "line", "line"

    tally = Tally(f"flanks of {fall_s:g} s, {hold_s:g} s held")
    for seed in range(2100, 2106):
        drawn = draw_falls(seed, edge, 12.0, gradual_share=0.0, depth_bpm=depth_bpm)
        tally.add(drawn, read_tracing(Tracing(drawn.fhr_bpm, drawn.toco), SETTINGS))
    return tally


def test_straight_falls_of_22_s_are_variable(capsys):
    # NICHD 2008: abrupt is under 30 s from onset to nadir.
    tally = _alike(22.0, 10.0, (20, 55))
    show(capsys, tally)
    assert tally.kinds_right() >= 0.75


def test_a_variable_of_55_s_is_not_taken_for_one_of_over_60(capsys):
    # NICE, from memory: over 60 s is a concerning characteristic.
    tally = _alike(15.0, 25.0, (20, 55))
    show(capsys, tally)
    assert 0 <= tally.middle_error("duration") < 5
    assert tally.kinds_right() >= 0.96


def test_dips_of_11_to_13_bpm_seldom_count_as_15(capsys):
    # NICHD 2008: 15 bpm or more. In a fluctuation as large as the dip some are deeper than they were drawn.
    tally = _alike(10.0, 15.0, (11, 13))
    show(capsys, tally)
    assert tally.counts["dec matched .3"] <= 0.3 * tally.counts["dec true"]

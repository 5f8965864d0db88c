"""The figures of the reading in one table: edges, variability, toco gain, robustness, experts.

    python -m tests.benchmarks.reading_figures [PART...] [--open FOLDER]

PARTS: edges variability toco robust experts; all of them by default. `--open` names the folder of the open database;
only its tuning part is looked at. Known truth: `pytest -m accuracy -s`; speed: `tests.benchmarks.bench_reading`.
Kinds 'outside the band' are those that the reading says are certain: near 30 s abrupt and gradual (NICHD 2008) cannot
be told apart, near 2 min prolonged ones and others.
"""

import argparse
import os
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np

from audit.settings import Settings, load_settings
from audit.standards.registry import STANDARDS
from audit.tracing.read import read_tracing
from audit.tracing.types import Reading, Tracing
from audit.validate.readings import part_of
from audit.validate.records import read_database_record, read_expert_classes, record_names
from audit.validate.run import read_all, summarise
from tests.accuracy import disturbances
from tests.accuracy.edges import EDGES, draw_falls
from tests.accuracy.known_truth import Drawn, draw, fluctuation, match
from tests.accuracy.test_known_truth import Tally
from tests.simulate import simulate_labour

SETTINGS = load_settings()


def say(*cells: object) -> None:
    """One row of the table."""
    widths = (34, *[9] * (len(cells) - 1))
    words = [f"{cell:.3f}" if isinstance(cell, float) else str(cell) for cell in cells]
    print(
        "".join(
            word.ljust(w) if k == 0 else word.rjust(w) for k, (word, w) in enumerate(zip(words, widths, strict=True))
        )
    )


def edges(_: Path | None) -> None:
    """Edges of known shape in fluctuation of a known size."""
    say(
        "edges, variability",
        "n",
        "F1 .5",
        "kinds",
        "outside",
        "in band",
        "dur med",
        "dur bias",
        "fall med",
        "fall bias",
        "dep med",
        "dep bias",
    )
    for variability in (0.0, 4.0, 8.0, 12.0):
        for name, edge in EDGES.items():
            tally = Tally(f"{name}, {variability:g} bpm")
            for seed in range(40, 46):
                drawn = draw_falls(seed, edge, variability)
                tally.add(drawn, read(drawn))
            say(
                tally.name, tally.counts["dec true"], tally.f1("dec", ".5"), tally.kinds_right(), tally.kinds_outside(),
                tally.share_in_band(), tally.median_error("duration"), tally.middle_error("duration"),
                tally.median_error("fall"), tally.middle_error("fall"), tally.median_error("depth"),
                tally.middle_error("depth"),
            )  # fmt: skip
    say("one size, straight, 12 bpm", "n", "")
    for words, size, depth, asked in (
        ("falls of 22 s called variable", (22.0, 8.0, 22.0), (25.0, 45.0), lambda d: d.kind == "variable"),
        ("length of variables of 55 s", (18.0, 17.0, 20.0), (25.0, 45.0), lambda d: d.end_s - d.onset_s),
        ("dips of 11 to 13 counted as 15", (15.0, 5.0, 15.0), (11.0, 13.0), lambda d: not d.shallow),
        ("dips of 17 to 19 counted as 15", (15.0, 5.0, 15.0), (17.0, 19.0), lambda d: not d.shallow),
    ):
        say(words, *one_size(size, depth, asked))


def one_size(
    size: tuple[float, float, float], depth: tuple[float, float], asked: Callable[..., float]
) -> tuple[int, float]:
    """How many falls were drawn, and the mean of what is asked of each (0 where none was found)."""
    values: list[float] = []
    for seed in range(60, 68):
        drawn = draw_falls(seed, lambda rng, gradual: (*size, "line", "line"), 12.0, depth_bpm=depth, gradual_share=0.0)
        found = list(read(drawn).decelerations)
        pairs = dict(match(drawn.decelerations, found, 0.2))
        values += [float(asked(found[pairs[k]])) if k in pairs else 0.0 for k in range(len(drawn.decelerations))]
    return len(values), float(np.mean(values))


def read(drawn: Drawn) -> Reading:
    """The reading of a drawn tracing."""
    return read_tracing(Tracing(drawn.fhr_bpm, drawn.toco), SETTINGS.tracing)


def variability(folder: Path | None) -> None:
    """Flat strips with drift, and what real minutes show."""
    say("variability", "drawn", "read", "p90", "absent", "minimal")
    for drift in (0.0, 6.0, 12.0):
        for drawn_bpm in (0.0, 0.6, 1.5, 4.0, 10.0):
            rng = np.random.default_rng(int(10 * drift + drawn_bpm))
            t = np.arange(3600 * 4) / 4
            fhr = 140 + drift / 2 * np.sin(2 * np.pi * t / 200) + fluctuation(rng, t.size, max(drawn_bpm, 1e-9), "pink")
            found = read_tracing(Tracing(np.round(fhr * 4) / 4, np.full(t.size, 10.0)), SETTINGS.tracing)
            minutes = found.variability_1min[~np.isnan(found.variability_1min)]
            words = [epoch.variability for epoch in found.epochs]
            say(
                f"slow drift of {drift:g} bpm",
                drawn_bpm,
                float(np.median(minutes)),
                float(np.quantile(minutes, 0.9)),
                words.count("absent"),
                words.count("minimal"),
            )
    if folder:
        minutes, segments = [], []
        for reading in open_readings(folder, 6):
            minutes += reading.variability_1min[~np.isnan(reading.variability_1min)].tolist()
            segments += [epoch.variability for epoch in reading.epochs if epoch.variability]
        say("open, tuning part", "minutes", len(minutes), "median", float(np.median(minutes)))
        say(
            "  share of 10-min segments",
            "absent",
            segments.count("absent") / len(segments),
            "minimal",
            segments.count("minimal") / len(segments),
            "marked",
            segments.count("marked") / len(segments),
        )


def open_readings(folder: Path, every: int) -> Iterable[Reading]:
    """Readings of some records of the tuning part."""
    for name in [name for name in record_names(folder) if part_of(name) == "tuning"][::every]:
        yield read_tracing(read_database_record(folder, name).tracing, SETTINGS.tracing)


def toco(_: Path | None) -> None:
    """Contractions when the gain and the zero of the toco are others."""
    say("toco gain and offset", "F1 .3", "F1 .5", "usable")
    drawn = [draw(seed, pushing=seed % 3 == 0) for seed in range(900, 912)]
    for gain, offset in (
        (0.25, 0.0),
        (0.5, 0.0),
        (1.0, 0.0),
        (2.0, 0.0),
        (4.0, 0.0),
        (1.0, 50.0),
        (0.5, -40.0),
        (1.0, -100.0),
    ):
        tally, usable = Tally(f"gain {gain:g}, offset {offset:g}"), []
        for one in drawn:
            found = read_tracing(Tracing(one.fhr_bpm, gain * one.toco + offset), SETTINGS.tracing)
            tally.add(one, found)
            usable.append(float(found.toco_usable_1hz.mean()))
        say(tally.name, tally.f1("uc", ".3"), tally.f1("uc", ".5"), float(np.mean(usable)))


def robust(folder: Path | None) -> None:
    """Minutes of category that stay the same when the same labour is sampled or measured otherwise."""
    tracings = []
    for seed in range(720, 730):
        samples, _ = simulate_labour(seed, artefact_level="moderate", hours=3.0)
        tracings.append(Tracing(samples["fhr_bpm"], samples["toco"]))
    sources = {"drawn labours": disturbances.as_they_are(tracings)}
    if folder:
        names = [name for name in record_names(folder) if part_of(name) == "tuning"][3::11]
        sources["open, tuning part"] = disturbances.as_they_are(
            read_database_record(folder, name).tracing for name in names
        )
    for source, each in sources.items():
        say(f"{source}, same minutes", *STANDARDS)
        say(
            "  as is, kinds of categories",
            *[len(set().union(*(set(found[name].categories) for _, found in each))) for name in STANDARDS],
        )
        for name, change in disturbances.CHANGES.items():
            kept = disturbances.kept_minutes(each, change)
            say(f"  {name}", *[kept[standard].same for standard in STANDARDS])
            say("    same, or named beforehand", *[kept[standard].told for standard in STANDARDS])


def experts(folder: Path | None) -> None:
    """Kappa against the experts on the tuning part."""
    if folder is None:
        return
    names = [name for name in record_names(folder) if part_of(name) == "tuning"]
    settings: Settings = SETTINGS
    readings = read_all(folder, names, settings.analysis, None, 2)
    classes = read_expert_classes(folder)
    result = summarise(readings, classes, settings.validate, part="tuning")
    for standard, one in result.readings.items():
        kappa = one.whole.kappa_linear
        say(f"experts, tuning, {standard}", "kappa", kappa.value or 0.0, "windows", one.whole.windows)
        print("   ", one.whole.confusion)
    for area in result.areas:
        if area.outcome == "pH <= 7.05" and area.estimate is not None:
            say(f"  {area.measure}"[:50], area.estimate)


PARTS: dict[str, Callable[[Path | None], None]] = {
    part.__name__: part for part in (edges, variability, toco, robust, experts)
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("part", nargs="*", choices=[*PARTS, []], help="all by default")
    parser.add_argument("--open", type=Path, default=os.environ.get("CTU_UHB_DIR"))
    given = parser.parse_args()
    for name in given.part or PARTS:
        PARTS[name](Path(given.open) if given.open else None)
        print()


if __name__ == "__main__":
    main()

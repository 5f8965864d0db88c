"""Put a file's tracings into the store: new stretches, further pieces, the same again, or a contradiction."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from audit.intake.checks.times import about_birth, about_start
from audit.intake.checks.tracings import TracingContent
from audit.intake.door.report import Stored
from audit.intake.writing.ledger import FETUSES, Into, KnownStretch, Ledger
from audit.intake.writing.same_samples import SameSamples
from audit.setting_tables.intake import ImportOptions
from audit.store.tracings import (
    NO_SIGNAL,
    STORED_RATE_HZ,
    Hundredths,
    Stretch,
    load_stretches,
    minutes_table,
    to_units,
)

Key = tuple[str, str]
_INSERT_SAMPLES = 2_000_000  # stored at once: enough to be quick, few enough to stay small in memory


@dataclass
class Placement:
    """What is to happen with one fetus's content."""

    new: list[Stretch] = field(default_factory=list)
    remove: list[KnownStretch] = field(default_factory=list)
    conflict: str | None = None


def write_tracings(contents: Iterable[TracingContent], into: Into) -> Stored:
    """Store the contents. Contradictions are rejected unless they replace what is stored."""
    stored, ledger, remarks = Stored(), into.ledger, into.remarks
    known_from_samples: list[str] = []
    new: list[Stretch] = []
    brought: set[str] = set()
    waiting = 0
    same = SameSamples(into)

    def store() -> None:
        known_from_samples.extend(into.add_stubs(brought))
        _insert(new, into)
        new.clear()
        brought.clear()

    for content in contents:
        key = (content.case_id, content.fetus)
        placement = _place(content, into)
        if placement.conflict is not None:
            remarks.reject_block(content.rows, content.first_row, "fhr_bpm", content.case_id, placement.conflict)
            continue
        stored.accepted += content.rows
        if placement.remove:
            _remove(key, placement, into)
            stored.replaced += 1
        elif placement.new:
            stored.new += 1
        brought.add(content.case_id)
        new += placement.new
        waiting += sum(stretch.samples for stretch in placement.new)
        if waiting > _INSERT_SAMPLES:
            store()
            waiting = 0
        known = ledger.stretches.setdefault(key, [])
        added = [_known(stretch) for stretch in placement.new]
        same.look(key, placement.new, content.first_row)
        known.extend(added)
        known.sort(key=lambda stretch: stretch.start_s)
        ledger.fresh |= {("tracing", *key, stretch.start_s) for stretch in added}
        if added:
            _check_start(content, into)
            _check_fetus(content, into)
        _check_birth(content, into)
    store()
    if known_from_samples:
        remarks.message(f"{_cases(known_from_samples)} not in any cases file yet")
    return stored


def _place(content: TracingContent, into: Into) -> Placement:
    """Compare content with what is stored for the same fetus, sample by sample where the two overlap in time."""
    key, ledger = (content.case_id, content.fetus), into.ledger
    known = ledger.stretches.get(key, [])
    if not known:
        return Placement(new=list(content.stretches))
    same = {(stretch.first, stretch.samples, stretch.sha256) for stretch in known}
    left = [s for s in content.stretches if (s.first, s.samples, s.content_sha256()) not in same]
    if not left:
        return _confirmed(ledger, key, content, known)
    touched = [k for k in known if any(s.first < k.last and k.first < s.last for s in left)]
    try:
        samples = {s.start_s: s for s in load_stretches(into.con, [content.case_id]).get(key, [])} if touched else {}
    except LookupError as error:
        if into.replace:
            return _replacement(ledger, key, content, known)
        damaged = f"what is stored is damaged ({error}); import with --replace to put this in its place"
        return Placement(conflict=damaged)
    new: list[Stretch] = []
    for stretch in left:
        parts = _new_parts(stretch, [samples[k.start_s] for k in touched])
        if isinstance(parts, str):
            if not into.replace:
                return Placement(conflict=f"{parts}; import with --replace to let this file take its place")
            return _replacement(ledger, key, content, known)
        new += parts
    return Placement(new=_without_known_gaps(new, known))


def _confirmed(ledger: Ledger, key: Key, content: TracingContent, known: list[KnownStretch]) -> Placement:
    firsts = {stretch.first for stretch in content.stretches}
    ledger.fresh |= {("tracing", *key, stretch.start_s) for stretch in known if stretch.first in firsts}
    return Placement()


def _replacement(ledger: Ledger, key: Key, content: TracingContent, known: list[KnownStretch]) -> Placement:
    """What was stored before goes; pieces that this import has brought stay, unless this one overlaps them."""

    def overlaps(stretch: KnownStretch) -> bool:
        return any(s.first < stretch.last and stretch.first < s.last for s in content.stretches)

    remove = [k for k in known if ("tracing", *key, k.start_s) not in ledger.fresh or overlaps(k)]
    return Placement(new=list(content.stretches), remove=remove)


def _new_parts(stretch: Stretch, stored: Sequence[Stretch]) -> list[Stretch] | str:
    """The parts that are not stored yet, or a sentence on where the two differ; compared on the grid they share."""
    covered = np.zeros(stretch.last - stretch.first, dtype=bool)
    for other in stored:
        offset = other.first - stretch.first
        a, b = max(0, offset), min(len(covered), other.last - stretch.first)
        if a >= b:
            continue
        covered[a:b] = True
        for name, mine, theirs in _channels(stretch.held(), other.held()):
            unlike = np.flatnonzero(mine[a:b] != theirs[a - offset : b - offset]) + a
            if len(unlike) and not _only_edges(unlike, (a, b - 1), stretch):
                at = int(unlike[0])
                here, given = _shown(theirs[at - offset]), _shown(mine[at])
                return (
                    f"case {stretch.case_id}, fetus {stretch.fetus}: other samples are stored; at"
                    f" {(stretch.first + at) / STORED_RATE_HZ:g} s the {name} stored is {here} and the file's is"
                    f" {given}"
                )
    edges = np.flatnonzero(np.diff(np.concatenate([[True], covered, [True]]).astype(np.int8)))
    return [stretch.part(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def _channels(mine: Stretch, theirs: Stretch) -> list[tuple[str, Hundredths, Hundredths]]:
    pairs = [("fhr_bpm", mine.fhr_cbpm, theirs.fhr_cbpm), ("toco", mine.toco_hundredths, theirs.toco_hundredths)]
    if mine.mhr_cbpm is not None or theirs.mhr_cbpm is not None:
        pairs.append(("mhr_bpm", _or_none(mine.mhr_cbpm, mine.samples), _or_none(theirs.mhr_cbpm, theirs.samples)))
    return pairs


def _or_none(channel: Hundredths | None, samples: int) -> Hundredths:
    return np.full(samples, NO_SIGNAL) if channel is None else channel


def _only_edges(unlike: np.ndarray, edges: tuple[int, int], stretch: Stretch) -> bool:
    """A faster file cut within a quarter second shares that one sample with its neighbour: the stored one stays."""
    faster = stretch.source_rate_hz is not None and stretch.source_rate_hz > STORED_RATE_HZ * 1.01
    return faster and set(unlike.tolist()) <= set(edges)


def _without_known_gaps(parts: list[Stretch], known: list[KnownStretch]) -> list[Stretch]:
    """Parts with no signal at all between two stored stretches say nothing new."""
    first, last = min(k.first for k in known), max(k.last for k in known)

    def empty(part: Stretch) -> bool:
        channels = (part.fhr_cbpm, part.toco_hundredths, _or_none(part.mhr_cbpm, part.samples))
        return all(bool((channel == NO_SIGNAL).all()) for channel in channels)

    return [part for part in parts if not (first <= part.first < last and empty(part))]


def _remove(key: Key, placement: Placement, into: Into) -> None:
    former = _together(stretch.sha256 for stretch in placement.remove)
    into.add_history(*key, "tracing", former, _together(s.content_sha256() for s in placement.new))
    named = {"case_id": key[0], "fetus": key[1]}
    into.put("intake/remove_stretches", [{**named, "start_s": stretch.start_s} for stretch in placement.remove])
    gone, there = set(placement.remove), into.ledger.stretches
    there[key] = [stretch for stretch in there[key] if stretch not in gone]


def _insert(stretches: list[Stretch], into: Into) -> None:
    if stretches:
        into.put("intake/add_tracings", [_row(each) | {"import_id": into.import_id} for each in stretches])
        into.put("intake/add_minutes", minutes_table(stretches))


def _row(stretch: Stretch) -> dict[str, Any]:
    names = ("case_id", "fetus", "start_s", "samples", "sample_rate_hz", "source_rate_hz")
    return {
        **{name: getattr(stretch, name) for name in names},
        "fhr_seen_fraction": float(np.mean(stretch.fhr_cbpm != NO_SIGNAL)),
        "toco_seen_fraction": float(np.mean(stretch.toco_hundredths != NO_SIGNAL)),
        "has_mhr": stretch.mhr_cbpm is not None,
        "content_sha256": stretch.content_sha256(),
    }


def _known(stretch: Stretch) -> KnownStretch:
    seen = int(np.count_nonzero(stretch.fhr_cbpm != NO_SIGNAL))
    return KnownStretch(stretch.start_s, stretch.samples, stretch.content_sha256(), stretch.sample_rate_hz, seen)


def _check_start(content: TracingContent, into: Into) -> None:
    span = into.ledger.case_span_s(content.case_id)
    if span is not None:
        into.remarks.flag(content.first_row, "t_s", span[0], about_start(span[0]))


def _check_fetus(content: TracingContent, into: Into) -> None:
    """Letters and figures for the fetuses of one case: the same ones may be stored twice."""
    others = [fetus for fetus in FETUSES if fetus.isdigit() != content.fetus.isdigit()]
    found = [fetus for fetus in others if (content.case_id, fetus) in into.ledger.stretches]
    if found:
        reason = f"found the fetus {content.fetus} beside {' and '.join(found)}, expected letters or figures, not both"
        into.remarks.flag(content.first_row, "fetus", None, reason)


def _check_birth(content: TracingContent, into: Into) -> None:
    case, span = into.ledger.cases.get(content.case_id), into.ledger.span_s(content.case_id, content.fetus)
    if case is not None and case.birth_s is not None and span is not None:
        sentence = birth_against_tracing(case.birth_s, span, into.options)
        if sentence is not None:
            into.remarks.flag(content.first_row, "t_s", content.case_id, f"case {content.case_id}: {sentence}")


def birth_against_tracing(birth_s: float, span_s: tuple[float, float], options: ImportOptions) -> str | None:
    """What is odd about a birth and a tracing that should end near it, or None."""
    return about_birth(birth_s, span_s, options.birth_before_end_usual_s, options.birth_after_tracing_usual_h * 3600)


def _together(hashes: Iterable[str]) -> str:
    return hashlib.sha256(" ".join(sorted(hashes)).encode()).hexdigest()


def _shown(value: np.int16) -> str:
    return "no signal" if value == NO_SIGNAL else f"{to_units(np.array([value]))[0]:g}"


def _cases(case_ids: list[str]) -> str:
    return f"case {case_ids[0]} is" if len(case_ids) == 1 else f"{len(case_ids)} cases are"

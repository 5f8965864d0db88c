"""Put a file's tracings into the store: new stretches, further pieces, the same again, or a contradiction."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import pyarrow as pa

from audit.intake.checks.times import about_birth, about_start
from audit.intake.checks.tracings import TracingContent
from audit.intake.door.remarks import Remarks
from audit.intake.door.report import Stored
from audit.intake.writing.ledger import FETUSES, KnownStretch, Ledger, add_history, add_stubs, put
from audit.intake.writing.same_samples import SameSamples
from audit.setting_tables.intake import ImportOptions
from audit.store import database
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


def write_tracings(
    con: database.Connection,
    ledger: Ledger,
    contents: Iterable[TracingContent],
    import_id: int,
    remarks: Remarks,
    options: ImportOptions,
    *,
    replace: bool,
) -> Stored:
    """Store the contents inside the caller's transaction. Contradictions are rejected unless `replace`."""
    stored = Stored()
    known_from_samples: list[str] = []
    new: list[Stretch] = []
    brought: set[str] = set()
    waiting = 0
    same = SameSamples(con, ledger, remarks)

    def store() -> None:
        known_from_samples.extend(add_stubs(con, ledger, list(brought)))
        _insert(con, new, import_id)
        new.clear()
        brought.clear()

    for content in contents:
        key = (content.case_id, content.fetus)
        placement = place(con, ledger, content, replace=replace)
        if placement.conflict is not None:
            remarks.reject_block(content.rows, content.first_row, "fhr_bpm", content.case_id, placement.conflict)
            continue
        stored.accepted += content.rows
        if placement.remove:
            _remove(con, ledger, key, placement)
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
            _check_start(ledger, content, remarks)
            _check_fetus(ledger, content, remarks)
        _check_birth(ledger, content, remarks, options)
    store()
    if known_from_samples:
        remarks.message(f"{_cases(known_from_samples)} not in any cases file yet")
    return stored


def place(con: database.Connection, ledger: Ledger, content: TracingContent, *, replace: bool) -> Placement:
    """Compare content with what is stored for the same fetus, sample by sample where the two overlap in time."""
    key = (content.case_id, content.fetus)
    known = ledger.stretches.get(key, [])
    if not known:
        return Placement(new=list(content.stretches))
    same = {(stretch.first, stretch.samples, stretch.sha256) for stretch in known}
    left = [s for s in content.stretches if (s.first, s.samples, s.content_sha256()) not in same]
    if not left:
        return _confirmed(ledger, key, content, known)
    touched = [k for k in known if any(s.first < k.last and k.first < s.last for s in left)]
    try:
        samples = {s.start_s: s for s in load_stretches(con, [content.case_id]).get(key, [])} if touched else {}
    except LookupError as error:
        if replace:
            return _replacement(ledger, key, content, known)
        return Placement(
            conflict=f"what is stored is damaged ({error}); import with --replace to put this in its place"
        )
    new: list[Stretch] = []
    for stretch in left:
        parts = _new_parts(stretch, [samples[k.start_s] for k in touched])
        if isinstance(parts, str):
            if not replace:
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


def _remove(con: database.Connection, ledger: Ledger, key: Key, placement: Placement) -> None:
    former = _together(stretch.sha256 for stretch in placement.remove)
    add_history(con, *key, "tracing", former, _together(s.content_sha256() for s in placement.new))
    count = len(placement.remove)
    table = pa.table(
        {
            "case_id": [key[0]] * count,
            "fetus": [key[1]] * count,
            "start_s": [stretch.start_s for stretch in placement.remove],
        }
    )
    put(con, "intake/remove_stretches", table)
    gone = set(placement.remove)
    ledger.stretches[key] = [stretch for stretch in ledger.stretches[key] if stretch not in gone]


def _insert(con: database.Connection, stretches: list[Stretch], import_id: int) -> None:
    if not stretches:
        return
    rows = {
        "case_id": [s.case_id for s in stretches],
        "fetus": [s.fetus for s in stretches],
        "start_s": [s.start_s for s in stretches],
        "samples": [s.samples for s in stretches],
        "sample_rate_hz": [s.sample_rate_hz for s in stretches],
        "source_rate_hz": pa.array([s.source_rate_hz for s in stretches], pa.float64()),
        "fhr_seen_fraction": [float(np.mean(s.fhr_cbpm != NO_SIGNAL)) for s in stretches],
        "toco_seen_fraction": [float(np.mean(s.toco_hundredths != NO_SIGNAL)) for s in stretches],
        "has_mhr": [s.mhr_cbpm is not None for s in stretches],
        "content_sha256": [s.content_sha256() for s in stretches],
        "import_id": [import_id] * len(stretches),
    }
    put(con, "intake/add_tracings", pa.table(rows))
    put(con, "intake/add_minutes", minutes_table(stretches))


def _known(stretch: Stretch) -> KnownStretch:
    seen = int(np.count_nonzero(stretch.fhr_cbpm != NO_SIGNAL))
    return KnownStretch(stretch.start_s, stretch.samples, stretch.content_sha256(), stretch.sample_rate_hz, seen)


def _check_start(ledger: Ledger, content: TracingContent, remarks: Remarks) -> None:
    span = ledger.case_span_s(content.case_id)
    sentence = None if span is None else about_start(span[0])
    if sentence is not None and span is not None:
        remarks.flag(content.first_row, "t_s", span[0], sentence)


def _check_fetus(ledger: Ledger, content: TracingContent, remarks: Remarks) -> None:
    """Letters and figures for the fetuses of one case: the same ones may be stored twice."""
    others = [fetus for fetus in FETUSES if fetus.isdigit() != content.fetus.isdigit()]
    found = [fetus for fetus in others if (content.case_id, fetus) in ledger.stretches]
    if found:
        reason = f"found the fetus {content.fetus} beside {' and '.join(found)}, expected letters or figures, not both"
        remarks.flag(content.first_row, "fetus", None, reason)


def _check_birth(ledger: Ledger, content: TracingContent, remarks: Remarks, options: ImportOptions) -> None:
    case, span = ledger.cases.get(content.case_id), ledger.span_s(content.case_id, content.fetus)
    if case is not None and case.birth_s is not None and span is not None:
        sentence = birth_against_tracing(case.birth_s, span, options)
        if sentence is not None:
            remarks.flag(content.first_row, "t_s", content.case_id, f"case {content.case_id}: {sentence}")


def birth_against_tracing(birth_s: float, span_s: tuple[float, float], options: ImportOptions) -> str | None:
    """What is odd about a birth and a tracing that should end near it, or None."""
    return about_birth(birth_s, span_s, options.birth_before_end_usual_s, options.birth_after_tracing_usual_h * 3600)


def _together(hashes: Iterable[str]) -> str:
    return hashlib.sha256(" ".join(sorted(hashes)).encode()).hexdigest()


def _shown(value: np.int16) -> str:
    return "no signal" if value == NO_SIGNAL else f"{to_units(np.array([value]))[0]:g}"


def _cases(case_ids: list[str]) -> str:
    return f"case {case_ids[0]} is" if len(case_ids) == 1 else f"{len(case_ids)} cases are"

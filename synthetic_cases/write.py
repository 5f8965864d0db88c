"""Write the invented unit as the files that a unit would hand in, and its truth beside them."""

import csv
import gzip
import io
import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from audit.processes import cores, in_order
from synthetic_cases.bedside import assessments, bands, facts, hours_truth, oxytocin_truth, unit_months
from synthetic_cases.build import DrawnCase, build
from synthetic_cases.plan import SAMPLE_RATE_HZ
from synthetic_cases.readers import READERS, reads_of_month
from synthetic_cases.scenario import CHANGE_MONTH, CaseSpec, busy, period, unit

DEFAULT_SEED = 20250301
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class UnitSummary:
    """What was written."""

    files: Path  # give this folder to the importer
    truth: Path  # never read by the product
    periods: tuple[str, ...]
    cases: int
    tracing_hours: float
    care_events: int
    reads: int
    readers: tuple[str, ...]

    @property
    def last_period(self) -> str:
        """The newest month, as YYYY-MM."""
        return self.periods[-1]


@dataclass(frozen=True)
class _Month:
    """What a month's worker hands back."""

    cases: list[dict[str, object]]
    events: list[dict[str, object]]
    reads: list[dict[str, object]]
    assessments: list[dict[str, object]]
    truth: list[dict[str, Any]]
    hours: float


def write_unit(
    folder: Path,
    *,
    seed: int = DEFAULT_SEED,
    months: int = 8,
    per_month: int = 30,
    busy_month: int = 0,
    progress: Progress | None = None,
    workers: int | None = None,
) -> UnitSummary:
    """Write an invented unit's files.

    Parameters
    ----------
    folder : gets `files/` (for the importer) and `truth/` (what was drawn). Created if need be; files of the same
        names are overwritten.
    seed : the same seed, size and library versions give the same bytes, whatever the number of workers.
    months, per_month : size; the story is told in full by 8 months of 30.
    busy_month : labours of the last month, where more than `per_month`; those beyond it are short.
    progress : called with (months done, months in all).
    workers : processes; default two where the machine has them.

    Returns
    -------
    a summary with the two folders and what was counted while writing.
    """
    files, truth = folder / "files", folder / "truth"
    files.mkdir(parents=True, exist_ok=True)
    truth.mkdir(parents=True, exist_ok=True)
    specs = unit(seed, months, per_month) + busy(seed, months, per_month, busy_month)
    jobs = [(files, seed, [s for s in specs if s.month == m]) for m in range(months)]
    done: list[_Month] = []
    for result in in_order(_write_month, jobs, workers=workers or min(2, cores(None, months))):
        done.append(result)
        if progress is not None:
            progress(len(done), months)
    return _write_tables(files, truth, specs, done)


def _write_tables(files: Path, truth: Path, specs: list[CaseSpec], done: list[_Month]) -> UnitSummary:
    """The files that hold all months: cases, care events, reads, and the truth."""
    events = [row for m in done for row in m.events]
    reads = [row for m in done for row in m.reads]
    write_rows(files / "cases.csv", [row for m in done for row in m.cases])
    write_rows(files / "care_events.csv", events)
    write_rows(files / "reads.csv", reads)
    write_rows(files / "assessments.csv", [row for m in done for row in m.assessments])
    counted = unit_months([row for m in done for row in m.cases], events, DEFAULT_SEED)
    write_rows(files / "unit_months.csv", counted)
    document = {"story": story(specs), "unit_months": counted, "cases": [row for m in done for row in m.truth]}
    (truth / "truth.json").write_text(json.dumps(document, separators=(",", ":")) + "\n", encoding="utf-8")
    return UnitSummary(
        files=files,
        truth=truth,
        periods=tuple(period(m) for m in range(len(done))),
        cases=len(specs),
        tracing_hours=sum(m.hours for m in done),
        care_events=len(events),
        reads=len(reads),
        readers=tuple(r.name for r in READERS),
    )


def _write_month(job: tuple[Path, int, list[CaseSpec]]) -> _Month:
    files, seed, specs = job
    parquet: list[pa.Table] = []
    kept: list[DrawnCase] = []
    hours = 0.0
    for spec in specs:
        case = build(spec, seed)
        table = tracing_table(case)
        hours += spec.hours * len(case.recordings)
        if spec.file_format == "parquet":
            parquet.append(table)
        else:
            write_tracing_csv(files / f"tracing_{spec.case_id}.{spec.file_format}", table)
        kept.append(replace(case, recordings={}))
    if parquet:
        write_tracing_parquet(files / f"tracings_{specs[0].period}.parquet", parquet)
    rng = np.random.default_rng([seed, 3, specs[0].month if specs else 0])
    noted = {case.spec.case_id: assessments(case, seed) for case in kept}
    return _Month(
        cases=[row | facts(case.spec) | bands(case.spec) for case in kept for row in case_rows(case)],
        events=[row for case in kept for row in event_rows(case)],
        reads=reads_of_month(kept, rng),
        assessments=[row for rows in noted.values() for row in rows],
        truth=[_truth(case, noted[case.spec.case_id]) for case in kept],
        hours=hours,
    )


def _truth(case: DrawnCase, noted: Sequence[dict[str, object]]) -> dict[str, Any]:
    beside = {
        "bedside": hours_truth(case, noted),
        "oxytocin": oxytocin_truth(case),
        "bands": bands(case.spec),
        "context": facts(case.spec),
    }
    return truth_document(case) | beside


def tracing_table(case: DrawnCase) -> pa.Table:
    """One case's samples in the input format's columns; lost signal is null."""
    parts = []
    for fetus, recording in case.recordings.items():
        n = recording.fhr_bpm.size
        columns = {
            "case_id": pa.DictionaryArray.from_arrays(pa.array(np.zeros(n, np.int32)), pa.array([case.spec.case_id])),
            "fetus": pa.DictionaryArray.from_arrays(pa.array(np.zeros(n, np.int32)), pa.array([fetus])),
            "t_s": pa.array(np.arange(n) / SAMPLE_RATE_HZ),
            "fhr_bpm": _nullable(recording.fhr_bpm),
            "toco": _nullable(recording.toco),
            "mhr_bpm": pa.nulls(n, pa.float32()) if recording.mhr_bpm is None else _nullable(recording.mhr_bpm),
        }
        parts.append(pa.table(columns))
    return pa.concat_tables(parts)


def _nullable(values: np.ndarray) -> pa.Array:
    return pa.array(values.astype(np.float32), mask=np.isnan(values))


def write_tracing_parquet(path: Path, tables: Sequence[pa.Table]) -> None:
    """One row group per case: a reader can take one case without the rest."""
    schema = tables[0].schema
    coded = ["case_id", "fetus", "fhr_bpm", "toco", "mhr_bpm"]
    with pq.ParquetWriter(
        path, schema, compression="zstd", compression_level=1, use_dictionary=coded, store_schema=False
    ) as writer:
        for table in tables:
            writer.write_table(table, row_group_size=table.num_rows)


def write_tracing_csv(path: Path, table: pa.Table) -> None:
    """The same columns as text; a name ending in .gz is compressed, without a time stamp."""
    used = [c for c in table.column_names if c in ("case_id", "t_s", "fhr_bpm", "toco")]
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(used)
    writer.writerows(zip(*[_texts(table[c]) for c in used]))
    data = buffer.getvalue().encode()
    if path.suffix == ".gz":
        data = gzip.compress(data, compresslevel=6, mtime=0)
    path.write_bytes(data)


def _texts(column: pa.ChunkedArray) -> list[object]:
    """The cells of a column; each value is put in words once, however often it stands there."""
    coded = column.combine_chunks()
    if not pa.types.is_dictionary(coded.type):
        coded = coded.dictionary_encode()
    words = [_cell(value) for value in coded.dictionary.to_pylist()]
    return ["" if place is None else words[place] for place in coded.indices.to_pylist()]


def write_rows(path: Path, rows: Sequence[dict[str, object]]) -> None:
    """Rows as UTF-8 CSV with a header; None is an empty cell."""
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        if rows:
            writer.writerow(rows[0])
            writer.writerows([_cell(v) for v in row.values()] for row in rows)


def _cell(value: object) -> object:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:.3f}".rstrip("0").rstrip(".")
    return value


def case_rows(case: DrawnCase) -> list[dict[str, object]]:
    """A row of the cases file per fetus."""
    return [case.facts | {"fetus": fetus} | asdict(found) for fetus, found in case.outcomes.items()]


def event_rows(case: DrawnCase) -> list[dict[str, object]]:
    return [
        {"case_id": case.spec.case_id, "at_s": float(round(e.at_s)), "event": e.event, "urgency": e.urgency}
        for e in case.events
    ]


def truth_document(case: DrawnCase) -> dict[str, Any]:
    """What was planted and drawn in one case, JSON-ready."""
    return {
        "case_id": case.spec.case_id,
        "period": case.spec.period,
        "archetype": case.spec.archetype,
        "specials": list(case.spec.specials),
        "shift": case.spec.shift,
        "severity": case.spec.severity,
        "responses": [asdict(r) for r in case.responses],
        "fetuses": {fetus: truth.as_document() for fetus, truth in case.truths.items()},
    }


def story(specs: Sequence[CaseSpec]) -> dict[str, Any]:
    """The findings that were planted, by case."""

    def having(special: str) -> list[str]:
        return [s.case_id for s in specs if special in s.specials]

    return {
        "change": {"period": period(CHANGE_MONTH - 1), "what": "a second senior on nights"},
        "long_delay": having("long_delay"),
        "bad_outcome_unremarkable_tracing": having("bad_outcome_unremarkable"),
        "good_outcome_pathological_tracing": having("good_outcome_pathological"),
        "oxytocin_increased_in_concern": having("long_delay"),
        "twins": having("twins"),
        "preterm": having("preterm"),
        "poor_toco": having("poor_toco"),
        "maternal_channel": having("maternal_channel"),
        "implausible_gas_pairs": having("near_identical_gases") + having("swapped_gases"),
        "no_outcome": having("no_outcome"),
        "no_events": having("no_events"),
        "unrecorded_response": having("unrecorded_response"),
        "died": having("died"),
        "seizures": having("seizures"),
        "transferred": having("transferred"),
        "category_1": having("category_1"),
        "acidosis_though_well": having("acidosis_though_well"),
        "overcalling_reader": "R4",
    }

"""A run's tracings and findings as Parquet in a folder that all workers reach: a partition a batch, written once.

Samples go out as the rows of `tracing_minutes`, what else a reading is given beside them; what was found comes back row
by row as it was found. So a database may read both in place. A file has its name only when it is whole, and what the
results are known by is written last: a partition that was read twice, or by half, leaves the same bytes as one that was
read once.
"""

import json
import os
import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
from pyarrow import fs

from audit.analysis import made_by, stages
from audit.analysis.guarded import Failed, Fitted, Result, guarded_read
from audit.analysis.one_tracing import CaseInput, Found
from audit.errors import UsageError
from audit.settings import AnalysisSettings
from audit.store import in_place
from audit.store.finding_tables import SCHEMAS
from audit.store.tracings import Stored, head_of, minutes_table, stretches_of

_BYTES = pa.map_(pa.string(), pa.binary())
_SAMPLES = pa.list_(pa.int16())
_GIVEN = pa.schema([("case", pa.string()), ("kept", _BYTES)])
_MINUTES = pa.schema(
    [
        *((name, pa.string()) for name in ("case_id", "fetus")),
        ("start_s", pa.float64()),
        ("minute", pa.int32()),
        *((name, _SAMPLES) for name in ("fhr_cbpm", "toco_hundredths", "mhr_cbpm")),
    ]
)
_OBJECTS = ("s3", "gcs", "abfs")  # storage without folders, in which nobody sees an object before it is whole
_RESULTS = pa.schema([("result", pa.string()), ("kept", _BYTES), ("rows", pa.map_(pa.string(), pa.int64()))])


class SharedFolder:
    """A folder by its path or address, such as s3://... Raises UsageError for one that cannot be reached."""

    def __init__(self, address: str) -> None:
        try:
            whole = address if "://" in address else str(Path(address).resolve())
            self._fs, self._root = fs.FileSystem.from_uri(whole)
        except (pa.ArrowException, OSError) as error:
            raise UsageError(
                f"{address}: found no folder that can be reached, expected one that all workers share"
            ) from error
        self.address = address

    def put(self, name: str, table: pa.Table) -> None:
        """Write a table under a name, all of it or nothing. Raises UsageError where nothing can be written."""
        path, content = f"{self._root}/{name}", pa.BufferOutputStream()
        pq.write_table(table, content, compression="zstd")
        objects = self._fs.type_name in _OBJECTS
        half = path if objects else f"{path}.{uuid.uuid4().hex}.half"
        with self._reached("cannot be written to"):
            if not objects:
                self._fs.create_dir(path.rpartition("/")[0], recursive=True)
            with self._fs.open_output_stream(half, compression=None) as out:
                out.write(content.getvalue())
            if not objects:
                self._fs.move(half, path)

    def get(self, name: str) -> pa.Table:
        """A table by its name. Raises UsageError where it is not found."""
        with self._reached("does not hold here what was put into it"):
            return pq.read_table(f"{self._root}/{name}", filesystem=self._fs)

    @contextmanager
    def _reached(self, otherwise: str) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise UsageError(
                f"{self.address}: {otherwise} ({type(error).__name__}), expected a folder that this machine and all"
                " workers reach by the same name and may write to"
            ) from error

    def has(self, name: str) -> bool:
        """Whether there is a whole file of this name."""
        found: bool = self._fs.get_file_info(f"{self._root}/{name}").type == fs.FileType.File
        return found

    def forget(self, name: str) -> None:
        """Take a folder away with all that lies in it."""
        if self._fs.get_file_info(f"{self._root}/{name}").type == fs.FileType.Directory:
            self._fs.delete_dir(f"{self._root}/{name}")


def put_given(shared: SharedFolder, run: str, part: str, cases: Sequence[CaseInput]) -> None:
    """Write what the readings of one partition are given."""
    rows, stretches = list[dict[str, Any]](), []
    for case in cases:
        stored = case.tracing
        told = {
            "case_id": case.case_id,
            "fetus": case.fetus,
            "leads": case.leads,
            "facts": case.facts,
            "events": case.events,
            "windows": case.windows,
            "due": sorted(case.due),
            "tracing": None,
        }
        if stored is not None:
            assert isinstance(stored, Stored)
            told["tracing"] = [[head_of(one) for one in stored.stretches], stored.fhr_sensor, stored.toco_sensor]
            stretches += stored.stretches
        rows.append({"case": json.dumps(told), "kept": list(case.kept.items())})
    if stretches:
        shared.put(_samples(run, part), minutes_table(stretches).cast(_MINUTES))
    shared.put(_given(run, part), pa.Table.from_pylist(rows, schema=_GIVEN))


def read_partition(
    address: str, run: str, part: str, version: str, settings: AnalysisSettings, second: Fitted | None
) -> str:
    """Read the tracings of one partition and write what was found, once; the partition's name. Runs in a worker.

    Raises RuntimeError in a worker with another version of the program.
    """
    if version != made_by.version():
        raise RuntimeError(f"found version {made_by.version()} of the program on a worker, expected {version}")
    os.umask(0o077)
    shared = SharedFolder(address)
    if not shared.has(_results(run, part)):
        results = [guarded_read(case, settings, second) for case in _cases(shared, run, part)]
        for name in stages.DERIVED:
            tables = [result.tables[name] for result in results if isinstance(result, Found) and name in result.tables]
            if any(table.num_rows for table in tables):
                shared.put(_found(run, name, part), pa.concat_tables(tables))
        shared.put(_results(run, part), pa.Table.from_pylist([_told(one) for one in results], schema=_RESULTS))
    return part


def get_results(shared: SharedFolder, run: str, part: str) -> list[Result]:
    """What a partition's readings found, in its order."""
    rows = shared.get(_results(run, part)).to_pylist()
    written = {name for row in rows for name, count in row["rows"] if count}
    tables = {
        name: shared.get(_found(run, name, part)).cast(schema) if name in written else schema.empty_table()
        for name, schema in SCHEMAS.items()
        if name in stages.DERIVED
    }
    at = dict.fromkeys(stages.DERIVED, 0)
    results: list[Result] = []
    for row in rows:
        told = json.loads(row["result"])
        if "reason" in told:
            results.append(Failed(told["reason"], told["places"]))
            continue
        found = Found(kept=dict(row["kept"]), state=told["state"])
        for name, count in row["rows"]:
            found.tables[name] = tables[name].slice(at[name], count)
            at[name] += count
        results.append(found)
    return results


def get_told(shared: SharedFolder, run: str, part: str) -> list[Result]:
    """How a partition's readings ended, in its order, without what they found: that stays where it is."""
    rows = shared.get(_results(run, part)).to_pylist()
    told = (json.loads(row["result"]) for row in rows)
    return [Failed(one["reason"], one["places"]) if "reason" in one else Found(state=one["state"]) for one in told]


def files_of(shared: SharedFolder, run: str, part: str) -> list[str]:
    """The files of a partition that a database reads in place; of one that was lost the samples alone."""
    whole = shared.has(_results(run, part))
    rows = shared.get(_results(run, part)).to_pylist() if whole else []
    written = {name for row in rows for name, count in row["rows"] if count}
    names = [_samples(run, part), *(_found(run, name, part) for name in stages.DERIVED if name in written)]
    return [name.removeprefix(f"{run}/") for name in names if shared.has(name)]


def _given(run: str, part: str) -> str:
    return f"{run}/given/{part}.parquet"


def _samples(run: str, part: str) -> str:
    return f"{run}/{in_place.FOLDERS[in_place.SAMPLES]}/{part}.parquet"


def _found(run: str, table: str, part: str) -> str:
    return f"{run}/{in_place.FOLDERS[table]}/{part}.parquet"


def _results(run: str, part: str) -> str:
    return f"{run}/results/{part}.parquet"


def _told(result: Result) -> dict[str, Any]:
    if isinstance(result, Failed):
        return {"result": json.dumps({"reason": result.reason, "places": result.places}), "kept": [], "rows": []}
    rows = [(name, table.num_rows) for name, table in result.tables.items()]
    return {"result": json.dumps({"state": result.state}), "kept": list(result.kept.items()), "rows": rows}


def _cases(shared: SharedFolder, run: str, part: str) -> list[CaseInput]:
    given, found = shared.get(_given(run, part)).to_pylist(), []
    told = [json.loads(row["case"]) for row in given]
    heads = [tuple(head) for one in told if one["tracing"] is not None for head in one["tracing"][0]]
    heads.sort(key=lambda head: head[:3])
    stretches = stretches_of(heads, shared.get(_samples(run, part))) if heads else {}
    for one, row in zip(told, given, strict=True):
        tracing = None
        if one["tracing"] is not None:
            _, fhr_sensor, toco_sensor = one["tracing"]
            tracing = Stored(stretches[one["case_id"], one["fetus"]], fhr_sensor, toco_sensor)
        more = {"tracing": tracing, "due": frozenset(one["due"]), "kept": dict(row["kept"])}
        found.append(CaseInput(**(one | more)))
    return found

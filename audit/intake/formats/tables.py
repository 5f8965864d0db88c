"""What the format readers hand on: the columns of a table in memory, with the line each row came from."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from audit.vocabulary import EQUITY_FIELDS

FloatArray = NDArray[np.float64]
RowNumbers = NDArray[np.int64]
Record = TypeVar("Record")
CODES = pa.dictionary(pa.int32(), pa.string())


@dataclass(frozen=True)
class SmallTable:
    """A file of any other kind than a tracing: Python values row by row (text from CSV, typed from Parquet)."""

    columns: dict[str, list[Any]]
    row_numbers: list[int]

    def __len__(self) -> int:
        return len(self.row_numbers)


@dataclass(frozen=True)
class SampleTable:
    """A tracing file: one row per sample. Numbers are NaN where the file had none."""

    case_id: pa.DictionaryArray
    fetus: pa.DictionaryArray | None
    t_s: FloatArray
    fhr_bpm: FloatArray
    toco: FloatArray
    mhr_bpm: FloatArray | None
    row_numbers: RowNumbers

    def __len__(self) -> int:
        return len(self.row_numbers)

    @classmethod
    def of(
        cls, case_id: pa.DictionaryArray, fetus: pa.DictionaryArray | None, numbers: Mapping[str, FloatArray], rows: Any
    ) -> "SampleTable":
        """From the numbers by column, and the row that each sample came from."""
        mhr_bpm = numbers.get("mhr_bpm")
        return cls(case_id, fetus, numbers["t_s"], numbers["fhr_bpm"], numbers["toco"], mhr_bpm, rows)


@dataclass(frozen=True)
class TracingRows:
    """The rows of one fetus's tracing in a file: arrays of shape (n_rows,), in rising order of time once checked."""

    case_id: str
    fetus: str
    t_s: FloatArray
    fhr_bpm: FloatArray
    toco: FloatArray
    mhr_bpm: FloatArray | None
    row_numbers: RowNumbers


def in_one_piece(column: pa.ChunkedArray) -> pa.DictionaryArray:
    """A column of codes as one array."""
    joined = column.unify_dictionaries().combine_chunks() if column.num_chunks else pa.array([], CODES)
    return joined.chunk(0) if isinstance(joined, pa.ChunkedArray) else joined


def some_of(record: Record, rows: NDArray[Any] | slice) -> Record:
    """A record of columns, all of as many rows, with some of its rows: a slice of them, or those of these indices."""

    def of(column: Any) -> Any:
        if isinstance(column, np.ndarray) or isinstance(rows, slice):
            return column[rows]
        return column.take(pa.array(rows))

    columns = {each.name: getattr(record, each.name) for each in fields(record)}  # type: ignore[arg-type]
    arrays = {name: of(column) for name, column in columns.items() if isinstance(column, np.ndarray | pa.Array)}
    return replace(record, **arrays)  # type: ignore[type-var]


# The columns of each kind: what it needs, then what it may have.
REQUIRED: dict[str, tuple[str, ...]] = {
    "tracing": ("case_id", "t_s", "fhr_bpm", "toco"),
    "care_events": ("case_id", "at_s", "event"),
    "reads": ("case_id", "reader", "start_s", "end_s", "standard", "category"),
    "assessments": ("case_id", "at_s", "standard", "category", "assessor"),
    "cases": ("case_id", "period"),
    "unit_months": ("period", "births"),
}
CASE_FIELDS = (
    "period",
    "gestation_weeks",
    "parity",
    "plurality",
    "onset_of_labour",
    "second_stage_s",
    "birth_s",
    "mode_of_birth",
    "shift",
    "fhr_sensor",
    "toco_sensor",
    "risk_factors",
    "auscultated_until_s",
    "monitored_because",
    "unit",
    *EQUITY_FIELDS,
)
UNIT_COUNTS = (
    "births",
    "continuously_monitored",
    "auscultated",
    "caesareans",
    "caesareans_category_1",
    "caesareans_category_2",
    "caesareans_category_3",
    "caesareans_category_4",
    "neonatal_unit_admissions",
    "deaths",
)
OUTCOME_FIELDS = (
    "cord_artery_ph",
    "cord_artery_base_deficit_mmol_l",
    "cord_artery_pco2_kpa",
    "cord_vein_ph",
    "cord_vein_pco2_kpa",
    "cord_lactate_mmol_l",
    "apgar_1",
    "apgar_5",
    "apgar_10",
    "birth_weight_g",
    "neonatal_unit_admission",
    "encephalopathy_grade",
    "died",
    "cooled",
    "seizures",
    "transferred",
)
# What is said of a tracing beside its category.
FEATURES = ("baseline_bpm", "variability", "accelerations", "decelerations", "contractions_per_10_min")
OPTIONAL: dict[str, tuple[str, ...]] = {
    "tracing": ("fetus", "mhr_bpm"),
    "care_events": ("detail", "urgency", "event_id"),
    "reads": ("fetus", *FEATURES, "would_act", "outcome_hidden", "occasion"),
    "assessments": ("fetus", *FEATURES, "risk"),
    "cases": ("fetus", *CASE_FIELDS[1:], *OUTCOME_FIELDS),
    "unit_months": ("unit", *UNIT_COUNTS[1:]),
}
# The open database's table of expert readings, taken as reads.
EXPERT_COLUMNS = ("rec_id", "expert_id", "eval_step1", "eval_step2", "eval_step3", "eval_step4")
# Every column that is ever read; any other is counted, neither read nor named.
COLUMNS = frozenset(name for columns in (*REQUIRED.values(), *OPTIONAL.values(), EXPERT_COLUMNS) for name in columns)
# The columns whose cells may hold several words, and what stands between those.
SEVERAL_COLUMNS = ("risk_factors", "risk")
BETWEEN_SEVERAL = r"[,;+|/&\n]"
# The columns that hold numbers, and those among them in which numbers of a thousand and more are usual.
_IN_WORDS = (
    *("period", "onset_of_labour", "mode_of_birth", "shift", "fhr_sensor", "toco_sensor", "risk_factors"),
    *("monitored_because", "unit", "neonatal_unit_admission", "died", "cooled", "seizures", "transferred"),
    *EQUITY_FIELDS,
)
NUMBER_COLUMNS = frozenset(
    (
        *("t_s", "fhr_bpm", "toco", "mhr_bpm", "at_s", "start_s", "end_s", "baseline_bpm", "contractions_per_10_min"),
        *(name for name in (*CASE_FIELDS, *OUTCOME_FIELDS, *UNIT_COUNTS) if name not in _IN_WORDS),
    )
)
THOUSANDS_COLUMNS = frozenset(
    name for name in NUMBER_COLUMNS if name.endswith("_s") or name in ("birth_weight_g", *UNIT_COUNTS)
)

"""The derived tables as columns: what one tracing's findings look like before they are stored.

Every table of the schema's second step but `tracing_states` and `analysis_runs`; `run_id` is added when a batch is
stored. NaN becomes NULL here and nowhere else.
"""

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

TEXT, NUMBER, COUNT, TRUTH, TEXTS = pa.string(), pa.float64(), pa.int64(), pa.bool_(), pa.list_(pa.string())
_KEY = {"case_id": TEXT, "fetus": TEXT}
_EVENT_REASONS = {"reasons": TEXTS}
_SECOND_READING = {
    "start_s": NUMBER,
    "end_s": NUMBER,
    "category": TEXT,
    "normal_fraction": NUMBER,
    "suspicious_fraction": NUMBER,
    "pathological_fraction": NUMBER,
    "rules_category": TEXT,
    "differs_by": TEXTS,
    "fitted_on_this": TRUTH,
    "fitted_on_windows": COUNT,
}

SCHEMAS: dict[str, pa.Schema] = {
    name: pa.schema(columns)
    for name, columns in {
        "tracing_states": {
            **_KEY,
            "start_s": NUMBER,
            "duration_s": NUMBER,
            "seen_fraction": NUMBER,
            "monitored_until_s": NUMBER,
            "notes": TEXTS,
        },
        "contractions": {
            "case_id": TEXT,
            "onset_s": NUMBER,
            "peak_s": NUMBER,
            "end_s": NUMBER,
            "amplitude": NUMBER,
            "resting_tone": NUMBER,
        },
        "decelerations": {
            **_KEY,
            "onset_s": NUMBER,
            "nadir_s": NUMBER,
            "end_s": NUMBER,
            "depth_bpm": NUMBER,
            "area_bpm_s": NUMBER,
            "kind": TEXT,
            "contraction_peak_s": NUMBER,
            "onset_to_nadir_s": NUMBER,
            "judged_fall_s": NUMBER,
            "kind_certain": TRUTH,
            "other_kind": TEXT,
            "nadir_to_end_s": NUMBER,
            "lag_s": NUMBER,
            "onset_lag_s": NUMBER,
            "toco_usable": TRUTH,
            "seen_fraction": NUMBER,
            "lowest_bpm": NUMBER,
            "baseline_bpm": NUMBER,
            "variability_inside_bpm": NUMBER,
            "shallow": TRUTH,
            "open_end": TRUTH,
            "unseen_duration_s": NUMBER,
            "at_least": TRUTH,
        },
        "accelerations": {
            **_KEY,
            "onset_s": NUMBER,
            "peak_s": NUMBER,
            "end_s": NUMBER,
            "height_bpm": NUMBER,
            "overshoot": TRUTH,
        },
        "level_changes": {**_KEY, "onset_s": NUMBER, "end_s": NUMBER, "from_bpm": NUMBER, "to_bpm": NUMBER},
        "epochs": {
            **_KEY,
            "start_s": NUMBER,
            "end_s": NUMBER,
            "baseline_bpm": NUMBER,
            "baseline_rounded_bpm": COUNT,
            "variability_bpm": NUMBER,
            "variability": TEXT,
            "signal_loss_fraction": NUMBER,
            "contractions_per_10_min": NUMBER,
            "sinusoidal": TRUTH,
        },
        "minute_categories": {**_KEY, "at_s": NUMBER, "standard": TEXT, "category": TEXT, **_EVENT_REASONS},
        "window_categories": {
            **_KEY,
            "start_s": NUMBER,
            "end_s": NUMBER,
            "standard": TEXT,
            "category": TEXT,
            **_EVENT_REASONS,
            "baseline_bpm": NUMBER,
            "variability": TEXT,
            "contractions_per_10_min": NUMBER,
            "accelerations": TEXT,
            "decelerations": TEXT,
        },
        "second_readings": {**_KEY, **_SECOND_READING},
        "second_reading_lane": {**_KEY, **_SECOND_READING},
        "second_reading_evidence": {
            **_KEY,
            "start_s": NUMBER,
            "end_s": NUMBER,
            "place": COUNT,
            "recording": TEXT,
            "recording_start_s": NUMBER,
            "recording_end_s": NUMBER,
            "likeness_fraction": NUMBER,
            "normal": COUNT,
            "suspicious": COUNT,
            "pathological": COUNT,
        },
        "burden": {
            **_KEY,
            "span": TEXT,
            "span_minutes": NUMBER,
            "seen_minutes": NUMBER,
            "decelerations": COUNT,
            "early": COUNT,
            "late": COUNT,
            "variable": COUNT,
            "prolonged": COUNT,
            "unclassified": COUNT,
            "area_bpm_s": NUMBER,
            "triangle_area_bpm_s": NUMBER,
            "area_per_seen_hour_bpm_s": NUMBER,
            "minutes_in_deceleration": NUMBER,
            "contractions": COUNT,
            "contractions_with_deceleration": COUNT,
            "deepest_bpm": NUMBER,
            "longest_s": NUMBER,
            "decelerations_per_20_min": NUMBER,
            "signal_loss_fraction": NUMBER,
            "level_change_area_bpm_s": NUMBER,
            "unseen_in_falls_minutes": NUMBER,
            "after_monitoring_minutes": NUMBER,
            "bedside_loss_fraction": NUMBER,
        },
        "concern_episodes": {
            "episode_id": TEXT,
            **_KEY,
            "standard": TEXT,
            "trigger": TEXT,
            "pattern_start_s": NUMBER,
            "recognisable_s": NUMBER,
            "end_s": NUMBER,
            "last_finding_s": NUMBER,
            "category_until_s": NUMBER,
            "evidence_minutes": NUMBER,
            "assessed_under": TEXTS,
            "at_start": TRUTH,
            "open_end": TRUTH,
            "unseen_minutes": NUMBER,
            **_EVENT_REASONS,
        },
        "responses": {
            "episode_id": TEXT,
            **_KEY,
            "standard": TEXT,
            "trigger": TEXT,
            "pattern_start_s": NUMBER,
            "recognisable_s": NUMBER,
            "end_s": NUMBER,
            "first_act_s": NUMBER,
            "first_act_event": TEXT,
            "minutes_to_first_act": NUMBER,
            "escalation_s": NUMBER,
            "escalation_event": TEXT,
            "minutes_to_escalation": NUMBER,
            "decided_by": TEXT,
            "response_s": NUMBER,
            "response_event": TEXT,
            "minutes_to_response": NUMBER,
            "minutes_to_birth": NUMBER,
            "target_minutes": NUMBER,
            "status": TEXT,
            "standing_decision_s": NUMBER,
            "standing_decision_urgency": COUNT,
            "oxytocin_s": NUMBER,
            "oxytocin_event": TEXT,
            "chance_statuses": TEXT,
            "note": TEXT,
        },
        "reader_clocks": {
            **_KEY,
            "reader": TEXT,
            "standard": TEXT,
            "recognisable_s": NUMBER,
            "first_act_s": NUMBER,
            "first_act_event": TEXT,
            "escalation_s": NUMBER,
            "escalation_event": TEXT,
            "decided_by": TEXT,
            "response_s": NUMBER,
            "response_event": TEXT,
            "minutes_to_response": NUMBER,
            "target_minutes": NUMBER,
            "note": TEXT,
            "status": TEXT,
        },
        "possible_concerns": {
            **_KEY,
            "standard": TEXT,
            "trigger": TEXT,
            "falls_taken_as": TEXT,
            "recognisable_s": NUMBER,
            "end_s": NUMBER,
        },
    }.items()
}
# made once: most tables of a tracing have few rows or none
_COLUMNS = {name: [(column.name, column.type) for column in schema] for name, schema in SCHEMAS.items()}
_EMPTY = {name: schema.empty_table() for name, schema in SCHEMAS.items()}


def table_of(name: str, rows: Iterable[Mapping[str, Any]], key: Mapping[str, str]) -> pa.Table:
    """Rows as the named table's columns. Keys of a row that the table lacks are left out; a missing one is NULL."""
    listed = list(rows)
    if not listed:
        return _EMPTY[name]
    columns = [
        _repeated(key[column], len(listed)) if column in key else _column([row.get(column) for row in listed], kind)
        for column, kind in _COLUMNS[name]
    ]
    return pa.Table.from_arrays(columns, schema=SCHEMAS[name])


def minute_table(
    key: Mapping[str, str],
    at_s: NDArray[np.float64],
    standards: Sequence[str],
    categories: Sequence[Sequence[str]],
    reasons: Sequence[Sequence[Sequence[str]]],
) -> pa.Table:
    """`minute_categories` of one tracing: for each standard the same minutes, with its categories and reasons."""
    minutes = len(at_s)
    total = minutes * len(standards)
    return pa.Table.from_arrays(
        [
            _repeated(key["case_id"], total),
            _repeated(key["fetus"], total),
            pa.array(np.tile(np.asarray(at_s, dtype=np.float64), len(standards))),
            pa.array(standards, TEXT).take(pa.array(np.repeat(np.arange(len(standards)), minutes))),
            _looked_up([word for words in categories for word in words], TEXT),
            _looked_up([tuple(lines) for each in reasons for lines in each], TEXTS),
        ],
        schema=SCHEMAS["minute_categories"],
    )


def packed(table: pa.Table) -> bytes:
    """A table's rows as Arrow's own bytes, for another process that knows its columns; none without rows."""
    if not table.num_rows:
        return b""
    (rows,) = table.combine_chunks().to_batches()
    told: bytes = rows.serialize().to_pybytes()
    return told


def unpacked(name: str, content: bytes) -> pa.Table:
    """The named table that `packed` was given."""
    if not content:
        return _EMPTY[name]
    return pa.Table.from_batches([pa.ipc.read_record_batch(content, SCHEMAS[name])])


def _repeated(text: str, count: int) -> pa.Array:
    return pa.repeat(_scalar(text), count)


@lru_cache(maxsize=2)  # the case and the fetus of the tracing at hand
def _scalar(text: str) -> pa.Scalar:
    return pa.scalar(text, TEXT)


def _looked_up(values: Sequence[Any], kind: pa.DataType) -> pa.Array:
    """A column in which few values stand many times: each is converted once."""
    places: dict[Any, int] = {}
    codes = [places.setdefault(value, len(places)) for value in values]
    return pa.array(list(places), kind).take(pa.array(codes, pa.int64()))


def _column(values: list[Any], kind: pa.DataType) -> pa.Array:
    if kind == NUMBER:
        # by way of numpy, which is faster; NaN and None become NULL
        return pa.array(np.array(values, dtype=np.float64), from_pandas=True)
    return pa.array(values, kind)

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


def _named(names: str, kind: pa.DataType) -> dict[str, pa.DataType]:
    return dict.fromkeys(names.split(), kind)


# A column of one name is of one kind in every table but where the table says otherwise; one not named here is a number.
_KINDS = {
    **_named("case_id fetus recording reader episode_id standard trigger span status chance_statuses note", TEXT),
    **_named("category rules_category kind other_kind falls_taken_as variability accelerations decelerations", TEXT),
    **_named("first_act_event escalation_event response_event decided_by oxytocin_event", TEXT),
    **_named("normal suspicious pathological place fitted_on_windows baseline_rounded_bpm contractions", COUNT),
    **_named("contractions_with_deceleration early late variable prolonged unclassified", COUNT),
    **_named("standing_decision_urgency", COUNT),
    **_named("at_least at_start open_end shallow overshoot sinusoidal kind_certain toco_usable fitted_on_this", TRUTH),
    **_named("notes reasons differs_by assessed_under", TEXTS),
}
_SECOND_READING = """
    case_id fetus start_s end_s category normal_fraction suspicious_fraction pathological_fraction rules_category
    differs_by fitted_on_this fitted_on_windows
"""
_DEFINED = {
    "tracing_states": "case_id fetus start_s duration_s seen_fraction monitored_until_s notes",
    "contractions": "case_id onset_s peak_s end_s amplitude resting_tone",
    "decelerations": """
        case_id fetus onset_s nadir_s end_s depth_bpm area_bpm_s kind contraction_peak_s onset_to_nadir_s
        judged_fall_s kind_certain other_kind nadir_to_end_s lag_s onset_lag_s toco_usable seen_fraction lowest_bpm
        baseline_bpm variability_inside_bpm shallow open_end unseen_duration_s at_least
    """,
    "accelerations": "case_id fetus onset_s peak_s end_s height_bpm overshoot",
    "level_changes": "case_id fetus onset_s end_s from_bpm to_bpm kind_certain other_kind",
    "epochs": """
        case_id fetus start_s end_s baseline_bpm baseline_rounded_bpm variability_bpm variability
        signal_loss_fraction contractions_per_10_min sinusoidal
    """,
    "minute_categories": "case_id fetus at_s standard category reasons",
    "window_categories": """
        case_id fetus start_s end_s standard category reasons baseline_bpm variability contractions_per_10_min
        accelerations decelerations
    """,
    "second_readings": _SECOND_READING,
    "second_reading_lane": _SECOND_READING,
    "second_reading_evidence": """
        case_id fetus start_s end_s place recording recording_start_s recording_end_s likeness_fraction normal
        suspicious pathological
    """,
    "burden": """
        case_id fetus span span_minutes seen_minutes decelerations early late variable prolonged unclassified
        area_bpm_s triangle_area_bpm_s area_per_seen_hour_bpm_s minutes_in_deceleration contractions
        contractions_with_deceleration deepest_bpm longest_s decelerations_per_20_min signal_loss_fraction
        level_change_area_bpm_s unseen_in_falls_minutes after_monitoring_minutes bedside_loss_fraction
    """,
    "concern_episodes": """
        episode_id case_id fetus standard trigger pattern_start_s recognisable_s end_s last_finding_s
        category_until_s evidence_minutes assessed_under at_start open_end unseen_minutes reasons
    """,
    "responses": """
        episode_id case_id fetus standard trigger pattern_start_s recognisable_s end_s first_act_s first_act_event
        minutes_to_first_act escalation_s escalation_event minutes_to_escalation decided_by response_s
        response_event minutes_to_response minutes_to_birth target_minutes status standing_decision_s
        standing_decision_urgency oxytocin_s oxytocin_event chance_statuses note
    """,
    "reader_clocks": """
        case_id fetus reader standard recognisable_s first_act_s first_act_event escalation_s escalation_event
        decided_by response_s response_event minutes_to_response target_minutes note status
    """,
    "possible_concerns": "case_id fetus standard trigger falls_taken_as recognisable_s end_s",
}


def _schema(table: str, columns: str) -> pa.Schema:
    own = {"decelerations": COUNT} if table == "burden" else {}  # how many; elsewhere which
    return pa.schema([(name, own.get(name, _KINDS.get(name, NUMBER))) for name in columns.split()])


SCHEMAS: dict[str, pa.Schema] = {table: _schema(table, columns) for table, columns in _DEFINED.items()}
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

"""Small hand-filled databases for the tests of pages: every figure in them can be counted by hand."""

import atexit
import json
import shutil
import tempfile
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from audit.analysis import made_by
from audit.analysis.episode_id import episode_id
from audit.settings import load_settings
from audit.store import database, published
from audit.store.tracings import Stretch, minutes_table, to_hundredths

RUN = "00001-abcdef01"
MINUTES = 90


def empty_database(folder: Path) -> Path:
    """A database with a schema and nothing in it."""
    db = folder / "unit.duckdb"
    with database.open_for_writing(db):
        pass
    published.required(db)
    return db


def small_database(folder: Path) -> Path:
    """Two months, five cases (one a twin pair), findings written by hand: a copy of one that is made once."""
    shutil.copytree(_small_once().name, folder, dirs_exist_ok=True)
    return folder / "unit.duckdb"


@cache
def _small_once() -> "tempfile.TemporaryDirectory[str]":
    folder = tempfile.TemporaryDirectory()
    atexit.register(folder.cleanup)
    db = Path(folder.name) / "unit.duckdb"
    with database.open_for_writing(db) as con:
        _runs(con)
        _imports(con)
        for number, (case_id, period, shift) in enumerate(
            [
                ("C-001", "2031-04", "night"),
                ("C-002", "2031-04", "day"),
                ("C-003", "2031-04", "day"),
                ("C-004", "2031-05", "night"),
                ("C-005", "2031-05", "day"),
            ]
        ):
            _case(con, number, case_id, period, shift)
        _late_case(con, "C-001")
        _timely_case(con, "C-002")
        _reads(con, "C-001")
    published.required(db)
    return folder


def odd_database(folder: Path) -> Path:
    """What real files bring: no month, an id with markup, a case without tracing, nothing analysed yet."""
    db = folder / "unit.duckdb"
    odd_id = "_*C*_ <b>&[x](http://example.org)"
    with database.open_for_writing(db) as con:
        _insert(con, "cases", [_case_row(odd_id, None, None), _case_row("no-tracing", None, None)])
        _tracing(con, odd_id, "A", np.full(700, np.nan), np.full(700, np.nan))
        _insert(con, "cases", [_case_row("late-start", "2031-04", None)])
        _tracing(con, "late-start", "B", np.full(960, 140.0), np.full(960, 10.0), start_s=100.0)
        _insert(con, "care_events", [{"case_id": odd_id, "at_s": -60.0, "event": "epidural", "detail": "=cmd()<b>"}])
    published.required(db)
    return db


def _insert(con: database.Connection, table: str, rows: list[dict[str, Any]]) -> None:
    columns = [row[0] for row in con.execute(f"describe {table}").fetchall()]
    for row in rows:
        names = [name for name in columns if name in row]
        con.execute(
            f"insert into {table} ({', '.join(names)}) values ({', '.join('?' * len(names))})",
            [row[name] for name in names],
        )


def _runs(con: database.Connection) -> None:
    settings = load_settings()
    _insert(
        con,
        "analysis_runs",
        [
            {
                "run_id": RUN,
                "settings_sha256": settings.sha256,
                "version": made_by.version(),
                "started_at": datetime(2031, 6, 1, 8, 0),
                "finished_at": datetime(2031, 6, 1, 8, 1),
                "cases": 6,
                "settings_json": json.dumps(settings.tables, sort_keys=True),
            }
        ],
    )


def _imports(con: database.Connection) -> None:
    common = {"sha256": "0" * 64, "imported_at": datetime(2031, 6, 1, 7, 0)}
    _insert(
        con,
        "imports",
        [
            {"import_id": 1, "source": "tracings.csv", "kind": "tracing", "rows_accepted": 129600, "rows_rejected": 0,
             "outcome": "stored", **common},
            {"import_id": 2, "source": "cases.csv", "kind": "cases", "rows_accepted": 5, "rows_rejected": 2,
             "rows_flagged": 1, "outcome": "stored", **common},
            {"import_id": 3, "source": "names.csv", "kind": "care_events", "rows_accepted": 0, "rows_rejected": 0,
             "outcome": "refused", "message": "column surname looks like a name", **common},
        ],
    )  # fmt: skip
    _insert(
        con,
        "import_rejects",
        [
            {"import_id": 2, "source": "cases.csv", "row_number": 7, "column_name": "cord_artery_ph", "value": "72.1",
             "reason": "found 72.1, expected 6.5 to 7.7", "severity": "rejected"},
            {"import_id": 2, "source": "cases.csv", "row_number": 8, "column_name": "gestation_weeks", "value": "400",
             "reason": "found 400, expected 20 to 45", "severity": "rejected"},
            {"import_id": 2, "source": "cases.csv", "row_number": 9, "column_name": "apgar_5", "value": "=2+3",
             "reason": "found text, expected a number", "severity": "flagged"},
        ],
    )  # fmt: skip


def _case_row(
    case_id: str, period: str | None, shift: str | None, mode_of_birth: str = "spontaneous"
) -> dict[str, Any]:
    return {
        "case_id": case_id,
        "period": period,
        "shift": shift,
        "gestation_weeks": 40.0 if period else None,
        "birth_s": MINUTES * 60.0 if period else None,
        "second_stage_s": 60 * 60.0 if period else None,
        "mode_of_birth": mode_of_birth if period else None,
        "fhr_sensor": "ultrasound" if period else None,
        "toco_sensor": "external" if period else None,
        "content_sha256": "1" * 64,
    }


def _case(con: database.Connection, number: int, case_id: str, period: str, shift: str) -> None:
    mode = {"C-001": "caesarean", "C-003": "instrumental_vaginal"}.get(case_id, "spontaneous")
    _insert(con, "cases", [_case_row(case_id, period, shift, mode)])
    _decision(con, case_id)
    rng = np.random.default_rng(number)
    fhr, toco = labour(rng)
    fetuses = ["A", "B"] if case_id == "C-003" else ["A"]
    for k, fetus in enumerate(fetuses):
        _tracing(con, case_id, fetus, fhr + 12 * k, toco)
        _state(con, case_id, fetus)
        _categories(con, case_id, fetus)
        if case_id != "C-005":
            _insert(
                con,
                "outcomes",
                [{"case_id": case_id, "fetus": fetus, "cord_artery_ph": 7.02 if case_id == "C-001" else 7.25,
                  "apgar_5": 6 if case_id == "C-001" else 9, "content_sha256": "2" * 64}],
            )  # fmt: skip
    if case_id != "C-004":
        _insert(con, "care_events", [{"case_id": case_id, "at_s": 5400.0, "event": "birth"}])
        _insert(con, "care_events", [{"case_id": case_id, "at_s": 1800.0, "event": "oxytocin_increased"}])


def _decision(con: database.Connection, case_id: str) -> None:
    """C-001: 30 minutes from decision to birth, 20 to incision. C-003: noted after the birth."""
    noted = {
        "C-001": [(3600.0, "decision_for_birth", 1), (4800.0, "incision", None)],
        "C-003": [(5460.0, "decision_for_birth", None)],
    }
    rows = [dict(zip(("at_s", "event", "urgency"), row, strict=True)) for row in noted.get(case_id, [])]
    _insert(con, "care_events", [{"case_id": case_id, **row} for row in rows])


def labour(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """90 minutes at 4 Hz: 140 bpm, a contraction every 4 minutes, a dip of 40 bpm 30 s after each peak, one gap."""
    time_s = np.arange(MINUTES * 240) / 4.0
    phase = time_s % 240
    toco = 12 + 55 * np.exp(-0.5 * ((phase - 90) / 22) ** 2)
    fhr = 140 + 5 * np.sin(time_s / 3.1) + 2 * np.sin(time_s / 0.9) + rng.normal(0, 0.8, time_s.size)
    fhr -= 40 * np.exp(-0.5 * ((phase - 120) / 16) ** 2) * (time_s > 2400)
    fhr[(time_s > 1500) & (time_s < 1620)] = np.nan
    fhr[(time_s > 3000) & (time_s < 3006)] /= 2
    return fhr, toco


def _tracing(
    con: database.Connection, case_id: str, fetus: str, fhr: np.ndarray, toco: np.ndarray, start_s: float = 0.0
) -> None:
    stretch = Stretch(case_id, fetus, start_s, to_hundredths(fhr), to_hundredths(toco), None, 4.0)
    con.from_arrow(minutes_table([stretch])).insert_into("tracing_minutes")
    _insert(
        con,
        "tracings",
        [{"case_id": case_id, "fetus": fetus, "start_s": start_s, "samples": fhr.size, "sample_rate_hz": 4.0,
          "source_rate_hz": 4.0, "fhr_seen_fraction": float(np.mean(~np.isnan(fhr))), "toco_seen_fraction": 1.0,
          "has_mhr": False, "content_sha256": stretch.content_sha256(), "import_id": 1}],
    )  # fmt: skip


def _state(con: database.Connection, case_id: str, fetus: str) -> None:
    failed = case_id == "C-005"
    _insert(
        con,
        "tracing_states",
        [{"case_id": case_id, "fetus": fetus, "run_id": RUN, "state": "failed" if failed else "read",
          "reason": "ValueError: too short" if failed else None, "inputs_sha256": "3" * 64,
          "settings_sha256": load_settings().sha256, "version": made_by.version(), "start_s": 0.0, "duration_s": 5400.0,
          "seen_fraction": None if failed else 0.97,
          "notes": None if failed else ["3% of the samples hold no signal.", "The baseline is indeterminate."]}],
    )  # fmt: skip


def _categories(con: database.Connection, case_id: str, fetus: str) -> None:
    if case_id == "C-005":
        return
    key = {"case_id": case_id, "fetus": fetus, "run_id": RUN}
    names = {"nichd-2008": ("I", "II", "III"), "figo-2015": ("normal", "suspicious", "pathological"),
             "nice-ng229": ("normal", "suspicious", "pathological")}  # fmt: skip
    rows = []
    for standard, (low, middle, high) in names.items():
        for minute in range(1, MINUTES + 1):
            category = "not assessable" if minute <= 10 else low if minute < 45 else middle
            if case_id == "C-001" and minute >= 60:
                category = high
            reasons = [] if category in (low, "not assessable") else ["late decelerations with 5 of 5 contractions"]
            rows.append({**key, "at_s": minute * 60.0, "standard": standard, "category": category, "reasons": reasons})
    columns = ["case_id", "fetus", "at_s", "standard", "category", "reasons", "run_id"]
    columns = ["case_id", "fetus", "at_s", "standard", "category", "reasons", "run_id"]
    con.from_arrow(pa.Table.from_pylist(rows).select(columns)).insert_into("minute_categories")
    _insert(con, "epochs", [
        {**key, "start_s": k * 600.0, "end_s": (k + 1) * 600.0, "baseline_bpm": 140.4, "baseline_rounded_bpm": 140,
         "variability_bpm": 11.0, "variability": "moderate", "signal_loss_fraction": 0.2 if k == 2 else 0.0,
         "contractions_per_10_min": 2.5, "sinusoidal": False} for k in range(9)])  # fmt: skip
    _insert(con, "burden", [
        {**key, "span": span, "span_minutes": minutes, "seen_minutes": minutes - 3, "decelerations": 12, "early": 0,
         "late": 12, "variable": 0, "prolonged": 0, "unclassified": 0, "area_bpm_s": 19200.0,
         "triangle_area_bpm_s": 18000.0, "area_per_seen_hour_bpm_s": 19200.0 / ((minutes - 3) / 60),
         "minutes_in_deceleration": 14.0, "contractions": 14, "contractions_with_deceleration": 12,
         "deepest_bpm": 41.0, "longest_s": 80.0, "decelerations_per_20_min": 4.2, "signal_loss_fraction": 3 / minutes}
        for span, minutes in (("last_30_min", 30.0), ("last_60_min", 60.0), ("whole", 90.0))])  # fmt: skip
    if fetus == "A":
        contractions = [{**key, "onset_s": k * 240.0 + 45, "peak_s": k * 240.0 + 90, "end_s": k * 240.0 + 135,
                         "amplitude": 55.0, "resting_tone": 12.0} for k in range(22)]  # fmt: skip
        _insert(con, "contractions", contractions)
    _insert(con, "decelerations", [
        {**key, "onset_s": k * 240.0 + 85, "nadir_s": k * 240.0 + 120, "end_s": k * 240.0 + 160, "depth_bpm": 40.0,
         "area_bpm_s": 1600.0, "kind": ("late", "variable", "prolonged", "early", "unclassified")[k % 5],
         "contraction_peak_s": k * 240.0 + 90, "onset_to_nadir_s": 35.0,
         "judged_fall_s": 33.0 if k > 10 else None, "nadir_to_end_s": 40.0, "lag_s": 30.0,
         "onset_lag_s": 40.0, "toco_usable": True, "seen_fraction": 1.0, "lowest_bpm": 100.0, "baseline_bpm": 140.0,
         "variability_inside_bpm": None, "shallow": False, "open_end": False, "kind_certain": k != 15,
         "other_kind": "variable" if k == 15 else None} for k in range(10, 22)])  # fmt: skip
    _insert(con, "accelerations", [{**key, "onset_s": 600.0, "peak_s": 615.0, "end_s": 640.0, "height_bpm": 18.0}])


def _episode(con: database.Connection, case_id: str, standard: str, trigger: str, **clock: Any) -> None:
    key = {"case_id": case_id, "fetus": "A", "standard": standard, "trigger": trigger}
    key |= {"episode_id": episode_id(**key, recognisable_s=clock["recognisable_s"]), "run_id": RUN}
    _insert(con, "concern_episodes", [{**key, **clock, "reasons": ["late decelerations with 5 of 5 contractions"]}])
    _insert(con, "responses", [{**key, **clock}])


def _late_case(con: database.Connection, case_id: str) -> None:
    for standard, trigger in (("nichd-2008", "category_iii"), ("figo-2015", "pathological"),
                              ("nice-ng229", "pathological")):  # fmt: skip
        _episode(con, case_id, standard, trigger, pattern_start_s=2400.0, recognisable_s=3000.0, end_s=5400.0,
                 response_s=4800.0, response_event="senior_at_bedside", minutes_to_response=30.0,
                 escalation_s=3900.0, escalation_event="senior_called", minutes_to_escalation=15.0,
                 minutes_to_birth=40.0, target_minutes=15.0, status="late")  # fmt: skip
    _insert(con, "care_events", [{"case_id": case_id, "at_s": 4800.0, "event": "senior_at_bedside"},
                                 {"case_id": case_id, "at_s": 4805.0, "event": "position_change"}])  # fmt: skip


def _timely_case(con: database.Connection, case_id: str) -> None:
    _episode(con, case_id, "figo-2015", "pathological", pattern_start_s=2400.0, recognisable_s=3000.0, end_s=4000.0,
             response_s=3600.0, response_event="position_change", minutes_to_response=10.0, minutes_to_birth=40.0,
             target_minutes=15.0, status="in_time")  # fmt: skip


def _reads(con: database.Connection, case_id: str) -> None:
    for reader, category in (("R1", "pathological"), ("R2", "suspicious"), ("R3", "pathological")):
        _insert(con, "reads", [{"case_id": case_id, "fetus": "A", "reader": reader, "start_s": 3600.0,
                                "end_s": 5400.0, "standard": "figo-2015", "category": category, "baseline_bpm": 140.0,
                                "variability": "moderate", "decelerations": "late", "would_act": True,
                                "outcome_hidden": True, "occasion": 1}])  # fmt: skip
    _insert(con, "window_categories", [{"case_id": case_id, "fetus": "A", "start_s": 3600.0, "end_s": 5400.0,
                                        "standard": "figo-2015", "category": "pathological",
                                        "reasons": ["late decelerations with 5 of 5 contractions"],
                                        "baseline_bpm": 140.4, "run_id": RUN}])  # fmt: skip
    half_hour = {"case_id": case_id, "fetus": "A", "start_s": 3600.0, "end_s": 5400.0, "category": "suspicious",
                 "normal_fraction": 0.125, "suspicious_fraction": 0.5, "pathological_fraction": 0.375,
                 "rules_category": "pathological", "differs_by": ["lost 2% (about 20% in other windows)"],
                 "fitted_on_this": False, "fitted_on_windows": 240, "run_id": RUN}  # fmt: skip
    _insert(con, "second_readings", [half_hour])
    later = {**half_hour, "start_s": 4200.0, "end_s": 6000.0, "rules_category": "suspicious", "differs_by": []}
    _insert(con, "second_reading_lane", [half_hour, later])
    for place, recording in ((1, "C-002"), (2, "elsewhere")):
        _insert(con, "second_reading_evidence", [{
            "case_id": case_id, "fetus": "A", "start_s": 3600.0, "end_s": 5400.0, "place": place,
            "recording": recording, "recording_start_s": 600.0, "recording_end_s": 2400.0,
            "likeness_fraction": 0.875, "normal": 2, "suspicious": 6, "pathological": 1, "run_id": RUN}])  # fmt: skip

"""Check values 1 to 21 and 56 to 58: what single events are called under each standard.

Sources: NICHD 2008 (Macones, Obstet Gynecol 2008;112:661-6) by secondary tables; FIGO 2015 (Ayres-de-Campos, Int J
Gynaecol Obstet 2015;131:13-24) by secondary tables; NICE NG229 (2022) by published summaries. The expected kinds are
worked out by hand from those definitions. 'from memory' marks rows that rest on a line nobody has yet held against the
original. Baseline 140 bpm, variability 12 bpm and a valid signal unless said.
"""

import numpy as np
import pytest

from audit.standards import figo_2015_table, nice_ng229_table, nichd_2008_table
from audit.standards.nichd_2008_table import acceleration_counts
from audit.tracing.types import Deceleration, LevelChange
from tests.reading_builder import (
    category_at_end,
    contraction,
    deceleration,
    edited,
    falls,
    reading,
    reasons_at_end,
    table,
)


def kinds(event: Deceleration, *, variability: float = 12.0, accelerations: int = 2, **changes: object) -> list[str]:
    """The kind under NICHD, FIGO and NICE; 'none' where the standard does not count it."""
    seen = falls(event)
    around, before = np.array([variability]), np.array([float(accelerations)])
    figo = {k: v for k, v in changes.items() if hasattr(table("figo-2015"), k)}
    nice = {k: v for k, v in changes.items() if hasattr(table("nice-ng229"), k)}
    return [
        str(nichd_2008_table.deceleration_kinds(seen, table("nichd-2008"))[0]) or "none",
        figo_2015_table.KINDS[figo_2015_table.deceleration_kinds(seen, around, before, table("figo-2015", **figo))[0]],
        nice_ng229_table.KINDS[
            nice_ng229_table.deceleration_kinds(seen, around, before, table("nice-ng229", **nice))[0]
        ],
    ]


def concerning(event: Deceleration) -> bool:
    seen, settings = falls(event), table("nice-ng229")
    kind = nice_ng229_table.deceleration_kinds(seen, np.array([12.0]), np.array([2.0]), settings)
    return bool(nice_ng229_table.concerning_falls(seen, kind, settings)[0])


def rapid(drop: float, length_s: float, nadir_s: float) -> Deceleration:
    return deceleration(1200.0, drop=drop, length_s=length_s, nadir_after_s=nadir_s)


def gradual(
    drop: float, *, nadir_s: float = 35.0, lag_s: float = 30.0, onset_lag_s: float = 25.0, length_s: float = 75.0
) -> Deceleration:
    return deceleration(
        1200.0, drop=drop, length_s=length_s, nadir_after_s=nadir_s, return_s=30.0, lag_s=lag_s, onset_lag_s=onset_lag_s
    )


ROW_7 = {"lag_s": 25.0, "onset_lag_s": 30.0, "length_s": 60.0}


@pytest.mark.parametrize(
    ("row", "event", "expected"),
    [
        ("1", rapid(30, 40, 20), ["variable", "variable", "variable"]),
        ("2E at", rapid(15, 15, 8), ["variable", "none", "none"]),
        ("2E below", rapid(14, 15, 8), ["none", "none", "none"]),
        ("2E above", rapid(16, 17, 8), ["variable", "variable", "variable"]),
        ("3E at", rapid(16, 15, 8), ["variable", "none", "variable"]),
        ("3E below", rapid(16, 14, 8), ["none", "none", "none"]),
        ("4", rapid(16, 16, 8), ["variable", "variable", "variable"]),
        ("5", rapid(14, 30, 10), ["none", "none", "none"]),
        ("6", rapid(20, 14, 6), ["none", "none", "none"]),
        # FIGO: 'within 30 s' and 'more than 30 s' leave exactly 30 open; NICHD's '30 s or more' decides for all.
        ("7E at, NICE from memory", gradual(25, nadir_s=30, **ROW_7), ["late", "late", "late"]),
        ("7E above, NICE from memory", gradual(25, nadir_s=31, **ROW_7), ["late", "late", "late"]),
        ("8", gradual(25, nadir_s=29, **ROW_7), ["variable", "variable", "variable"]),
        ("9, NICE from memory", gradual(20, lag_s=2.0, onset_lag_s=0.0), ["early", "early", "early"]),
        ("10, NICE from memory", gradual(20), ["late", "late", "late"]),
        ("11, NICE from memory", gradual(20, onset_lag_s=18.0), ["late", "unclassified", "late"]),
        ("12", gradual(12), ["late", "none", "none"]),
        ("15", rapid(40, 119, 20), ["variable", "variable", "variable"]),
        ("16E below", rapid(40, 119.9, 20), ["variable", "variable", "variable"]),
        ("16E at", rapid(40, 120, 20), ["prolonged", "variable", "variable"]),
        ("17E below", rapid(40, 179, 20), ["prolonged", "variable", "variable"]),
        ("17E at", rapid(40, 180, 20), ["prolonged", "variable", "prolonged"]),
        ("18", rapid(40, 181, 20), ["prolonged", "prolonged", "prolonged"]),
    ],
)
def test_kind_of_one_deceleration(row: str, event: Deceleration, expected: list[str]) -> None:
    assert kinds(event) == expected, row


def test_row_5_counts_for_nice_when_variability_is_low() -> None:
    # NG229, from memory: shallower ones count with reduced variability.
    assert kinds(rapid(14, 30, 10), variability=3.0, accelerations=0)[2] == "variable"


def test_row_8_can_be_read_by_timing() -> None:
    assert kinds(gradual(25, nadir_s=29, **ROW_7), abrupt_late="late")[2] == "late"


def test_row_11_timing_decides_under_figo() -> None:
    # FIGO 2015: onset more than 20 s after that of the contraction.
    assert kinds(gradual(20, onset_lag_s=20.0))[1] == "unclassified"
    assert kinds(gradual(20, onset_lag_s=21.0))[1] == "late"
    assert kinds(gradual(20, onset_lag_s=18.0), late_timing="shape")[1] == "late"


def test_row_13_shallow_late_counts_with_low_variability_from_memory() -> None:
    assert kinds(gradual(12), variability=3.0, accelerations=0) == ["late", "late", "late"]
    assert kinds(gradual(12), variability=3.0, accelerations=1) == ["late", "none", "none"]
    assert kinds(gradual(12), variability=5.0, accelerations=0) == ["late", "none", "none"]


def test_row_14_no_toco_gives_no_timing() -> None:
    event = deceleration(1200.0, drop=20, length_s=70, nadir_after_s=35, return_s=30, toco=False)
    assert kinds(event) == ["unclassified", "late", "untyped"]  # FIGO by shape, from memory


@pytest.mark.parametrize(("length_s", "expected"), [(60.0, False), (61.0, True), (119.0, True)])
def test_rows_15_and_21e_concerning_over_60_s(length_s: float, expected: bool) -> None:
    assert concerning(rapid(40, length_s, 20)) is expected


def test_row_1_is_not_concerning() -> None:
    assert not concerning(rapid(30, 40, 20))


@pytest.mark.parametrize(("inside_bpm", "expected"), [(5.0, False), (4.9, True)])
def test_concerning_with_reduced_variability_inside(inside_bpm: float, expected: bool) -> None:
    event = deceleration(1200.0, drop=30, length_s=40, nadir_after_s=20, inside_bpm=inside_bpm)
    assert concerning(event) is expected


def categories_with(event: Deceleration) -> list[str]:
    made = reading(60, decelerations=[event], contractions=[contraction(60.0 * k) for k in range(3, 60, 4)])
    return [category_at_end(name, made) for name in ("nichd-2008", "figo-2015", "nice-ng229")]


@pytest.mark.parametrize(
    ("row", "length_s", "expected"),
    [
        ("17E below", 179.0, ["II", "normal", "normal"]),
        ("17E at", 180.0, ["II", "normal", "pathological"]),
        ("18", 181.0, ["II", "normal", "pathological"]),
        ("19E at", 300.0, ["II", "normal", "pathological"]),
        ("19E above", 301.0, ["II", "pathological", "pathological"]),
        ("20E below", 599.0, ["II", "pathological", "pathological"]),
    ],
)
def test_category_with_one_long_deceleration(row: str, length_s: float, expected: list[str]) -> None:
    event = deceleration(2700.0, drop=40, length_s=length_s, nadir_after_s=20)
    assert categories_with(event) == expected, row


def test_row_18_may_be_read_as_suspicious() -> None:
    event = deceleration(2700.0, drop=40, length_s=181.0, nadir_after_s=20)
    made = reading(60, decelerations=[event])
    assert category_at_end("figo-2015", made, single_prolonged="suspicious") == "suspicious"


def test_row_20e_ten_minutes_is_a_baseline_change() -> None:
    # NICHD 2008: from 10 minutes on a change of baseline, so a bradycardia here; FIGO by 'one deceleration > 5 min'.
    change = LevelChange(2700.0, 3300.0, 140.0, 80.0)
    made = reading(55, baseline=[140.0] * 45 + [80.0] * 10, level_changes=[change])
    assert category_at_end("nichd-2008", made) == "II"
    assert "bradycardia" in reasons_at_end("nichd-2008", made)
    assert "prolonged" not in reasons_at_end("nichd-2008", made)
    assert category_at_end("figo-2015", made) == "pathological"
    assert category_at_end("nice-ng229", made) == "pathological"


def test_row_20e_before_ten_minutes_it_is_a_prolonged_deceleration() -> None:
    change = LevelChange(2700.0, 3400.0, 140.0, 80.0)
    made = reading(54, baseline=[140.0] * 45 + [80.0] * 9, level_changes=[change])
    assert "prolonged" in reasons_at_end("nichd-2008", edited(made, {}))
    assert "bradycardia" not in reasons_at_end("nichd-2008", made)


@pytest.mark.parametrize(
    ("row", "height", "length_s", "weeks", "expected"),
    [
        ("56E at", 15.0, 15.0, 34.0, True),
        ("56E height below", 14.0, 15.0, 34.0, False),
        ("56E length below", 15.0, 14.0, 34.0, False),
        ("57E before 32 weeks", 12.0, 12.0, 31 + 6 / 7, True),
        ("57E from 32 weeks", 12.0, 12.0, 32.0, False),
        ("57E small at 31+6", 9.0, 12.0, 31 + 6 / 7, False),
    ],
)
def test_accelerations_under_nichd(row: str, height: float, length_s: float, weeks: float, expected: bool) -> None:
    settings = table("nichd-2008")
    assert acceleration_counts(settings, weeks)(height, length_s) is expected, row


@pytest.mark.parametrize(("height", "length_s", "expected"), [(15, 16, False), (16, 15, False), (16, 16, True)])
def test_row_56e_figo_is_strict(height: float, length_s: float, expected: bool) -> None:
    settings = table("figo-2015")
    met = settings.acceleration_height.met_by(height) and settings.acceleration_duration.met_by(length_s)
    assert met is expected

"""Where strips for blind reading are cut, who is a control, and that the drawing holds the signal alone."""

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audit.charts.strip import bare
from audit.charts.strip.types import SCALE_1
from audit.questions import strips_to_read
from audit.questions.strips_to_read import AROUND_CONCERN, BEFORE_END
from audit.settings import load_settings
from audit.store import database
from audit.tracing.types import Tracing
from tests.page_databases import small_database


def row(end_min: float, recognisable_min: float | None = None, start_s: float = 0.0) -> dict[str, Any]:
    at_s = None if recognisable_min is None else 60 * recognisable_min
    return {"start_s": start_s, "end_s": 60 * end_min, "recognisable_s": at_s}


@pytest.mark.parametrize(
    ("found", "place", "expected_min"),
    [
        (row(300), BEFORE_END, (270, 300)),
        (row(300, 100), BEFORE_END, (270, 300)),
        (row(300, 100), AROUND_CONCERN, (75, 105)),
        (row(300), AROUND_CONCERN, (270, 300)),  # a control is cut like a case without a concern
        (row(300, 10), AROUND_CONCERN, (0, 30)),
        (row(300, 299), AROUND_CONCERN, (270, 300)),
        (row(20), BEFORE_END, (0, 20)),
        (row(10), BEFORE_END, (0, 10)),
        (row(9.9), BEFORE_END, None),
    ],
)
def test_where_a_strip_is_cut(found: dict[str, Any], place: str, expected_min: tuple[float, float] | None) -> None:
    cut = strips_to_read.cut(found, minutes=30, place=place)
    assert (None if cut is None else (cut[0] / 60, cut[1] / 60)) == expected_min


def test_a_proposal_takes_every_fetus_of_the_agenda_and_controls_that_are_not_on_it(tmp_path: Path) -> None:
    with database.open_for_reading(small_database(tmp_path)) as con:
        found = strips_to_read.propose(
            con, load_settings(), period="2031-04", case_ids=["C-001", "C-003", "gone"], standard="figo-2015",
            place=BEFORE_END, controls=5,
        )  # fmt: skip
    cases = {(window.case_id, window.fetus): window.control for window in found.windows}
    assert cases[("C-001", "A")] is False
    assert {fetus for case_id, fetus in cases if case_id == "C-003"} == {"A", "B"}
    assert all(case_id not in ("C-001", "C-003") for (case_id, _), control in cases.items() if control)
    assert found.left_out == ("gone: no tracing that was read",)
    # five were asked for, the month has fewer: said, with the number and without a name
    assert found.controls == len({case_id for (case_id, _), control in cases.items() if control}) < 5
    assert found.few_controls is not None
    assert found.few_controls.startswith(f"{found.controls} of 5 controls")
    assert not any(case_id in found.few_controls for case_id, _ in cases)


def test_the_bare_strip_holds_the_signal_from_its_own_start_and_nothing_else() -> None:
    rng = np.random.default_rng(1)
    samples = 4 * 7200
    tracing = Tracing(start_s=100.0, fhr_bpm=140 + rng.normal(0, 3, samples), toco=np.full(samples, 10.0), mhr_bpm=None)
    spec = bare.bare_strip(tracing, 3700.0, 5500.0, SCALE_1).to_dict()
    rows = [row for data in spec["datasets"].values() for row in data]
    assert {name for row in rows for name in row} <= {"minute", "top", "place", "text"}
    # the only words are those of the axes
    assert all(re.fullmatch(r"FHR|bpm|Toco|\d+|00:[0-3]\d", row["text"]) for row in rows if "text" in row)
    minutes = [row["minute"] for row in rows if "text" not in row and row["minute"] is not None]
    assert min(minutes) == pytest.approx(0.0, abs=0.02)
    assert max(minutes) <= 30.0
    text = json.dumps(spec)
    for secret in ("deceleration", "category", "event", "recognisable"):
        assert secret not in text


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"gestation_weeks": 40.9, "second_stage_s": 1000.0}, ["40 completed weeks", "second stage"]),
        ({"gestation_weeks": None, "second_stage_s": None}, ["gestation not given", "stage not given"]),
        (
            {"gestation_weeks": 34.0, "second_stage_s": 2800.0},
            ["34 completed weeks", "first stage, second stage begins 00:10 after the strip's start"],
        ),
    ],
)
def test_what_readers_may_know(facts: dict[str, Any], words: list[str]) -> None:
    assert bare.what_may_be_known(facts, 2200.0, gestation=True, stage=True) == words
    assert bare.what_may_be_known(facts, 2200.0, gestation=False, stage=False) == []

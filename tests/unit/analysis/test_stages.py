"""Stages: what is worked out again after a change is what a whole reading would give, and nothing else is worked out.

The measure is the whole reading itself under the changed settings; no figure is expected here.
"""

import pickle
from dataclasses import replace
from functools import cache

import grimp
import msgspec
import numpy as np
import pyarrow as pa
import pytest

from audit.analysis import kept, stages
from audit.analysis.made_by import code_sha256
from audit.analysis.one_tracing import CaseInput, Found, read_case
from audit.settings import Settings, load_settings
from audit.standards.registry import STANDARDS
from audit.tracing.types import Tracing
from tests.settings_keys import EVERY, Key, changed
from tests.simulate import simulate_labour
from tests.unit.settings.test_every_key import WITH, others

SETTINGS = load_settings()
FACTS = {
    "gestation_weeks": 39.0,
    "second_stage_s": 3000.0,
    "period": "2031-03",
    "birth_s": 6200.0,
    "mode_of_birth": "instrumental",
    "fhr_sensor": None,
    "toco_sensor": None,
    "fetuses": ["A"],
}
EVENTS = [
    {"at_s": at_s, "event": event, "urgency": urgency}
    for at_s, event, urgency in (
        (900.0, "oxytocin_increased", None),
        (1500.0, "position_change", None),
        (2600.0, "senior_called", None),
        (4800.0, "decision_for_birth", 2),
        (6200.0, "birth", None),
    )
]
READ = {"start_s": 1200.0, "end_s": 3000.0, "would_act": True, "outcome_hidden": True, "occasion": 1}
READS = [
    READ | {"reader": "R1", "standard": "figo-1986", "category": "pathological"},
    READ | {"reader": "R2", "standard": "figo-2015", "category": "suspicious"},
]
WINDOWS = set(stages.WINDOWS.values())


@cache
def case() -> CaseInput:
    samples, _ = simulate_labour(11, artefact_level="severe", hours=1.5)
    tracing = Tracing(samples["fhr_bpm"], samples["toco"], start_s=30.0)
    return CaseInput("C1", "A", True, tracing, FACTS, EVENTS, READS)


def given(one: CaseInput, settings: Settings, stretches: str = "0:1:x") -> dict[str, str]:
    return stages.Given(settings.analysis).sha256(
        case_id=one.case_id,
        leads=one.leads,
        stretches=stretches,
        facts=one.facts,
        events=one.events,
        windows=one.windows,
    )


@cache
def former() -> Found:
    return read_case(case(), SETTINGS.analysis)


def due_after(one: CaseInput, settings: Settings) -> frozenset[str]:
    return stages.due(given(one, settings), given(case(), SETTINGS))


def staged(one: CaseInput, settings: Settings) -> dict[str, list[dict]]:
    """Only what is due, on what the former reading kept, and the former rows for the rest."""
    due = due_after(one, settings)
    have = {name: former().kept[name] for name in stages.needed(due)}
    samples = one.tracing if stages.READING in due else None
    found = read_case(replace(one, due=due, kept=have, tracing=samples), settings.analysis)
    rows = {name: table.to_pylist() for name, table in former().tables.items()}
    again = {
        "minute_categories": due,
        "window_categories": {name for name in stages.WINDOWS if stages.WINDOWS[name] in due},
    }
    stay = {name: [row for row in rows[name] if row["standard"] not in under] for name, under in again.items()}
    rows |= {name: table.to_pylist() for name, table in found.tables.items()}
    return rows | {name: [*rows[name], *stay[name]] for name in stay if name in found.tables}


def assert_as_whole(one: CaseInput, settings: Settings, *, anew: frozenset[str] = frozenset(stages.EVERY)) -> None:
    """Equal to the last bit: no tolerance. `anew`: the stages done anew on the other side."""
    have = {name: former().kept[name] for name in stages.needed(anew)}
    whole, parts = read_case(replace(one, due=anew, kept=have), settings.analysis), staged(one, settings)
    assert set(parts) == set(stages.DERIVED)
    assert set(whole.tables) == {table for stage in anew for table in stages.TABLES[stage]}
    for name, table in whole.tables.items():
        order = sorted if name in ("minute_categories", "window_categories") else list
        assert order(map(str, parts[name])) == order(map(str, table.to_pylist())), name


def other_value(key: Key, folder) -> Settings:
    """The settings with another valid value of a key, and of the one that must go with it."""
    for value in others(key, EVERY[key]):
        found = changed(key, value, folder, beside=WITH[key](value) if key in WITH else "")
        if found is not None and found.sha256 != SETTINGS.sha256:
            return found
    raise AssertionError(f"no other value of {key} is valid")


def of_table(*names: str) -> list[Key]:
    return [key for key in EVERY if key[0] in names and key[-1] != "source"]


@pytest.mark.parametrize(
    ("room", "due"),
    [
        ("response", {stages.CLOCK}),
        ("measures", {stages.BURDEN}),
        ("standards", {*STANDARDS, *WINDOWS, stages.CLOCK}),
        ("tracing", {*stages.EVERY} - {stages.SECOND_READING}),  # which is not switched on
    ],
)
def test_other_code_makes_due_what_rests_on_it(monkeypatch, room, due):
    former = given(case(), SETTINGS)
    monkeypatch.setattr(stages, "code_sha256", lambda *names: "other" if room in names else code_sha256(*names))
    assert stages.due(given(case(), SETTINGS), former) == due


def test_no_room_that_findings_come_from_is_without_a_hash():
    """Whatever of the rooms of numbers the reading of a tracing loads."""
    pure = {"tracing", "standards", "second_reading", "response", "measures", "survival", "control_charts"}
    loaded = {
        name.split(".")[1] for name in grimp.build_graph("audit").find_upstream_modules("audit.analysis.one_tracing")
    }
    # the settings' table of the trends is all of the control charts that is loaded
    assert loaded & pure - {"control_charts"} == {room for rooms in stages.CODE.values() for room in rooms}


def test_a_target_runs_the_clock_again_and_nothing_else(tmp_path):
    other = changed(("response", "triggers", "nichd-2008/prolonged_deceleration", "target_minutes"), 3.0, tmp_path)
    assert due_after(case(), other) == {stages.CLOCK}
    assert_as_whole(case(), other)


@pytest.mark.parametrize(
    ("name", "limit"),
    [("nichd-2008", "tachysystole"), ("figo-2015", "tachysystole"), ("nice-ng229", "baseline_amber_low")],
)
def test_a_limit_runs_its_standard_again_and_the_clock(name, limit, tmp_path):
    other = other_value((name, limit), tmp_path)
    assert due_after(case(), other) == {name, stages.WINDOWS[name], stages.CLOCK}
    assert_as_whole(case(), other)


def test_a_former_standard_judges_the_readers_windows_alone(tmp_path):
    keys = of_table("figo-1986")
    other = other_value(keys[0], tmp_path)
    assert due_after(case(), other) == {stages.WINDOWS["figo-1986"]}
    assert_as_whole(case(), other)


def test_what_no_stage_is_given_makes_none_due(tmp_path):
    assert due_after(case(), changed(("trends", "acidosis_ph_below"), 7.0, tmp_path)) == frozenset()


@pytest.mark.parametrize(
    ("fact", "value", "expected"),
    [
        ("gestation_weeks", 31.0, set(stages.EVERY) - {stages.SECOND_READING}),
        ("period", "2022-01", {*STANDARDS, *WINDOWS, stages.CLOCK}),
        ("second_stage_s", 2000.0, {*STANDARDS, *WINDOWS, stages.BURDEN, stages.CLOCK}),
        ("birth_s", 6100.0, {stages.BURDEN, stages.CLOCK}),
        ("mode_of_birth", "caesarean", {stages.CLOCK}),
    ],
)
def test_a_changed_fact_runs_what_may_see_it(fact, value, expected):
    one = replace(case(), facts=FACTS | {fact: value})
    assert due_after(one, SETTINGS) == expected
    assert_as_whole(one, SETTINGS)


def test_an_act_runs_the_clock_and_a_read_the_windows_too():
    assert due_after(replace(case(), events=EVENTS[1:]), SETTINGS) == {stages.CLOCK}
    elsewhere = replace(case(), windows=[*READS, READS[1] | {"start_s": 600.0}])
    assert due_after(elsewhere, SETTINGS) == {*WINDOWS, stages.CLOCK} - {stages.WINDOWS["figo-1986"]}
    assert_as_whole(elsewhere, SETTINGS)
    # the other reader read the same window, but not by the former standard
    fewer = replace(case(), windows=READS[1:])
    assert due_after(fewer, SETTINGS) == {stages.WINDOWS["figo-1986"], stages.CLOCK}
    assert_as_whole(fewer, SETTINGS)


def test_other_samples_run_every_stage():
    assert stages.due(given(case(), SETTINGS, "0:1:y"), given(case(), SETTINGS)) == set(stages.EVERY) - {
        stages.SECOND_READING
    }


@pytest.mark.slow
@pytest.mark.parametrize(
    "key", of_table("response", "burden", "figo-1986", "validate", *STANDARDS, "standards"), ids=".".join
)
def test_every_key_gives_what_a_whole_reading_gives(key, tmp_path):
    other = other_value(key, tmp_path)
    assert stages.READING not in due_after(case(), other)
    # that a kept reading gives what a new one gives is shown above, with other samples and facts
    assert_as_whole(case(), other, anew=frozenset(stages.EVERY) - {stages.READING})


def test_what_is_kept_comes_back_to_the_last_bit():
    reading = kept.unpack_reading(former().kept[stages.READING])
    again = kept.pack_reading(reading)
    assert again == former().kept[stages.READING]
    fresh = read_case(case(), SETTINGS.analysis)
    assert fresh.kept == former().kept
    for name in STANDARDS:
        minutes = kept.unpack_minutes(former().kept[name])
        assert minutes.start_s == 30.0
        assert kept.pack_minutes(minutes) == former().kept[name]
    assert reading.reading.fhr_1hz.tobytes() != b""
    assert np.isnan(reading.reading.baseline_1hz).any() or np.isfinite(reading.reading.baseline_1hz).all()


@pytest.mark.parametrize(
    "damage", [lambda b: b[:40], lambda b: b"", lambda b: b[:8] + b"x" + b[9:], lambda b: b"\xff" * 99]
)
def test_damaged_bytes_are_refused(damage):
    with pytest.raises(ValueError, match="damaged"):
        kept.unpack_reading(damage(former().kept[stages.READING]))


def test_bytes_of_another_thing_are_refused():
    plain = msgspec.msgpack.encode({"start_s": 0.0})
    other = len(plain).to_bytes(8, "little") + pa.compress(plain, codec="zstd", asbytes=True)
    with pytest.raises(ValueError, match="damaged"):
        kept.unpack_reading(other)


def test_what_was_found_comes_whole_from_another_process():
    """Python's own pickling as the other process does it: the same tables, those without rows too."""
    found = former()
    assert {table.num_rows == 0 for table in found.tables.values()} == {True, False}
    come = pickle.loads(pickle.dumps(found))
    assert come == found
    assert {name: table.schema for name, table in come.tables.items()} == {
        name: table.schema for name, table in found.tables.items()
    }

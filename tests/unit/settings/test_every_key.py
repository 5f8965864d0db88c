"""Every key of the packaged file does something: changed alone to another valid value, an answer differs."""

from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any, Literal, get_args, get_origin, get_type_hints

import msgspec
import pytest

from audit.settings import AnalysisSettings, Settings, load_settings
from tests import settings_probes
from tests.settings_keys import EVERY, Key, changed

pytestmark = pytest.mark.slow  # everything that depends on settings, once for each key

PACKAGED = load_settings()
PROBES: dict[str, settings_probes.Probe] = {
    "tracing": settings_probes.of_tracing,
    "standards.common": settings_probes.of_common,
    **{name: settings_probes.of_standard(name) for name in PACKAGED.of_standards},
    "burden": settings_probes.of_burden,
    "validate": settings_probes.of_validation,
    "response": settings_probes.of_response,
}


SAID = {
    ("nichd-2008", "short_class_window_min"): settings_probes.reasons_of_standard("nichd-2008"),
    ("figo-2015", "tachysystole"): settings_probes.reasons_of_standard("figo-2015"),
    ("standards", "common", "hidden_said_from"): settings_probes.reasons_of_standard("figo-2015"),
}  # what these change is said beside the category

# Keys that matter only under another choice than the packaged one: the line that makes it.
UNDER = {
    ("nice-ng229", "hypertonus"): "hypertonus_counts = true",
    ("nice-ng229", "short_pattern"): 'exactly_30_min = "red"',
    **{
        ("nice-ng229", name): 'edition = "cg190-2017"'
        for name in ("former_red_high", "former_high_amber", "former_high_red", "former_plain_variable", "former_long")
    },
}
# Keys of which one alone would leave a gap or an overlap: the other one, for a value of the first.
WITH: dict[Key, Callable[[str], str]] = {
    ("nice-ng229", "long_pattern"): lambda value: f'short_pattern = "{value.replace(">", "<")}"',
    ("nice-ng229", "short_pattern"): lambda value: f'long_pattern = "{value.replace("<", ">")}"',
}
TRY: dict[Key, list[Any]] = {
    ("nichd-2008", "preterm"): ["< 34"],
    ("nichd-2008", "late_minimum_depth"): [">= 12"],
    ("validate", "interval_level"): [0.9],
    ("nice-ng229", "contractions_averaged_min"): [10.0],
    ("nice-ng229", "editions", "cg190-2017", "first_month"): ["2017-04"],
    ("nice-ng229", "editions", "cg190-2017", "last_month"): ["2022-10"],
    ("nice-ng229", "editions", "december-2022", "first_month"): ["2023-01"],
    ("nice-ng229", "editions", "december-2022", "last_month"): ["2023-09"],
    ("nice-ng229", "editions", "amended", "first_month"): ["2023-12"],
    ("nice-ng229", "editions", "amended", "last_month"): ["2030-12"],
    **{("response", "events", name): [["oxygen_given"]] for name in ("test", "amnioinfusion", "decision")},
}


def probe_of(key: Key) -> settings_probes.Probe | None:
    if key[-1] == "source":
        return settings_probes.of_sources
    if key in SAID:
        return SAID[key]
    names = [".".join(key[:k]) for k in range(len(key), 0, -1)]
    return next((PROBES[name] for name in names if name in PROBES), None)


def choices(key: Key) -> tuple[str, ...]:
    """The accepted words of a key whose field lists them."""
    kind: Any = Settings
    for name in key:
        if get_origin(kind) is dict:
            kind = get_args(kind)[1]
            continue
        field = next(f.name for f in msgspec.structs.fields(kind) if f.encode_name == name)
        kind = get_type_hints(kind, include_extras=True)[field]
    return get_args(kind) if get_origin(kind) is Literal else ()


def others(key: Key, value: Any) -> Iterator[Any]:
    """Other values that may be valid, plausible ones first."""
    yield from ([*value, *more] if isinstance(value, list) else more for more in TRY.get(key, ()))
    if isinstance(value, bool):
        yield not value
    elif isinstance(value, int | float):
        for number in (value * 2, value / 2, value + 1, value * 0.8, value * 1.2, value * 4, value / 8, 0, value + 20):
            yield type(value)(number)
    elif isinstance(value, list):
        yield value[:-1]
        yield value[1:]
    elif choices(key):
        yield from (word for word in choices(key) if word != value)
    elif value[:1] in "<>" and value:
        symbol, number = value.split()
        for other in (1.2, 0.8, 2, 0.5, 1.5, 0.1, 4, 0):
            yield f"{symbol} {float(number) * other:g}"
        yield f"{symbol} {float(number) + 20:g}"
    else:
        yield f"another {value}"


class Answers:
    """What the packaged settings answer, found as far as it is asked for."""

    def __init__(self, probe: settings_probes.Probe, settings: Settings) -> None:
        self._more, self._known = probe(settings), list[Any]()

    def __iter__(self) -> Iterator[Any]:
        k = 0
        while True:
            if k == len(self._known):
                try:
                    self._known.append(next(self._more))
                except StopIteration:
                    return
            yield self._known[k]
            k += 1


@cache
def answers(probe: settings_probes.Probe) -> Answers:
    return Answers(probe, PACKAGED)


def test_every_key_that_a_reading_depends_on_is_tried() -> None:
    """`second_reading.file` names a file: tests/unit/analysis/test_job.py switches one on."""
    of_reading = {str(field.encode_name) for field in msgspec.structs.fields(AnalysisSettings)}
    left_out = {key for key in EVERY if key[0] in {*of_reading, "standards"} and not probe_of(key)}
    assert left_out == {("second_reading", "file")}


@pytest.mark.parametrize("key", [key for key in EVERY if probe_of(key)], ids=".".join)
def test_another_value_gives_another_answer(key: Key, tmp_path: Path) -> None:
    probe = probe_of(key)
    assert probe is not None
    before = answers(probe)
    if key in UNDER:
        chosen = changed(key, None, tmp_path, beside=UNDER[key])
        assert chosen is not None
        before = Answers(probe, chosen)
    tried = 0
    for value in others(key, EVERY[key]):
        beside = [UNDER.get(key, ""), WITH[key](value) if key in WITH else ""]
        settings = changed(key, value, tmp_path, beside="\n".join(beside))
        if settings is None or settings.sha256 == PACKAGED.sha256:
            continue
        tried += 1
        if any(found != former for found, former in zip(probe(settings), before, strict=True)):
            return
    pytest.fail(f"{'.'.join(key)}: {tried} other values, and no answer differs")

"""Every key of import, cord gas, find, agreement and trends does something: changed alone, an answer differs."""

from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from audit.settings import Settings, load_settings
from tests import review_settings_probes as probes
from tests.settings_keys import EVERY, Key, changed

pytestmark = pytest.mark.slow  # everything that depends on settings, once for each key

PACKAGED = load_settings()
PROBES: dict[str, Callable[[Settings], Iterator[Any]]] = {
    "cord_gas": probes.of_cord_gas,
    "import": probes.of_import,
    "find": probes.of_find,
    "agreement": probes.of_agreement,
    "trends": probes.of_trends,
}
WORDS = {
    "import.case_id_pattern": ("X[0-9]+", "[A-Z]-[0-9]"),
    "import.reader_pattern": ("X[0-9]+", "[A-Z]-[0-9]"),
    "agreement.consensus_rule": ("median",),
    "agreement.consensus_ties": ("less_severe", "none"),
    "agreement.ac2_weights": ("identity", "quadratic"),
    "find.weights": ("teaching",),
    "trends.standard": ("nichd-2008", "nice-ng229"),
    "trends.rules": (["N1"], ["N2"], ["N1", "N2", "N3"]),
}


KEYS = [key for key in EVERY if key[0] in PROBES]


def others(path: Key, value: Any) -> Iterator[Any]:
    """Other values that may be valid, plausible ones first."""
    key = ".".join(path)
    if key in probes.SMALLER:
        yield probes.SMALLER[key]
    elif key in WORDS:
        yield from WORDS[key]
    elif isinstance(value, bool):
        yield not value
    elif isinstance(value, list):
        for place in range(len(value)):
            for change in (0.9, 1.1, 0.98, 1.02):
                moved = type(value[place])(round(value[place] * change, 6))
                yield [*value[:place], moved, *value[place + 1 :]]
        low, high = value[0], value[-1]
        for step in (0.2 * (high - low), 1):
            yield [type(low)(low + step), *value[1:]]
            yield [*value[:-1], type(high)(high - step)]
    else:
        for number in (value * 0.5, value * 2, value * 0.8, value * 1.2, value + 1, value * 0.98, value * 1.02, 0):
            yield type(value)(number)


@cache
def answers(table: str) -> list[Any]:
    return list(PROBES[table](PACKAGED))


@pytest.mark.parametrize("key", KEYS, ids=".".join)
def test_another_value_gives_another_answer(key: Key, tmp_path: Path) -> None:
    table = key[0]
    tried = 0
    for value in others(key, EVERY[key]):
        settings = None if value == EVERY[key] else changed(key, value, tmp_path)
        if settings is None:
            continue
        tried += 1
        assert settings.sha256 != PACKAGED.sha256
        if any(found != before for found, before in zip(PROBES[table](settings), answers(table), strict=True)):
            return
    pytest.fail(f"{'.'.join(key)}: {tried} other values, and no answer differs")


def test_a_probe_gives_the_same_answer_twice() -> None:
    """Or else any key would seem to do something."""
    for table, probe in PROBES.items():
        assert list(probe(load_settings())) == answers(table), table

"""Summaries of units as files, and their merging into a regional database; what its hash does not fit is refused."""

import hashlib
import hmac
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pyarrow as pa

from audit import paths
from audit.errors import AuditError, UsageError
from audit.months import checked_period, next_period
from audit.store import database
from audit.store.connection import put, records, transaction

_VERSION = 2
_WITHOUT_MORE = 1  # told of months and waits alone; still read
_LONGEST = 64 * 1024 * 1024
_TEXT, _COUNT, _NUMBER = pa.string(), pa.int64(), pa.float64()
_MONTH = {"unit": _TEXT, "period": _TEXT}
_UNDER = _MONTH | {"standard": _TEXT}
# name in a summary -> query that stores it, and its columns
_PARTS: dict[str, tuple[str, dict[str, pa.DataType]]] = {
    "months": (
        "summaries/add_months",
        _UNDER
        | dict.fromkeys(
            ("births", "analysed", "seen", "with_concern", "newborns", "cord_gases", "complete_of", "complete"), _COUNT
        ),
    ),
    "waits": (
        "summaries/add_waits",
        _UNDER
        | {"trigger": _TEXT, "target_minutes": _NUMBER, "status": _TEXT, "wait_minutes": _NUMBER, "ended_by": _TEXT,
           "episodes": _COUNT},
    ),
    "chance": (
        "summaries/add_chance",
        _UNDER
        | {"trigger": _TEXT, "in_time": _COUNT, "counted": _COUNT, "shifts_in_time": pa.list_(_COUNT),
           "shifts_counted": pa.list_(_COUNT)},
    ),
    "oxytocin": (
        "summaries/add_oxytocin",
        _UNDER
        | {"labours": _COUNT, "hours": _NUMBER, "hours_in_tachysystole": _NUMBER, "increases_in_concern": _COUNT,
           "increased_in": _COUNT},
    ),
    "oxytocin_waits": (
        "summaries/add_oxytocin_waits",
        _UNDER | {"reason": _TEXT, "minutes": _NUMBER, "reduced": pa.bool_(), "waits": _COUNT},
    ),
    "case_mix": (
        "summaries/add_case_mix",
        {"unit": _TEXT, "standard": _TEXT, "measure": _TEXT, "case_mix": pa.list_(_TEXT), "labours": _COUNT,
         "events": _COUNT},
    ),
    "agreement": (
        "summaries/add_agreement",
        _UNDER | {"family": _TEXT, "reads": _COUNT, "category_a": _TEXT, "category_b": _TEXT, "pairs": _COUNT},
    ),
    "areas": ("summaries/add_areas", _MONTH | {"area_per_seen_hour_bpm_s": _NUMBER, "tracings": _COUNT}),
    "births_decided": (
        "summaries/add_births",
        _MONTH | {"kind_of_birth": _TEXT, "urgency": _COUNT, "minutes": _NUMBER, "labours": _COUNT},
    ),
    "hours": ("summaries/add_hours", _MONTH | {"hours": _COUNT, "assessed": _COUNT, "second_person": _COUNT}),
}  # fmt: skip
_PARTS_BEFORE = ("months", "waits")
_FACTS = ("unit", "first_period", "last_period", "settings_sha256", "program_version")


@dataclass(frozen=True)
class Summary:
    """One file whose hash holds. `signed`: a signature was there and was checked."""

    file: Path
    told: Mapping[str, Any]
    sha256: str
    signed: bool


@dataclass(frozen=True)
class Merged:
    """What a merge did: how many summaries were new, for each month the units that did not tell of it; what is less."""

    added: int
    known: int
    units: tuple[str, ...]
    missing: dict[str, list[str]]
    notes: tuple[str, ...] = ()


def write(told: Mapping[str, Any], file: Path, key: bytes | None) -> str:
    """Write a summary with its hash, signed where a key is given; returns the hash.

    Raises AuditError for a file that is there.
    """
    if file.exists():
        raise AuditError(f"{file}: there is a file of this name; nothing is ever written over")
    sha256, signature = _hash(told), None if key is None else _signature(told, key)
    held = {"summary": told, "sha256": sha256, "hmac_sha256": signature}
    file.write_text(json.dumps(held, indent=1, allow_nan=False), encoding="utf-8")
    paths.owner_only(file)
    return sha256


def read(file: Path, key: bytes | None, unit_pattern: str) -> Summary:
    """A summary whose hash holds, and with a key whose signature does. Raises AuditError for any other file.

    `unit_pattern`: what a unit's code may look like, so that no name is stored.
    """
    try:
        if file.stat().st_size > _LONGEST:
            raise ValueError("too long")
        held = json.loads(file.read_text(encoding="utf-8"))
        told, sha256, signature = held["summary"], held["sha256"], held["hmac_sha256"]
        version, unit = told["version"], told["unit"]
        checked_period(told["first_period"]), checked_period(told["last_period"])
    except (OSError, ValueError, TypeError, KeyError, RecursionError) as error:
        raise AuditError(f"{file}: found no summary of a unit ({type(error).__name__})") from error
    if version not in (_VERSION, _WITHOUT_MORE):
        raise AuditError(f"{file}: found a summary of version {version!r}, expected {_VERSION} or {_WITHOUT_MORE}")
    if not isinstance(unit, str) or re.fullmatch(unit_pattern, unit, re.ASCII) is None:
        raise AuditError(f"{file}: found a unit that is no code such as U1")
    if _hash(told) != sha256:
        raise AuditError(f"{file}: its content is not what its hash says; ask unit {unit} for it again")
    if key is not None and not (isinstance(signature, str) and hmac.compare_digest(signature, _signature(told, key))):
        found = "no signature" if signature is None else "another signature"
        raise AuditError(f"{file}: found {found}, expected one made with the key given")
    return Summary(file, told, sha256, key is not None)


def key_of(file: Path | None) -> bytes | None:
    """The key in a file. Raises UsageError for one that is shorter than 32 bytes."""
    if file is None:
        return None
    key = file.read_bytes().strip()
    if len(key) < 32:
        raise UsageError(f"{file}: found a key of {len(key)} bytes, expected 32 or more")
    return key


def merge(
    con: database.Connection,
    found: Sequence[Summary],
    *,
    settings_sha256: str,
    expected: Sequence[str] = (),
    other_settings: bool = False,
) -> Merged:
    """Store summaries, all or none.

    `settings_sha256`: of the settings in force for the regional database. `expected`: units that should have told.
    `other_settings`: take summaries made under other settings too.
    Raises AuditError: settings that differ, or two summaries of one unit that tell of the same month.
    """
    before = records(con, "summaries/made_under")
    kept = {row["sha256"] for row in before}
    new = list({summary.sha256: summary for summary in found if summary.sha256 not in kept}.values())
    spans = [(row["unit"], row["first_period"], row["last_period"]) for row in before]
    for summary in new:
        told = summary.told
        if told["settings_sha256"] != settings_sha256 and not other_settings:
            raise AuditError(
                f"{summary.file}: made under other settings ({str(told['settings_sha256'])[:12]}) than are in force"
                f" here ({settings_sha256[:12]}): its figures mean something else. Use the same unit_settings.toml,"
                " or --other-settings; nothing was merged"
            )
        for unit, first, last in spans:
            if unit == told["unit"] and first <= told["last_period"] and told["first_period"] <= last:
                raise AuditError(
                    f"{summary.file}: unit {unit} told of {first} to {last} already, and this is another summary of"
                    f" {told['first_period']} to {told['last_period']}; nothing was merged"
                )
        spans.append((told["unit"], told["first_period"], told["last_period"]))
    try:
        with transaction(con):
            for summary in new:
                _store(con, summary)
    except (KeyError, TypeError, pa.ArrowException, database.DAMAGE) as error:
        raise AuditError(
            f"found a summary whose rows cannot be stored ({type(error).__name__}); nothing was merged"
        ) from error
    units = tuple(sorted({span[0] for span in spans} | set(expected)))
    periods = sorted({span[1] for span in spans} | {span[2] for span in spans})
    notes = [
        f"{summary.file}: tells of no labour; unit {summary.told['unit']} is in no figure by it"
        for summary in new
        if not summary.told["months"]
    ]
    notes += [
        f"{summary.file}: of version {_WITHOUT_MORE}, which tells of counts and waits alone; its unit is in no"
        " figure of agreement, area, chance, oxytocin, decision to birth, assessments or case mix. Ask for it"
        " anew to have them"
        for summary in new
        if summary.told["version"] == _WITHOUT_MORE
    ]
    notes += [
        f"{summary.file}: its times and areas are means of groups of several labours: counts within a target or limit"
        " are exact, medians and curves come near those of the labours"
        for summary in new
        if summary.told["version"] != _WITHOUT_MORE and summary.told["months"] and summary.told.get("least") != 1
    ]
    return Merged(len(new), len(found) - len(new), units, _missing(units, spans, periods), tuple(notes))


def _missing(
    units: Sequence[str], spans: Sequence[tuple[str, str, str]], periods: Sequence[str]
) -> dict[str, list[str]]:
    """For each month from the first to the last: the units that did not tell of it."""
    if not periods:
        return {}
    found = {}
    for period in _months(periods[0], periods[-1]):
        absent = [u for u in units if not any(unit == u and a <= period <= b for unit, a, b in spans)]
        if absent:
            found[period] = absent
    return found


def _months(first: str, last: str) -> list[str]:
    found = [first]
    while found[-1] < last:
        found.append(next_period(found[-1]))
    return found


def _store(con: database.Connection, summary: Summary) -> None:
    told = summary.told
    facts = {name: [told[name]] for name in _FACTS}
    facts |= {"hidden": [len(told["hidden"])], "sha256": [summary.sha256], "signed": [summary.signed]}
    put(con, "summaries/add_summaries", pa.table(facts))
    for name, (query, kinds) in _PARTS.items():
        if told["version"] == _WITHOUT_MORE and name not in _PARTS_BEFORE:
            continue
        columns = {
            column: pa.array([told["unit"] if column == "unit" else row[column] for row in told[name]], kind)
            for column, kind in kinds.items()
        }
        put(con, query, pa.table(columns))


def _canonical(told: Mapping[str, Any]) -> bytes:
    return json.dumps(told, sort_keys=True, separators=(",", ":"), allow_nan=False).encode()


def _hash(told: Mapping[str, Any]) -> str:
    return hashlib.sha256(_canonical(told)).hexdigest()


def _signature(told: Mapping[str, Any], key: bytes) -> str:
    return hmac.new(key, _canonical(told), hashlib.sha256).hexdigest()

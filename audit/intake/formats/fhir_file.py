"""HL7 FHIR R4 bundles and NDJSON: tracings from SampledData, outcomes from observations, care events from procedures
and medication administrations, each by its code.

Only codes, values, units, times and references are read; narrative, names, notes and identifiers are not. A labour is
the encounter (or the encounter that it is part of), else the subject. Times become seconds from the labour's first
sample and dates go, but for the month of birth.
"""

import json
from calendar import monthrange
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import numpy as np

from audit.intake.door.remarks import FileRefused
from audit.intake.formats.fhir_codes import BASE_EXCESS, CHANNELS, factor_of, is_doubtful, meanings_of
from audit.intake.formats.fhir_sampled import Release5, Sampled, Unreadable, sampled
from audit.intake.formats.parts import Part, table_part
from audit.intake.formats.recording_part import Signal, recording_part
from audit.intake.formats.tables import OUTCOME_FIELDS
from audit.setting_tables.intake import ImportOptions
from audit.vocabulary import CARE_EVENTS

Resource = dict[str, Any]
_ONLY_R5 = {
    "Observation": ("triggeredBy", "bodyStructure", "valueAttachment"),
    "Procedure": ("occurrenceDateTime", "occurrencePeriod", "reported"),
    "MedicationAdministration": ("occurenceDateTime", "occurencePeriod", "occurrenceDateTime", "medication"),
    "Encounter": ("actualPeriod", "plannedStartDate"),
    "Bundle": ("issues",),
}
_UNDONE = ("entered-in-error", "cancelled", "not-done", "stopped", "on-hold", "preparation", "unknown")
_FETUSES = "ABCDEF"
_MOST_PIECES = 8_000_000  # objects, lists and commas, each of which takes memory; our choice, under 2 GiB
_LARGEST = 1e9  # of a value; our choice


@dataclass
class _Labour:
    """What the resources say of one labour, with absolute times."""

    signals: list[tuple[str, str, datetime, Sampled, int, float]] = field(default_factory=list)
    events: list[tuple[datetime, str, str]] = field(default_factory=list)  # when, what, id of its resource
    outcomes: list[tuple[str, str, float | bool | str, datetime | None]] = field(default_factory=list)


def is_fhir(head: bytes) -> bool:
    """Does it begin as a FHIR resource in JSON does?"""
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    return text.startswith(b"{") and b'"resourceType"' in text


def fhir_parts(data: bytes, options: ImportOptions) -> list[Part]:
    """Tracings, cases with outcomes, and care events. Raises FileRefused, also for another release than R4."""
    resources = list(_resources(data))
    told: Counter[str] = Counter()
    reader = _Reader(resources, options, told)
    for resource in resources:
        reader.take(resource)
    said = tuple(f"{what}: {count:,}" for what, count in told.items())
    return _parts(reader.labours, said)


def _resources(data: bytes) -> Iterator[Resource]:
    pieces = sum(data.count(mark) for mark in (b"{", b"[", b","))
    if pieces > _MOST_PIECES:
        raise FileRefused(
            f"found JSON of {pieces:,} objects, lists and values, expected at most {_MOST_PIECES:,}: split it"
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileRefused("found bytes that are not UTF-8, expected JSON in UTF-8") from error
    try:
        whole = [json.loads(text, parse_constant=_no_constant)]
    except (ValueError, RecursionError):
        whole = []
        for number, line in enumerate(text.split("\n"), start=1):
            if line.strip():
                try:
                    whole.append(json.loads(line, parse_constant=_no_constant))
                except (ValueError, RecursionError):
                    why = "not well-formed JSON, expected one FHIR bundle, or one resource a line"
                    raise FileRefused(why, row=number) from None
    for each in whole:
        yield from _within(each, depth=0)


def _no_constant(_: str) -> float:
    raise ValueError("NaN and Infinity are no JSON")


def _within(resource: Any, depth: int) -> Iterator[Resource]:
    if not isinstance(resource, dict) or "resourceType" not in resource:
        raise FileRefused("found JSON that is no FHIR resource, expected objects with a resourceType")
    kind = str(resource["resourceType"])
    newer = next((name for name in _ONLY_R5.get(kind, ()) if name in resource), None)
    if newer is not None:
        raise _release5(f"{kind}.{newer}")
    if kind == "Encounter" and isinstance(resource.get("class"), list):
        raise _release5("several Encounter.class")
    if kind != "Bundle":
        yield resource
        return
    if depth > 4:
        raise FileRefused("found bundles inside bundles, expected one")
    for entry in _listed(resource.get("entry")):
        if isinstance(entry, dict) and "resource" in entry:
            for each in _within(entry["resource"], depth + 1):
                yield {**each, "_url": entry.get("fullUrl")} if "_url" not in each else each


def _release5(what: str) -> FileRefused:
    return FileRefused(f"found FHIR R5 ({what}), expected R4 (4.0): export it as R4")


class _Reader:
    def __init__(self, resources: list[Resource], options: ImportOptions, told: Counter[str]) -> None:
        self.labours: dict[str, _Labour] = {}
        self._own, self._told = options.fhir_codes, told
        self._part_of: dict[str, str] = {}
        self._born: dict[str, int] = {}
        self._encounters: dict[str, set[str]] = {}
        self._medications: dict[str, Any] = {}
        for resource in resources:
            kind = resource["resourceType"]
            names = [name for name in (_tail(resource.get("id")), _tail(resource.get("_url"))) if name]
            if kind == "Encounter" and _reference(resource.get("partOf")):
                self._part_of |= dict.fromkeys(names, _reference(resource["partOf"]))
            if kind == "Patient" and isinstance(resource.get("multipleBirthInteger"), int):
                self._born |= dict.fromkeys(names, int(resource["multipleBirthInteger"]))
            if kind == "Medication":
                self._medications |= dict.fromkeys(names, resource.get("code"))
            encounter = self._encounter(resource)
            if encounter:
                self._encounters.setdefault(_reference(resource.get("subject")), set()).add(encounter)

    def take(self, resource: Resource) -> None:
        kind = resource["resourceType"]
        if kind not in ("Observation", "Procedure", "MedicationAdministration"):
            return
        if resource.get("status") in _UNDONE:
            self._told["resources were not done, stopped or entered in error and are not stored"] += 1
            return
        labour = self._case(resource)
        if not labour:
            self._told["resources belong to no encounter or subject and are not stored"] += 1
            return
        if kind == "Observation":
            self._observation(labour, resource)
            return
        names = ("performedDateTime", "performedPeriod") if kind == "Procedure" else ("effectiveDateTime",)
        at = self._time(resource, *names, "effectivePeriod")
        concept = resource.get("code") if kind == "Procedure" else self._medication(resource)
        found = [meaning for meaning in meanings_of(concept, self._own) if meaning in CARE_EVENTS]
        if not found:
            self._told["procedures and medications have no code that is known and are not stored"] += 1
        elif at is None:
            self._told["resources have no time with its zone and are not stored"] += 1
        else:
            self.labours.setdefault(labour, _Labour()).events += [
                (at, event, _tail(resource.get("id"))) for event in found
            ]

    def _observation(self, labour: str, resource: Resource) -> None:
        at = self._time(resource, "effectiveDateTime", "effectivePeriod", "effectiveInstant")
        components = [c for c in _listed(resource.get("component")) if isinstance(c, dict)]
        for each in (resource, *components):
            if "valueSampledData" in each:
                self._samples(labour, resource, each, at)
            elif any(name.startswith("value") for name in each):
                self._value(labour, resource, each, at)

    def _samples(self, labour: str, resource: Resource, each: Resource, at: datetime | None) -> None:
        meanings = meanings_of(each.get("code"), self._own) or meanings_of(resource.get("code"), self._own)
        try:
            found = sampled(each["valueSampledData"])
        except Release5 as error:
            raise _release5(f"SampledData.{error}") from error
        except Unreadable as error:
            self._told[f"sampled data could not be read and are not stored ({error})"] += 1
            return
        if not meanings or any(meaning not in CHANNELS for meaning in meanings):
            self._told["sampled data have no code that is known and are not stored"] += 1
            return
        if len(meanings) != found.values.shape[1]:
            self._told["sampled data have other dimensions than their code says and are not stored"] += 1
            return
        if at is None:
            self._told["resources have no time with its zone and are not stored"] += 1
            return
        for column, meaning in enumerate(meanings):
            factor = factor_of(meaning, found.origin)
            if factor is None:
                self._told["sampled data are in another unit than expected and are not stored"] += 1
            else:
                fetus = self._fetus(resource)
                taken = (meaning, fetus, at, found, column, factor)
                self.labours.setdefault(labour, _Labour()).signals.append(taken)

    def _value(self, labour: str, resource: Resource, each: Resource, at: datetime | None) -> None:
        concept = each.get("code")
        meaning = next(iter(meanings_of(concept, self._own)), None)
        if is_doubtful(concept) and meaning is None:
            self._told["Apgar scores bear the code 9273-4, whose time guides do not agree on, and are not stored"] += 1
            return
        if meaning not in (*OUTCOME_FIELDS, BASE_EXCESS):
            self._told["observations have no code that is known and are not stored"] += 1
            return
        assert meaning is not None
        value: float | bool | str | None = None
        if isinstance(each.get("valueQuantity"), dict):
            number, factor = each["valueQuantity"].get("value"), factor_of(meaning, each["valueQuantity"])
            exact = each["valueQuantity"].get("comparator") is None
            if factor is not None and exact and _is_number(number):
                value = number if factor == 1.0 else round(float(number) * factor, 4)
        elif _is_number(each.get("valueInteger")):
            value = each["valueInteger"]
        elif isinstance(each.get("valueBoolean"), bool):
            value = each["valueBoolean"]
        if value is None:
            self._told["observations are in another unit or form than expected and are not stored"] += 1
            return
        if meaning == BASE_EXCESS:
            meaning, value = "cord_artery_base_deficit_mmol_l", -float(value)
        self.labours.setdefault(labour, _Labour()).outcomes.append((self._fetus(resource), meaning, value, at))

    def _fetus(self, resource: Resource) -> str:
        """By the birth order of the newborn that it is about; `A` where none is told."""
        focus = resource.get("focus")
        about = [_reference(focus[0])] if isinstance(focus, list) and focus else []
        for name in (*about, _reference(resource.get("subject"))):
            order = self._born.get(name)
            if order is not None and 1 <= order <= len(_FETUSES):
                return _FETUSES[order - 1]
        return "A"

    def _medication(self, resource: Resource) -> Any:
        """The concept of what was given: its own, of the resource it points to, or of one that it contains."""
        pointed = _reference(resource.get("medicationReference"))
        contained = [each for each in _listed(resource.get("contained")) if isinstance(each, dict)]
        held = {f"#{each.get('id')}": each.get("code") for each in contained}
        return resource.get("medicationCodeableConcept") or held.get(pointed) or self._medications.get(pointed)

    def _encounter(self, resource: Resource) -> str:
        found = _reference(resource.get("encounter")) or _reference(resource.get("context"))
        for _ in range(5):
            found = self._part_of.get(found, found)
        return found

    def _case(self, resource: Resource) -> str:
        subject = _reference(resource.get("subject"))
        known = self._encounters.get(subject, set())
        return self._encounter(resource) or (next(iter(known)) if len(known) == 1 else subject)

    def _time(self, resource: Resource, *names: str) -> datetime | None:
        for name in names:
            value = resource.get(name)
            text = value.get("start") if isinstance(value, dict) else value
            if isinstance(text, str):
                try:
                    at = datetime.fromisoformat(text)
                except ValueError:
                    continue
                if at.tzinfo is not None:
                    return at
        return None


def _listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= _LARGEST


def _reference(value: Any) -> str:
    return _tail(value.get("reference")) if isinstance(value, dict) else ""


def _tail(value: Any) -> str:
    """The id at the end of a reference: of 'Encounter/12', of an address, of 'urn:uuid:...'."""
    text = value.encode("utf-8", "replace").decode() if isinstance(value, str) else ""  # half characters are none
    return text.split("/_history/")[0].rstrip("/").rpartition("/")[2].removeprefix("urn:uuid:").removeprefix("urn:oid:")


def _parts(labours: dict[str, _Labour], said: tuple[str, ...]) -> list[Part]:
    parts: list[Part] = []
    cases: list[dict[str, Any]] = []
    events: dict[str, list[Any]] = {"case_id": [], "at_s": [], "event": [], "event_id": []}
    unplaced = unsure = 0
    for case_id, labour in labours.items():
        rates = [at for meaning, _, at, *_ in labour.signals if meaning == "fhr_bpm"]
        zero = min((at for _, _, at, *_ in labour.signals), default=None) if rates else None
        if zero is not None:
            parts.append(recording_part(case_id, _signals(labour, zero), 0))
            for at, event, key in labour.events:
                row = {"case_id": case_id, "at_s": (at - zero).total_seconds(), "event": event, "event_id": key}
                for name, value in row.items():
                    events[name].append(value)
        else:
            unplaced += len(labour.events)
        born = _born(labour, zero)
        if born is not None:
            cases += _rows(case_id, labour, born)
            unsure += _may_be_another_month(born)
    if cases:
        names = list(dict.fromkeys(name for row in cases for name in row))
        parts.insert(0, table_part("cases", {name: [row.get(name) for row in cases] for name in names}))
    if events["case_id"]:
        parts.append(table_part("care events", dict(events)))
    if unplaced:
        said = (*said, f"{unplaced:,} care events have no tracing to count from and are not stored")
    if unsure:
        near = (
            "labours lie near a month's end with times in UTC: their month is that of UTC, which may not be the unit's"
        )
        said = (*said, f"{unsure:,} {near}")
    if not parts:
        raise FileRefused("; ".join(("found no tracing, outcome or care event of a known code", *said)))
    parts[0] = Part(parts[0].place, parts[0].ending, parts[0].data, (*parts[0].said, *said))
    return parts


def _signals(labour: _Labour, zero: datetime) -> list[Signal]:
    together: dict[tuple[str, str], list[tuple[np.ndarray, np.ndarray]]] = {}
    for meaning, fetus, at, found, column, factor in labour.signals:
        t_s = (at - zero).total_seconds() + np.arange(len(found.values)) * found.period_s
        key = (meaning, fetus if meaning == "fhr_bpm" else "A")
        together.setdefault(key, []).append((np.round(t_s, 6), found.values[:, column] * factor))
    signals = []
    for (meaning, fetus), pieces in together.items():
        t_s, values = (np.concatenate([piece[k] for piece in pieces]) for k in (0, 1))
        order = np.argsort(t_s, kind="stable")
        signals.append(Signal(meaning, fetus, t_s[order], values[order]))  # type: ignore[arg-type]
    return signals


def _born(labour: _Labour, zero: datetime | None) -> datetime | None:
    """The time that tells the month: of the birth or the first outcome, else of the first sample."""
    told = [at for *_, at in labour.outcomes if at is not None]
    return min(told + [at for at, event, _ in labour.events if event == "birth"], default=zero)


def _may_be_another_month(at: datetime) -> bool:
    """Does it stand in UTC, and is the month another one somewhere (12 h behind UTC to 14 h before it)?"""
    last = monthrange(at.year, at.month)[1]
    return not at.utcoffset() and ((at.day == 1 and at.hour < 12) or (at.day == last and at.hour >= 10))


def _rows(case_id: str, labour: _Labour, born: datetime) -> list[dict[str, Any]]:
    """Rows of a cases file; values that contradict each other stand in rows of their own, which are kept out there."""
    rows: dict[str, list[dict[str, Any]]] = {}
    told: dict[tuple[str, str], set[Any]] = {}
    for fetus, name, value, _ in labour.outcomes:
        mine, known = rows.setdefault(fetus, []), told.setdefault((fetus, name), set())
        if value in known:
            continue
        if len(known) == len(mine):
            mine.append({})
        mine[len(known)][name] = value
        known.add(value)
    head = {"case_id": case_id, "period": f"{born:%Y-%m}"}
    return [{**head, "fetus": fetus, **row} for fetus, each in (rows or {"A": [{}]}).items() for row in each]

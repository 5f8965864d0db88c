"""How far a unit's number may lie from the packaged one: a unit differs from a standard, but not by a power of ten.

The packaged numbers are the published ones, or lie among them. What standards and units print for one thing differs by
less than the factors here (prolonged from 120 or 180 s, sinusoidal for 10 to 30 min, a high baseline above 150 to 180
bpm); what lies further off is a slip, or an audit that finds nothing or everything. Factors and spans are our choice.
"""

import fnmatch
import math
from collections.abc import Mapping
from typing import Annotated, Any, get_args, get_origin, get_type_hints

import msgspec
from msgspec import Meta

from audit.errors import SettingsError
from audit.setting_types import FileOf, Limit, dotted

Span = tuple[float, float]
ANY: Span = (-math.inf, math.inf)
# By the unit: how many times less or more. A heart rate moves little, a length of time the most.
FACTORS = {"bpm": 2.0, "fraction": 3.0, "percentile": 4.0, "toco units": 4.0}
LIMIT_FACTORS = {"bpm": 2.0, "fraction": 2.0, "per 10 min": 2.0, "cycles/min": 2.0, "weeks": 1.1}
LIMIT_ELSE, ELSE, RATE_FACTOR = 3.0, 4.0, 1.25
PH_EITHER_WAY = 0.15
# Of [import.ranges] and [import.usual]: by what share of its width a range may begin or end elsewhere. A toco's numbers
# are its recorder's own.
RANGE_SHARES = {"import.*.toco": 0.4, "import.ranges.*": 0.1, "import.usual.*": 0.25}
# 0 switches these off, or asks for none.
OFF_AT_0 = (
    "*.round_*_to_bpm", "tracing.baseline_round_bpm", "tracing.spike_longest_s", "tracing.half_double_longest_s",
    "tracing.island_*_s", "tracing.scrap_*_s", "tracing.*bridge_gap_s", "tracing.merge_recovery_s",
    "tracing.event_seen_fraction", "tracing.overshoot_within_s", "*.carry_min", "*.variability_gap_min",
    "*.hidden_said_from", "*.early_tolerance_s", "response.[!rt]*_minutes", "response.tracing_end_grace_minutes",
    "burden.birth_after_tracing_min", "cord_gas.least_*", "find.controls_per_month", "find.list_from_score",
    "find.control_seen_last_30_min_fraction", "*least_seen_*", "import.*_s", "import.*_h", "import.max_listed",
    "meeting.*_fraction", "pack.cases_without_agenda",
)  # fmt: skip
# Spans of their own, and why.
OWN: dict[str, Span] = {
    "tracing.fhr_lowest_bpm": (30, 80),  # below it a sample is no fetal rate: cleaning drops below 30 to 80 bpm
    "tracing.fhr_highest_bpm": (180, 250),  # and above 200 to 240
    "tracing.flank_agreement_bpm": (3.75, 60),  # this and the next of the method: no standard names them
    "tracing.contraction_edge_fraction": (0.005, 0.1),
    "tracing.sinusoidal_amplitude_bpm": (1, 16),  # FIGO 2015 prints 5 to 15
    "tracing.variability_low_percentile": (1, 10),  # with the next: a band that holds most of a minute
    "tracing.variability_high_percentile": (90, 99),
    "nichd-2008.late_minimum_depth": (0, 15),  # packaged 0: the standard is silent; at most what a variable one has
    "figo-2015.low_variability_suspicious_min": (0, 50),  # packaged 0; after 50 min it is pathological
    "figo-1986.second_stage_area_factor": (1, 4),  # less would judge the second stage more strictly
    "response.decision_in_force.urgency_[34]": (0, 1440),  # packaged 0, without a published interval
    "cord_gas.ph_lowest": (6, 6.7),  # with the next: what cannot be blood gas; a pH is judged elsewhere
    "cord_gas.ph_highest": (7.5, 8),
    "find.points.*": (0, 20),  # points are the unit's own judgement
    "find.presets.*": (0, 10),
    "*.interval_level": (0.8, 0.999),
    "agreement.limits_multiplier": (1, 3),
    "agreement.consensus_readers_min": (1, 9),
    "validate.consensus_readers_min": (1, 9),
    "find.pathological_standards": (1, 4),
    "*.seed": ANY,  # these and the next change no figure but by chance
    "*_seed": ANY,
    "*.draws": (200, 1_000_000),
    "response.chance.shifts": (10, 10_000),
    "import.max_*": ANY,  # what a machine can hold
    "pack.year_begins": ANY,  # a month
    "pack.cm_per_min": (0.5, 3),  # papers run at 1 to 3 cm/min
    "*.min_cell": (3, 30),  # a smaller one tells who it was
    "meeting.quorum_persons": (1, 30),
    "access.idle_minutes": (4, 240),  # a shared desk in theatre may want minutes
    "settings.version": ANY,
}


def check_spans(
    kind: Any, values: Mapping[str, Any], packaged: Mapping[str, Any], file_of: FileOf, where: str = ""
) -> None:
    """Refuse the first number that lies further from the packaged one than a unit's choice can.

    `kind` : the record of all settings, or of the table named `where`. `values`, `packaged` : as files hold them, known
    to be valid.
    Raises SettingsError: names file, key, what was found and what was expected.
    """
    for key, found in values.items():
        usual, name = packaged.get(key), dotted(where, key)
        if usual is None or found == usual:
            continue
        hint = _hint(kind, key)
        if isinstance(found, Mapping):
            check_spans(hint, found, usual, file_of, name)
        elif (expected := _expected(hint, found, usual, name.replace('"', ""))) is not None:
            raise SettingsError(f"{file_of(name)}: {name}: found {found!r}, expected {expected}")


def _hint(kind: Any, key: str) -> Any:
    """The type of a key of a table."""
    if get_origin(kind) is dict:
        return get_args(kind)[1]
    name = next(field.name for field in msgspec.structs.fields(kind) if field.encode_name == key)
    return get_type_hints(kind, include_extras=True)[name]


def _expected(hint: Any, found: Any, usual: Any, name: str) -> str | None:
    """What is expected in place of `found`, or None where it fits."""
    if isinstance(hint, type) and issubclass(hint, Limit):
        number, middle = hint.parsed(found).value, hint.parsed(usual).value
        span = _own(name) or _around(middle, _limit_factor(hint))
        return None if span[0] <= number <= span[1] else f"a number {_words(span, hint.unit)}"
    if isinstance(usual, list):
        return _expected_of_list(hint, found, usual, name)
    unit = _unit(hint)
    if unit is None or isinstance(found, bool | str):
        return None
    span = _own(name) or _span(float(usual), unit, hint)
    off = any(fnmatch.fnmatchcase(name, pattern) for pattern in OFF_AT_0)
    if span[0] <= found <= span[1] or (off and found == 0):
        return None
    return f"{'0 or ' if off else ''}a number {_words(span, unit)}"


def _expected_of_list(hint: Any, found: Any, usual: list[Any], name: str) -> str | None:
    share = next((share for pattern, share in RANGE_SHARES.items() if fnmatch.fnmatchcase(name, pattern)), None)
    if share is not None:
        reach = share * (usual[1] - usual[0])
        if all(abs(one - other) <= reach * (1 + 1e-9) for one, other in zip(found, usual, strict=True)):
            return None
        return f"a range of which each end lies at most {reach:g} from {usual}"
    hint = get_args(hint)[0] if get_origin(hint) is Annotated else hint
    if len(found) != len(usual) or not all(isinstance(one, int | float) for one in usual):
        return None
    each = get_args(hint)[0]
    wrong = [_expected(each, one, other, name) for one, other in zip(found, usual, strict=True)]
    return next((f"in its place {words}" for words in wrong if words), None)


def _span(usual: float, unit: str, hint: Any) -> Span:
    if unit == "pH" and usual > 1:
        return usual - PH_EITHER_WAY, usual + PH_EITHER_WAY
    rate = unit == "bpm" and (_meta(hint).ge or 0) > 0  # a rate lies where hearts beat; other bpm are differences
    return _around(usual, RATE_FACTOR if rate else FACTORS.get(unit, ELSE))


def _around(usual: float, factor: float) -> Span:
    if usual == 0:
        return ANY  # what is packaged as 0 has a span of its own, or the type's
    low, high = sorted((usual / factor, usual * factor))
    return low, high


def _limit_factor(kind: type[Limit]) -> float:
    if kind.unit == "bpm" and kind.low > 0:
        return RATE_FACTOR
    return LIMIT_FACTORS.get(kind.unit, LIMIT_ELSE)


def _own(name: str) -> Span | None:
    return next((span for pattern, span in OWN.items() if fnmatch.fnmatchcase(name, pattern)), None)


def _words(span: Span, unit: str) -> str:
    return f"from {span[0]:.4g} to {span[1]:.4g} ({unit}), near what is published"


def _meta(hint: Any) -> Meta:
    return next((part for part in get_args(hint)[1:] if isinstance(part, Meta)), Meta())


def _unit(hint: Any) -> str | None:
    return (_meta(hint).extra or {}).get("unit") if get_origin(hint) is Annotated else None

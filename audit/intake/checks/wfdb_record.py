"""From a WFDB record to a tracing, and to the labour's facts and outcome where the header's comments give them.

The comment fields are those of the open intrapartum database (Chudacek et al., BMC Pregnancy and Childbirth 2014).
Fields that are not named here (maternal age, sex, diagnoses, the database's own number) are not stored.
"""

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.intake.checks.cases import CaseRow, Place, check_facts, check_outcome
from audit.intake.checks.codes import bad_case_id
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.door.shape import shape
from audit.intake.formats.recording_part import held
from audit.intake.formats.signal_names import IN_KPA, channel, is_rate_unit, toco_factor
from audit.intake.formats.tables import TracingRows
from audit.intake.formats.wfdb_file import Header, SignalLine
from audit.settings import Settings
from audit.words import counted

_SENSORS = {1: "ultrasound", 2: "scalp_electrode", 12: "both"}
_BIRTHS = {1: "vaginal", 2: "caesarean"}
_ONSETS = {0: "spontaneous", 1: "induced"}
_NUMBERS = {
    "pH": "cord_artery_ph",
    "BDecf": "cord_artery_base_deficit_mmol_l",
    "pCO2": "cord_artery_pco2_kpa",
    "Apgar1": "apgar_1",
    "Apgar5": "apgar_5",
    "Gest. weeks": "gestation_weeks",
    "Weight(g)": "birth_weight_g",
    "Parity": "parity",
}
_OTHERS = ("Pos. II.st.", "Sig2Birth", "Rec. type", "Deliv. type", "Induced")
COMMENT_FIELDS = (*_NUMBERS, *_OTHERS)
_UNKNOWN = -1


@dataclass(frozen=True)
class Record:
    """What a record holds: its tracings (one, or two for twins), and the labour when the header tells of it."""

    tracings: tuple[TracingRows, ...]
    case: CaseRow | None


def read_record(header: Header, signals: list[NDArray[np.float64]], remarks: Remarks, settings: Settings) -> Record:
    """Name the signals and read the comments that are known. Raises FileRefused when there is no heart rate."""
    reason = bad_case_id(header.record)
    if reason is not None:
        raise FileRefused(reason, row=1, column="record")
    header = replace(header, record=remarks.case_id(header.record))
    fields = _fields(header)
    case = None
    if fields:
        said = Remarks(remarks.limit, remarks.names)
        case = _case(header, fields, said, settings)
        _take_over(said, remarks)
    return Record(_tracings(header, signals, remarks), case)


def _take_over(said: Remarks, remarks: Remarks) -> None:
    """A record's rows are its samples: a fact of its header that cannot be right is left out with a remark, and the
    record is not a rejected one for it."""
    for remark in said.listed:
        left_out = "; the record is stored without it" if remark.severity == "rejected" else ""
        remarks.flag(remark.row_number, remark.column_name, remark.value, f"{remark.reason}{left_out}")
    for sentence in said.messages:
        remarks.message(sentence)


def _tracings(header: Header, signals: list[NDArray[np.float64]], remarks: Remarks) -> tuple[TracingRows, ...]:
    fhr: dict[str, int] = {}
    toco = mhr = None
    for k, signal in enumerate(header.signals):
        found = channel(signal.description)
        if found is not None and found[0] == "toco" and toco is None:
            toco = k
        elif found is not None and found[0] == "mhr_bpm" and mhr is None:
            mhr = k
        elif found is not None and found[0] == "fhr_bpm" and found[1] not in fhr:
            fhr[found[1]] = k
            _check_units(signal, remarks)
        else:
            remarks.message(f"signal {k + 1} is not stored")
    if not fhr:
        raise FileRefused(
            f"found {counted(len(header.signals), 'signal')} of other names, expected one called FHR (and UC for"
            " uterine activity)"
        )
    if toco is None:
        remarks.message("the record has no uterine activity")
    elif (factor := toco_factor(header.signals[toco].units)) != 1.0:
        signals = [values * factor if k == toco else values for k, values in enumerate(signals)]
        remarks.message(f"the uterine activity {IN_KPA}")

    def times(k: int) -> NDArray[np.float64]:
        return np.arange(len(signals[k])) / (header.sample_rate_hz * header.signals[k].per_frame)

    def beside(k: int | None, rate: int) -> NDArray[np.float64]:
        if k is None:
            return np.full(len(signals[rate]), np.nan)
        if header.signals[k].per_frame == header.signals[rate].per_frame:
            return signals[k]
        return held(times(k), signals[k], times(rate))

    return tuple(
        TracingRows(
            header.record,
            fetus,
            times(k),
            signals[k],
            beside(toco, k),
            None if mhr is None else beside(mhr, k),
            np.arange(1, len(signals[k]) + 1),
        )
        for fetus, k in fhr.items()
    )


def _check_units(signal: SignalLine, remarks: Remarks) -> None:
    if not is_rate_unit(signal.units):
        remarks.flag(signal.row_number, "fhr_bpm", signal.units, "found another unit, expected bpm")


def _fields(header: Header) -> dict[str, tuple[int, float]]:
    """Known comment fields with their line and number; NaN = not given, a text that is no number is left to a check."""
    found: dict[str, tuple[int, float]] = {}
    for line, text in header.comments:
        for name in COMMENT_FIELDS:
            if text.startswith(name) and text[len(name) : len(name) + 1].isspace():
                value = text[len(name) :].strip()
                try:
                    found[name] = (line, float(value))
                except ValueError:
                    raise FileRefused(
                        f"found {shape(value)}, expected a number or NaN", row=line, column=name
                    ) from None
    return found


def _case(header: Header, found: dict[str, tuple[int, float]], remarks: Remarks, settings: Settings) -> CaseRow:
    values: dict[str, Any] = {}
    names: dict[str, tuple[int, str]] = {}

    def put(column: str, key: str, value: Any) -> None:
        values[column] = None if isinstance(value, float) and math.isnan(value) else value
        names[column] = (found[key][0], key)

    for key, column in _NUMBERS.items():
        if key in found:
            put(column, key, found[key][1])
    for key, column, words in (
        ("Rec. type", "fhr_sensor", _SENSORS),
        ("Deliv. type", "mode_of_birth", _BIRTHS),
        ("Induced", "onset_of_labour", _ONSETS),
    ):
        if key in found:
            put(column, key, _word(words, *found[key], key, remarks))
    if "Pos. II.st." in found:
        at = found["Pos. II.st."][1]
        put("second_stage_s", "Pos. II.st.", None if at == _UNKNOWN else at / header.sample_rate_hz)
    if "Sig2Birth" in found and header.samples is not None:
        put("birth_s", "Sig2Birth", header.samples / header.sample_rate_hz + 60.0 * found["Sig2Birth"][1])
    place = Place(1, names)
    facts = check_facts(values, place, remarks, settings)
    return CaseRow(header.record, "A", 1, facts, check_outcome(values, place, remarks, settings))


def _word(words: dict[int, str], line: int, code: float, key: str, remarks: Remarks) -> str | None:
    if math.isnan(code) or code == _UNKNOWN:
        return None
    if code not in words:
        remarks.reject_value(line, key, code, f"found {shape(code)}, expected {', '.join(map(str, words))} or -1")
        return None
    return words[int(code)]

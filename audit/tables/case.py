"""The numbers beside a strip as tables a reader takes in: times as hh:mm, names in words, units in the headings."""

from collections.abc import Mapping
from typing import Any

import pandas as pd

from audit import words as words_
from audit.charts.strip.rows import joined
from audit.measures.cord_gas import CordGasLimits, acidosis_tier, base_deficit_ecf_mmol_l, pair_flags
from audit.words import hh_mm

SPAN_WORDS = {
    "last_30_min": "last 30 min",
    "last_60_min": "last 60 min",
    "last_120_min": "last 120 min",
    "whole": "whole tracing",
    "first_stage": "first stage",
    "second_stage": "second stage",
}


def clock_table(rows: pd.DataFrame) -> pd.DataFrame:
    """The response clock, one row per concern episode, late ones first."""
    return pd.DataFrame(
        [
            {
                "standard": words_.standard_name(str(row.standard)),
                "concern": words_.words(str(row.trigger)),
                "pattern_start": _time(row.pattern_start_s),
                "recognisable": _time(row.recognisable_s),
                "response": "none recorded" if _unknown(row.response_s) else hh_mm(row.response_s),
                "response_event": "none recorded" if _unknown(row.response_event) else words_.words(row.response_event),
                "minutes_to_response": row.minutes_to_response,
                "target_minutes": row.target_minutes,
                "minutes_to_birth": row.minutes_to_birth,
                "status": words_.status_words(str(row.status)),
                "late_under": f"{row.late_under} of {row.clocks}",
                "clocks": row.clocks,
                "none_recorded_under": f"{row.none_recorded_under} of {row.clocks}",
                "reasons": joined(row.reasons),
                "note": "" if _unknown(row.note) else row.note,
            }
            for row in rows.itertuples()
        ]
    )


def reader_clock_table(rows: pd.DataFrame) -> pd.DataFrame:
    """The clock as each reader's read would have started it."""
    return rows.assign(
        standard=[words_.standard_name(str(name)) for name in rows["standard"]],
        recognisable=[_time(value) for value in rows["recognisable_s"]],
        response=["none recorded" if _unknown(value) else hh_mm(value) for value in rows["response_s"]],
        status=[words_.status_words(str(name)) for name in rows["status"]],
    )


def whole_or_none(value: Any) -> str:
    """A number of minutes for a large figure; unknown says so."""
    return "–" if _unknown(value) else f"{value:.0f}"


def burden_table(rows: pd.DataFrame) -> pd.DataFrame:
    """Burden per span; the share of signal seen stands beside it."""
    words = [SPAN_WORDS.get(str(span), words_.words(str(span))) for span in rows["span"]]
    return rows.drop(columns=["run_id"]).assign(span=words, seen_percent=100 * rows["seen_fraction"])


def epoch_table(rows: pd.DataFrame) -> pd.DataFrame:
    """10-minute segments with their times as hh:mm."""
    return rows.assign(
        from_to=[f"{hh_mm(start)} – {hh_mm(end)}" for start, end in zip(rows["start_s"], rows["end_s"], strict=True)],
        signal_loss_percent=100 * rows["signal_loss_fraction"],
        sinusoidal=["yes" if found else "" for found in rows["sinusoidal"]],
    )


def deceleration_table(rows: pd.DataFrame) -> pd.DataFrame:
    """Decelerations with the evidence for their kind."""
    return rows.assign(
        onset=[hh_mm(value) for value in rows["onset_s"]],
        duration_s=rows["end_s"] - rows["onset_s"],
        seen_percent=100 * rows["seen_fraction"],
        toco=["usable" if usable else "not usable" for usable in rows["toco_usable"]],
        remark=[_remark(row.shallow, row.open_end) for row in rows.itertuples()],
    )


def _remark(shallow: bool, open_end: bool) -> str:
    remarks = (("shallow", shallow), ("cut off where the signal begins or ends", open_end))
    return ", ".join(text for text, on in remarks if on)


def event_table(rows: pd.DataFrame) -> pd.DataFrame:
    """Care events with their time as hh:mm."""
    return rows.assign(at=[hh_mm(value) for value in rows["at_s"]], event=[words_.words(e) for e in rows["event"]])


def reads_table(rows: pd.DataFrame) -> pd.DataFrame:
    """Reads side by side: a row per window and standard, a column per reader and occasion, the computed one last."""
    if rows.empty:
        return pd.DataFrame()
    cells = pd.DataFrame(
        [
            {
                "window": f"{hh_mm(row.start_s)} – {hh_mm(row.end_s)}",
                "standard": words_.standard_name(str(row.standard)),
                "reader": _reader(row),
                "category": row.category,
            }
            for row in rows.itertuples()
        ]
    )
    wide = cells.pivot_table(index=["window", "standard"], columns="reader", values="category", aggfunc=" / ".join)
    names = [name for name in wide.columns if name != "computed"]
    return wide[[*sorted(names), *(["computed"] if "computed" in wide.columns else [])]].reset_index()


def second_readings_table(rows: pd.DataFrame) -> pd.DataFrame:
    """The fitted second reading of each window, with the probability of each class in percent."""
    return rows.assign(
        window=[f"{hh_mm(start)} – {hh_mm(end)}" for start, end in zip(rows["start_s"], rows["end_s"], strict=True)],
        **{
            f"{name}_percent": 100 * rows[f"{name}_fraction"].astype(float)
            for name in ("normal", "suspicious", "pathological")
        },
    )


def facts_table(facts: dict[str, Any]) -> pd.DataFrame:
    """What is known of the case, in words; unknown facts are left out."""
    times = ("second_stage_s", "birth_s")
    found = [
        {
            "fact": words_.words(name.removesuffix("_s")) + (" at" if name in times else ""),
            "value": hh_mm(value) if name in times else str(value),
        }
        for name, value in facts.items()
        if value is not None
    ]
    return pd.DataFrame(found, columns=["fact", "value"])


def outcome_table(rows: pd.DataFrame, cord_gas: CordGasLimits) -> pd.DataFrame:
    """The outcome as one row per measure and one column per newborn; what was not given says so.

    cord_gas : the limits of the settings, for the remarks on the cord gas that stand below the measures.
    """
    columns = [name for name in rows.columns if name != "fetus"]
    checks = [_cord_gas(row, cord_gas) for row in rows.to_dict("records")]
    words = [*(_measure_words(name) for name in columns), *(checks[0] if checks else [])]
    found: dict[str, list[str]] = {"measure": words}
    for row, check in zip(rows.to_dict("records"), checks, strict=True):
        given = ["not given" if _unknown(row[name]) else _shown(row[name]) for name in columns]
        found[f"fetus {row['fetus']}"] = [*given, *check.values()]
    return pd.DataFrame(found)


def _cord_gas(row: Mapping[str, Any], limits: CordGasLimits) -> dict[str, str]:
    """What follows from the cord gas: tier, base deficit recomputed, whether the pair can be right."""
    names = ("cord_artery_ph", "cord_artery_pco2_kpa", "cord_vein_ph", "cord_vein_pco2_kpa")
    ph, pco2, vein_ph, vein_pco2 = (None if _unknown(row[name]) else float(row[name]) for name in names)
    tier = acidosis_tier(ph)
    deficit = None if ph is None or pco2 is None or pco2 <= 0 else base_deficit_ecf_mmol_l(ph, pco2)
    remarks = pair_flags(ph, pco2, vein_ph, vein_pco2, limits)
    pair = "nothing against it" if ph is not None and vein_ph is not None else "no pair"
    return {
        "arterial pH falls under": "not known" if tier is None else tier,
        "base deficit recomputed from pH and pCO2, mmol/L": "not known" if deficit is None else f"{deficit:.1f}",
        "artery and vein as a pair": "; ".join(remarks) or pair,
    }


def _reader(row: Any) -> str:
    if row.reader == "computed":
        return "computed"
    return str(row.reader) if _unknown(row.occasion) or row.occasion == 1 else f"{row.reader} (repeat)"


_UNITS = {"mmol_l": "mmol/L", "kpa": "kPa", "g": "g"}


def _measure_words(name: str) -> str:
    for ending, unit in _UNITS.items():
        if name.endswith(f"_{ending}"):
            return f"{words_.words(name.removesuffix(f'_{ending}'))}, {unit}".replace("pco2", "pCO2")
    if name.startswith("apgar_"):
        return f"Apgar score at {name.removeprefix('apgar_')} min"
    return words_.words(name).replace(" ph", " pH")


def _shown(value: Any) -> str:
    if isinstance(value, bool) or str(type(value).__name__) == "bool":
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def _time(seconds: Any) -> str:
    return "not known" if _unknown(seconds) else hh_mm(float(seconds))


def _unknown(value: Any) -> bool:
    return value is None or bool(pd.isna(value))

"""The agreement of one item, standard and period as one JSON document."""

from collections.abc import Mapping
from dataclasses import asdict
from itertools import chain
from math import comb
from typing import Any

import numpy as np

from audit.agreement.arrays import FloatArray, IntArray
from audit.agreement.consensus import consensus_values
from audit.agreement.measured import limits_of_agreement, repeatability_coefficient
from audit.agreement.measures import all_measures
from audit.agreement.options import AgreementOptions
from audit.agreement.pairs import PairAgreement, pair_agreements, pairs_in_common
from audit.agreement.reads import MISSING, ReadGrid, ReadsTable, WindowKey, arrange, codes_of, window_key
from audit.agreement.resampling import Estimate
from audit.agreement.scales import Scale, scale_for
from audit.agreement.yardstick import LANDIS_KOCH_CAUTION, LANDIS_KOCH_SOURCE, landis_koch_band, published_agreement
from audit.figures import number_or_none
from audit.vocabulary import NOT_ASSESSABLE
from audit.words import words

_BANDED = ("fleiss_kappa", "kappa", "weighted_kappa_linear", "weighted_kappa_quadratic")
Pairs = list[tuple[int, int]]  # positions of two readers with a common window
NUMBERS_HAVE_LIMITS = "For measured numbers see limits_of_agreement."


def agreement_document(
    reads: ReadsTable,
    *,
    item: str,
    standard: str,
    period: str | None,
    options: AgreementOptions,
    computed: Mapping[WindowKey, Any] | None = None,
) -> dict[str, Any]:
    """Everything the `agreement` command says about one item.

    Parameters
    ----------
    reads : people's reads of that item under that standard, in that period.
    item : `category`, `variability`, `accelerations`, `decelerations`, `would_act`, `baseline_bpm` or
        `contractions_per_10_min`.
    standard : standard that the readers applied.
    period : YYYY-MM, or None for all; passed on to the document.
    options : how agreement is counted.
    computed : the computed reading of the same item by window (case_id, fetus, start_s, end_s); it is compared with
        the readers' consensus and with each reader, and enters no other figure.

    Returns
    -------
    document : plain dict for JSON; a figure that cannot be estimated is None and has a `note`.

    Raises
    ------
    UsageError : an unknown item or standard, or an answer that is not on the scale.
    """
    ours = {} if computed is None else {window_key(*key): value for key, value in computed.items()}
    scale = scale_for(item, standard, [*reads.value, *ours.values()])
    grid = arrange(reads, scale)
    answers = codes_of(ours, grid)
    return {"standard": standard, "item": item, "period": period, **_body(grid, answers, options)}


def _body(grid: ReadGrid, answers: FloatArray, options: AgreementOptions) -> dict[str, Any]:
    """All fields but the question's own."""
    scale = grid.scale
    is_number = scale.kind == "number"
    together, met = pairs_in_common(np.isfinite(grid.values))
    common = int((np.isfinite(grid.values).sum(axis=1) > 1).sum())
    return {
        "windows": len(grid.windows),
        "windows_read_by_two": common,
        "few_windows": few_windows(common, options),
        "cases": len(grid.cases),
        "readers": len(grid.readers),
        "reader_codes": list(grid.readers),
        "scale": scale.kind,
        "unit": scale.unit,
        "categories": list(scale.categories),
        "measures": [
            {"name": name, "category": category, **_row(figure), **_band(name, figure)}
            for name, category, figure in all_measures(grid, options)
        ],
        "pairs": _number_pairs(grid, together) if is_number else _category_pairs(grid, together, options),
        "pairs_without_common_window": comb(len(grid.readers), 2) - met,
        "pairs_left_out": met - len(together),
        "repeat_reads": _number_repeats(grid, options) if is_number else _category_repeats(grid, options),
        "computed": _number_computed(grid, answers, options) if is_number else _computed(grid, answers, options),
        "limits_of_agreement": _limits(grid, together, options) if is_number else [],
        "published": [asdict(figure) for figure in published_agreement(scale.item)],
        "method": _method(options, scale),
    }


def few_windows(common: int, options: AgreementOptions) -> str | None:
    """What is said before any figure that rests on few common windows; None where there are enough."""
    if common >= options.windows_few:
        return None
    return (
        f"Only {common} windows were read by both or by more readers, fewer than {options.windows_few}: one window more"
        " or less can turn these figures round. Look at the windows themselves."
    )


def _method(options: AgreementOptions, scale: Scale) -> dict[str, Any]:
    ties = {"more_severe": "the more severe answer", "less_severe": "the less severe answer", "none": "no consensus"}
    rule = f"{options.consensus_rule}, ties: {ties[options.consensus_ties]}"
    if scale.kind == "number":
        rule = "median of the reads"
    elif scale.kind == "nominal":
        rule = "majority, ties: no consensus"
    return {
        "interval": f"{options.interval_level:.0%} bootstrap over cases, widened for few cases (Hesterberg 2015)",
        "draws": options.draws,
        "seed": options.seed,
        "consensus": f"{rule}; at least {options.consensus_readers_min} readers",
        "not_assessable": "a category of its own in figures without order, no read in ordered ones",
        "gwet_ac2_weights": options.ac2_weights,
        "bands_source": LANDIS_KOCH_SOURCE,
        "bands_caution": LANDIS_KOCH_CAUTION,
    }


def _row(figure: Estimate) -> dict[str, Any]:
    return {"estimate": figure.value, "low": figure.low, "high": figure.high, "n": figure.n, "note": figure.note}


def _band(name: str, figure: Estimate) -> dict[str, Any]:
    return {"band": landis_koch_band(figure.value)} if name in _BANDED else {}


def _figures(pair: PairAgreement, options: AgreementOptions) -> dict[str, Any]:
    """The flat fields of a pair: estimates, intervals, standard errors, and the notes of what is missing."""
    fields: dict[str, Any] = {"windows": pair.windows}
    notes = []
    for name in ("agreement", "kappa", "weighted_kappa_linear", "weighted_kappa_quadratic"):
        figure: Estimate = getattr(pair, name)
        fields |= {name: figure.value, f"{name}_low": figure.low, f"{name}_high": figure.high}
        if figure.note:
            notes.append(f"{words(name)}: {figure.note}")
    if few := few_windows(pair.windows, options):
        notes.insert(0, few.partition(":")[0] + ".")
    for name in ("kappa", "weighted_kappa_linear", "weighted_kappa_quadratic"):
        fields[f"{name}_standard_error"] = getattr(pair, f"{name}_standard_error")
    fields |= {
        "pabak": pair.pabak,
        "gwet_ac1": pair.gwet_ac1,
        "prevalence_index": pair.prevalence_index,
        "bias_index": pair.bias_index,
        "note": " ".join(notes) or None,
    }
    return fields


def _category_pairs(grid: ReadGrid, together: Pairs, options: AgreementOptions) -> list[dict[str, Any]]:
    codes = np.asfortranarray(grid.codes)
    pairs = pair_agreements(
        ((codes[:, a], codes[:, b]) for a, b in together), grid.scale, grid.case_index, len(grid.cases), options,
        with_not_assessable=grid.used_not_assessable,
    )  # fmt: skip
    return [
        {"reader_a": grid.readers[a], "reader_b": grid.readers[b], **_figures(pair, options)}
        for (a, b), pair in zip(together, pairs, strict=True)
    ]


def _empty_pair(windows: int, note: str) -> dict[str, Any]:
    names = ("agreement", "kappa", "weighted_kappa_linear", "weighted_kappa_quadratic")
    return {"windows": windows, **dict.fromkeys(names), "note": note}


def _number_pairs(grid: ReadGrid, together: Pairs) -> list[dict[str, Any]]:
    rows = []
    for a, b in together:
        both = int(np.isfinite(grid.values[:, a] - grid.values[:, b]).sum())
        names = {"reader_a": grid.readers[a], "reader_b": grid.readers[b]}
        rows.append({**names, **_empty_pair(both, NUMBERS_HAVE_LIMITS)})
    return rows


def _limits(grid: ReadGrid, together: Pairs, options: AgreementOptions) -> list[dict[str, Any]]:
    rows = []
    for a, b in together:
        found = limits_of_agreement(
            grid.values[:, a], grid.values[:, b], multiplier=options.limits_multiplier, level=options.interval_level
        )
        figures = {name: number_or_none(value) for name, value in asdict(found).items() if name != "n"}
        note = None if found.n > 1 else "Fewer than two windows were read by both, so the spread is unknown."
        names = {"reader_a": grid.readers[a], "reader_b": grid.readers[b]}
        rows.append({**names, "windows": found.n, **figures, "unit": grid.scale.unit, "note": note})
    return rows


def _category_repeats(grid: ReadGrid, options: AgreementOptions) -> list[dict[str, Any]]:
    columns = []
    for found in grid.repeats.values():
        first, second = (np.full(len(grid.windows), MISSING, dtype=np.int64) for _ in range(2))
        first[found.windows], second[found.windows] = found.first.astype(int), found.second.astype(int)
        columns.append((first, second))
    refused = any((column == len(grid.scale.categories)).any() for pair in columns for column in pair)
    pairs = pair_agreements(columns, grid.scale, grid.case_index, len(grid.cases), options, with_not_assessable=refused)
    return [{"reader": reader, **_figures(pair, options)} for reader, pair in zip(grid.repeats, pairs, strict=True)]


def _number_repeats(grid: ReadGrid, options: AgreementOptions) -> list[dict[str, Any]]:
    return [
        {
            "reader": reader,
            **_empty_pair(len(found.windows), "For measured numbers see repeatability_coefficient."),
            "repeatability_coefficient": number_or_none(
                repeatability_coefficient(found.first, found.second, multiplier=options.limits_multiplier)
            ),
            "unit": grid.scale.unit,
        }
        for reader, found in grid.repeats.items()
    ]


def _as_codes(values: FloatArray) -> IntArray:
    return np.where(np.isnan(values), MISSING, values).astype(np.int64)


def _computed(grid: ReadGrid, answers: FloatArray, options: AgreementOptions) -> dict[str, Any]:
    """The computed reading beside the consensus, and beside each reader."""
    consensus, ours = _as_codes(consensus_values(grid, **options.consensus())), _as_codes(answers)
    k = len(grid.scale.categories)
    refused = grid.used_not_assessable or bool((ours == k).any())
    codes = grid.codes
    columns = chain([(consensus, ours)], ((codes[:, r], ours) for r in range(len(grid.readers))))
    found = pair_agreements(columns, grid.scale, grid.case_index, len(grid.cases), options, with_not_assessable=refused)
    joint = next(found)
    names = [*grid.scale.categories, *([NOT_ASSESSABLE] if refused else [])]
    confusion = {
        "rows": "consensus",
        "columns": "computed",
        "categories": names,
        "counts": joint.table.tolist() if names else [],
    }
    beside = [{"reader": r, **_figures(pair, options)} for r, pair in zip(grid.readers, found, strict=True)]
    fields = {"against": "consensus", **_figures(joint, options), "confusion": confusion, "against_readers": beside}
    if not np.isfinite(answers).any():
        fields["note"] = "No computed reading of these windows."
    return fields


def _number_computed(grid: ReadGrid, answers: FloatArray, options: AgreementOptions) -> dict[str, Any]:
    consensus = consensus_values(grid, **options.consensus())
    found = limits_of_agreement(answers, consensus, multiplier=options.limits_multiplier, level=options.interval_level)
    figures = {name: number_or_none(value) for name, value in asdict(found).items() if name != "n"}
    note = NUMBERS_HAVE_LIMITS if np.isfinite(answers).any() else "No computed reading of these windows."
    empty = _empty_pair(found.n, note)
    return {"against": "consensus", **empty, "confusion": None, "limits_of_agreement": figures, "unit": grid.scale.unit}

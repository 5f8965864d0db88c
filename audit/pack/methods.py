"""The page on methods: what was counted, by which standards, settings and run, from which files, how well it reads."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from audit import words
from audit.analysis import made_by
from audit.pack import validation_file
from audit.pack.model import Section
from audit.questions.in_force import departure_lines
from audit.settings import FIGURES_FILE_NAME, Settings, settings_for
from audit.tables import cases as tables

CAUTION = (
    "Retrospective review by licensed clinicians. Not for care in progress, not a medical device; local guidelines"
    " decide."
)
EDITIONS: dict[str, str] = {
    "nichd-2008": "Macones et al., the 2008 NICHD workshop report on electronic fetal monitoring; three tiers",
    "figo-2015": "Ayres-de-Campos et al., FIGO consensus guidelines on intrapartum fetal monitoring, 2015",
    "nice-ng229": "NICE guideline NG229, Fetal monitoring in labour, December 2022, and amended; before it CG190, 2017",
}
BLIND = (
    "Readers see bare strips in an order of their own, without case, outcome, events, findings or other readers'"
    " reads; some strips come twice. Outcomes are opened after the reads; the moment is kept in the log."
)
_RUNS_OUTSIDE = tables.RUNS.only("run_id", "version", "settings_sha256")
# tables whose keys are the unit's own words or names: told as a whole
_OF_OWN_KEYS = ("locale.events", "locale.roles", "locale.categories", "locale.words", "import.mapping",
                "import.event_words", "import.assessor_words", "import.fhir_codes", "access.roles")  # fmt: skip
_SOURCES_NOTE = "All months. Why rows were kept out: page 'Data quality'."


def methods_section(
    runs: Sequence[Mapping[str, Any]],
    sources: Sequence[Mapping[str, Any]],
    settings: Settings,
    *,
    log_head: str | None,
    accuracy: Sequence[str],
    published: Sequence[str] = (),
    copy_note: str | None = None,
    counts: bool = True,
) -> Section:
    """Standards with editions, settings, runs, files, the reading's accuracy as far as known, published figures.

    `counts` false leaves out how many tracings and rows there are: less the months' own they would tell a hidden one.
    """
    keys = dict.fromkeys(map(_table_of_many, settings.overridden))
    changed = f"changed by the unit: {', '.join(keys)}" if keys else "as packaged"
    chain = [f"Hash of the newest entry of the log of what people wrote: {log_head}."] if log_head else []
    return Section(
        title="Methods and sources",
        paragraphs=(
            CAUTION,
            *([f"These {copy_note}."] if copy_note else []),
            BLIND,
            *accuracy,
            f"Settings in force: SHA-256 {settings.sha256}; {changed}.",
            *departure_lines(settings),
            *chain,
            *published,
        ),
        tables=(
            tables.EDITIONS.filled(
                {"standard": name, "text": words, "edition": settings.of_standards[name].printed_edition}
                for name, words in EDITIONS.items()
            ),
            (tables.RUNS if counts else _RUNS_OUTSIDE).filled(runs),
            *([tables.SOURCES.filled(sources, note=_SOURCES_NOTE)] if counts else []),
        ),
    )


FILE_NAME = FIGURES_FILE_NAME
_MAKE = f"intrapartum-audit validate FOLDER --json > {FILE_NAME}"
_AREAS = (
    "deceleration area per seen hour, last 60 min",
    "share of signal lost, last 60 min",
    "area per seen hour and share lost together, last 60 min",
)
_SORTING = (
    "Deceleration area and share of signal lost, alone or together, sort the births of a month for review; none of them"
    " predicts a newborn's pH, and of one newborn they say little."
)


def accuracy_lines(db: Path) -> list[str]:
    """Sentences for the page on methods; without the file, how to make it. A file of another kind says so."""
    file = db.resolve().parent / FILE_NAME
    if not file.is_file():
        return [
            "How the computed reading compares with the experts of the open database is not known to this pack: run"
            f" '{_MAKE}' in the database's folder, and it stands here.",
            _SORTING,
        ]
    try:
        found = validation_file.read(file)
        areas = [_area(row) for row in found["auc"] if row["measure"] in _AREAS]
        shown = (found.get("standard"), "second reading")
        footing = [_footing(row) for row in found.get("equal_footing", []) if row["standard"] in shown]
        sorting = " ".join([_SORTING, *(_sorting(row) for row in found.get("sorting", []))])
        aged = _of_other_settings(found, settings_for(db))
        return [*aged, *_of_tuning_part(found), _experts(found), *footing, *areas, sorting]
    except (OSError, ValueError, KeyError, TypeError, IndexError, AttributeError):
        return [
            f"{FILE_NAME} beside the database is not what `validate --json` writes; its figures are left out.",
            _SORTING,
        ]


def compared_with_experts(db: Path) -> str:
    """One sentence to stand beside computed categories: how they compared with experts, or that it is not measured."""
    file = db.resolve().parent / FILE_NAME
    try:
        found = validation_file.read(file)
        equal = next((row for row in found.get("equal_footing", []) if row["standard"] == found["standard"]), None)
        found["experts"][0]  # without an expert nothing was compared
        marks = [
            *(["older settings"] if _of_other_settings(found, settings_for(db)) else []),
            *(["recordings that settings were chosen on"] if _of_tuning_part(found) else []),
        ]
        marked = f" ({'; '.join(marks)})" if marks else ""
        classes = words.standard_name(found.get("standard", "classes not named"))
        against = f"{len(found['experts'])} experts of the open database ({classes})"
        if equal is None:  # no expert was put beside it fairly: too few, or a document of an older program
            return (
                f"Computed categories against the consensus of {against}: linear weighted kappa"
                f" {found['kappa_linear']:.2f} ({found['kappa_linear_low']:.2f} to"
                f" {found['kappa_linear_high']:.2f}){marked}."
            )
        ours, median, over = equal["kappa_linear"], equal["median_expert"], equal["over_median_expert"]
        return (
            f"Computed categories beside {against}, on equal footing: linear weighted kappa {_two(ours)}{_range(ours)},"
            f" the median expert {_two(median)}, difference {_two(over, '+')}{_range(over, '+')}{marked}."
        )
    except FileNotFoundError:
        return (
            "Computed categories beside experts: not measured here; README, 'How well it reads', has what was measured"
            f" elsewhere, and '{_MAKE}' in the database's folder puts a figure here."
        )
    except (OSError, ValueError, KeyError, TypeError, IndexError, AttributeError):
        return f"Computed categories beside experts: not known ({FILE_NAME} is not what `validate --json` writes)."


def _of_other_settings(found: Mapping[str, Any], settings: Settings) -> list[str]:
    sha256, version, own = found.get("settings_sha256"), found.get("version"), made_by.version()
    if (sha256, version) == (settings.analysis_sha256, own):
        return []
    made = (
        f"with settings {str(sha256)[:8]}, version {str(version)[:24]}"
        if sha256
        else "with settings that the file does not name"
    )
    return [
        f"These figures were made {made}; in force are settings {settings.analysis_sha256[:8]}, version {own}:"
        " run `validate` again."
    ]


def _of_tuning_part(found: Mapping[str, Any]) -> list[str]:
    if found["part"] != "tuning":
        return []
    return ["These figures are of the recordings on which settings were chosen, so they flatter the computed reading."]


def _experts(found: Mapping[str, Any]) -> str:
    if not found["experts"]:
        raise ValueError("experts")
    return (
        f"Computed reading against the consensus of {len(found['experts'])} experts, {found['windows']} windows of the"
        f" open database's {found['part']} part: linear weighted kappa {found['kappa_linear']:.2f}"
        f" ({found['kappa_linear_low']:.2f} to {found['kappa_linear_high']:.2f}), same answer {found['agreement']:.2f}."
    )


def _table_of_many(key: str) -> str:
    return next((table for table in _OF_OWN_KEYS if key.startswith(f"{table}.")), key)


def _footing(row: Mapping[str, Any]) -> str:
    ours, over = row["kappa_linear"], row["over_median_expert"]
    classes = "; ".join(
        f"{one['category']} {_percent(one['recall'])} and {_percent(one['precision'])} (experts"
        f" {_percent(one['experts_recall'])} and {_percent(one['experts_precision'])})"
        for one in row["classes"]
    )
    others = [_other_footing(one, one["stage"].capitalize()) for one in row.get("stages", [])]
    if odd := row.get("odd_panels"):
        others.append(_other_footing(odd, f"As a check, panels of {odd['panel']}"))
    who = "Second reading" if row["standard"] == "second reading" else "Computed reading"
    return (
        f"{who} on equal footing, in each expert's chair against the same panels of {row['panel']}:"
        f" kappa {_two(ours)}{_range(ours)}, the median expert {_two(row['median_expert'])}, the best"
        f" {_two(row['best_expert'])}; computed minus median expert {_two(over, '+')}{_range(over, '+')}."
        f" Of each class, share found and share right: {classes}."
        f"{''.join(others)}"
    )


def _other_footing(row: Mapping[str, Any], name: str) -> str:
    """The same comparison on the windows of a stage, or with other panels."""
    ours, median, over = row["kappa_linear"], row["median_expert"], row["over_median_expert"]
    return f" {name}: {_two(ours)}, the median expert {_two(median)}, difference {_two(over, '+')}{_range(over, '+')}."


def _two(value: Mapping[str, Any], sign: str = "") -> str:
    return "cannot say" if value["estimate"] is None else f"{value['estimate']:{sign}.2f}"


def _percent(value: Mapping[str, Any]) -> str:
    return "cannot say" if value["estimate"] is None else f"{value['estimate']:.0%}"


def _range(value: Mapping[str, Any], sign: str = "") -> str:
    if value["low"] is None or value["high"] is None:
        return ""
    return f" ({value['low']:{sign}.2f} to {value['high']:{sign}.2f})"


def _sorting(row: Mapping[str, Any]) -> str:
    return (
        f"Of the {row['first']} births that area and loss together put first, {row['first_with_outcome']} had"
        f" {row['outcome']} ({row['share']:.0%}, {row['low']:.0%} to {row['high']:.0%}); {row['missed']} of the"
        f" {row['with_outcome']} that had it were not among them."
    )


def _area(row: Mapping[str, Any]) -> str:
    return (
        f"{row['measure'].capitalize()} against {row['outcome']}: area under the ROC curve {row['estimate']:.2f}"
        f" ({row['low']:.2f} to {row['high']:.2f}), {row['with_outcome']} with and {row['without']} without it."
    )

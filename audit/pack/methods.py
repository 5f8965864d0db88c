"""The page on methods: what was counted, by which standards, settings and run, from which files, how well it reads."""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from audit.pack.model import Section
from audit.questions.in_force import departure_lines
from audit.settings import Settings
from audit.tables import cases as tables

CAUTION = (
    "Retrospective review by licensed clinicians. Not for care in progress, not a medical device; local guidelines"
    " decide."
)
EDITIONS: dict[str, str] = {
    "nichd-2008": "Macones et al., the 2008 NICHD workshop report on electronic fetal monitoring; three tiers",
    "figo-2015": "Ayres-de-Campos et al., FIGO consensus guidelines on intrapartum fetal monitoring, 2015",
    "nice-ng229": "NICE guideline NG229, Fetal monitoring in labour, December 2022",
}
BLIND = (
    "Readers see bare strips in an order of their own, without case, outcome, events, findings or other readers'"
    " reads; some strips come twice. Outcomes are opened after the reads; the moment is kept in the log."
)
_SOURCES_NOTE = "All months. Rows kept out are listed with their reasons on the page 'Data quality'."


def methods_section(
    runs: Sequence[Mapping[str, Any]],
    sources: Sequence[Mapping[str, Any]],
    settings: Settings,
    *,
    log_head: str | None,
    accuracy: Sequence[str],
    copy_note: str | None = None,
) -> Section:
    """Standards with editions, settings, runs, files, and what is known of the reading's accuracy."""
    changed = f"changed by the unit: {', '.join(settings.overridden)}" if settings.overridden else "as packaged"
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
        ),
        tables=(
            tables.EDITIONS.filled(
                {"standard": name, "text": words, "edition": settings.of_standards[name].edition}
                for name, words in EDITIONS.items()
            ),
            tables.RUNS.filled(runs),
            tables.SOURCES.filled(sources, note=_SOURCES_NOTE),
        ),
    )


FILE_NAME = "validation.json"
_AREA = "deceleration area per seen hour, last 60 min"


def accuracy_lines(db: Path) -> list[str]:
    """Sentences for the page on methods; without the file, how to make it. A file of another kind says so."""
    file = db.resolve().parent / FILE_NAME
    if not file.is_file():
        return [
            "How the computed reading compares with the experts of the open database is not known to this pack: run"
            f" 'intrapartum-audit validate FOLDER --json > {FILE_NAME}' in the database's folder, and it stands here."
        ]
    try:
        found = json.loads(file.read_text(encoding="utf-8"))
        return [_experts(found), *(_area(row) for row in found["auc"] if row["measure"] == _AREA)]
    except (ValueError, KeyError, TypeError):
        return [f"{FILE_NAME} beside the database is not what `validate --json` writes; its figures are left out."]


def _experts(found: Mapping[str, Any]) -> str:
    kappas = sorted(row["kappa_linear"] for row in found["experts"] if row["kappa_linear"] is not None)
    return (
        f"Computed reading against the consensus of {len(found['experts'])} experts, {found['windows']} windows of the"
        f" open database's {found['part']} part: linear weighted kappa {found['kappa_linear']:.2f}"
        f" ({found['kappa_linear_low']:.2f} to {found['kappa_linear_high']:.2f}), same answer {found['agreement']:.2f}."
        f" The experts, each against the others: {kappas[0]:.2f} to {kappas[-1]:.2f}, median"
        f" {found['median_expert_kappa_linear']:.2f}."
    )


def _area(row: Mapping[str, Any]) -> str:
    return (
        f"{row['measure'].capitalize()} against {row['outcome']}: area under the ROC curve {row['estimate']:.2f}"
        f" ({row['low']:.2f} to {row['high']:.2f}), {row['with_outcome']} with and {row['without']} without it."
    )

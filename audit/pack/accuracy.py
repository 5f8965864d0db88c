"""The known accuracy of the reading: what `validate --json` found, when the unit keeps it beside the database."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

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

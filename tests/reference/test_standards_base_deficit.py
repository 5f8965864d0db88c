"""Base deficit recomputed against the values stored in the open intrapartum database (Chudacek 2014)."""

import re
from pathlib import Path

import numpy as np

from audit.measures.cord_gas import base_deficit_ecf_mmol_l


def gases(folder: Path) -> list[tuple[str, float, float, float]]:
    found = []
    for header in sorted(folder.glob("*.hea")):
        text = header.read_text()
        values = [re.search(rf"^#{name}\s+(-?[\d.]+)\s*$", text, re.M) for name in ("pH", "pCO2", "BDecf")]
        if all(values):
            ph, pco2, deficit = (float(value.group(1)) for value in values if value)
            found.append((header.stem, ph, pco2, deficit))
    return found


def test_recomputed_base_deficit_agrees_with_the_stored_one(ctu_uhb: Path) -> None:
    # Source: header fields pH, pCO2 (kPa) and BDecf (mmol/L) of the database; printed to 0.01 and 0.1, so 0.25 mmol/L.
    rows = gases(ctu_uhb)
    assert len(rows) > 300
    differences = np.array([base_deficit_ecf_mmol_l(ph, pco2) - stored for _, ph, pco2, stored in rows])
    far = [row[0] for row, off in zip(rows, differences, strict=True) if abs(off) > 0.25]
    assert far == []
    assert abs(float(differences.mean())) < 0.1

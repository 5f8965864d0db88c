"""The small committed sample: two invented labours, short enough to read and to keep beside the code."""

import json
from pathlib import Path

import numpy as np
import pyarrow as pa

from synthetic_cases.build import DrawnCase, build
from synthetic_cases.readers import reads_of_month
from synthetic_cases.scenario import CaseSpec
from synthetic_cases.write import case_rows, event_rows, tracing_table, truth_document, write_rows, write_tracing_csv

SEED = 7
SPECS = (
    CaseSpec("S001", 1, 0, "2025-03", "recurrent_late", "night", "slow", hours=2.5, mode="caesarean", severity=2),
    CaseSpec("S002", 2, 0, "2025-03", "unremarkable", "day", "prompt", hours=1.0, fhr_sensor="scalp_electrode"),
)


def write_sample(folder: Path) -> list[Path]:
    """Write the sample: `files/` for the importer and `truth.json`.

    The first labour is stored at one sample a second as plain CSV, the second at four as compressed CSV.
    """
    files = folder / "files"
    files.mkdir(parents=True, exist_ok=True)
    cases = [build(spec, SEED) for spec in SPECS]
    write_tracing_csv(files / "tracing_S001.csv", _every_fourth(cases[0]))
    write_tracing_csv(files / "tracing_S002.csv.gz", tracing_table(cases[1]))
    write_rows(files / "cases.csv", [row for case in cases for row in case_rows(case)])
    write_rows(files / "care_events.csv", [row for case in cases for row in event_rows(case)])
    # Six labours' worth of chances, so that both are chosen for reading.
    reads = reads_of_month(cases * 3, np.random.default_rng([SEED, 3]))
    write_rows(files / "reads.csv", _once(reads))
    truth = {"cases": [truth_document(case) for case in cases]}
    (folder / "truth.json").write_text(json.dumps(truth, separators=(",", ":")) + "\n", encoding="utf-8")
    return sorted(p for p in folder.rglob("*") if p.is_file())


def _every_fourth(case: DrawnCase) -> pa.Table:
    table = tracing_table(case)
    return table.take(pa.array(np.arange(0, table.num_rows, 4)))


def _once(reads: list[dict[str, object]]) -> list[dict[str, object]]:
    """One read per window, standard, reader and occasion."""
    found = {(r["case_id"], r["start_s"], r["standard"], r["reader"], r["occasion"]): r for r in reads}
    return [found[key] for key in sorted(found, key=str)]


if __name__ == "__main__":
    write_sample(Path(__file__).resolve().parent / "sample")

"""What a large tracing file under a mapping costs, read at once and in blocks: processor time and the most memory held.

Run by hand: python -m tests.benchmarks.bench_mapped [MB]. A file of that size (200 if none is given) of labours of 8 h
at 4 Hz with semicolons is drawn, as CSV and as Parquet, and read to what would be stored, each time by a process of its
own; nothing is stored. The heart rate is noise, so what it packs to is no measure.
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv
import pyarrow.parquet as pq

from audit.intake.contents import Content, read_content
from audit.intake.door.remarks import Remarks
from audit.intake.formats import streamed
from audit.intake.mapped import chosen
from audit.intake.writing.ledger import Ledger
from audit.settings import load_settings

SAMPLES = 8 * 3600 * 4
MAPPING = """[import.mapping.m]
kind = "tracing"
columns = {case_id = "Case", t_s = "Sec", fhr_bpm = "HR", toco = "UA"}
"""


def main() -> None:
    if sys.argv[1:2] == ["read"]:
        read(Path(sys.argv[2]), at_once=sys.argv[3] == "once")
        return
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "unit_settings.toml").write_text(MAPPING, encoding="utf-8")
        files = draw(Path(folder), int(sys.argv[1]) if sys.argv[1:] else 200)
        for file in files:
            for how in ("once", "blocks"):
                subprocess.run(
                    [sys.executable, "-m", "tests.benchmarks.bench_mapped", "read", str(file), how], check=True
                )


def draw(folder: Path, mb: int) -> list[Path]:
    """The same rows as CSV of about that many MB and as Parquet."""
    rng = np.random.default_rng(1)
    files, labour = [folder / "export.csv", folder / "export.parquet"], 0
    schema = pa.schema([("Case", pa.string()), ("Sec", pa.float64()), ("HR", pa.float64()), ("UA", pa.int64())])
    with files[0].open("wb") as text, pq.ParquetWriter(files[1], schema) as packed:
        text.write(b"Case;Sec;HR;UA\n")
        while text.tell() < mb * 1_000_000:
            rates, toco = rng.integers(11_000, 16_000, SAMPLES) / 100, rng.integers(0, 80, SAMPLES)
            table = pa.table([pa.array([f"C{labour}"] * SAMPLES), np.arange(SAMPLES) / 4, rates, toco], schema=schema)
            options = pacsv.WriteOptions(include_header=False, delimiter=";", quoting_style="none")
            pacsv.write_csv(table, text, options)
            packed.write_table(table)
            labour += 1
    return files


def read(file: Path, *, at_once: bool) -> None:
    """Read one file, and print what it cost."""
    if at_once:
        streamed.LARGE_BYTES, streamed.LARGE_ROWS = sys.maxsize, sys.maxsize
    settings = load_settings(file.parent / "unit_settings.toml")
    before_mib, begun = most_mib(), time.process_time()
    content = read_content(file, Ledger(), Remarks(100), settings, chosen(settings, ["m"])[0])
    assert isinstance(content, Content)
    rows = sum(tracing.rows for tracing in content.tracings or ())
    cost = (
        f"{time.process_time() - begun:.1f} s of processor time, at most {most_mib():.0f} MiB ({before_mib:.0f} before)"
    )
    size = file.stat().st_size / 1_000_000
    print(
        f"{file.suffix[1:]} of {size:.0f} MB, {'at once' if at_once else 'in blocks'}: {rows:,} rows, {cost}",
        flush=True,
    )


def most_mib() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main()

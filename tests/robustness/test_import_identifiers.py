# ruff: noqa: E501 (one bad file a line reads best)
"""The door: 2,200 invented identifiers of 22 kinds through every column, name and comment, and none is found anywhere.

Kinds follow 45 CFR 164.514(b)(2)(i); see `tests/identifier_corpus.py`. That nothing typed passes unless it is allowed
is our own rule: what is allowed are words of the contract, numbers in their range and codes of the unit's pattern.
"""

import csv
import io
import logging
import random
import secrets
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from click.testing import CliRunner

from audit.cli import cli
from audit.settings import load_settings
from audit.store import database
from tests.asking import ask
from tests.identifier_corpus import PER_KIND, found_in, harmless_texts, identifiers

CELLS = [cell for _, cell in identifiers()]
# a clock time stands in every log line, and may be that of a planted cell
IN_A_LOG = [cell for kind, cell in identifiers() if kind != "time of day"]
KINDS_OF_FILES = (
    "case_id",
    "reader",
    "fetus",
    "event",
    "detail",
    "words",
    "period",
    "numbers",
    "bedside",
    "months",
    "unknown",
    "header",
)


def table(rows: list[list[str]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def plant(folder: Path, kind: str) -> None:
    """One table with every identifier in one place."""
    reads = ["case_id", "reader", "start_s", "end_s", "standard", "category"]
    read = ["0", "900", "figo-2015", "normal"]
    if kind == "case_id":
        rows = [["case_id", "period"], *([cell, "2031-03"] for cell in CELLS)]
        samples = [["case_id", "t_s", "fhr_bpm", "toco"]]
        samples += [[cell, str(k / 4), "140", "10"] for cell in CELLS[::20] for k in range(4)]
        (folder / "samples.csv").write_text(table(samples), encoding="utf-8")
    elif kind == "reader":
        rows = [reads, *(["K1", cell, *read] for cell in CELLS)]
    elif kind == "fetus":
        rows = [["case_id", "period", "fetus"], *([f"K{k}", "2031-03", cell] for k, cell in enumerate(CELLS))]
    elif kind == "event":
        rows = [["case_id", "at_s", "event"], *(["K1", str(k), cell] for k, cell in enumerate(CELLS))]
    elif kind == "detail":
        rows = [["case_id", "at_s", "event", "detail"], *(["K1", str(k), "epidural", c] for k, c in enumerate(CELLS))]
    elif kind == "words":
        rows = [
            ["case_id", "period", "mode_of_birth", "onset_of_labour", "shift", "fhr_sensor", "neonatal_unit_admission"]
        ]
        rows += [[f"M{k}", "2031-03", *[cell] * 5] for k, cell in enumerate(CELLS)]
    elif kind == "period":
        rows = [["case_id", "period"], *([f"N{k}", cell] for k, cell in enumerate(CELLS))]
    elif kind == "numbers":
        rows = [["case_id", "period", "cord_artery_ph", "apgar_5", "birth_weight_g", "birth_s", "parity"]]
        # figures alone may be a calendar clock, which refuses a file: such times have a test of their own
        cells = [cell for cell in CELLS if not cell.isdigit()]
        rows += [[f"O{k}", "2031-03", *[cell] * 5] for k, cell in enumerate(cells)]
    elif kind == "bedside":
        rows = [["case_id", "at_s", "standard", "category", "assessor", "risk", "decelerations"]]
        rows += [["K1", str(k), "figo-2015", "normal", cell, "none", "none"] for k, cell in enumerate(CELLS)]
        rows += [["K2", str(k), "figo-2015", "normal", "midwife", cell, cell] for k, cell in enumerate(CELLS)]
    elif kind == "months":
        rows = [["period", "births", "unit", "deaths"], *(["2031-03", "30", cell, "0"] for cell in CELLS)]
        rows += [["2031-04", cell, "U1", "0"] for cell in CELLS] + [["2031-05", "30", "U2", cell] for cell in CELLS]
    elif kind == "unknown":
        rows = [["case_id", "period", "remark"], *([f"P{k}", "2031-03", cell] for k, cell in enumerate(CELLS))]
    else:
        rows = [["case_id", "period", *dict.fromkeys(cell.casefold() for cell in CELLS[::4])]]
        rows += [["Q1", "2031-03", *CELLS[::4]][: len(rows[0])]]
    (folder / f"{kind}.csv").write_text(table(rows), encoding="utf-8")


def run(folder: Path, *arguments: str) -> tuple[int, str]:
    done = CliRunner().invoke(cli, ["--db", str(folder / "unit.duckdb"), *arguments], standalone_mode=False)
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return int(done.return_value or 0), done.output


def dumped(db: Path) -> str:
    """Every value of every table, as text."""
    with database.open_for_reading(db) as con:
        names = [row[0] for row in con.execute("select table_name from duckdb_tables()").fetchall()]
        return "\n".join(repr(con.execute(f"select * from {name}").fetchall()) for name in names)


def check_nothing_left(folder: Path, said: str, cells: list[str], in_a_log: list[str]) -> None:
    assert found_in(dumped(folder / "unit.duckdb").casefold().encode(), cells) == []
    assert found_in(said.casefold().encode(), in_a_log) == []
    for file in folder.rglob("*"):
        if file.is_file() and "in" not in file.relative_to(folder).parts:
            assert found_in(file.read_bytes(), in_a_log) == [], file.name


def the_same_key(patch: pytest.MonkeyPatch) -> None:
    """Let every run draw the same key: digests of thousands of pseudonyms are figures, among which a planted number may
    stand by chance.
    """
    patch.setattr(secrets, "token_bytes", random.Random(1).randbytes)


@pytest.fixture
def incoming(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    the_same_key(monkeypatch)
    (tmp_path / "in").mkdir()
    (tmp_path / "unit_settings.toml").write_text("[import]\nstore_detail = true\n", encoding="utf-8")
    logging.getLogger("audit").handlers.clear()
    return tmp_path / "in"


def test_there_are_22_kinds_and_none_is_a_code_of_the_units_pattern():
    assert len(CELLS) == 22 * PER_KIND >= 2000


@pytest.mark.parametrize("kinds", [KINDS_OF_FILES[:1], KINDS_OF_FILES[1:]], ids=["case ids", "all else"])
def test_no_identifier_passes_through_a_column(kinds: tuple[str, ...], incoming: Path, tmp_path: Path):
    for kind in kinds:
        plant(incoming, kind)
    code, said = run(tmp_path, "import", str(incoming))
    assert code in (0, 3)
    check_nothing_left(tmp_path, said, CELLS, IN_A_LOG)
    ids = [row[0] for row in ask(tmp_path / "unit.duckdb", "select distinct case_id from cases")]
    if kinds == ("case_id",):
        assert len(ids) == len(CELLS)
        assert all(case_id.startswith("P-") for case_id in ids)
        assert f"{len(CELLS):,} case ids are not of the unit's pattern" in said
        assert (tmp_path / "unit.key").stat().st_mode & 0o077 == 0


def test_no_identifier_passes_through_names_comments_and_metadata(incoming: Path, tmp_path: Path):
    samples = np.full(8, 14000, "<i2")
    comments = "".join(f"#{k}: {cell}\n#{cell}\n" for k, cell in enumerate(CELLS))
    planted = [cell for cell in CELLS[::37] if "/" not in cell]
    (incoming / "sub").mkdir()
    for k, cell in enumerate(planted):
        (incoming / f"{cell}.csv").write_text(f"case_id,period\nB{k},2031-03\n", encoding="utf-8")
        folder = incoming / "sub" / cell
        folder.mkdir()
        (folder / f"{cell}.txt").write_text("nothing\n", encoding="utf-8")
        record = "".join(c if c.isascii() and c.isalnum() else "_" for c in cell)
        (folder / f"{cell}.dat").write_bytes(samples.tobytes())
        line = f"{record} 1 4 8 10:31:22 14/03/2025\nsignal.dat 16 100/bpm 12 0 14000 0 0 {cell}\n"
        (folder / f"{record}.hea").write_text(line, encoding="utf-8")
        good = f"{record} 1 4 8 10:31:22 14/03/2025\n{record}.dat 16 100/bpm 12 0 14000 {int(samples.astype(int).sum() + 32768) % 65536 - 32768} 0 FHR\n"  # fmt: skip
        (folder / f"{record}.dat").write_bytes(samples.tobytes())
        (folder / f"{record}.hea").write_text(good + (comments if k == 0 else ""), encoding="utf-8")
        parquet = pa.table({"case_id": [f"D{k}"], "period": ["2031-03"], cell: [cell]})
        pq.write_table(parquet.replace_schema_metadata({"author": cell, cell: "x"}), folder / f"{cell}.parquet")
    code, said = run(tmp_path, "import", str(incoming))
    assert code in (0, 3)
    records = [c for c in planted if len(c) > 4]
    check_nothing_left(tmp_path, said, [*CELLS, "14/03/2025"], [c for c in IN_A_LOG if c in records])
    with database.open_for_reading(tmp_path / "unit.duckdb") as con:
        count = con.execute("select count(*) from cases where regexp_full_match(case_id, '[BD][0-9]+')").fetchone()
    assert count == (2 * len(planted),)


def test_the_harmless_is_not_refused(incoming: Path, tmp_path: Path):
    texts = harmless_texts()
    words = [
        "Spontaneous vaginal",
        "Emergency caesarean",
        "LSCS cat 1",
        "Ventouse",
        "forceps",
        "vacuum",
        "SVD",
        "Breech",
    ]
    rows = [["case_id", "period", "mode_of_birth", "onset_of_labour", "shift", "remark", "No. of row"]]
    for k, text in enumerate(texts):
        onset, shift = (
            ("Spontaneous", "induced", "Induction", "pre-labour")[k % 4],
            ("Night", "day", "Evening", "Weekend")[k % 4],
        )
        rows.append([f"K{k}", "2031-03", words[k % len(words)], onset, shift, text, str(k)])
    (incoming / "cases.csv").write_text(table(rows), encoding="utf-8")
    events = [["case_id", "at_s", "event", "detail"]]
    for k, text in enumerate(texts):
        event = ("Position Change", "Senior called", "IV fluid bolus", "Decision for birth", "oxytocin-stopped")[k % 5]
        events.append([f"K{k}", str(k), event, text])
    (incoming / "events.csv").write_text(table(events), encoding="utf-8")
    code, said = run(tmp_path, "import", str(incoming))
    assert code == 0, said
    with database.open_for_reading(tmp_path / "unit.duckdb") as con:
        assert con.execute("select count(*) from cases").fetchone() == (len(texts),)
        assert con.execute("select count(*) from import_rejects").fetchone() == (0,)
        details = {row[0] for row in con.execute("select detail from care_events where detail is not null").fetchall()}
    assert any(each.startswith("dec ") for each in details)


@pytest.mark.parametrize("text", ["1741948282", "1741948282000"])
def test_a_calendar_clock_stops_the_file(text: str, incoming: Path, tmp_path: Path):
    (incoming / "t.csv").write_text(f"case_id,t_s,fhr_bpm,toco\nC1,{text},140,1\nC1,{text},140,1\n")
    code, said = run(tmp_path, "import", str(incoming))
    assert code == 3
    assert "seconds from the case's first sample" in said
    assert text not in said + dumped(tmp_path / "unit.duckdb")


def test_a_file_without_a_header_row_does_not_repeat_its_first_row(incoming: Path, tmp_path: Path):
    (incoming / "rows.csv").write_text('"Quill, Tessa",4827163950,140,10\nC2,1,2,3,quill@example.org\n')
    code, said = run(tmp_path, "import", str(incoming))
    assert code == 3
    check_nothing_left(tmp_path, said, ["Quill", "4827163950", "Tessa"], ["Quill", "4827163950", "Tessa"])


def test_a_pseudonym_stays_what_it_is_and_can_be_looked_up_with_the_key(incoming: Path, tmp_path: Path):
    (incoming / "cases.csv").write_text("case_id,period\n2031-000417,2031-03\nK7,2031-03\n")
    assert run(tmp_path, "import", str(incoming))[0] == 0
    name = run(tmp_path, "pseudonym", "2031-000417")[1].strip()
    assert ask(tmp_path / "unit.duckdb", "select case_id from cases order by all") == [("K7",), (name,)]
    # it comes back in another file, as itself and as what it stands for
    (incoming / "more.csv").write_text(f"case_id,at_s,event\n{name},5,epidural\n2031-000417,9,birth\n")
    assert run(tmp_path, "import", str(incoming))[0] == 0
    assert ask(tmp_path / "unit.duckdb", "select distinct case_id from care_events") == [(name,)]
    (tmp_path / "list.txt").write_text("2031-000001\n2031-000417\n")
    assert run(tmp_path, "pseudonym", name, "--among", str(tmp_path / "list.txt"))[1].strip() == "line 2"


def test_without_the_key_no_other_one_takes_its_place(incoming: Path, tmp_path: Path):
    (incoming / "cases.csv").write_text("case_id,period\n2031-000417,2031-03\n")
    assert run(tmp_path, "import", str(incoming))[0] == 0
    key = (tmp_path / "unit.key").read_text()
    (tmp_path / "unit.key").unlink()
    (incoming / "more.csv").write_text("case_id,period\n2031-000418,2031-03\n")
    done = CliRunner().invoke(cli, ["--db", str(tmp_path / "unit.duckdb"), "import", str(incoming / "more.csv")])
    assert "the key is missing" in str(done.exception)
    (tmp_path / "unit.key").write_text("00" * 32)
    done = CliRunner().invoke(cli, ["--db", str(tmp_path / "unit.duckdb"), "import", str(incoming / "more.csv")])
    assert "not the key" in str(done.exception)
    (tmp_path / "unit.key").write_text(key)
    assert run(tmp_path, "import", str(incoming / "more.csv"))[0] == 0


def test_a_dry_run_leaves_no_key(incoming: Path, tmp_path: Path):
    (incoming / "cases.csv").write_text("case_id,period\n2031-000417,2031-03\n")
    assert run(tmp_path, "import", "--dry-run", str(incoming))[0] == 0
    assert not (tmp_path / "unit.key").exists()


def test_a_file_is_named_again_by_its_number_or_tag(incoming: Path, tmp_path: Path):
    (incoming / "a.csv").write_text("case_id,period\nK1,2031-03\n")
    (incoming / "b.csv").write_text("case_id,period\nK2,March\n")
    code, said = run(tmp_path, "import", str(incoming))
    assert code == 3
    assert "b.csv" not in said
    line = next(each for each in said.splitlines() if "rejected: " in each)
    tag = line.split("(")[1].split(")")[0]
    assert "file 2 (" in line
    for wanted in ("2", tag, tag.split(".")[0]):
        assert run(tmp_path, "which", wanted, str(incoming))[1].strip() == str(incoming / "b.csv")


def test_a_unit_may_have_codes_and_words_of_its_own(incoming: Path, tmp_path: Path):
    own = '[import]\ncase_id_pattern = "LW-[0-9]{4}"\n[import.words.mode_of_birth]\n"Kiwi cup" = "instrumental"\n'
    (tmp_path / "unit_settings.toml").write_text(own)
    (incoming / "cases.csv").write_text("case_id,period,mode_of_birth\nLW-0417,2031-03,KIWI  cup\nK1,2031-03,\n")
    assert run(tmp_path, "import", str(incoming))[0] == 0
    found = ask(tmp_path / "unit.duckdb", "select case_id, mode_of_birth from cases order by case_id")
    assert found[0] == ("LW-0417", "instrumental")
    assert found[1][0].startswith("P-")


@pytest.mark.parametrize("pattern", [".*", "[", "", "[A-Z][a-z]+ [A-Z][a-z]+", "[0-9.]+"])
def test_a_pattern_that_lets_names_or_dates_through_is_refused(pattern: str, tmp_path: Path):
    from audit.errors import SettingsError

    unit = tmp_path / "unit_settings.toml"
    unit.write_text(f"[import]\ncase_id_pattern = '{pattern}'\n")
    with pytest.raises(SettingsError, match="case_id_pattern"):
        load_settings(unit)

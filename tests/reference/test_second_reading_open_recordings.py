"""The second reading fitted on some of the open recordings and held against the nine experts on others.

Sources: Chudacek et al., BMC Pregnancy Childbirth 2014;14:16 (recordings); Hruban et al., J Eval Clin Pract 2015
(experts' classes). The experts' reads are the outside; the bounds are wide, because a fit on a fraction of the
recordings says less than one on all of them (`tests/benchmarks/bench_second_reading.py` gives those figures).
"""

import csv
import json
import os
import zipfile
from pathlib import Path
from statistics import median

import pytest
from sklearn.metrics import cohen_kappa_score

from audit.cli import main
from audit.store import database
from audit.validate.records import EXPERTS_FILE, record_names
from tests.asking import ask

FITTED_ON, READ = 30, 10  # recordings
CLASSES = ("normal", "suspicious", "pathological")


def run(*arguments: str) -> None:
    with pytest.raises(SystemExit) as left:
        main(list(arguments))
    # 3: done, but the file has a class for a second stage that was not there
    assert left.value.code in (0, 3)


def copied(source: Path, names: list[str], folder: Path) -> Path:
    """A folder with some of the recordings and what the experts said of them."""
    folder.mkdir()
    for name in names:
        for ending in (".hea", ".dat"):
            os.symlink(source / f"{name}{ending}", folder / f"{name}{ending}")
    head, *rows = (source / EXPERTS_FILE).read_text(encoding="utf-8-sig").splitlines()
    kept = [row for row in rows if row.split(",")[0] in names]
    (folder / EXPERTS_FILE).write_text("\n".join([head, *kept]) + "\n", encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def unit(ctu_uhb: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A unit that fitted a second reading on some recordings and has others imported and analysed."""
    folder = tmp_path_factory.mktemp("second")
    names = record_names(ctu_uhb)
    step = len(names) // (FITTED_ON + READ)
    chosen = names[:: max(step, 1)][: FITTED_ON + READ]
    fitted, read = chosen[:FITTED_ON], chosen[FITTED_ON:]
    whole = copied(ctu_uhb, fitted, folder / "fitted_on")
    db = folder / "unit.duckdb"
    run("--db", str(db), "validate", str(whole), "--fit", str(folder / "second.zip"), "--json")
    (folder / "unit_settings.toml").write_text('[second_reading]\nfile = "second.zip"\n', encoding="utf-8")
    run("--db", str(db), "import", str(copied(ctu_uhb, [*read, fitted[0]], folder / "read")))
    run("--db", str(db), "analyse", "--workers", "1")
    return folder


def test_the_file_is_small_holds_no_code_and_says_what_it_is(unit: Path) -> None:
    file = unit / "second.zip"
    assert file.stat().st_size <= 6_000_000
    with zipfile.ZipFile(file) as archive:
        assert {Path(name).suffix for name in archive.namelist()} == {".json", ".npy"}
        card = json.loads(archive.read("card.json"))
    assert card["recordings"] <= FITTED_ON
    assert card["experts"] == 9
    assert set(card["expert_classes"]) == set(CLASSES)
    assert any("care in progress" in line for line in card["must_not_be_used_for"])
    kappa = card["figures"]["kappa_linear_against_all_experts"]
    assert kappa["low"] < kappa["estimate"] < kappa["high"]
    assert card["figures"]["basis"].startswith("cross-validated by recording")


def test_recordings_it_has_not_seen_are_read_as_the_experts_read_them(unit: Path) -> None:
    """Windows stored by the analysis against the middle expert, recounted from the experts' file."""
    grouped = ask(
        unit / "unit.duckdb",
        "select s.case_id, s.start_s, any_value(s.category), list(r.category) from second_readings as s"
        " join reads as r using (case_id, fetus, start_s)"
        " where not s.fitted_on_this and r.occasion = 1 group by s.case_id, s.start_s order by 1, 2",
    )
    said, middle = [], []
    for _, _, category, reads in grouped:
        value = median(CLASSES.index(read) for read in reads if read in CLASSES)
        if value == int(value):
            said.append(CLASSES.index(category))
            middle.append(int(value))
    assert len(said) >= 12
    # Oracle: scikit-learn's linear weighted kappa
    assert cohen_kappa_score(said, middle, weights="linear") >= 0.2
    assert max(abs(a - b) for a, b in zip(said, middle, strict=True)) <= 1


def test_any_half_hour_is_read_and_rests_on_evidence_that_experts_gave(unit: Path, ctu_uhb: Path) -> None:
    with database.open_for_reading(unit / "unit.duckdb") as con:
        lane = con.execute("select distinct end_s - start_s, start_s % 600 from second_reading_lane").fetchall()
        shares = con.execute(
            "select min(normal_fraction + suspicious_fraction + pathological_fraction),"
            " max(normal_fraction + suspicious_fraction + pathological_fraction) from second_reading_lane"
        ).fetchall()
        evidence = con.execute(
            "select case_id, recording, recording_start_s, normal, suspicious, pathological, likeness_fraction"
            " from second_reading_evidence order by all"
        ).fetchall()
        seen = con.execute("select distinct case_id from second_readings where fitted_on_this").fetchall()
    assert lane == [(1800.0, 0.0)]
    assert shares == [(pytest.approx(1.0), pytest.approx(1.0))]
    assert len(seen) == 1  # the one imported recording that it was fitted on says so
    given: dict[str, set[tuple[int, ...]]] = {}
    with (ctu_uhb / EXPERTS_FILE).open(newline="", encoding="utf-8-sig") as file:
        votes: dict[tuple[str, str], list[str]] = {}
        known: set[tuple[str, str]] = set()
        for row in csv.DictReader(file):
            if (row["rec_id"], row["expert_id"]) in known:
                continue
            known.add((row["rec_id"], row["expert_id"]))
            for step in ("eval_step1", "eval_step2", "eval_step3"):
                votes.setdefault((row["rec_id"], step), []).append(row[step])
    for (name, _), said in votes.items():
        given.setdefault(name, set()).add(tuple(said.count(code) for code in "123"))
    assert evidence
    for case_id, recording, _, normal, suspicious, pathological, likeness in evidence:
        assert recording != case_id
        assert (normal, suspicious, pathological) in given[recording]
        assert 0.0 < likeness <= 1.0


def test_the_fitted_file_is_judged_on_other_recordings_only(
    unit: Path, ctu_uhb: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run("--db", str(unit / "unit.duckdb"), "validate", str(unit / "read"), "--json")
    second = json.loads(capsys.readouterr().out)["second_reading"]
    assert second["basis"].startswith("read by the fitted file")
    assert second["fitted_on_recordings"] <= FITTED_ON
    assert 0 < second["windows"] <= 3 * READ

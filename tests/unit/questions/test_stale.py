"""What every document says of readings that are missing or out of date, on a database small enough to count by hand."""

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from audit.analysis import job, made_by, stages
from audit.analysis.made_by import code_sha256
from audit.cli import cli
from audit.intake.importer import import_paths
from audit.questions import stale
from audit.settings import settings_for
from audit.store import database

pytestmark = pytest.mark.slow

OWN_VERSION = made_by.version()
MONTHS = {"K1": "2031-03", "K2": "2031-03", "K3": "2031-04"}


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Path:
    """Three labours of two months: K1 and K3 read, K2 not yet."""
    folder = tmp_path_factory.mktemp("stale")
    t = np.arange(40 * 60)
    (folder / "cases.csv").write_text(
        "case_id,period\n" + "".join(f"{case_id},{period}\n" for case_id, period in MONTHS.items())
    )
    for case_id in MONTHS:
        lines = (f"{case_id},{s},{140 + 5 * np.sin(s / 9):.1f},10" for s in t)
        (folder / f"{case_id}.csv").write_text("case_id,t_s,fhr_bpm,toco\n" + "\n".join(lines))
    db = folder / "unit.duckdb"
    import_paths(db, [folder], settings=settings_for(db))
    job.analyse(db, settings=settings_for(db), workers=1, case_ids=["K1", "K3"])
    return db


def found(db: Path, period: str | None = None) -> dict:
    with database.open_for_reading(db) as con:
        return stale.document(con, settings_for(db), period=period)


def test_a_month_half_analysed_says_how_much_of_it_is_missing(made):
    march, april = found(made, "2031-03"), found(made, "2031-04")
    assert (march["tracings"], march["stale"], march["never_read"], march["made_by"]) == (2, 1, 1, [])
    assert march["reasons"] == [{"reason": "never read", "tracings": 1}]
    assert "1 of 2 readings in 2031-03" in march["note"]
    # what leaves the unit says that some are, and no number (common practice on small counts, no source)
    outside = stale.told(march, "2031-03", counts=False)
    assert outside is not None
    assert "2031-03" in outside
    assert not any(figure.isdigit() for figure in outside.replace("2031-03", ""))
    assert stale.told(march, "2031-03", counts=True) == march["note"]
    assert (april["tracings"], april["stale"], april["note"]) == (1, 0, None)
    assert stale.told(april, "2031-04", counts=False) is None
    assert (
        march["months"]
        == april["months"]
        == [
            {"period": "2031-03", "tracings": 2, "stale": 1},
            {"period": "2031-04", "tracings": 1, "stale": 0},
        ]
    )


def test_after_a_change_of_settings_the_edition_that_made_the_figures_is_named(made):
    former = settings_for(made)
    file = made.with_name("unit_settings.toml")
    file.write_text('[figo-2015]\nedition = "our own printing of it"\n')
    try:
        now = found(made)
        assert (now["stale"], now["never_read"]) == (3, 1)
        [by] = now["made_by"]
        assert (by["settings_sha256"], by["tracings"]) == (former.analysis_sha256, 2)
        assert by["editions"] == {"figo-2015": former.figo_2015.edition}
        assert now["settings_sha256"] == settings_for(made).analysis_sha256 != former.analysis_sha256
        assert former.figo_2015.edition in now["note"]
        # the page and the sheet of one case say it too, as does a table that is taken away
        with database.open_for_reading(made) as con:
            of_each = stale.by_tracing(con, settings_for(made))
        assert former.figo_2015.edition in of_each["K1"]["A"]
        assert of_each["K2"] == {"A": "never read"}
        out = made.with_name("taken_out")
        done = CliRunner().invoke(cli, ["--db", str(made), "export", "cases", "--out", str(out)], standalone_mode=False)
        assert done.exception is None, done.exc_info
        assert former.figo_2015.edition in (out / "dictionary.csv").read_text(encoding="utf-8-sig").splitlines()[1]
    finally:
        file.unlink()


def test_findings_of_other_code_are_told_and_worked_out_anew(made, tmp_path, monkeypatch):
    """Between two releases the number stays. Where the clock's code alone changed, no sample is read again."""
    db = Path(shutil.copytree(made.parent, tmp_path / "unit")) / made.name
    monkeypatch.setattr(made_by, "version", lambda: "0.1.0+other")
    monkeypatch.setattr(stages, "code_sha256", lambda room: "other" if room == "response" else code_sha256(room))
    before = found(db, "2031-04")
    assert (before["stale"], before["tracings"], before["made_by"][0]["version"]) == (1, 1, OWN_VERSION)
    assert f"1: it was read by another version of the program, {OWN_VERSION}" in before["note"]
    done = job.analyse(db, settings=settings_for(db), workers=1, case_ids=["K1", "K3"])
    assert (done.read, done.from_kept) == (2, 2)
    assert found(db, "2031-04")["note"] is None


@pytest.mark.parametrize("command", ["delays", "find", "trends", "agreement"])
def test_every_document_carries_it_and_the_terminal_says_it_beside_the_figures(made, command):
    run = CliRunner()
    as_json = run.invoke(cli, ["--db", str(made), command, "--json"], standalone_mode=False)
    assert json.loads(as_json.stdout)["stale"] == found(made)
    assert "1 of 3 readings" in as_json.stderr
    on_terminal = run.invoke(cli, ["--db", str(made), command], standalone_mode=False)
    assert "1 of 3 readings" in on_terminal.stdout


def test_a_monthly_point_is_marked(made):
    text = CliRunner().invoke(cli, ["--db", str(made), "trends", "--json"], standalone_mode=False).stdout
    points = [measure["points"] for measure in json.loads(text)["measures"] if measure["points"]]
    assert points
    for of_measure in points:
        assert {point["period"]: point["stale"] for point in of_measure} == {"2031-03": 1, "2031-04": 0}


@pytest.mark.slow
def test_the_pack_says_it_on_paper_and_for_outside_without_a_number(made, tmp_path):
    for name, options in (("own", []), ("outside", ["--for-outside"])):
        out = tmp_path / name
        asked = ["--db", str(made), "pack", "--period", "2031-03", "--out", str(out), *options]
        done = CliRunner().invoke(cli, asked, standalone_mode=False)
        assert done.exception is None, done.exc_info
        assert "Out of date: " in done.stderr
        [page] = out.rglob("*.html")
        said = page.read_text(encoding="utf-8")
        outside = stale.told(found(made, "2031-03"), "2031-03", counts=False)
        assert ("1 of 2 readings in 2031-03" in said) is (name == "own")
        assert (outside in said) is (name == "outside")

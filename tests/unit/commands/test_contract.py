"""What others rely on: tables and columns, exit codes, and that --json prints one document and nothing else.

Over 400 lines: the names of all tables and columns of the contract, a third of it, stand here once.
"""

import contextlib
import io
import json
import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import pytest

from audit.cli import cli, main
from audit.store import database

ROOT = Path(__file__).resolve().parents[3]
SAMPLE = ROOT / "synthetic_cases" / "sample" / "files"

KEY = ("case_id", "fetus")
TABLES: dict[str, tuple[str, ...]] = {
    "cases": (
        "case_id",
        "period",
        "gestation_weeks",
        "parity",
        "plurality",
        "onset_of_labour",
        "second_stage_s",
        "birth_s",
        "mode_of_birth",
        "shift",
        "fhr_sensor",
        "toco_sensor",
    ),
    "outcomes": (
        *KEY,
        "cord_artery_ph",
        "cord_artery_base_deficit_mmol_l",
        "cord_artery_pco2_kpa",
        "cord_vein_ph",
        "cord_vein_pco2_kpa",
        "cord_lactate_mmol_l",
        "apgar_1",
        "apgar_5",
        "apgar_10",
        "birth_weight_g",
        "neonatal_unit_admission",
        "encephalopathy_grade",
        "died",
        "cooled",
        "seizures",
        "transferred",
    ),
    "care_events": ("case_id", "at_s", "event", "detail", "urgency"),
    "assessments": (*KEY, "at_s", "standard", "category", "assessor"),
    "reads": (
        *KEY,
        "reader",
        "start_s",
        "end_s",
        "standard",
        "category",
        "baseline_bpm",
        "variability",
        "accelerations",
        "decelerations",
        "contractions_per_10_min",
        "would_act",
        "outcome_hidden",
        "occasion",
    ),
    "contractions": ("case_id", "onset_s", "peak_s", "end_s", "amplitude", "run_id"),
    "decelerations": (
        *KEY,
        "onset_s",
        "nadir_s",
        "end_s",
        "depth_bpm",
        "area_bpm_s",
        "kind",
        "contraction_peak_s",
        "run_id",
    ),
    "accelerations": (*KEY, "onset_s", "peak_s", "end_s", "height_bpm", "run_id"),
    "epochs": (
        *KEY,
        "start_s",
        "end_s",
        "baseline_bpm",
        "baseline_rounded_bpm",
        "variability_bpm",
        "variability",
        "signal_loss_fraction",
        "contractions_per_10_min",
        "sinusoidal",
        "run_id",
    ),
    "minute_categories": (*KEY, "at_s", "standard", "category", "reasons", "run_id"),
    "window_categories": (*KEY, "start_s", "end_s", "standard", "category", "reasons", "run_id"),
    "burden": (
        *KEY,
        "span",
        "span_minutes",
        "seen_minutes",
        "decelerations",
        "early",
        "late",
        "variable",
        "prolonged",
        "area_bpm_s",
        "triangle_area_bpm_s",
        "area_per_seen_hour_bpm_s",
        "minutes_in_deceleration",
        "contractions",
        "contractions_with_deceleration",
        "deepest_bpm",
        "longest_s",
        "run_id",
    ),
    "concern_episodes": (
        *KEY,
        "episode_id",
        "standard",
        "trigger",
        "pattern_start_s",
        "recognisable_s",
        "end_s",
        "run_id",
    ),
    "responses": (
        *KEY,
        "episode_id",
        "standard",
        "trigger",
        "recognisable_s",
        "response_s",
        "response_event",
        "minutes_to_response",
        "minutes_to_birth",
        "target_minutes",
        "status",
        "run_id",
    ),
    "import_rejects": ("source", "row_number", "column_name", "value", "reason"),
    "imports": ("source", "sha256", "kind", "rows_accepted", "rows_rejected", "imported_at"),
    "analysis_runs": ("run_id", "settings_sha256", "version", "started_at", "cases"),
}


@dataclass(frozen=True)
class Done:
    """What a command left: its exit code and what it printed."""

    returncode: int
    stdout: str
    stderr: str


def run(*arguments: str, cwd: Path, expect: int = 0) -> Done:
    """The program as its entry point runs it, in this process; never a stack trace."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith("INTRAPARTUM_AUDIT_")}
    out, err = io.StringIO(), io.StringIO()
    with (
        mock.patch.dict(os.environ, environment, clear=True),
        contextlib.chdir(cwd),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        pytest.raises(SystemExit) as leaving,
    ):
        main(list(arguments))
    code = leaving.value.code
    assert isinstance(code, int)
    return _checked(Done(code, out.getvalue(), err.getvalue()), arguments, expect)


def run_alone(*arguments: str, cwd: Path, expect: int = 0, **environment: str) -> Done:
    """The same in a process of its own, as a user starts it."""
    inherited = {k: v for k, v in os.environ.items() if not k.startswith("INTRAPARTUM_AUDIT_")}
    done = subprocess.run(
        [sys.executable, "-m", "audit", *arguments],
        cwd=cwd,
        env=inherited | {"PYTHONPATH": str(ROOT)} | environment,
        capture_output=True,
        text=True,
        check=False,
    )
    return _checked(Done(done.returncode, done.stdout, done.stderr), arguments, expect)


def _checked(done: Done, arguments: tuple[str, ...], expect: int) -> Done:
    assert done.returncode == expect, f"{arguments}: {done.returncode}\n{done.stdout[-2000:]}\n{done.stderr[-2000:]}"
    assert "Traceback" not in done.stdout + done.stderr
    return done


@pytest.fixture(scope="module")
def unit(tmp_path_factory) -> Path:
    """A folder with the committed sample imported and analysed into unit.duckdb."""
    folder = tmp_path_factory.mktemp("unit")
    run("import", str(SAMPLE), cwd=folder)
    run("analyse", "--workers", "1", cwd=folder)
    return folder


def test_every_table_of_the_contract_has_its_columns(unit):
    with database.open_for_reading(unit / "unit.duckdb") as con:
        for table, columns in TABLES.items():
            found = con.table(table).columns
            assert set(columns) <= set(found), table
            assert ("fetus" in found) == (
                table not in ("cases", "care_events", "contractions", "imports", "import_rejects", "analysis_runs")
            ), table


def test_what_is_stored_uses_the_contracts_words(unit):
    def words(con, query: str) -> set[str]:
        return {row[0] for row in con.execute(query).fetchall()}

    with database.open_for_reading(unit / "unit.duckdb") as con:
        assert words(con, "select kind from decelerations") <= {
            "early",
            "late",
            "variable",
            "prolonged",
            "unclassified",
        }
        assert words(con, "select variability from epochs where variability is not null") <= {
            "absent",
            "minimal",
            "moderate",
            "marked",
        }
        assert words(con, "select span from burden") <= {
            "last_30_min",
            "last_60_min",
            "last_120_min",
            "whole",
            "first_stage",
            "second_stage",
        }
        assert words(con, "select standard from minute_categories") == {"nichd-2008", "figo-2015", "nice-ng229"}
        assert words(con, "select category from minute_categories where standard = 'nichd-2008'") <= {
            "I",
            "II",
            "III",
            "not assessable",
        }
        assert words(con, "select category from minute_categories where standard <> 'nichd-2008'") <= {
            "normal",
            "suspicious",
            "pathological",
            "not assessable",
        }
        assert words(con, "select status from responses") <= {
            "in_time",
            "late",
            "none_recorded",
            "resolved",
            "born_first",
            "not_assessable",
        }
        triggers = words(con, "select standard || ' ' || trigger from concern_episodes")
    assert triggers <= {
        "nichd-2008 prolonged_deceleration",
        "nichd-2008 category_iii",
        "nichd-2008 category_ii_persistent",
        "nichd-2008 tachysystole_with_decelerations",
        "figo-2015 pathological",
        "figo-2015 suspicious_persistent",
        "figo-2015 prolonged_deceleration",
        "nice-ng229 pathological",
        "nice-ng229 suspicious_persistent",
        "nice-ng229 urgent_review",
    }


def test_windows_that_readers_read_have_a_computed_reading(unit):
    with database.open_for_reading(unit / "unit.duckdb") as con:
        missing = con.execute(
            "select distinct case_id, fetus, start_s, end_s from reads"
            " except select distinct case_id, fetus, start_s, end_s from window_categories"
        ).fetchall()
        read = con.execute("select count(*) from window_categories").fetchall()[0][0]
    assert missing == []
    assert read > 0


def test_every_derived_row_is_of_a_listed_run(unit):
    with database.open_for_reading(unit / "unit.duckdb") as con:
        for table in ("minute_categories", "epochs", "burden", "decelerations", "contractions"):
            stray = con.execute(
                f"select count(*) from {table} where run_id not in (select run_id from analysis_runs)"
            ).fetchall()[0][0]
            assert stray == 0


@pytest.mark.parametrize(
    ("arguments", "fields"),
    [
        (("delays", "--json"), {"period", "standard", "episodes"}),
        (("find", "--json"), {"period", "cases", "controls"}),
        (("trends", "--json"), {"measures"}),
        (
            ("agreement", "--json"),
            {"standard", "item", "period", "windows", "readers", "measures", "pairs", "repeat_reads", "computed"},
        ),
    ],
)
def test_json_prints_one_document_and_nothing_else(unit, arguments, fields):
    done = run(*arguments, cwd=unit)
    document = json.loads(done.stdout)
    assert fields <= set(document)
    assert "NaN" not in done.stdout
    assert "Infinity" not in done.stdout


def test_an_episode_in_the_document_has_the_contracts_fields(unit):
    document = json.loads(run("delays", "--json", cwd=unit).stdout)
    for episode in document["episodes"]:
        assert {
            "case_id",
            "fetus",
            "standard",
            "trigger",
            "pattern_start_s",
            "recognisable_s",
            "end_s",
            "response_s",
            "response_event",
            "minutes_to_response",
            "minutes_to_birth",
            "target_minutes",
            "status",
            "late_under",
            "clocks",
        } <= set(episode)
        assert 0 <= episode["late_under"] <= episode["clocks"]


def test_a_path_that_does_not_exist_is_wrong_usage(tmp_path):
    assert "nowhere" in run("import", "nowhere.csv", cwd=tmp_path, expect=2).stderr


@pytest.mark.parametrize(
    "arguments", [("--no-such-option",), ("no-such-command",), ("import",), ("pack",), ("validate",)]
)
def test_wrong_usage_ends_with_2(tmp_path, arguments):
    run(*arguments, cwd=tmp_path, expect=2)


@pytest.mark.slow
def test_a_process_of_its_own_ends_with_the_same_codes(unit, tmp_path):
    (tmp_path / "cases.csv").write_text("case_id,period\nC1,March\n", encoding="utf-8")
    assert json.loads(run_alone("agreement", "--json", cwd=unit).stdout)
    assert run_alone("check", cwd=tmp_path, expect=1).stdout == ""
    assert "YYYY-MM" in run_alone("delays", "--period", "June", cwd=unit, expect=2).stderr
    assert "YYYY-MM" in run_alone("import", "cases.csv", cwd=tmp_path, expect=3).stdout


@pytest.mark.parametrize("command", ["delays", "find", "agreement"])
def test_a_period_that_is_no_month_is_wrong_usage(unit, command):
    assert "YYYY-MM" in run(command, "--period", "June", cwd=unit, expect=2).stderr


def test_rejected_rows_end_with_3_and_the_rest_is_stored(tmp_path):
    (tmp_path / "cases.csv").write_text("case_id,period\nC1,2025-03\nC2,March\n", encoding="utf-8")
    done = run("import", "cases.csv", cwd=tmp_path, expect=3)
    assert "row 3, period: found text of 5 characters (letters), expected the month of birth" in done.stdout
    assert "March" not in done.stdout
    with database.open_for_reading(tmp_path / "unit.duckdb") as con:
        assert con.execute("select case_id from cases").fetchall() == [("C1",)]
        row = con.execute("select row_number, column_name, value from import_rejects").fetchall()
    assert row == [(3, "period", "text of 5 characters (letters)")]


def test_importing_again_changes_nothing_and_says_so(unit, tmp_path):
    shutil.copy(unit / "unit.duckdb", tmp_path / "unit.duckdb")
    done = run("import", str(SAMPLE), cwd=tmp_path)
    assert "unchanged" in done.stdout or "nothing changed" in done.stdout


def test_a_dry_run_writes_nothing(tmp_path):
    run("import", str(SAMPLE), "--dry-run", cwd=tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("command", ["analyse", "delays", "find", "agreement", "trends", "check"])
def test_without_a_database_a_command_says_what_to_do(tmp_path, command):
    done = run(command, cwd=tmp_path, expect=1)
    assert "import" in done.stderr
    assert not (tmp_path / "unit.duckdb").exists()


@pytest.mark.slow
def test_the_environment_names_the_database(tmp_path):
    other = tmp_path / "other.duckdb"
    run_alone("import", str(SAMPLE), cwd=tmp_path, INTRAPARTUM_AUDIT_DB=str(other))
    assert other.is_file()


@pytest.mark.parametrize("command", cli.list_commands(None))
def test_every_command_has_help_with_examples(tmp_path, command):
    done = run(command, "--help", cwd=tmp_path)
    assert "Examples:" in done.stdout
    assert f"intrapartum-audit {command}" in done.stdout or "intrapartum-audit --db" in done.stdout
    assert "--db" in done.stdout


def test_check_finds_nothing_wrong_with_the_sample(unit):
    done = run("check", cwd=unit)
    assert "0 problems" in done.stdout

"""The names others rely on: tables, columns and the words in them."""

from audit.store import database

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


def test_every_table_of_the_contract_has_its_columns(sample_unit):
    with database.open_for_reading(sample_unit / "unit.duckdb") as con:
        for table, columns in TABLES.items():
            found = con.table(table).columns
            assert set(columns) <= set(found), table
            assert ("fetus" in found) == (
                table not in ("cases", "care_events", "contractions", "imports", "import_rejects", "analysis_runs")
            ), table


def test_what_is_stored_uses_the_contracts_words(sample_unit):
    def words(con, query: str) -> set[str]:
        return {row[0] for row in con.execute(query).fetchall()}

    with database.open_for_reading(sample_unit / "unit.duckdb") as con:
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


def test_windows_that_readers_read_have_a_computed_reading(sample_unit):
    with database.open_for_reading(sample_unit / "unit.duckdb") as con:
        missing = con.execute(
            "select distinct case_id, fetus, start_s, end_s from reads"
            " except select distinct case_id, fetus, start_s, end_s from window_categories"
        ).fetchall()
        read = con.execute("select count(*) from window_categories").fetchall()[0][0]
    assert missing == []
    assert read > 0


def test_every_derived_row_is_of_a_listed_run(sample_unit):
    with database.open_for_reading(sample_unit / "unit.duckdb") as con:
        for table in ("minute_categories", "epochs", "burden", "decelerations", "contractions"):
            stray = con.execute(
                f"select count(*) from {table} where run_id not in (select run_id from analysis_runs)"
            ).fetchall()[0][0]
            assert stray == 0

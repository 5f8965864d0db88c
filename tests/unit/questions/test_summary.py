"""Six units' summaries merged give what their labours together give. Two ways to one figure; small counts by hand."""

import json
import shutil

import numpy as np
import pytest
from click.testing import CliRunner

from audit.cli import cli
from audit.errors import AuditError
from audit.questions import delays, summary, trends, units, waits
from audit.settings import load_settings
from audit.store import database, one_unit, summaries
from audit.store.connection import records
from tests.unit.conftest import RUN, SmallUnit

pytestmark = pytest.mark.slow  # six units are made, summed up and merged

SETTINGS = load_settings()
MONTHS = ("2031-03", "2031-04", "2031-05")
POOLED = ("births_reviewed", "cases_with_concern", "answered_within_target", "cord_gases_taken", "record_complete")
ENDS = ({"status": "in_time"}, {"status": "late"}, {"status": "born_first"}, {"status": "resolved"},
        {"status": "none_recorded"}, {"status": "not_assessable"}, {"status": "under_way"})  # fmt: skip


@pytest.fixture(scope="module")
def region(schema_only, tmp_path_factory):
    """A raw database of six invented units, with concerns of every status under two standards."""
    db = tmp_path_factory.mktemp("region") / "raw.duckdb"
    shutil.copy(schema_only, db)
    rng = np.random.default_rng(8)
    with database.open_for_writing(db) as con, database.transaction(con):
        unit = SmallUnit(con, lambda: None)
        run = {"settings_sha256": "x", "version": "0", "started_at": "2031-06-01", "cases": 0}
        unit.insert("analysis_runs", run_id=RUN, **run)
        for u in range(1, 7):
            for k in range(6 + u):
                case_id = f"{chr(64 + u)}{k}"
                unit.case(case_id, period=MONTHS[int(rng.integers(3))], unit=f"U{u}")
                unit.tracing(case_id, seen_fraction=float(rng.uniform(0.3, 0.95)))
                unit.event(case_id)
                if rng.random() < 0.7:
                    unit.outcome(case_id)
                for standard, trigger in (("figo-2015", "pathological"), ("nice-ng229", "urgent_review")):
                    if rng.random() < 0.6:
                        end = ENDS[int(rng.integers(len(ENDS)))]
                        wait = float(np.round(rng.uniform(1, 40), 3)) if end["status"] in ("in_time", "late") else None
                        lasted, to_birth = float(rng.uniform(10, 50)), float(rng.uniform(5, 90))
                        about = {"standard": standard, "trigger": trigger, "lasted_minutes": lasted}
                        unit.episode(case_id, end["status"], wait, to_birth=to_birth, **about)
    return db


def told(region, unit, least=1, first=MONTHS[0], last=MONTHS[-1]):
    with database.open_for_reading(region) as con:
        one_unit.look_at(con, unit)
        return summary.document(con, SETTINGS, unit=unit, first=first, last=last, least=least)


def written(folder, told, key=None):
    file = folder / f"{told['unit']}_{told['first_period']}_{told['least']}.json"
    summaries.write(told, file, key)
    return file


def merged(db, files, **more):
    with database.open_for_writing(db) as con:
        found = [summaries.read(file, None, SETTINGS.import_.reader_pattern) for file in files]
        return summaries.merge(con, found, **({"settings_sha256": SETTINGS.sha256} | more))


def same(a, b):
    """Equal to 1e-9, whatever they are made of."""
    if isinstance(a, dict):
        return a.keys() == b.keys() and all(same(a[name], b[name]) for name in a)
    if isinstance(a, list):
        return len(a) == len(b) and all(same(x, y) for x, y in zip(a, b, strict=True))
    return a == pytest.approx(b, abs=1e-9) if isinstance(a, float) and isinstance(b, float) else a == b


def test_merged_figures_are_those_of_the_labours(region, db, tmp_path):
    files = [written(tmp_path, told(region, f"U{u}")) for u in range(1, 7)]
    done = merged(db, files)
    assert (done.added, done.units, done.missing) == (6, ("U1", "U2", "U3", "U4", "U5", "U6"), {})
    found = []
    for file in (region, db):
        with database.open_for_reading(file) as con:
            times = records(con, "response/times", {"period": None, "standard": "figo-2015"})
            groups = (
                waits.wait_groups(times, "unit") + waits.wait_groups(times, "period") + waits.wait_groups(times, None)
            )
            found.append(
                {
                    "trends": [m for m in trends.document(con, SETTINGS)["measures"] if m["name"] in POOLED],
                    "counts": delays.document(con, SETTINGS)["counts"],
                    "month": delays.document(con, SETTINGS, period="2031-04", standard="nice-ng229")["counts"],
                    "groups": [
                        [g.name, g.episodes, g.within, g.late, g.assessed, g.share, g.share_low, g.half_answered_min]
                        for g in groups
                    ],
                    "curves": waits.curve_rows(groups, longest_min=60.0),
                    "funnel": units.document(con, SETTINGS, standard="figo-2015")["measures"][0]["funnel"],
                    "months": records(con, "month/months"),
                }
            )
    for name in found[0]:
        raw, pooled = (json.loads(json.dumps(part[name])) for part in found)
        if name == "trends":
            for measure in (*raw, *pooled):
                # the share by chance needs the labours, and what is out of date the readings
                measure["says"] = measure["says"].split(" All months:")[0]
                measure["points"] = [
                    {key: value for key, value in point.items() if "chance" not in key and key != "stale"}
                    for point in measure["points"]
                ]
        assert same(raw, pooled), name
    assert sum(found[0]["counts"].values()) > 30


def test_small_counts_are_hidden_with_all_that_would_give_them_away(region):
    """Every count that is told, and every difference of two that are told of one share, is 0 or at least five."""
    full, few = told(region, "U6"), told(region, "U6", least=5)
    assert few["hidden"]
    assert len(few["months"]) + len(few["waits"]) < len(full["months"]) + len(full["waits"]) or any(
        row["with_concern"] is None for row in few["months"]
    )
    for row in few["months"]:
        for part, whole in (("with_concern", "seen"), ("cord_gases", "newborns"), ("complete", "complete_of")):
            assert (row[part] is None) == (row[whole] is None)
            if row[part] is not None:
                assert all(count == 0 or count >= 5 for count in (row[part], row[whole], row[whole] - row[part]))
        assert row["births"] >= 5


def test_a_summary_names_no_case(region):
    text = json.dumps(told(region, "U3"))
    assert '"case' not in text
    with database.open_for_reading(region) as con:
        ids = [case_id for (case_id,) in con.execute("select case_id from cases").fetchall()]
    assert not any(f'"{case_id}"' in text for case_id in ids)


def test_what_does_not_fit_is_refused_and_nothing_is_merged(region, db, tmp_path):
    first = written(tmp_path, told(region, "U1", last="2031-04"))
    with pytest.raises(AuditError, match="made under other settings"):
        merged(db, [first], settings_sha256="0" * 64)
    done = merged(db, [first], settings_sha256="0" * 64, other_settings=True, expected=("U1", "U2"))
    assert done.missing == {"2031-03": ["U2"], "2031-04": ["U2"]}
    assert merged(db, [first], other_settings=True).known == 1
    overlap = written(tmp_path, told(region, "U1", first="2031-04"))
    with pytest.raises(AuditError, match="told of 2031-03 to 2031-04 already"):
        merged(db, [overlap])
    held = json.loads(first.read_text())
    held["summary"]["months"][0]["births"] += 1
    spoilt = tmp_path / "spoilt.json"
    spoilt.write_text(json.dumps(held))
    with pytest.raises(AuditError, match="not what its hash says"):
        merged(db, [spoilt])
    named = written(tmp_path, told(region, "U2") | {"unit": "Invented Hospital"})
    with pytest.raises(AuditError, match="no code"):
        merged(db, [named])
    for text in ("", "[]", '{"summary": 1}'):
        spoilt.write_text(text)
        with pytest.raises(AuditError, match="found no summary"):
            merged(db, [spoilt])
    bad = written(tmp_path, told(region, "U4") | {"waits": [{"period": "2031-03"}]})
    with pytest.raises(AuditError, match="cannot be stored"):
        merged(db, [bad])
    with database.open_for_reading(db) as con:
        assert con.execute("select count(*) from summaries").fetchone() == (1,)


def test_a_signature_is_checked_with_the_key(region, tmp_path):
    key, other = b"k" * 32, b"o" * 32
    signed = written(tmp_path, told(region, "U5"), key)
    pattern = SETTINGS.import_.reader_pattern
    assert summaries.read(signed, key, pattern).signed
    assert not summaries.read(signed, None, pattern).signed
    with pytest.raises(AuditError, match="another signature"):
        summaries.read(signed, other, pattern)
    plain = written(tmp_path, told(region, "U6"))
    with pytest.raises(AuditError, match="no signature"):
        summaries.read(plain, key, pattern)


def test_the_commands_make_and_merge(region, tmp_path):
    out, target = tmp_path / "u2.json", tmp_path / "region.duckdb"
    asked = ["summary", "--db", str(region), "--period", "2031-03/2031-05", "--least", "1", "--out", str(out)]
    assert "expected one of U1, U2" in str(CliRunner().invoke(cli, asked).exception)
    assert CliRunner().invoke(cli, [*asked, "--unit", "U2"]).exit_code == 0
    done = CliRunner().invoke(cli, ["merge", "--db", str(target), str(out), "--expect", "U9"])
    assert "1 summaries merged" in done.output
    assert "Missing in 2031-04: U9" in done.output
    shown = CliRunner().invoke(cli, ["delays", "--db", str(target), "--json"])
    assert json.loads(shown.stdout)["merged"] > 0
    assert "nothing is ever written over" in str(CliRunner().invoke(cli, [*asked, "--unit", "U2"]).exception)

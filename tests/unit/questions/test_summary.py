"""Six units' summaries merged give what their labours together give. Two ways to one figure; small counts by hand."""

import json
import shutil
from collections import Counter

import numpy as np
import pytest
from click.testing import CliRunner
from msgspec.structs import replace

from audit.cli import cli
from audit.errors import AuditError
from audit.questions import agreement, delays, oxytocin, pooled_agreement, summary, trends, units, waits
from audit.questions.agreement import Question
from audit.questions.birth_times import births_decided, shares_within
from audit.questions.trends import FEWEST_DRAWS
from audit.settings import load_settings
from audit.store import database, one_unit, summaries
from audit.store.connection import records
from tests.asking import ask
from tests.unit.conftest import RUN, SmallUnit

pytestmark = pytest.mark.slow  # six units are made, summed up and merged

SETTINGS = load_settings()
MONTHS = ("2031-03", "2031-04", "2031-05")
# single births in the order of their case ids are in no summary, nor what a meeting agreed
NOT_POOLED = ("decision_to_birth_over_interval", "newborns_between_acidosis")
ENDS = ({"status": "in_time"}, {"status": "late"}, {"status": "born_first"}, {"status": "resolved"},
        {"status": "none_recorded"}, {"status": "not_assessable"}, {"status": "under_way"})  # fmt: skip


def labour(unit, rng, case_id, code):
    """One invented labour with something of everything that a summary tells."""
    chosen = rng.random(12)
    mode = "caesarean" if chosen[0] < 0.4 else "spontaneous_vaginal"
    unit.case(
        case_id, period=MONTHS[int(rng.integers(3))], unit=code, mode_of_birth=mode, parity=int(rng.integers(2)),
        gestation_weeks=float(rng.integers(36, 42)), risk_factors="diabetes" if chosen[1] < 0.3 else "",
    )  # fmt: skip
    unit.tracing(case_id, seen_fraction=float(rng.uniform(0.3, 0.95)))
    unit.burden(case_id, area_per_seen_hour_bpm_s=float(rng.uniform(0, 4000)), seen_minutes=float(rng.uniform(20, 60)))
    unit.event(case_id)
    if chosen[2] < 0.8:
        unit.outcome(
            case_id, cord_artery_ph=float(rng.uniform(6.95, 7.35)), neonatal_unit_admission=bool(chosen[3] < 0.3)
        )
    if chosen[4] < 0.5:
        decided_s = 20000.0 - 60 * float(rng.uniform(10, 90))
        unit.event(case_id, decided_s, "decision_for_birth", urgency=int(rng.integers(1, 4)))
    if chosen[5] < 0.5:
        unit.event(case_id, 3000.0, "oxytocin_started")
        if chosen[6] < 0.6:
            unit.event(case_id, 6000.0 + 60 * float(rng.uniform(1, 40)), "oxytocin_reduced")
        for at_s in range(3000, 7200, 600):
            unit.insert("epochs", case_id=case_id, fetus="A", start_s=float(at_s), end_s=at_s + 600.0, run_id=RUN,
                        sinusoidal=False, contractions_per_10_min=float(rng.integers(2, 9)))  # fmt: skip
    if chosen[7] < 0.7:
        for at_s in sorted(rng.uniform(0, 18000, 4).tolist()):
            role = ("midwife", "second_person")[int(rng.integers(2))]
            unit.insert("assessments", case_id=case_id, fetus="A", at_s=at_s, standard="figo-2015", category="normal",
                        assessor=role)  # fmt: skip
    for standard, trigger in (("figo-2015", "pathological"), ("nice-ng229", "urgent_review")):
        if rng.random() < 0.6:
            end = ENDS[int(rng.integers(len(ENDS)))]
            wait = float(np.round(rng.uniform(1, 40), 3)) if end["status"] in ("in_time", "late") else None
            lasted, to_birth = float(rng.uniform(10, 50)), float(rng.uniform(5, 90))
            about = {"standard": standard, "trigger": trigger, "lasted_minutes": lasted}
            shifts = "".join(rng.choice(list("ilnurb-"), 20))
            about |= {"chance_statuses": shifts, "at_start": bool(rng.random() < 0.1)}
            unit.episode(case_id, end["status"], wait, to_birth=to_birth, **about)
    for reader in ("R1", "R2", "R3")[: int(rng.integers(0, 4))]:
        words = ("normal", "suspicious", "pathological", "not assessable")
        unit.read(case_id, reader, str(rng.choice(words, p=(0.35, 0.35, 0.2, 0.1))))
    unit.insert("window_categories", case_id=case_id, fetus="A", start_s=0.0, end_s=1800.0, standard="figo-2015",
                category=str(rng.choice(["normal", "suspicious", "pathological"])), reasons=[], run_id=RUN)  # fmt: skip


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
            for k in range(16 + u):
                labour(unit, rng, f"{chr(64 + u)}{k}", f"U{u}")
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


def answered(con):
    """Everything that pages and commands pool, of a database."""
    times = records(con, "response/times", {"period": None, "standard": "figo-2015"})
    groups = waits.wait_groups(times, "unit") + waits.wait_groups(times, "period") + waits.wait_groups(times, None)
    used = oxytocin.labours(con, SETTINGS, period=None, standard="figo-2015")
    told_of = oxytocin.told(con, period=None, standard="figo-2015")
    return {
        "trends": [m for m in trends.document(con, SETTINGS)["measures"] if m["name"] not in NOT_POOLED],
        "counts": delays.document(con, SETTINGS)["counts"],
        "chance": delays.document(con, SETTINGS)["chance"],
        "month": delays.document(con, SETTINGS, period="2031-04", standard="nice-ng229")["counts"],
        "chance of a month": delays.document(con, SETTINGS, period="2031-04", standard="nice-ng229")["chance"],
        "groups": [
            [g.name, g.episodes, g.within, g.late, g.assessed, g.share, g.share_low, g.half_answered_min]
            for g in groups
        ],
        "curves": waits.curve_rows(groups, longest_min=60.0),
        "units": units.document(con, SETTINGS, standard="figo-2015"),
        "months": records(con, "month/months"),
        "births": [shares_within(births_decided(con, period)) for period in (None, "2031-04")],
        "oxytocin": [
            {name: value for name, value in row.items() if name not in ("low_tachysystole", "high_tachysystole")}
            for row in oxytocin.by_month(used, told_of)
        ],
    }


def test_merged_figures_are_those_of_the_labours(region, db, tmp_path):
    files = [written(tmp_path, told(region, f"U{u}")) for u in range(1, 7)]
    done = merged(db, files)
    assert (done.added, done.units, done.missing) == (6, ("U1", "U2", "U3", "U4", "U5", "U6"), {})
    found = []
    for file in (region, db):
        with database.open_for_reading(file) as con:
            found.append(answered(con))
    for name in found[0]:
        raw, pooled = (json.loads(json.dumps(part[name])) for part in found)
        if name == "trends":
            for measure in (*raw, *pooled):
                # what is out of date hangs on the readings
                measure["points"] = [{k: v for k, v in point.items() if k != "stale"} for point in measure["points"]]
        assert same(raw, pooled), name
    assert sum(found[0]["counts"].values()) > 60
    assert {"oxytocin_reduced_in_concern", "hours_assessed", "reader_agreement", "area_last_hour_bpm_s_per_h",
            "decision_to_birth_within_30_min"} <= {m["name"] for m in found[1]["trends"]}  # fmt: skip
    adjusted = {m["name"]: m["adjusted"] for m in found[1]["units"]["measures"]}["caesarean"]
    assert adjusted["case_mix"]
    assert len(adjusted["points"]) == 6


def test_pooled_agreement_is_that_of_the_reads(region, db, tmp_path):
    """Two ways to one figure: counts of pairs added up, and every read of all units in one table."""
    assert merged(db, [written(tmp_path, told(region, f"U{u}")) for u in range(1, 7)]).notes == ()
    options = replace(SETTINGS.agreement, draws=FEWEST_DRAWS)  # intervals are not asked about
    for period in (None, "2031-04"):
        asked = Question("figo-2015", period=period)
        with database.open_for_reading(region) as con:
            reads = agreement.document(con, asked, options)
            assert pooled_agreement.document(con, asked, SETTINGS.agreement) is None
        with database.open_for_reading(db) as con:
            assert agreement.standards_read(con) == ["figo-2015"]
            pooled = pooled_agreement.document(con, asked, SETTINGS.agreement)
            assert pooled_agreement.document(con, Question("nice-ng229"), SETTINGS.agreement) is None
            assert pooled_agreement.document(con, Question("figo-2015", "variability"), SETTINGS.agreement) is None
        every = {(row["name"], row["category"]): row for row in reads["measures"]}
        # all that the reads give of a category
        of_categories = {key for key in every if key[0] != "intraclass_correlation"}
        assert {(row["name"], row["category"]) for row in pooled["measures"]} == of_categories
        for row in pooled["measures"]:
            beside = every[row["name"], row["category"]]
            assert row["estimate"] == pytest.approx(beside["estimate"], abs=1e-9), row["name"]
            assert row["category"] or row["n"] == beside["n"]
        for name in ("windows", "agreement", "kappa", "weighted_kappa_linear", "weighted_kappa_quadratic"):
            assert pooled["computed"][name] == pytest.approx(reads["computed"][name], abs=1e-9), name
        assert pooled["windows"] == reads["windows"]


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


def test_no_small_count_of_the_other_parts_is_told(region):
    """Decisions, oxytocin, areas and case mix: every count that is told, and every rest, is 0 or at least five; of
    agreement see below."""

    def fine(*counts):
        return all(count == 0 or count >= 5 for count in counts)

    few = told(region, "U6", least=5)
    hidden = [row["what"] for row in few["hidden"]]
    assert all(any(word in what for what in hidden) for word in ("decision", "case mix"))
    for row in few["case_mix"]:
        assert fine(row["events"], row["labours"] - row["events"])
    areas = {row["period"]: 0 for row in few["areas"]}
    for row in few["areas"]:
        areas[row["period"]] += row["tracings"]
    assert fine(*areas.values())
    for row in few["oxytocin"]:
        assert fine(row["labours"], row["increased_in"], row["labours"] - row["increased_in"])
    waited = {(row["period"], row["standard"]) for row in few["waits"]}
    assert {(row["period"], row["standard"]) for row in few["chance"]} <= waited
    cells = {(row["period"], row["kind_of_birth"], row["urgency"]) for row in few["births_decided"]}
    for cell in cells:
        own = [row for row in few["births_decided"] if (row["period"], row["kind_of_birth"], row["urgency"]) == cell]
        known = [row for row in own if row["minutes"] is not None]
        within = [sum(row["labours"] for row in known if row["minutes"] <= limit) for limit in (30, 75)]
        every, labours = sum(row["labours"] for row in known), sum(row["labours"] for row in own)
        assert fine(within[0], within[1] - within[0], every - within[1], labours - every, labours)


def test_no_time_is_a_single_labours_and_shares_stay_exact(region, db, tmp_path):
    """Micro-aggregation (Glossary of Statistical Disclosure Control, UNECE/Eurostat, 2005): groups of at least so many.
    What lies on one side of a target or limit stays there, so counts of sides are those of the labours told of."""
    with database.open_for_reading(region) as con:  # as one unit, large enough to be told of
        asked = {"unit": "U9", "first": MONTHS[0], "last": MONTHS[-1]}
        full, few = (summary.document(con, SETTINGS, **asked, least=least) for least in (1, 2))
    assert min(row["episodes"] for row in full["waits"]) == min(row["tracings"] for row in full["areas"]) == 1
    alike = {
        "waits": [(w["period"], w["standard"], round(w["wait_minutes"] / w["target_minutes"], 9), w["episodes"])
                  for w in few["waits"] if w["wait_minutes"] is not None],
        "areas": [(a["period"], a["area_per_seen_hour_bpm_s"], a["tracings"]) for a in few["areas"]],
        "births": [(b["period"], b["kind_of_birth"], b["urgency"], b["minutes"], b["labours"])
                   for b in few["births_decided"]],
        "oxytocin": [(o["period"], o["standard"], o["reason"], o["reduced"], o["minutes"], o["waits"])
                     for o in few["oxytocin_waits"]],
    }  # fmt: skip
    for name, rows in alike.items():
        counted = Counter()
        for *key, n in rows:
            counted[tuple(key)] += n
        assert counted, name
        assert min(counted.values()) >= 2, name
    spans = {(w["period"], w["standard"]) for w in few["waits"]}
    with database.open_for_reading(region) as con:
        raw = [row for row in records(con, "response/times", {"period": None, "standard": None})
               if (row["period"], row["standard"]) in spans]  # fmt: skip
    (note,) = merged(db, [written(tmp_path, few)]).notes
    assert "means of groups of several labours" in note  # months told under a limit above 1
    with database.open_for_reading(db) as con:
        pooled = records(con, "response/times", {"period": None, "standard": None})
    sides = [
        [(g.name, g.episodes, g.within, g.late, g.other_end, g.assessed) for g in waits.wait_groups(rows, "standard")]
        for rows in (raw, pooled)
    ]
    assert sides[0] == sides[1]
    for period in {row["period"] for row in few["areas"]}:
        both = [
            sum(
                row["area_per_seen_hour_bpm_s"] * row["tracings"] for row in told_of["areas"] if row["period"] == period
            )
            for told_of in (full, few)
        ]
        assert both[0] == pytest.approx(both[1], abs=1e-6)


def test_no_cell_of_agreement_rests_on_few_labours(region):
    """The threshold rule (Glossary of Statistical Disclosure Control, UNECE/Eurostat, 2005): a cell of fewer than so
    many is sensitive. A labour has one window here; what is one labour's and three pairs is counted in `test_pooled`.
    """
    assert min(row["pairs"] for row in told(region, "U6")["agreement"]) == 1
    for least in (2, 5):
        few = told(region, "U6", least=least)
        assert all(row["pairs"] >= least for row in few["agreement"])
    assert not few["agreement"]  # 22 labours are too few for cells of five each: said below
    assert any("agreement" in row["what"] for row in few["hidden"])


def test_what_case_mix_hides_is_in_the_sum(region):
    """The funnel stays that of all labours: what is hidden by case mix is told in one row, of the months told."""
    full, few = told(region, "U6"), told(region, "U6", least=3)

    def sums(found, measure):
        rows = [row for row in found["case_mix"] if row["measure"] == measure and row["standard"] is None]
        return sum(row["labours"] for row in rows), sum(row["events"] for row in rows)

    assert sums(few, "caesarean") == sums(full, "caesarean")
    assert any(row["case_mix"] is None for row in few["case_mix"])


def test_a_summary_names_no_case(region):
    text = json.dumps(told(region, "U3"))
    assert '"case_id' not in text
    ids = [case_id for (case_id,) in ask(region, "select case_id from cases")]
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
    few = ["summary", "--db", str(region), "--unit", "U2", "--least", "5", "--out", str(tmp_path / "few.json")]
    assert "Hidden is what 1 to 4 labours stood behind" in CliRunner().invoke(cli, [*few, "--period", MONTHS[0]]).output
    empty = tmp_path / "empty.json"
    few = [*few[:-1], str(empty), "--period", "2030-01"]
    assert "tells nothing of unit U2 from 2030-01 to 2030-01: it has no labour" in CliRunner().invoke(cli, few).output
    assert "tells of no labour" in CliRunner().invoke(cli, ["merge", "--db", str(target), str(empty)]).output
    done = CliRunner().invoke(cli, ["merge", "--db", str(target), str(out), "--expect", "U9"])
    assert "1 summaries merged" in done.output
    assert "Missing in 2031-04: U9" in done.output
    shown = CliRunner().invoke(cli, ["delays", "--db", str(target), "--json"])
    assert json.loads(shown.stdout)["merged"] > 0
    assert "nothing is ever written over" in str(CliRunner().invoke(cli, [*asked, "--unit", "U2"]).exception)

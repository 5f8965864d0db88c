"""Prepared files and rows on which a changed setting of the review must show, and what each table shows of them.

They are made with values on both sides of every limit. No figure is expected of them: a probe only says whether two
settings give the same answer.
"""

import gzip
import random
import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np

from audit.agreement.document import agreement_document
from audit.agreement.reads import ReadsTable
from audit.control_charts.measure import trend_measure
from audit.intake import folders
from audit.intake.contents import Content, read_content
from audit.intake.door.names import UnitNames
from audit.intake.door.remarks import Remarks
from audit.intake.formats import streamed
from audit.intake.importer import import_paths
from audit.intake.read_ahead import reading_ahead
from audit.intake.writing.ledger import Ledger
from audit.measures.cord_gas import pair_flags
from audit.questions import trends
from audit.questions.cases_to_discuss import fetuses_of, judge
from audit.questions.learning import good_care, near_misses
from audit.questions.presets import side_by_side
from audit.questions.reason_types import Rules
from audit.settings import Settings
from audit.store import database
from audit.store.pseudonyms import Pseudonyms
from tests.page_databases import small_database

# Large amounts that no prepared file reaches, with a value that one does.
SMALLER: dict[str, Any] = {
    "import.max_file_mib": 1,
    "import.max_tracing_file_mib": 1,
    "import.max_gzip_ratio": 2.0,
    "import.max_table_rows": 5,
    "import.max_field_characters": 16,
    "import.max_listed": 3,
}


def of_cord_gas(settings: Settings) -> Iterator[Any]:
    """Remarks on pairs and values of cord gases, and what the import makes of them."""
    rng = np.random.default_rng(3)
    for _ in range(200):
        ph, pco2 = float(rng.uniform(6.1, 7.9)), float(rng.uniform(0.5, 30))
        vein = ph + float(rng.uniform(-0.02, 0.06)), pco2 - float(rng.uniform(-0.5, 1.5))
        yield pair_flags(ph, pco2, *vein, settings.cord_gas)
    yield from of_import(settings)


@cache
def files() -> Path:
    """One folder of files for the import."""
    folder = Path(tempfile.mkdtemp(prefix="settings-"))
    (folder / "cases.csv").write_text(_cases(), encoding="utf-8")
    (folder / "events.csv").write_text(_events(), encoding="utf-8")
    (folder / "reads.csv").write_text(_reads(), encoding="utf-8")
    (folder / "packed.csv.gz").write_bytes(
        gzip.compress(("case_id,at_s,event\n" + "G-1,60,epidural\n" * 12_000).encode())
    )
    (folder / "late.csv").write_text("case_id,at_s,event\nL-1,7e7,epidural\n", encoding="utf-8")
    for name, rate_hz, fhr in (
        ("T", 4.0, 140),
        ("slow", 0.45, 140),
        ("fast", 11.0, 140),
        ("low", 4.0, 70),
        ("high", 4.0, 210),
    ):
        (folder / f"{name}.csv").write_text(_tracing(name, rate_hz, fhr), encoding="utf-8")
    (folder / "many.csv").write_text(
        "case_id,t_s,fhr_bpm,toco\n" + "".join(f"M,{k / 4},140,10\n" for k in range(90_000))
    )
    return folder


def of_import(settings: Settings) -> Iterator[Any]:
    """What is read of each file and what is said of it; then what an import of all of them stores."""
    folder = files()
    names = UnitNames(settings.import_.case_id_pattern, settings.import_.reader_pattern, lambda: Pseudonyms(bytes(32)))
    found = folders.in_order(list(folders.candidates([folder])), folder / "unit.duckdb")
    for sighted, read in reading_ahead(found, Ledger(), settings, names):
        content = read.found
        if getattr(content, "tracings", None) is not None:
            content = [(each.case_id, each.rows, len(each.stretches)) for each in content.tracings]  # type: ignore[union-attr]
        yield sighted.candidate.number, repr(content), list(read.remarks.all()), list(read.remarks.messages)
    with mock.patch.object(streamed, "LARGE_BYTES", 1_000_000):  # what is read in blocks, and up to which size
        large = read_content(folder / "many.csv", Ledger(), Remarks(100), settings)
        yield isinstance(large, Content) and large.streamed
    with tempfile.TemporaryDirectory() as place:
        (Path(place) / "unit.key").write_text(bytes(32).hex(), encoding="ascii")
        report = import_paths(Path(place) / "unit.duckdb", [folder], settings=settings)
        yield report.files


def of_find(settings: Settings) -> Iterator[Any]:
    """Cases, controls and what is left out, of drawn labours."""
    rng = random.Random(5)
    fetuses = [_fetus(k, rng) for k in range(600)]
    fetuses += [{**_fetus(k, rng), **_PLAIN, "case_id": f"p{k}"} for k in range(40)]
    episodes = [_wait(f"c{k}", rng) for k in range(0, 600, 3)]
    with database.open_for_reading(_hardly_seen()) as con:
        yield [(row["case_id"], row["bradycardia_minutes"]) for row in fetuses_of(con, settings.find, None)]
    found = judge(fetuses, episodes, Rules(settings.find, settings.cord_gas))
    yield {case["case_id"]: case for case in found["cases"]}
    yield found
    yield side_by_side(fetuses, episodes, Rules(settings.find, settings.cord_gas), with_outcome=True)
    yield good_care([_recorded_and_called(k) for k in range(12)], [], settings.find)
    well = [{**_fetus(0, rng), **_PLAIN, "case_id": f"w{k}", "fetus": "A", "cord_artery_ph": 7.09} for k in range(24)]
    lasting = [{"case_id": f"w{k}", "fetus": "A", "recognisable_s": 0.0, "end_s": 600.0 * k, "status": "in_time"}
               for k in range(24)]  # fmt: skip
    yield near_misses(well, lasting, settings.find)


def of_agreement(settings: Settings) -> Iterator[Any]:
    """The documents of drawn reads of categories and baselines, of few and of many cases."""
    for item in ("category", "baseline_bpm"):
        for cases in (4, 5, 7, 9, 12, 18):
            rng = np.random.default_rng(cases)
            keys = [(f"c{k}", reader, occasion) for k in range(cases) for reader in ("R1", "R2", "R3")[: 2 + k % 2]
                    for occasion in (1, 2)]  # fmt: skip
            level = {f"c{k}": int(rng.integers(0, 3)) for k in range(cases)}
            value = [
                ("normal", "suspicious", "pathological")[min(2, max(0, level[case] + int(rng.integers(-1, 2))))]
                if item == "category" else 130.0 + 5 * level[case] + float(rng.normal(0, 4))
                for case, _, _ in keys
            ]  # fmt: skip
            reads = ReadsTable(
                [key[0] for key in keys], ["A"] * len(keys), [0.0] * len(keys), [1800.0] * len(keys),
                [key[1] for key in keys], [key[2] for key in keys], value,
            )  # fmt: skip
            yield agreement_document(reads, item=item, standard="figo-2015", period=None, options=settings.agreement)


@cache
def _hardly_seen() -> Path:
    """A small unit with one labour seen less than usual, one that was short, and low levels of each length."""
    db = small_database(Path(tempfile.mkdtemp(prefix="settings-")))
    with database.open_for_writing(db) as con:
        con.execute("update tracing_states set seen_fraction = 0.45 where case_id = 'C-002'")
        con.execute("update tracing_states set duration_s = 3000 where case_id = 'C-003'")
        for case_id, minutes, bpm in (("C-002", 6, 90), ("C-003", 14, 97), ("C-004", 11, 105)):
            con.execute("delete from epochs where case_id = ?", [case_id])
            con.execute("insert into level_changes by name select case_id, fetus, run_id, 60.0 as onset_s,"
                        " 60.0 + 60 * ? as end_s, 140.0 as from_bpm, ? as to_bpm from tracing_states where case_id = ?",
                        [minutes, bpm, case_id])  # fmt: skip
    return db


def of_trends(settings: Settings) -> Iterator[Any]:
    """Measures of drawn months under every chart that the trends use, and the document of a small unit."""
    rng = np.random.default_rng(2)
    for count in (7, 9, 19, 22, 36, 60):
        months = [f"{2020 + k // 12}-{k % 12 + 1:02d}" for k in range(count)]
        totals = rng.choice([3, 4, 6, 30, 60], count)
        events = np.minimum(rng.poisson(5, count) + (np.arange(count) > 30) * 9, totals)
        waits = [float(each) for each in rng.geometric(0.05, count)]
        yield trend_measure("x", "p", "share", months, options=settings.trends, numerators=events.tolist(),
                            denominators=totals.tolist())  # fmt: skip
        for chart in ("xmr", "g", "run"):
            yield trend_measure("x", chart, "n", months, options=settings.trends, values=waits)
    with database.open_for_reading(_hardly_seen()) as con:
        yield trends.document(con, settings)
    rows = [{"wait_minutes": 5.0 * k, "ended_by": "response", "target_minutes": 15.0, "shift": f"s{k % 5}"}
            for k in range(20)]  # fmt: skip
    yield trends.funnel(rows, "shift", groups_min=settings.trends.funnel_groups_min)


def _cases() -> str:
    names = ("gestation_weeks", "parity", "plurality", "second_stage_s", "birth_s", "cord_artery_ph",
             "cord_artery_base_deficit_mmol_l", "cord_artery_pco2_kpa", "cord_vein_ph", "cord_vein_pco2_kpa",
             "cord_lactate_mmol_l", "apgar_1", "apgar_5", "apgar_10", "birth_weight_g",
             "encephalopathy_grade")  # fmt: skip
    values: dict[str, tuple[Any, ...]] = {
        "gestation_weeks": (18, 20, 21, 22.5, 23, 25, 36, 42, 43, 44, 45, 50),
        "parity": (0, 1, 6, 9, 11, 12, 14, 18, 20, 24, 38),
        "plurality": (0, 1, 2, 3, 5, 6, 7, 11),
        "second_stage_s": (-200_000, -150_000, -90_000, -40_000, 500, 590_000),
        "birth_s": (290_000, 400_000, 500_000, 550_000, 600_000, 650_000, 1_000_000),
        "cord_artery_ph": (6.2, 6.32, 6.5, 6.65, 6.72, 6.9, 7.0, 7.2, 7.4, 7.48, 7.55, 7.65, 7.72),
        "cord_artery_base_deficit_mmol_l": (-14, -13, -9, -7, -5.5, -4, -2, 3, 15, 30, 38, 39.5, 45, 60),
        "cord_artery_pco2_kpa": (1.2, 1.6, 2.0, 2.8, 3.3, 8, 14, 17, 19, 22, 24, 26, 40),
        "cord_vein_ph": (6.35, 6.75, 6.85, 7.1, 7.3, 7.5, 7.58, 7.65),
        "cord_vein_pco2_kpa": (1.2, 1.6, 5, 10, 23, 26, 40),
        "cord_lactate_mmol_l": (0.1, 0.2, 0.4, 1, 20, 24, 26, 33, 36, 60),
        "apgar_1": range(14),
        "apgar_5": range(14),
        "apgar_10": range(14),
        "birth_weight_g": (200, 260, 350, 390, 410, 500, 3500, 5000, 5600, 5900, 6800, 7200, 9000),
        "encephalopathy_grade": (0, 1, 2, 3, 4, 5),
    }
    lines = [f"case_id,period,{','.join(names)}"]
    for column, name in enumerate(names):
        for k, value in enumerate(values[name]):
            cells = [str(value) if other == column else "" for other in range(len(names))]
            lines.append(f"C-{column}-{k},2031-03,{','.join(cells)}")
    for name, birth_s in (("T", 300), ("M", 19_500), ("T2", 1000), ("slow", 90_000), ("low", 30_000), ("high", 15_000)):
        lines.append(f"{name},2031-03," + ",".join(str(birth_s) if column == "birth_s" else "" for column in names))
    for k in range(9):
        lines.append(f"N-{k},2031-03,,,,,,{7.1 + k / 50},{-1 - k},,,,,,,,,")
        lines.append(f"D-{k},2031-03,,,,,,7.1,{9.6 + k},8,,,,,,,,")
    return "\n".join(lines) + "\n"


def _events() -> str:
    lines = ["case_id,at_s,event,detail"]
    for at_s in (-300_000, -200_000, -160_000, -100_000, -50_000, 60, 290_000, 500_000, 580_000, 650_000):
        lines.append(f"E-1,{at_s},epidural,category1")
    for hours in (0.4, 0.6, 0.9, 1.1, 1.9, 2.5, 4, 5, 5.5, 7, 10, 13):
        lines.append(f"T,{300 + 3600 * hours},senior_called,")
    return "\n".join([*lines, "E-1,70,another word,"]) + "\n"


def _reads() -> str:
    lines = ["case_id,reader,start_s,end_s,standard,category,baseline_bpm,contractions_per_10_min"]
    for k, baseline in enumerate((20, 33, 40, 58, 140, 190, 240, 255, 400)):
        lines.append(f"T,R{k},0,1800,figo-2015,normal,{baseline},{(0, 3, 8, 11, 14, 17, 19, 22, 30)[k]}")
    for k, past_s in enumerate((20, 40, 55, 58, 61, 65, 80, 110, 200)):
        lines.append(f"T,S{k},0,{1_800 + past_s},figo-2015,normal,,")
    return "\n".join([*lines, "R-1,R1,290000,620000,figo-2015,normal,,"]) + "\n"


def _tracing(name: str, rate_hz: float, fhr_bpm: int) -> str:
    lines = ["case_id,t_s,fhr_bpm,toco,mhr_bpm"]
    odd = {40: (350, -60, 350), 41: (290, -45, 290), 42: (230, -30, 230), 43: (fhr_bpm, -15, 80), 44: (fhr_bpm, -8, 80),
           45: (fhr_bpm, 100, 80), 46: (fhr_bpm, 148, 80), 47: (fhr_bpm, 160, 80), 48: (250, 260, 250),
           49: (310, 310, 310), 50: (1, 280, 1)}  # fmt: skip
    for k in range(int(1800 * rate_hz)):
        at_s = k / rate_hz + (0 if k < 600 else 20 if k < 700 else 70 if k < 800 else 150)
        fhr, toco, mhr = odd.get(k, (fhr_bpm + k % 3, 10, 80))
        lines.append(f"{name},{at_s:.3f},{fhr},{toco},{mhr}")
    return "\n".join(lines) + "\n"


def _fetus(k: int, rng: random.Random) -> dict[str, Any]:
    ph = rng.choice([None, 6.95, 7.02, 7.04, 7.06, 7.09, 7.15, 7.19, 7.22, 7.3])
    calm = rng.random() < 0.5
    minutes = [float(rng.choice([20, 26, 29, 31, 35, 50])) for _ in range(rng.randint(0, 3))]
    return {
        "case_id": f"c{k}", "fetus": "A", "period": rng.choice(["2031-03", "2031-04"]) if k < 500 else "2031-05",
        "tracing": rng.choice(["read"] * 8 + ["failed", "none"]), "failure": None,
        "area_rank": rng.choice([None, 1, 2, 3, 8]), "area_rank_of": rng.choice([6, 9, 11, 25, 40]),
        "area_per_seen_hour_bpm_s": 3000.0, "last_hour_seen_fraction": 0.9, "last_hour_minutes": 60.0,
        "cord_artery_ph": ph, "cord_artery_base_deficit_mmol_l": rng.choice([None, 6.0, 11.0, 13.0]),
        "cord_artery_pco2_kpa": None, "cord_vein_pco2_kpa": None,
        "cord_vein_ph": None if ph is None or rng.random() < 0.8 else ph + 0.01,
        "apgar_5": rng.choice([None, 9, 9, 9, 2, 3, 5, 6, 8]), "encephalopathy_grade": rng.choice([None] * 8 + [0, 1]),
        "cord_lactate_mmol_l": rng.choice([None] * 6 + [5.0, 8.1, 9.5, 10.2, 10.8]),
        "died": "intrapartum" if rng.random() < 0.02 else None, "cooled": rng.random() < 0.03,
        "seizures": rng.random() < 0.03, "transferred": rng.random() < 0.05,
        "last_30_min_seen_fraction": rng.choice([0.5, 0.7, 0.79, 0.85, 0.9, 0.97]), "open_fall_at_end": False,
        "neonatal_unit_admission": rng.random() < 0.1, "has_outcome": rng.random() < (0.55 if k < 500 else 0.9),
        "pathological_minutes": [] if calm else minutes,
        "bradycardia_minutes": rng.choice([None] * 9 + [14.0]), "bradycardia_bpm": 72.0, "bradycardia_at_end": True,
        "maternal_rate": rng.choice([None] * 9 + ["01:00 to 02:00: The rate could be the mother's."]),
        "seen_fraction": rng.choice([None, 0.3, 0.42, 0.48, 0.55, 0.7, 0.9]), "concern_episodes": 0 if calm else 1,
        "pairs_apart_fraction": None if calm else rng.choice([None, 0.1, 0.18, 0.22, 0.27, 0.4, 0.6]),
        "readers_apart_text": "R1 normal, R2 pathological",
        "signal_loss_last_30_min_fraction": None if calm else rng.choice([None, 0.2, 0.38, 0.45, 0.55, 0.7]),
        "minutes_before_birth": None if calm else rng.choice([None, 20.0, 40.0, 52.0, 70.0, 100.0]),
        "has_care_record": rng.random() < (0.45 if k < 300 else 0.8),
        "birth_s": None if rng.random() < 0.3 else 20_000.0,
    }  # fmt: skip


_PLAIN = {
    "tracing": "read", "seen_fraction": 0.9, "concern_episodes": 0, "cord_artery_ph": 7.3, "cord_vein_ph": None,
    "apgar_5": 9, "encephalopathy_grade": None, "neonatal_unit_admission": False, "has_outcome": True,
    "pathological_minutes": [], "pairs_apart_fraction": None, "signal_loss_last_30_min_fraction": None,
    "last_30_min_seen_fraction": 0.82, "cord_lactate_mmol_l": None, "died": None, "cooled": None, "seizures": None,
    "transferred": None, "minutes_before_birth": None, "has_care_record": True, "birth_s": 20_000.0, "area_rank": None,
    "bradycardia_minutes": None, "maternal_rate": None,
}  # fmt: skip


def _recorded_and_called(k: int) -> dict[str, Any]:
    minutes = {"recorded": 2.0 * k, "escalated": 3.0 * k}
    return {"case_id": f"g{k}", "points": [{"step": step, "minutes": at} for step, at in minutes.items()]}


def _wait(case_id: str, rng: random.Random) -> dict[str, Any]:
    clocks = rng.randint(1, 5)
    late = rng.randint(0, clocks)
    return {
        "case_id": case_id, "fetus": "A", "status": rng.choice(["late", "none_recorded", "in_time"]),
        "clocks": clocks, "late_under": late, "none_recorded_under": rng.randint(0, clocks - late),
        "standard": "figo-2015", "trigger": "pathological", "minutes_to_response": 40.0, "target_minutes": 15.0,
        "clocks_with_response": 2, "minutes_to_response_min": 20.0, "minutes_to_response_max": 40.0, "end_s": 9000.0,
        "recognisable_s": 6000.0, "pattern_start_s": 5400.0, "last_finding_s": 8000.0, "category_until_s": 9000.0,
        "open_end": False, "evidence_minutes": rng.choice([None, 2.0, 20.0, 70.0]),
        "decided_by": rng.choice(["first_act", "escalation"]),
        "first_act_event": rng.choice([None, "position_change"]),
        "oxytocin_event": rng.choice([None, None, "oxytocin_increased"]), "oxytocin_s": 5700.0,
    }  # fmt: skip

"""HL7 FHIR R4 resources: written by hand from the published datatypes (FHIR 4.0.1: Bundle, Observation, SampledData,
Procedure, MedicationAdministration; LOINC and UCUM as in audit/intake/formats/fhir_codes.py)."""

import gzip
import io
import json

import numpy as np
import pyarrow.parquet as pq

from audit.intake.formats.fhir_codes import factor_of
from audit.intake.formats.fhir_file import fhir_parts
from audit.intake.formats.tables import OUTCOME_FIELDS
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database
from audit.store.tracings import load_stretches, to_units
from audit.vocabulary import CODED

SETTINGS = load_settings()
LOINC = "http://loinc.org"


def concept(code, system=LOINC):
    return {"coding": [{"system": system, "code": code, "display": "typed by T. Quill"}], "text": "Quill"}


def samples(data, *, at="2031-03-30T01:30:00+01:00", code="55283-6", system=LOINC, unit="/min", labour="L7", **more):
    value = {"origin": {"value": 0, "code": unit}, "period": 250, "dimensions": 1, "data": data} | more.pop("value", {})
    return {
        "resourceType": "Observation", "status": "final", "code": concept(code, system), "effectiveDateTime": at,
        "subject": {"reference": "Patient/quill-tessa"}, "encounter": {"reference": f"Encounter/{labour}"},
        "valueSampledData": value, **more,
    }  # fmt: skip


def observed(code, value, unit, **more):
    return {
        "resourceType": "Observation", "status": "final", "code": concept(code),
        "effectiveDateTime": "2031-03-30T04:10:00+02:00", "subject": {"reference": "Patient/n1"},
        "encounter": {"reference": "Encounter/L7"}, "valueQuantity": {"value": value, "code": unit}, **more,
    }  # fmt: skip


def done(kind, code, at, **more):
    named = "performedDateTime" if kind == "Procedure" else "effectiveDateTime"
    about = "code" if kind == "Procedure" else "medicationCodeableConcept"
    return {"resourceType": kind, "status": "completed", about: concept(code, "urn:unit"), named: at,
            "encounter": {"reference": "Encounter/L7"}, **more}  # fmt: skip


def bundle(*resources):
    return {"resourceType": "Bundle", "type": "collection",
            "entry": [{"fullUrl": f"urn:uuid:{k}", "resource": each} for k, each in enumerate(resources)]}  # fmt: skip


def with_codes(**codes):
    return replace_codes({f"urn:unit|{code}": name for code, name in codes.items()})


def replace_codes(codes):
    import msgspec

    return msgspec.structs.replace(SETTINGS, import_=msgspec.structs.replace(SETTINGS.import_, fhir_codes=codes))


def take(db, folder, content, settings=SETTINGS, name="bundle.json"):
    file = folder / name
    text = content if isinstance(content, str) else json.dumps(content)
    file.write_bytes(gzip.compress(text.encode()) if file.suffix == ".gz" else text.encode())
    return import_paths(db, [file], settings=settings)


FHR = " ".join(["140"] * 200 + ["E", "L", "U", "0"] + ["150.5"] * 196)


def test_a_labour_with_everything_in_one_bundle(db, tmp_path):
    settings = with_codes(UA="toco", EPI="epidural", STOP="oxytocin_stopped")
    found = bundle(
        {"resourceType": "Patient", "id": "quill-tessa", "name": [{"family": "Quill"}], "birthDate": "2001-02-03"},
        samples(FHR),
        samples("10 20 30 40", code="UA", system="urn:unit", unit="", value={"period": 25000, "factor": 2}),
        observed("28646-8", 7.12, "[pH]"),
        observed("28638-5", -8.5, "mmol/L"),
        observed("9274-2", 9, "{score}"),
        observed("9273-4", 8, "{score}"),
        observed("9272-6", 12, "mm"),
        observed("1-1", 12, "mm"),
        # 40 minutes of labour on the night the clocks go forward: the zone's offset, not the clock's face, counts
        done("Procedure", "EPI", "2031-03-30T03:10:00+02:00"),
        done("MedicationAdministration", "STOP", "2031-03-30T01:31:00+01:00"),
        done("Procedure", "TEA", "2031-03-30T01:31:00+01:00"),
        done("Procedure", "EPI", "2031-03-30T01:32:00+01:00", status="entered-in-error"),
    )
    report = take(db, tmp_path, found, settings)
    assert report.exit_code == 0, report.lines()
    with database.open_for_reading(db) as con:
        assert con.execute("select case_id, period from cases").fetchall() == [("L7", "2031-03")]
        asked = "select cord_artery_ph, cord_artery_base_deficit_mmol_l, apgar_1, apgar_5 from outcomes"
        assert con.execute(asked).fetchall() == [(7.12, 8.5, None, 9)]
        events = con.execute("select at_s, event from care_events order by at_s").fetchall()
        (stretch,) = load_stretches(con, ["L7"])[("L7", "A")]
    assert events == [(60.0, "oxytocin_stopped"), (2400.0, "epidural")]
    expected = np.repeat([140, np.nan, 150.5], [200, 4, 196])
    np.testing.assert_array_equal(to_units(stretch.fhr_cbpm), expected)
    np.testing.assert_array_equal(to_units(stretch.toco_hundredths)[[0, 99, 100, 399]], [20, 20, 40, 80])
    said = "\n".join(report.lines())
    for sentence in (
        "guides do not agree on, and are not stored: 1",
        "observations are in another unit or form than expected and are not stored: 1",
        "observations have no code that is known and are not stored: 1",
        "procedures and medications have no code that is known and are not stored: 1",
        "entered in error and are not stored: 1",
    ):
        assert sentence in said
    for typed in ("Quill", "quill", "2001-02-03"):
        assert typed not in said
        assert typed.encode() not in db.read_bytes()


def test_lines_of_resources_and_twins_in_their_birth_order(db, tmp_path):
    about = {"focus": [{"reference": "Patient/n2"}]}
    lines = [
        {"resourceType": "Patient", "id": "n2", "multipleBirthInteger": 2},
        samples("140 140 140 140"),
        samples("150 150 150 150", **about),
        observed("9274-2", 7, "{score}", **about),
    ]
    report = take(db, tmp_path, "\n".join(map(json.dumps, lines)), name="labours.ndjson.gz")
    assert report.exit_code == 0, report.lines()
    with database.open_for_reading(db) as con:
        held = load_stretches(con, ["L7"])
        assert con.execute("select fetus, apgar_5 from outcomes").fetchall() == [("B", 7)]
    assert {key[1]: to_units(each[0].fhr_cbpm)[0] for key, each in held.items()} == {"A": 140.0, "B": 150.0}


def test_origin_factor_and_dimensions_are_those_of_the_published_datatype(db, tmp_path):
    # FHIR R4 SampledData: value = origin + factor × number, the dimensions interlaced
    settings = replace_codes({"both": "fhr_bpm toco"})
    value = {"origin": {"value": 100}, "factor": 0.5, "dimensions": 2, "data": "80 -160 82 -158", "period": 1000}
    report = take(db, tmp_path, samples("", code="both", system="urn:x", value=value), settings)
    assert report.exit_code == 0, report.lines()
    with database.open_for_reading(db) as con:
        (stretch,) = load_stretches(con, ["L7"])[("L7", "A")]
    assert to_units(stretch.fhr_cbpm).tolist() == [140.0, 141.0]
    assert to_units(stretch.toco_hundredths).tolist() == [20.0, 21.0]


def test_pieces_of_a_tracing_lie_where_their_times_say(db, tmp_path):
    pieces = [samples("141 141", at="2031-10-26T02:00:10+01:00"), samples("140 140", at="2031-10-26T02:59:50+02:00")]
    take(db, tmp_path, bundle(*pieces))
    with database.open_for_reading(db) as con:
        (stretch,) = load_stretches(con, ["L7"])[("L7", "A")]
    # the clocks went back between the two: 20 s, not 59 min back
    found = to_units(stretch.fhr_cbpm)
    assert (len(found), found[0], found[80]) == (82, 140.0, 141.0)
    assert np.isnan(found[2:80]).all()


GOOD = samples("140 141")


def changed(**fields):
    return {**GOOD, **fields}


def value(**fields):
    kept = {**GOOD["valueSampledData"], **fields}
    return changed(valueSampledData={k: v for k, v in kept.items() if v is not None})


REFUSED = [
    (value(interval=250, intervalUnit="ms", period=None), "FHIR R5 (SampledData.interval)"),
    (value(offsets="0 1", period=None), "FHIR R5 (SampledData.offsets)"),
    ({"resourceType": "Procedure", "occurrenceDateTime": "2031-03-30"}, "FHIR R5 (Procedure.occurrenceDateTime)"),
    ({"resourceType": "MedicationAdministration", "occurenceDateTime": "2031"}, "FHIR R5"),
    # R4 has one class, R5 a list of them (HL7 FHIR, Encounter.class)
    (bundle({"resourceType": "Encounter", "class": [concept("IMP")]}, GOOD), "FHIR R5 (several Encounter.class)"),
    (value(period=0), "no period above 0"),
    (value(period=None), "no period above 0"),
    (value(dimensions=None), "no dimensions"),
    (value(dimensions=3), "found 2 numbers, expected a multiple of 3"),
    (value(origin=None), "no origin"),
    (value(data="140 quill"), "neither numbers nor E, L or U"),
    (value(data="140 nan"), "neither numbers nor E, L or U"),
    (value(data=""), "found no data"),
    (value(factor="2"), "no number for factor"),
    # lowerLimit and upperLimit are decimals (HL7 FHIR R4, SampledData)
    (value(lowerLimit="50"), "no number for lowerLimit"),
    (value(upperLimit={"value": 210}), "no number for upperLimit"),
    (value(lowerLimit=210, upperLimit=50), "a lowerLimit above the upperLimit"),
    (value(origin={"value": 0, "code": "Hz"}), "in another unit than expected"),
    (changed(effectiveDateTime="2031-03-30"), "no time with its zone"),
    (changed(code=concept("8867-5")), "no code that is known"),
    ('{"resourceType": "Bundle", "entry": [', "not well-formed JSON"),
    ('{"resourceType": "Observation"}\n[1]', "no FHIR resource"),
    ('{"resourceType": "Bundle", "x": NaN}', "not well-formed JSON"),
    ('{"resourceType": ' + "[" * 100_000, "not well-formed JSON"),
    (bundle(), "found no tracing, outcome or care event"),
]


def test_what_cannot_be_read_is_refused_and_says_why(offered):
    contents = [content if isinstance(content, str) else json.dumps(content) for content, _ in REFUSED]
    for outcome, (_, says) in zip(offered(contents, ".json"), REFUSED, strict=True):
        assert outcome.outcome == "refused", says
        assert says in outcome.message
        assert "quill" not in outcome.message


def test_what_was_given_may_stand_in_a_resource_of_its_own():
    """medication[x] of MedicationAdministration (HL7 FHIR R4): a concept, or a reference, also to what it contains."""
    given = done("MedicationAdministration", "?", "2031-03-30T01:31:00+01:00")
    kinds = [
        {"medicationReference": {"reference": "Medication/m1"}},
        {"medicationReference": {"reference": "#m2"}, "contained": [{"id": "m2", "code": concept("STOP", "urn:unit")}]},
        {"medicationReference": {"reference": "Medication/unknown"}},
    ]
    medication = {"resourceType": "Medication", "id": "m1", "code": concept("OXY", "urn:unit")}
    every = [{**{k: v for k, v in given.items() if k != "medicationCodeableConcept"}, **kind} for kind in kinds]
    options = with_codes(OXY="oxytocin_started", STOP="oxytocin_stopped").import_
    parts = fhir_parts(json.dumps(bundle(samples("140 141"), *every, medication)).encode(), options)
    events = pq.read_table(io.BytesIO(parts[-1].data))["event"].to_pylist()
    assert events == ["oxytocin_started", "oxytocin_stopped"]
    assert "procedures and medications have no code that is known and are not stored: 1" in parts[0].said


def test_a_month_that_may_be_another_one_where_the_unit_is_is_told():
    for at, told in (("2031-03-31T22:30:00Z", 1), ("2031-03-31T22:30:00+02:00", 0), ("2031-03-15T22:30:00Z", 0)):
        said = fhir_parts(json.dumps(samples("140 141", at=at)).encode(), SETTINGS.import_)[0].said
        assert sum("month is that of UTC" in sentence for sentence in said) == told, at


def test_outcomes_that_contradict_each_other_are_kept_out(db, tmp_path):
    report = take(db, tmp_path, bundle(observed("9274-2", 9, "{score}"), observed("9274-2", 3, "{score}")))
    assert report.exit_code == 3
    assert "differ in apgar_5" in "\n".join(report.lines())


def test_what_a_code_may_stand_for_is_what_is_stored_of_an_outcome():
    assert set(OUTCOME_FIELDS) <= set(CODED)


def test_a_unit_that_is_told_in_words_alone_is_known_and_another_one_is_not():
    # HL7 FHIR R4, example heart-rate: unit 'beats/minute', code '/min'
    told = [factor_of("fhr_bpm", quantity) for quantity in ({"unit": "beats/minute"}, {"code": "/min"}, {"unit": "Hz"})]
    assert told == [1.0, 1.0, None]


def test_a_mothers_heart_rate_is_never_taken_for_the_fetus(tmp_path):
    # LOINC 8867-4; the value sets of vital signs exclude fetal codes
    parts = fhir_parts(
        json.dumps(bundle(samples("140 141"), samples("80 81", code="8867-4"))).encode(), SETTINGS.import_
    )
    import io

    import pyarrow.parquet as pq

    table = pq.read_table(io.BytesIO(parts[1].data))
    assert (table["fhr_bpm"].to_pylist(), table["mhr_bpm"].to_pylist()) == ([140, 141], [80, 81])

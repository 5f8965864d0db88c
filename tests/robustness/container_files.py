# ruff: noqa: E501 (lists of values)
"""Generated files of the kinds that come apart: workbooks, archives, EDF, WFDB notes and segments, FHIR."""

import io
import json
import zipfile
from typing import Any

from hypothesis import strategies as st

from tests.robustness.containers import edf, fhr_signal, notes_signal, ods, wfdb_notes, xlsx

FIELDS = st.sampled_from(
    ["0", "1", "-1", "4", "8", "10", "0.25", "1e9", "1e300", "-1e300", "nan", "inf", "", " ", "x", "300", "³", "1_0"]
)
TEXTS = st.sampled_from(
    ["case_id", "period", "t_s", "fhr_bpm", "C1", "2031-03", "epidural", "7.1", "", "&", "<", "é", "\ud800", "1" * 40]
) | st.text(max_size=8)


@st.composite
def damaged(draw: st.DrawFn, whole: bytes) -> bytes:
    """The bytes as they are, or with up to three changes."""
    out = bytearray(whole)
    for _ in range(draw(st.sampled_from([0, 0, 1, 3]))):
        at, length = draw(st.integers(0, len(out))), draw(st.integers(0, 30))
        out[at : at + length] = draw(st.binary(max_size=8) | st.just(bytes(out[at : at + 60])))
    return bytes(out)


@st.composite
def workbooks(draw: st.DrawFn) -> bytes:
    """A sheet of any cells in either format, damaged in its XML and then in the archive."""
    values = draw(st.lists(st.lists(TEXTS, max_size=4), max_size=4))
    kind = draw(st.sampled_from(["", ' t="s"', ' t="b"', ' t="d"', ' t="e"', ' t="n"', ' t="x"', ' s="9"']))
    repeat = draw(st.sampled_from(["1", "2", "0", "-1", "70000", "x", ""]))
    rows = ""
    if draw(st.booleans()):
        for k, row in enumerate(values, start=1):
            cells = [f'<c r="{"ABCD"[n]}{k}"{kind}><v>{text}</v></c>' for n, text in enumerate(row)]
            rows += f'<row r="{k}">{"".join(cells)}</row>'
        inner = draw(damaged(rows.encode("utf-8", "replace"))).decode("utf-8", "replace")
        return draw(damaged(xlsx(inner.encode("utf-8", "replace").decode())))
    for row in values:
        written = [
            f'<table:table-cell office:value-type="{draw(st.sampled_from(["string", "float", "date", "time", "boolean"]))}"'
            f' office:value="{text}" table:number-columns-repeated="{repeat}"><text:p>{text}</text:p></table:table-cell>'
            for text in row
        ]
        rows += f"<table:table-row>{''.join(written)}</table:table-row>"
    inner = draw(damaged(rows.encode("utf-8", "replace"))).decode("utf-8", "replace")
    return draw(damaged(ods(inner.encode("utf-8", "replace").decode())))


@st.composite
def archives(draw: st.DrawFn, tables: st.SearchStrategy[bytes]) -> bytes:
    """Tables under names of every kind, packed in every way."""
    names = st.sampled_from(
        ["a.csv", "A.csv", "b/a.csv", "b", "../a.csv", "a.csv/b.csv", "R1.hea", "mimetype", "content.xml", "x.zip", "é.csv",
         "xl/workbook.xml", "con:a", "a\\b.csv", "__MACOSX/a", ".", "/", "a" * 300]
    )  # fmt: skip
    out = io.BytesIO()
    method = draw(st.sampled_from([zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2]))
    with zipfile.ZipFile(out, "w", method) as archive:
        for name in draw(st.lists(names, max_size=4, unique=True)):
            archive.writestr(name, draw(tables))
        archive.comment = draw(st.binary(max_size=12))
    return draw(damaged(out.getvalue()))


@st.composite
def edf_files(draw: st.DrawFn) -> bytes:
    """Recordings with any field of the header and any annotations."""
    samples = draw(st.sampled_from([1, 4, 8]))
    signals = [fhr_signal(samples), *([notes_signal(20)] if draw(st.booleans()) else [])]
    for _ in range(draw(st.sampled_from([0, 0, 1, 2]))):
        draw(st.sampled_from(signals))[draw(st.integers(0, 9))] = draw(FIELDS | TEXTS)
    onset = draw(st.sampled_from(["+0", "+9e9", "-5", "+1\x152", "0", "", "+nan", "+1e999"]))
    note = f"{onset}\x14\x14\0+1.5\x14epidural\x14\0".encode() + draw(st.binary(max_size=6))
    record = draw(st.binary(min_size=2 * samples, max_size=2 * samples)) + (
        note.ljust(40, b"\0")[:40] if len(signals) > 1 else b""
    )
    records = draw(st.integers(1, 3))
    whole = edf(
        signals, record * records, kind=draw(st.sampled_from(["", "EDF+C", "EDF+D", "EDF+X"])),
        records=draw(st.sampled_from([records, records, -1]) | FIELDS), record_s=draw(st.sampled_from([1, 2]) | FIELDS),
    )  # fmt: skip
    return draw(damaged(whole))


@st.composite
def annotation_files(draw: st.DrawFn) -> bytes:
    """Notes with any text at any time."""
    notes = (
        st.sampled_from(["epidural", "senior called", "## time resolution: 4", "## time resolution: x", "## "]) | TEXTS
    )
    steps = st.integers(0, 2**32 - 1)
    listed = draw(st.lists(st.tuples(steps, notes), max_size=4))
    return draw(damaged(wfdb_notes([(step, text.encode("utf-8", "replace").decode()) for step, text in listed])))


@st.composite
def master_headers(draw: st.DrawFn) -> bytes:
    """Headers of records in segments."""
    names = st.sampled_from(["R1", "R1", "~", "R2", "R9", "../R1", "x y"])
    frames = st.sampled_from(["8", "8", "0", "1", "-8", "999999999", "x"])
    lines = draw(st.lists(st.tuples(names, frames), max_size=4))
    head = f"R2/{draw(st.sampled_from([str(len(lines)), '0', '3', 'x']))} 1 {draw(st.sampled_from(['4', '8', '0', '1e9']))}"
    whole = "\n".join([f"{head} {draw(frames)}", *(" ".join(line) for line in lines), "# pH 7.1"])
    return draw(damaged(whole.encode()))


def _concept(draw: st.DrawFn, codes: st.SearchStrategy[str]) -> Any:
    return {"coding": [{"system": "http://loinc.org", "code": draw(codes)}]}


@st.composite
def fhir_files(draw: st.DrawFn, anything: st.SearchStrategy[Any]) -> bytes:
    """Bundles and lines of resources, right but for some fields that hold anything."""
    times = st.sampled_from(
        ["2031-03-30T01:30:00+01:00", "2031-03", "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00"]
    )
    resources: list[dict[str, Any]] = []
    for _ in range(draw(st.integers(0, 3))):
        kind = draw(st.sampled_from(["Observation", "Observation", "Procedure", "Encounter", "Patient", "Bundle"]))
        each: dict[str, Any] = {
            "resourceType": kind, "id": draw(TEXTS), "status": "final", "effectiveDateTime": draw(times),
            "code": _concept(draw, st.sampled_from(["55283-6", "28646-8", "9274-2", "28638-5", "9273-4", "x"])),
            "subject": {"reference": "Patient/1"}, "encounter": {"reference": draw(st.sampled_from(["Encounter/L7", "/", ""]))},
        }  # fmt: skip
        numbers = st.integers() | st.floats(allow_nan=False, allow_infinity=False)
        if draw(st.booleans()):
            each["valueSampledData"] = {
                "origin": {"value": draw(st.just(0) | numbers), "code": "/min"}, "period": draw(st.just(250) | numbers),
                "factor": draw(st.just(1) | numbers), "dimensions": draw(st.sampled_from([1, 1, 2, 0, 10**9])),
                "data": draw(st.sampled_from(["140 141", "140 E L U", "1e400", "nan", "", "x", "140 141 142"])),
            }  # fmt: skip
        else:
            each["valueQuantity"] = {
                "value": draw(numbers),
                "code": draw(st.sampled_from(["[pH]", "mmol/L", "{score}", ""])),
            }
        for name in draw(
            st.lists(st.sampled_from([*each, "component", "entry", "focus", "partOf", "_url"]), max_size=2)
        ):
            each[name] = draw(anything)
        resources.append(each)
    if draw(st.booleans()):
        whole = json.dumps({"resourceType": "Bundle", "entry": [{"resource": each} for each in resources]})
    else:
        whole = "\n".join([json.dumps(each) for each in resources] or ['{"resourceType": "x"}'])
    return draw(damaged(whole.encode()))

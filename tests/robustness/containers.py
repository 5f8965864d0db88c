"""Files that hold files, or are of another format, put together by hand so that any part of them can be wrong.

Layouts from the published formats, from memory: ECMA-376 (xlsx), OASIS OpenDocument 1.2 (ods), EDF and EDF+, annot(5).
"""

import json
import zipfile
from collections.abc import Sequence
from io import BytesIO

_OFFICE = "http://schemas.openxmlformats.org"
_ODF = "urn:oasis:names:tc:opendocument:xmlns"
EDF_WIDTHS = (16, 80, 8, 8, 8, 8, 8, 80, 8, 32)


def zipped(
    entries: dict[str, bytes | str], method: int = zipfile.ZIP_DEFLATED, comment: bytes = b"", about: bytes = b""
) -> bytes:
    """A zip file; `about`: a comment beside each entry."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        archive.comment = comment
        for name, data in entries.items():
            entry = zipfile.ZipInfo(name)
            entry.compress_type, entry.comment = method, about
            archive.writestr(entry, data)
    return out.getvalue()


def xlsx(sheet: str, *, name: str = "s", before: str = "", more: dict[str, bytes | str] | None = None) -> bytes:
    """A workbook whose one sheet has this XML within `sheetData`; `before`: what stands before the sheet's element."""
    rels, main = f"{_OFFICE}/package/2006/relationships", f"{_OFFICE}/spreadsheetml/2006/main"
    doc = f"{_OFFICE}/officeDocument/2006/relationships"
    parts: dict[str, bytes | str] = {
        "[Content_Types].xml": f'<Types xmlns="{_OFFICE}/package/2006/content-types"/>',
        "_rels/.rels": f'<Relationships xmlns="{rels}"><Relationship Id="r1" Type="{doc}/officeDocument"'
        ' Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{main}" xmlns:r="{doc}"><sheets><sheet name="{name}" sheetId="1"'
        ' r:id="r1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{rels}"><Relationship Id="r1" Type="{doc}/worksheet"'
        ' Target="worksheets/sheet1.xml"/></Relationships>',
        "xl/worksheets/sheet1.xml": f'{before}<worksheet xmlns="{main}"><sheetData>{sheet}</sheetData></worksheet>',
    }
    return zipped(parts | (more or {}))


def cell(place: str, value: str) -> str:
    """A cell of an xlsx sheet with text in it."""
    return f'<c r="{place}" t="inlineStr"><is><t>{value}</t></is></c>'


def ods(rows: str, before: str = "", more: dict[str, bytes | str] | None = None) -> bytes:
    """A workbook whose one table holds this XML."""
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    spaces = " ".join(f'xmlns:{each}="{_ODF}:{each}:1.0"' for each in ("office", "table", "text"))
    content = (
        f"{before}<office:document-content {spaces}><office:body><office:spreadsheet>"
        f'<table:table table:name="s">{rows}</table:table></office:spreadsheet></office:body></office:document-content>'
    )
    manifest = (
        f'<manifest:manifest xmlns:manifest="{_ODF}:manifest:1.0"><manifest:file-entry manifest:full-path="/"'
        f' manifest:media-type="{kind}"/></manifest:manifest>'
    )
    parts: dict[str, bytes | str] = {
        "mimetype": kind, "META-INF/manifest.xml": manifest, "content.xml": content,
    }  # fmt: skip
    return zipped(parts | (more or {}))


def edf(
    signals: Sequence[Sequence[object]], body: bytes, *, kind: str = "EDF+C", records: object = 1,
    record_s: object = 10, patient: str = "X X X X", recording: str = "Startdate X X X X",
) -> bytes:  # fmt: skip
    """An EDF file: `signals` are the ten fields of each in the header's order, cut to their widths."""

    def field(value: object, width: int) -> bytes:
        return str(value).encode("ascii", "replace")[:width].ljust(width)

    fixed = ((0, 8), (patient, 80), (recording, 80), ("01.01.85", 8), ("00.00.00", 8), (256 * (len(signals) + 1), 8))
    fixed += ((kind, 44), (records, 8), (record_s, 8), (len(signals), 4))  # type: ignore[assignment]
    head = b"".join(field(value, width) for value, width in fixed)
    for k, width in enumerate(EDF_WIDTHS):
        head += b"".join(field(signal[k], width) for signal in signals)
    return head + body


def fhr_signal(samples: int, label: str = "FHR", low: object = 0, high: object = 300) -> list[object]:
    """The ten fields of a heart rate of tenths of bpm."""
    return [label, "", "bpm", low, high, 0, 3000, "", samples, ""]


def notes_signal(samples: int) -> list[object]:
    """The ten fields of EDF+ annotations."""
    return ["EDF Annotations", "", "", -1, 1, -32768, 32767, "", samples, ""]


def wfdb_notes(notes: Sequence[tuple[int, str]]) -> bytes:
    """An annotation file: for each note the steps since the one before, and its text (annot(5))."""
    out = b""
    for step, text in notes:
        said = text.encode()
        out += (59 << 10).to_bytes(2, "little") + (step >> 16 & 0xFFFF).to_bytes(2, "little")
        out += (step & 0xFFFF).to_bytes(2, "little") + (22 << 10).to_bytes(2, "little")
        out += (63 << 10 | len(said) & 0x3FF).to_bytes(2, "little") + said + b"\0" * (len(said) % 2)
    return out + b"\0\0"


def sampled(data: object, **more: object) -> bytes:
    """A FHIR observation with a heart rate; `more` replaces fields of its SampledData."""
    value = {"origin": {"value": 0, "code": "/min"}, "period": 250, "dimensions": 1, "data": data, **more}
    return json.dumps(
        {
            "resourceType": "Observation", "status": "final", "effectiveDateTime": "2031-03-30T01:30:00+01:00",
            "code": {"coding": [{"system": "http://loinc.org", "code": "55283-6"}]},
            "encounter": {"reference": "Encounter/L7"}, "valueSampledData": value,
        }
    ).encode()  # fmt: skip

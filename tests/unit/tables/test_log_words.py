"""The log as a page shows it: the names of what was kept are words, what people wrote stands as it is."""

from audit.people import access, agenda, disclosures, log, strip_marks
from audit.tables.meeting import LOG
from tests import page_databases


def test_every_entry_reads_as_words(tmp_path):
    unit = page_databases.small_database(tmp_path)
    access.choose(unit, single_user=True)
    strip_marks.add(unit, "C-001", "A", 60.0, "what_is_this", who="unit")
    disclosures.record(unit, "C-001", who="unit", place="case")
    for case_id in ("C-001", "C-002"):
        agenda.add(unit, "2026-03", case_id, who="unit")
    agenda.reorder(unit, "2026-03", ["C-002", "C-001"], who="unit")

    shown = [
        dict(zip((column.name for column in LOG.columns), row, strict=True))
        for row in LOG.filled(log.entries(unit)).rows
    ]
    marked, opened, *_, moved = shown[-5:]
    assert (marked["subject"], marked["subject_key"]) == ("strip mark", "mark id 1")
    assert "label what_is_this" in marked["new"]
    assert (opened["subject"], opened["subject_key"]) == ("outcome", "case id C-001")
    assert moved["new"] == "C-002, C-001"

"""The Import page in a browser: our own file is taken in by a process that goes on, another is proposed a mapping."""

from audit.people import take_in
from audit.store import database
from tests import page_databases

# larger than what any other session may hand over
OURS = b"case_id;period;cord_artery_ph\nT1;2031-09;7,12\nT2;2031-13;7,2\n" + b"\n" * 6_000_000
THEIRS = "Fallnummer;Geburtsdatum;NA-pH\n" + "".join(f"U{k};9/{k + 1}/2031;7,2{k}\n" for k in range(9))


def test_files_are_handed_over_proposed_and_taken_in_by_a_process_that_goes_on(serve, visit, tmp_path):
    db = page_databases.small_database(tmp_path)
    page = visit(1400).open(f"{serve(db)}/take_in")
    files = {"ours.csv": OURS, "theirs.csv": THEIRS.encode("cp1252")}
    page.tab.locator("input[type=file]").set_input_files(
        [{"name": name, "mimeType": "text/csv", "buffer": data} for name, data in files.items()]
    )
    page.tab.get_by_text("cases, with our own columns").wait_for()
    page.tab.get_by_text("cord_artery_ph from column 3").wait_for()
    # 9/1/2031: the order of day and month is asked
    page.tab.get_by_label("To be answered: whether day or month stands first in the dates").click()
    page.tab.get_by_role("option", name="month first", exact=True).click()
    page.tab.get_by_text("period from column 2").wait_for()
    page.settle()
    page.picture("import")
    page.tab.get_by_role("button", name="Keep this mapping").click()
    page.tab.get_by_text("as the mapping ward says").wait_for()
    page.settle()
    page.tab.get_by_role("button", name="Import and analyse").click()
    page.tab.get_by_text("Done.", exact=True).wait_for()
    page.settle()
    page.picture("imported")
    page.check()
    found = take_in.state(db)
    assert (found.stage, len(found.report["files"])) == ("done", 2)
    with database.open_for_reading(db) as con:
        assert con.execute("select count(*) from cases where period = '2031-09'").fetchone()[0] == 1 + 9

"""The pack of a small database, read back: pages, text, order, caution, equal bytes, nothing it must not hold."""

import io
import itertools
import re
import shutil
import subprocess
import zipfile
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from msgspec.structs import replace
from pptx import Presentation
from pypdf import PdfReader

from audit.cli import cli
from audit.errors import AuditError, UsageError
from audit.pack.build import Written, write_pack
from audit.pack.methods import CAUTION
from audit.pack.one_case import case_pdf
from audit.pack.options import PackOptions
from audit.people import actions, agenda, disclosures, family_questions, findings
from audit.settings import load_settings
from audit.store import published
from audit.words import hh_mm
from tests.asking import ask
from tests.conftest import absent
from tests.page_databases import odd_database, small_database
from tests.slide_boxes import look_at_boxes

pytestmark = pytest.mark.slow

PERIOD = "2031-04"
QUIET_PERIOD = "2031-05"
_PACKAGED = PackOptions.of(load_settings())
# a quarter of an hour is as good as an hour to test with, and drawn faster
OPTIONS = _PACKAGED.changed(last_minutes=15.0)
DAY = "2031-05-10"


@pytest.fixture(scope="module")
def db(tmp_path_factory: pytest.TempPathFactory) -> Path:
    db = small_database(tmp_path_factory.mktemp("unit"))
    agenda.add(db, PERIOD, "C-001", who="lead", question="=HYPERLINK(1) was the call <b>early</b> enough?")
    agenda.add(db, PERIOD, "C-003", who="lead")
    disclosures.record(db, "C-001", who="chair", place="meeting", period=PERIOD)
    findings.save(db, PERIOD, "C-001", findings.Finding(care_grade="2", factors=("handover",)), who="chair")
    actions.add(db, "2031-03", "Mark the clock", owner_role="audit lead", due_period=PERIOD, who="chair")
    family_questions.add(db, PERIOD, "C-001", "Who saw the strip?", who="lead")
    family_questions.add(db, PERIOD, "C-003", "Was a bed free?", answer="Yes, from minute 20", who="lead")
    return db


@pytest.fixture(scope="module")
def written(db: Path, tmp_path_factory: pytest.TempPathFactory) -> Written:
    return make(db, tmp_path_factory.mktemp("pack"))


def make(db: Path, out: Path, **changes: Any) -> Written:
    """A pack with the quick options, in this process."""
    return write_pack(db, **{"period": PERIOD, "out": out, "options": OPTIONS, "made_on": DAY, "workers": 1, **changes})


def pages_of(written: Written) -> list[str]:
    (file,) = [file for file in written.files if file.suffix == ".pdf"]
    return _pages_in(file)


@cache
def _pages_in(file: Path) -> list[str]:
    """Each file is read once: no test prints over another's."""
    return [page.extract_text() for page in PdfReader(file).pages]


def text_of(file: Path) -> str:
    """Everything a person or a search can find in a file."""
    if file.suffix == ".pdf":
        return "\n".join(_pages_in(file))
    if file.suffix == ".pptx":
        with zipfile.ZipFile(file) as packed:
            return "\n".join(packed.read(name).decode("utf-8", "replace") for name in packed.namelist())
    return file.read_text(encoding="utf-8")


def test_every_kind_of_file_is_written(written: Written) -> None:
    names = {file.name for file in written.files}
    assert {f"pack_{PERIOD}.pdf", f"pack_{PERIOD}.html", f"pack_{PERIOD}.pptx"} <= names
    assert {"agenda.csv", "clock.csv", "burden.csv", "reads.csv", "outcome.csv", "responses.csv"} <= names
    assert not [file for file in written.folder.rglob("*.partial")]


def test_every_page_carries_the_caution_and_its_number(written: Written) -> None:
    pages = pages_of(written)
    for number, text in enumerate(pages, start=1):
        flat = " ".join(text.split())
        assert CAUTION in flat
        assert f"page {number} of {len(pages)}" in flat
        assert "made 2031-05-10" in flat


def test_the_parts_stand_in_order_and_outcomes_on_pages_of_their_own(written: Written) -> None:
    pages = pages_of(written)
    starts = {}
    for words in ("Review of 2031-04", "Case 1: C-001", "Case 2: C-003", "Trends", "Response times", "Methods and"):
        starts[words] = next(k for k, text in enumerate(pages) if words in text)
    assert list(starts.values()) == sorted(starts.values())
    assert "Mark the clock" in pages[0]
    outcome = next(k for k, text in enumerate(pages) if "Outcome of C-001" in text)
    # last, to be taken away, and what is no case flows from part to part: no page of it is left half empty
    assert outcome > starts["Methods and"]
    assert "The clock" not in pages[outcome]
    before = " ".join("\n".join(pages[starts["Case 1: C-001"] : outcome]).split())
    assert "cord artery pH" not in before
    assert "mode of birth" not in before
    assert "sampled at 4 Hz" in before
    assert "What the reading could not see or say: 3% of the samples" in before
    assert "cord artery pH" in pages[outcome]
    assert "Care grade 2" in before
    front = "\n".join(pages[: starts["Case 1: C-001"]])
    assert "Not yet answered: 1 of 2." in front
    assert "The family asks: Who saw the strip?" in pages[starts["Case 1: C-001"]]
    assert "The family asked: Was a bed free? – Yes, from minute 20" in before


def test_a_case_takes_two_pages_the_bare_strip_and_then_what_was_found(written: Written) -> None:
    pages = pages_of(written)
    titles = [
        re.search(r"^Case \d: (C-\d+(?:, fetus [AB])?)(, findings)?$", text, flags=re.MULTILINE) for text in pages
    ]
    found = [(title[1], bool(title[2])) for title in titles if title]
    assert found == [(name, part) for name in ("C-001", "C-003, fetus A", "C-003, fetus B") for part in (False, True)]
    first, last = (next(k for k, title in enumerate(titles) if title and title[0].startswith(words))
                   for words in ("Case 1", "Case 2: C-003, fetus B"))  # fmt: skip
    # no page between them without a title of its own
    assert all(titles[first : last + 2])
    bare, found_page = pages[first], pages[first + 1]
    assert "pattern starts" not in bare
    assert "pattern starts" in found_page


def test_the_stretch_of_the_concern_is_printed_first_and_whole(written: Written, db: Path) -> None:
    """The bounds that the page names hold the concern's, asked of the database itself."""
    clock = ask(
        db, "select pattern_start_s, end_s from episodes where case_id = 'C-001' and standard = ?", [OPTIONS.standard]
    )
    page = " ".join(next(text for text in pages_of(written) if "Case 1: C-001" in text).split())
    named = re.search(
        r"(\d\d):(\d\d) to (\d\d):(\d\d): the concern under .*? which ran (\d\d:\d\d) to (\d\d:\d\d)", page
    )
    assert named is not None
    low_s, high_s = (3600 * int(named[k]) + 60 * int(named[k + 1]) for k in (1, 3))
    ran = [(low, high) for low, high in clock if (hh_mm(low), hh_mm(high)) == (named[5], named[6])]
    assert ran
    assert all(low_s <= low and high < high_s + 60 for low, high in ran)


def test_nothing_is_printed_under_nine_points(written: Written) -> None:
    """Read back from the file itself: size of the font times the scale of its matrix; drawings have their own face."""
    (file,) = [file for file in written.files if file.suffix == ".pdf"]
    sizes: set[float] = set()

    def look(text: str, cm: Any, tm: Any, font: Any, size: float) -> None:
        if text.strip() and font and "Libertinus" in str(font.get("/BaseFont")):
            sizes.add(round(size * abs(tm[3] * cm[3]), 2))

    for page in PdfReader(file).pages:
        page.extract_text(visitor_text=look)
    assert sizes
    assert min(sizes) >= 9


def test_slides_of_a_case_are_four_at_most_and_no_table_is_under_fourteen_points(written: Written) -> None:
    (file,) = [file for file in written.files if file.suffix == ".pptx"]
    slides = list(Presentation(str(file)).slides)
    titles = [next(shape.text for shape in slide.shapes if shape.has_text_frame) for slide in slides]
    for name in ("C-001", "C-003, fetus A"):
        case = [
            title for title in titles if title.endswith(name) or f"{name}:" in title or title == f"Outcome of {name}"
        ]
        assert 3 <= len(case) <= 4
    runs = [
        run.font.size or paragraph.font.size
        for slide in slides for shape in slide.shapes if shape.has_table
        for row in shape.table.rows for cell in row.cells
        for paragraph in cell.text_frame.paragraphs for run in (*paragraph.runs,)
    ]  # fmt: skip
    assert runs
    assert min(size.pt for size in runs if size is not None) >= 14
    look_at_boxes(Presentation(str(file)))


def test_the_first_page_says_what_was_decided(written: Written) -> None:
    pages = pages_of(written)
    assert "The meeting in one page" in pages[0]
    assert "care grade 2" in pages[0]
    assert "not yet discussed" in pages[0]
    assert "What this review rests on" in pages[0]


def test_twins_share_one_outcome_after_both(written: Written) -> None:
    pages = pages_of(written)
    titles = [k for k, text in enumerate(pages) if re.search(r"Case 2: C-003, fetus [AB]\n", text)]
    outcomes = [k for k, text in enumerate(pages) if text.startswith("Outcomes\n")]
    assert len(outcomes) == 1
    assert max(titles) < outcomes[0]
    # newborns stand beside each other, each under its own heading, the values in that order
    assert "Measure C-001 C-003, Fetus A C-003, Fetus B\n" in pages[outcomes[0]]
    assert "cord artery pH 7.02 7.25 7.25\n" in pages[outcomes[0]]
    assert "Apgar score at 5 min 6 9 9\n" in pages[outcomes[0]]


WORD = re.compile(r'<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*?)</word>')


def test_no_two_words_of_a_page_stand_in_each_other(written: Written, tmp_path: Path) -> None:
    """Boxes of words as poppler finds them: none covers another's by more than a hair, nor by 0.4 of its height."""
    if shutil.which("pdftotext") is None:
        absent("No pdftotext on the path; install poppler-utils to look at the pages.")
    (file,) = [file for file in written.files if file.suffix == ".pdf"]
    subprocess.run(["pdftotext", "-bbox", str(file), str(tmp_path / "words.html")], check=True)
    pages = (tmp_path / "words.html").read_text(encoding="utf-8").split("<page ")[1:]
    assert len(pages) > 4
    for number, page in enumerate(pages, 1):
        words = [(*map(float, found[:4]), found[4]) for found in WORD.findall(page)]
        assert words
        for one, other in itertools.combinations(words, 2):
            across = min(one[2], other[2]) - max(one[0], other[0])
            down = min(one[3], other[3]) - max(one[1], other[1])
            lower = min(one[3] - one[1], other[3] - other[1])
            assert across <= 0.8 or down <= 0.4 * lower, (number, one, other)


def test_fonts_are_in_the_file_and_drawings_are_vectors(written: Written) -> None:
    (file,) = [file for file in written.files if file.suffix == ".pdf"]
    reader = PdfReader(file)
    assert not any(page.images for page in reader.pages)
    assert "FHR\nbpm" in text_of(file)


def test_the_html_stands_alone(written: Written) -> None:
    (file,) = [file for file in written.files if file.suffix == ".html"]
    text = file.read_text(encoding="utf-8")
    assert "<script" not in text
    links = set(re.findall(r"""(?:href|src)="([^"#][^"]*)""" + '"', text))
    assert links == set()
    addresses = set(re.findall(r"https?://[^\s\"'<)]+", text))
    assert addresses <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    assert "&lt;b&gt;early&lt;/b&gt;" in text
    ids = re.findall(r'\bid="([^"]+)"', text)
    assert len(ids) == len(set(ids))


def test_tables_are_safe_for_a_spreadsheet(written: Written) -> None:
    (file,) = [file for file in written.files if file.name == "agenda.csv"]
    assert "'=HYPERLINK(1)" in file.read_text(encoding="utf-8-sig")


def test_slides_hold_the_same_cases_and_pictures_have_words(written: Written) -> None:
    (file,) = [file for file in written.files if file.suffix == ".pptx"]
    deck = Presentation(str(file))
    texts = [" ".join(shape.text for shape in slide.shapes if shape.has_text_frame) for slide in deck.slides]
    assert all(CAUTION in text for text in texts)
    assert any("Case 1: C-001" in text for text in texts)
    pictures = [shape for slide in deck.slides for shape in slide.shapes if shape.shape_type == 13]
    assert pictures
    assert all(shape._element.nvPicPr.cNvPr.get("descr") for shape in pictures)


def test_the_same_database_gives_the_same_bytes_but_for_the_date(db: Path, tmp_path: Path) -> None:
    agenda.add(db, QUIET_PERIOD, "C-004", who="lead")
    first, again, later = (
        make(db, tmp_path / name, period=QUIET_PERIOD, made_on=day)
        for name, day in (("first", DAY), ("again", DAY), ("later", "2031-05-11"))
    )
    for one, two, three in zip(first.files, again.files, later.files, strict=True):
        assert one.name == two.name == three.name
        assert one.read_bytes() == two.read_bytes(), one.name
        if one.suffix != ".pptx":
            assert text_of(one).replace(DAY, "DAY") == text_of(three).replace("2031-05-11", "DAY"), one.name


def test_for_outside_no_case_is_named_and_no_small_count_stands(db: Path, tmp_path: Path) -> None:
    outside = make(db, tmp_path, options=OPTIONS.changed(for_outside=True))
    assert outside.cases == 0
    for file in outside.files:
        text = text_of(file)
        assert not re.search(r"C-00\d", text), file.name
        assert "Mark the clock" not in text
        assert "handover" not in text
        assert "Was a bed free" not in text
    cover = (tmp_path / f"tables_{PERIOD}_outside" / "cover.csv").read_text(encoding="utf-8-sig").splitlines()
    # three labours in the month: the total is small, and so is every part of it
    assert cover[1].split(",")[:3] == ["labours of the month", "hidden", ""]  # the last column: what is out of date
    numbers = {line.split(",")[1] for line in cover[2:]}
    assert numbers <= {"hidden", "0"}


def test_outcomes_can_be_left_out(db: Path, tmp_path: Path) -> None:
    left = make(db, tmp_path, period=QUIET_PERIOD, options=OPTIONS.changed(outcome="left_out", paper="us-letter"))
    assert not [file for file in left.files if file.name == "outcome.csv"]
    for file in left.files:
        assert "Outcome of" not in text_of(file)
    (pdf,) = [file for file in left.files if file.suffix == ".pdf"]
    box = PdfReader(pdf).pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == (612, 792)


def test_without_an_agenda_the_cases_to_discuss_are_taken(tmp_path: Path) -> None:
    db = small_database(tmp_path)
    pack = make(db, tmp_path / "pack", options=replace(OPTIONS, cases_without_agenda=1))
    assert pack.cases == 1
    assert "Nobody has set an agenda" in pages_of(pack)[0]


def test_a_case_without_a_tracing_and_cases_beyond_the_most_are_said_on_the_cover(tmp_path: Path) -> None:
    db = small_database(tmp_path)
    for case_id in ("C-404", "C-001", "C-002"):
        agenda.add(db, PERIOD, case_id, who="lead")
    pack = make(db, tmp_path / "pack", options=replace(OPTIONS, cases_most=2))
    cover = " ".join(pages_of(pack)[0].split())
    assert "The first 2 of the 3 cases on the agenda" in cover
    assert "Without pages, because no tracing is stored: C-404." in cover
    assert pack.cases == 1


def test_a_month_without_cases_says_which_months_there_are(db: Path, tmp_path: Path) -> None:
    with pytest.raises(AuditError, match="expected one of 2031-04, 2031-05"):
        write_pack(db, period="2030-01", out=tmp_path)
    with pytest.raises(UsageError, match="YYYY-MM"):
        write_pack(db, period="April", out=tmp_path)
    with pytest.raises(AuditError, match=r"no case has a month|expected one of 2031-04"):
        write_pack(odd_database(tmp_path), period="2030-01", out=tmp_path)
    assert list(tmp_path.glob("pack_*")) == []


def test_the_command_names_its_files_and_its_errors(db: Path, tmp_path: Path) -> None:
    arguments = ["pack", "--period", PERIOD, "--out", str(tmp_path / "out"), "--for-outside"]
    done = CliRunner().invoke(cli, ["--db", str(db), *arguments], catch_exceptions=False)
    assert done.exit_code == 0
    assert all(Path(line).is_file() for line in done.stdout.splitlines())
    nowhere = CliRunner().invoke(cli, ["--db", str(tmp_path / "no.duckdb"), *arguments])
    assert isinstance(nowhere.exception, AuditError)


def test_a_folder_that_cannot_be_written_is_named(db: Path, tmp_path: Path) -> None:
    blocked = tmp_path / "pack"
    blocked.write_text("a file where the folder should be")
    with pytest.raises(AuditError, match="choose another one"):
        make(db, blocked)


def test_libreoffice_opens_the_slides_and_loses_none(written: Written, tmp_path: Path) -> None:
    office = shutil.which("soffice")
    if office is None:
        absent("LibreOffice (soffice) is not here; it opens the slides as a second reader of the format.")
    (file,) = [file for file in written.files if file.suffix == ".pptx"]
    profile = f"-env:UserInstallation=file://{tmp_path}/profile"
    command = [str(office), profile, "--headless", "--convert-to", "pdf", "--outdir", str(tmp_path), str(file)]
    subprocess.run(command, check=True, capture_output=True)
    pages = PdfReader(tmp_path / f"{file.stem}.pdf").pages
    assert len(pages) == len(Presentation(str(file)).slides)
    assert "Review of 2031-04" in pages[0].extract_text()


def test_a_zip_entry_of_the_slides_carries_no_clock(written: Written) -> None:
    (file,) = [file for file in written.files if file.suffix == ".pptx"]
    with zipfile.ZipFile(io.BytesIO(file.read_bytes())) as packed:
        assert {entry.date_time for entry in packed.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_a_single_case_is_two_pages_without_its_outcome(db: Path, tmp_path: Path) -> None:
    file = tmp_path / "case.pdf"
    file.write_bytes(case_pdf(db, published.required(db), "C-001", made_on=DAY))
    pages = [page.extract_text() for page in PdfReader(file).pages]
    assert len(pages) == 2
    assert "Case 1: C-001" in pages[0]
    assert "Case 1: C-001, findings" in pages[1]
    assert "Outcome" not in text_of(file)
    assert all(CAUTION in " ".join(text.split()) for text in pages)
    with pytest.raises(AuditError, match="no such case"):
        case_pdf(db, published.required(db), "C-404")

"""The register of pages: the menu, the tests and every link between pages take them from here.

To add one, write `dashboards/SECTION/NAME.py` and a line below.
"""

from dataclasses import dataclass

from audit.people.permissions import Deed


@dataclass(frozen=True)
class Page:
    """One page: its file below `dashboards/`, the title that the menu shows, and the deeds of which one lets in.

    `words` are the groups of `audit/glossary.toml` whose terms the page explains. `of_all_units` names what on it is
    the whole database's where a unit of several is chosen. `before_data`: it is of use before anything was imported.
    """

    file: str
    title: str
    deeds: tuple[Deed, ...] = (Deed.SEE_MONTH,)
    words: tuple[str, ...] = ()
    of_all_units: str | None = None
    before_data: bool = False


THIS_MONTH = Page("month/this_month.py", "This month", words=("clock", "cases", "strip", "files"))
CASES_TO_DISCUSS = Page(
    "month/cases_to_discuss.py", "Cases to discuss", words=("cases", "clock", "strip", "reading", "files")
)
CASE = Page("month/case.py", "Case", words=("strip", "clock", "cases", "files"))
RESPONSE_TIMES = Page("month/response_times.py", "Response times", words=("clock", "strip", "files"))
READ_STRIPS = Page(
    "reading/read_strips.py", "Read strips", (Deed.READ_STRIPS, Deed.KEEP_BATCHES), words=("reading", "strip"),
    of_all_units="Batches and readers",
)  # fmt: skip
READER_AGREEMENT = Page(
    "reading/reader_agreement.py", "Reader agreement", (Deed.SEE_AGREEMENT,), words=("agreement", "reading", "strip")
)
MEETING = Page(
    "meeting/meeting.py", "Meeting", (Deed.HOLD_MEETING,), words=("meeting", "strip", "clock", "cases"),
    of_all_units="The meeting, its agenda and what it agreed",
)  # fmt: skip
ACTIONS = Page(
    "meeting/actions.py",
    "Actions",
    (Deed.KEEP_ACTIONS,),
    words=("meeting", "trends"),
    of_all_units="Actions and their log",
)
MEETING_PACK = Page(
    "meeting/meeting_pack.py", "Meeting pack", (Deed.MAKE_PACK,), words=("meeting", "clock", "cases", "files"),
    of_all_units="Agenda, findings and actions in a pack",
)  # fmt: skip
TRENDS = Page(
    "over_time/trends.py", "Trends", words=("trends", "clock", "strip", "agreement", "files"),
    of_all_units="Changes of practice",
)  # fmt: skip
DATA_QUALITY = Page(
    "over_time/data_quality.py", "Data quality", words=("files", "strip"), of_all_units="Imported files"
)
IMPORT = Page(
    "over_time/take_in.py", "Import", (Deed.TAKE_IN,), words=("files",), of_all_units="Imports", before_data=True
)
THE_UNIT = Page("over_time/the_unit.py", "The unit", words=("files", "clock"), of_all_units="Settings")

# the menu's sections in order; the first page is where the dashboard opens
SECTIONS: dict[str, tuple[Page, ...]] = {
    "The month": (THIS_MONTH, CASES_TO_DISCUSS, CASE, RESPONSE_TIMES),
    "Reading": (READ_STRIPS, READER_AGREEMENT),
    "The meeting": (MEETING, ACTIONS, MEETING_PACK),
    "Over time": (TRENDS, IMPORT, DATA_QUALITY, THE_UNIT),
}
PAGES: tuple[Page, ...] = tuple(page for pages in SECTIONS.values() for page in pages)
FIRST = PAGES[0]


def page_of(title: str) -> Page:
    """The page of a title."""
    return next(page for page in PAGES if page.title == title)

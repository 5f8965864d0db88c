"""The register of pages: the menu, the tests and every link between pages take them from here.

To add one, write `dashboards/SECTION/NAME.py` and a line below.
"""

from dataclasses import dataclass

from audit.people.permissions import Deed


@dataclass(frozen=True)
class Page:
    """One page: its file below `dashboards/`, the title that the menu shows, and the deeds of which one lets in."""

    file: str
    title: str
    deeds: tuple[Deed, ...] = (Deed.SEE_MONTH,)


THIS_MONTH = Page("month/this_month.py", "This month")
CASES_TO_DISCUSS = Page("month/cases_to_discuss.py", "Cases to discuss")
CASE = Page("month/case.py", "Case")
RESPONSE_TIMES = Page("month/response_times.py", "Response times")
READ_STRIPS = Page("reading/read_strips.py", "Read strips", (Deed.READ_STRIPS, Deed.KEEP_BATCHES))
READER_AGREEMENT = Page("reading/reader_agreement.py", "Reader agreement", (Deed.SEE_AGREEMENT,))
MEETING = Page("meeting/meeting.py", "Meeting", (Deed.HOLD_MEETING,))
ACTIONS = Page("meeting/actions.py", "Actions", (Deed.KEEP_ACTIONS,))
MEETING_PACK = Page("meeting/meeting_pack.py", "Meeting pack", (Deed.MAKE_PACK,))
TRENDS = Page("over_time/trends.py", "Trends")
DATA_QUALITY = Page("over_time/data_quality.py", "Data quality")
IMPORT = Page("over_time/take_in.py", "Import", (Deed.TAKE_IN,))
THE_UNIT = Page("over_time/the_unit.py", "The unit")

# the menu's sections in order; the first page is where the dashboard opens
SECTIONS: dict[str, tuple[Page, ...]] = {
    "The month": (THIS_MONTH, CASES_TO_DISCUSS, CASE, RESPONSE_TIMES),
    "Reading": (READ_STRIPS, READER_AGREEMENT),
    "The meeting": (MEETING, ACTIONS, MEETING_PACK),
    "Over time": (TRENDS, IMPORT, DATA_QUALITY, THE_UNIT),
}
PAGES: tuple[Page, ...] = tuple(page for pages in SECTIONS.values() for page in pages)
FIRST = PAGES[0]

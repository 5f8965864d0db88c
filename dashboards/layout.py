"""What every page has in common: title, caution, what is shown, empty states, tables with their CSV."""

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Any, Literal, TypeVar

import pandas as pd
import streamlit as st

from audit import house_style, vocabulary
from audit import words as words_
from audit.charts import vector
from audit.charts.unchecked import unchecked
from audit.errors import AuditError
from audit.figures import NOT_KNOWN
from audit.glossary import explained
from audit.pack.methods import compared_with_experts
from audit.people import rules
from audit.tables.definition import Table
from audit.tables.renderers import as_shown, to_csv, to_page
from dashboards import addressed, data, drawings, fitted, narrow, place, register, unit_data
from dashboards.keys import Key, ReviewKey

CAUTION = (
    "Retrospective review by licensed clinicians. Not for care in progress, not a medical device; local guidelines"
    " decide."
)
NO_DATABASE = (
    "No database yet. Hand a unit's files over on the page Import, or run `intrapartum-audit import FOLDER` and"
    " `intrapartum-audit analyse`, then reload this page. `intrapartum-audit demo` makes an invented unit."
)
NO_CASES = (
    "The database holds no cases yet. Import files (page Import, or the command `import`), then reload this page."
)
NO_ANALYSIS = "Nothing was analysed yet. Run `intrapartum-audit analyse`, then reload this page."

T = TypeVar("T")
ALL_COLUMNS = "all_"  # with the name of a table, in an address: that it shows every column
LabelVisibility = Literal["visible", "hidden", "collapsed"]
_ADDRESS = re.compile(r"://|www\.|@", re.IGNORECASE)
OF_A_CASE = frozenset({"case", "fetus", "step", "at", "scale", "minutes", "show"})  # words of an address
_MARKDOWN = re.compile(r"([\\`*_{}\[\]()<>#+\-.!|~:$&])")
_COMMAND = re.compile(  # escaped, as our own sentences name one
    r"\\`(?:intrapartum\\-audit [a-z]"
    r"|(?:agreement|analyse|check|delays|import|imports|restore|trends|validate)(?=[ \\]))(?:[a-z ]|\\-)*\\`"
)


# what somebody was warned of is remembered for as long as the browser is there; the same text again confirms it
rules.warned_of = lambda: st.session_state.setdefault(ReviewKey.WARNED_OF, set())


def plain(text: Any) -> str:
    """Text for a place that renders Markdown: every sign that could mean something is escaped.

    But for a command in backticks, as our own sentences name it: letters and hyphens alone, set as code.
    """
    # addresses become links even where their signs are escaped, so an invisible joiner breaks them up
    broken = _ADDRESS.sub(lambda found: f"{found[0][0]}\u2060{found[0][1:]}", " ".join(str(text).split()))
    return _COMMAND.sub(lambda found: found[0].replace("\\", ""), _MARKDOWN.sub(r"\\\1", broken))


def begin(title: str, lead: str) -> None:
    """Title, one sentence on what the page is for, the caution; stops with a sentence when there is nothing yet."""
    st.title(title, anchor=False)
    st.session_state[Key.OUT_OF_DATE] = None
    _caution(title, f"{lead} {CAUTION}")
    _stop_without_data(before_data=register.page_of(title).before_data)
    _of_all_units(title)


def _caution(title: str, text: str) -> None:
    """The line below a title, with the terms of the page beside it, above the caption's box, which reaches over it."""
    with st.container(key="caution_row", horizontal=True, vertical_alignment="center", gap="small"):
        st.caption(text, width="content")
        with st.popover("Terms", type="tertiary"):
            st.markdown(explained(register.page_of(title).words))


def begin_in_a_row(title: str, widths: list[int]) -> list[Any]:
    """As `begin`, for pages of a strip: places for the choices beside the title, so that the strip comes at once."""
    with st.container(key="first_row", gap=None):
        first, *places = st.columns([2, *widths], vertical_alignment="center")
        first.title(title, anchor=False)
        _caution(title, CAUTION)
    _stop_without_data()
    _of_all_units(title)
    return places


def _stop_without_data(*, before_data: bool = False) -> None:
    try:
        data.settings()  # a settings file that was spoilt while the pages are open is said here
        if before_data and place.nothing_yet():
            return
        _choose_unit()
        found = data.copy()
    except AuditError as error:
        st.info(plain(error))
        st.stop()
    if found is None:
        st.info(NO_DATABASE)
        st.stop()
    if found.note:
        st.caption(f"Note: {plain(found.note)}.")


def _choose_unit() -> None:
    """The unit that every page is about, beside the menu; nothing where a database holds one."""
    if len(known := unit_data.known()) < 2:
        st.session_state.pop(unit_data.KEPT, None)
        return
    with st.sidebar:
        units = {unit_data.ALL_UNITS: "all units"} | {unit: unit for unit in known}
        _kept_choice("Unit", Key.UNIT, list(units), first=unit_data.ALL_UNITS, words=units.__getitem__)


def _of_all_units(title: str) -> None:
    """Say what on a page is the whole database's, where a unit of several is chosen."""
    what = register.page_of(title).of_all_units
    if what and unit_data.chosen() is not None:
        st.caption(f"{what} belong to all units together, whichever unit is chosen.")


def choose_month(*, every: bool = True) -> str:
    """The month the pages are about: shared by all of them. Stops when there are no cases."""
    options = data.months()
    if not options:
        st.info(NO_CASES)
        st.stop()
    if every:
        options = [*options, data.ALL_MONTHS]
    return _kept_choice("Month of birth", Key.PERIOD, options, first=options[0], words=month_words)


def month_chosen() -> str | None:
    """The month that was chosen on this or another page; None until then."""
    kept = st.session_state.get(f"kept_{Key.PERIOD}")
    return None if kept is None else str(kept)


def choose_month_or_all(imports: pd.DataFrame) -> str:
    """As `choose_month`, but goes on when files were offered and no case came of them: that is worth seeing."""
    if not data.months() and not imports.empty:
        st.info(NO_CASES)
        return data.ALL_MONTHS
    return choose_month()


def choose_standard(*, label: LabelVisibility = "visible") -> str:
    """The standard the pages are about: shared by all of them."""
    options = list(vocabulary.STANDARDS)
    words = words_.standard_name
    own = data.settings().trends.standard  # what the unit chose at first start, or in its settings
    return _kept_choice("Standard", Key.STANDARD, options, first=own, words=words, label_visibility=label)


def standard_chosen() -> str:
    """The standard that was chosen on another page; the unit's own until then."""
    kept = st.session_state.get(f"kept_{Key.STANDARD}")
    return str(kept) if kept in vocabulary.STANDARDS else data.settings().trends.standard


def _kept_choice(
    label: str,
    key: Key,
    options: list[str],
    *,
    first: str,
    words: Callable[[str], str],
    label_visibility: LabelVisibility = "visible",
) -> str:
    """A choice that outlives the page: Streamlit forgets a widget's value once another page is drawn."""
    kept = f"kept_{key}"
    if st.query_params.get(key) in options:  # an address that names a choice is followed
        st.session_state[kept] = st.query_params[key]
    if st.session_state.get(kept) not in options:
        st.session_state[kept] = first
    st.session_state[key] = st.session_state[kept]

    def keep() -> None:
        st.session_state[kept] = st.session_state[key]
        # a month's case is none of another month's; in one step, because each is one for the browser's back button
        is_left = key is Key.PERIOD and st.query_params.get("case") == st.session_state.get(ReviewKey.MEETING_SHOWN)
        gone = OF_A_CASE if is_left else frozenset()
        words = {name: value for name, value in st.query_params.items() if name not in gone}
        st.query_params.from_dict({**words, key.value: st.session_state[key]})

    seen = label_visibility
    return str(st.selectbox(label, options, key=key, format_func=own(words), on_change=keep, label_visibility=seen))


def month_words(period: str) -> str:
    """A month as our pages write it."""
    return {data.ALL_MONTHS: "all months", data.NO_MONTH: "no month given"}.get(period, period)


def own(words: Callable[[Any], str]) -> Callable[[Any], str]:
    """The words of a choice as the unit writes them: what is offered is looked up by its text, so it is not sent on."""
    return lambda value: house_style.text(words(value))


def choice(
    place: Any, label: str, options: Sequence[T], value: T, *, key: str, words: Callable[[Any], str] = str, **more: Any
) -> T:
    """A box in which a value is chosen to begin with; one that is no longer offered stays to be chosen."""
    every = list(dict.fromkeys([*options, value]))
    found: T = place.selectbox(label, every, index=every.index(value), key=key, format_func=own(words), **more)
    return found


def shown(period: str | None = None, standard: str | None = None) -> None:
    """The line that says which month, standard and analysis run the figures come from."""
    parts = [] if period is None else [f"Month: **{month_words(period)}**"]
    if standard is not None:
        parts.append(f"standard: **{plain(data.standard_words(standard))}**")
    st.caption(" · ".join([*parts, run_words()]))
    if standard is not None:
        beside_experts()
    out_of_date(period)


def beside_experts() -> None:
    """Say beside computed categories how they compared with experts, or that nobody measured it here."""
    st.caption(plain(compared_with_experts(place.there())))


def out_of_date(period: str | None) -> None:
    """Say beside the figures of a month, or of all (None), how far they are not what an analysis would find now."""
    if note := data.out_of_date(period)["note"]:
        say_out_of_date(note)


def say_out_of_date(note: str) -> None:
    """Warn that figures of this page are out of date; what is taken away from it says so too."""
    st.warning(plain(note), icon=":material/update:")
    st.session_state[Key.OUT_OF_DATE] = note


def run_words() -> str:
    """The analysis run or runs behind the stored findings."""
    runs = data.rows("data_quality/runs")
    if runs.empty:
        return "no analysis yet"
    newest = runs.iloc[0]
    text = f"run {newest['run_id']}, settings {str(newest['settings_sha256'])[:8]}, version {newest['version']}"
    return text if len(runs) == 1 else f"{text}, and {len(runs) - 1} earlier runs for tracings not read again"


def drawn(make: Callable[..., Any], *given: Any, alt_text: str, **options: Any) -> bool:
    """Draw the chart that `make` makes of `given`, or several: once for all sessions, while that stays the same.

    `alt_text` stands for it to whoever does not see it. False: there is no chart.
    """
    found = pictures(make, *given, alt_text=alt_text, **options)
    for svg in found:
        drawings.show(svg)
    return bool(found)


def pictures(make: Callable[..., Any], *given: Any, alt_text: str, **options: Any) -> list[str]:
    """What `drawn` shows, kept for whoever asks next."""
    name = f"{make.__module__}.{make.__qualname__}"
    return _pictures(name, make, given, alt_text, options, repr(house_style.in_force()))


@st.cache_data(max_entries=200, show_spinner=False)
def _pictures(
    name: str, _make: Callable[..., Any], given: tuple[Any, ...], alt_text: str, options: dict[str, Any], style: str
) -> list[str]:
    with unchecked():  # the library checks parts of a chart also while it is put together
        made = _make(*given, **options)
    parts = made if isinstance(made, list) else [] if made is None else [made]
    return [vector.for_page(part, alt_text=house_style.text(alt_text)) for part in parts]


def table(
    found: Table,
    *,
    height: int | Literal["auto", "content", "stretch"] = "auto",
    most: int | None = None,
    room_px: int = fitted.ROOM_PX,
    **options: Any,
) -> Any:
    """A filled table with its download, which has every row and column.

    `most` limits the rows on the screen; columns that are not its first are shown once somebody asks for them.
    """
    if not found.rows:
        if found.empty:
            st.info(found.empty)
        return None
    every = not found.first_columns or addressed.is_on(f"{ALL_COLUMNS}{found.name}")
    names = [column.name for column in found.columns] if every else list(found.first_columns)
    shown = found if most is None else replace(found, rows=found.rows[:most])
    if narrow.is_narrow() and not (found.first_columns and every) and fitted.stacks(shown, names):
        shown = fitted.stacked(shown, names)
        names = [column.name for column in shown.columns]
        options["row_height"] = fitted.stack_height(shown)
        room_px = fitted.NARROW_PX
    widths = fitted.widths(shown, names, fitted.NO_LIMIT_PX if found.first_columns and every else room_px)
    result = st.dataframe(
        as_shown(shown, to_page(shown)),
        hide_index=True,
        column_config={c.name: fitted.as_drawn(c, widths.get(c.name), c.name == names[0]) for c in shown.columns},
        column_order=names,
        height=height,
        placeholder=NOT_KNOWN,
        alt=found.name.replace("_", " "),
        **options,
    )
    with st.container(horizontal=True, vertical_alignment="center"):
        download(found)
        if found.first_columns:
            st.toggle(
                f"All {len(found.columns)} columns", **addressed.switched_by_address(f"{ALL_COLUMNS}{found.name}")
            )
    return result


def download(found: Table) -> None:
    """The table as CSV, every cell safe for a spreadsheet."""
    note = house_style.text(st.session_state.get(Key.OUT_OF_DATE) or "") or None
    st.download_button(
        "Table as CSV",
        data=lambda: to_csv([found], out_of_date=note),
        file_name=f"{found.name}.csv",
        mime="text/csv",
        key=f"csv_{found.name}",
        on_click="ignore",
        type="tertiary",
    )


@contextmanager
def told() -> Iterator[None]:
    """Around a save: what a user can act on is shown as a sentence at the next draw, and nothing else breaks."""
    try:
        yield
    except AuditError as error:
        st.toast(plain(error))


def stored(save: Callable[[], object]) -> bool:
    """Whether a save went through; if not, the sentence a user can act on stands below the form."""
    try:
        save()
    except AuditError as error:
        st.error(plain(error))
        return False
    return True


_RULES = """
<style>
[data-testid="stHeader"] { background: transparent; }
[data-testid="stHeader"], [data-testid="stHeader"] * { pointer-events: none; }
[data-testid="stHeader"] button, [data-testid="stHeader"] button * { pointer-events: auto; }
.st-key-first_row { padding-right: 2rem; } .st-key-narrow_window { position: absolute; }
.st-key-first_row, .st-key-case_row { margin-bottom: -0.7rem; }
.st-key-case_row h2 { padding: 0 !important; }
.st-key-case_row p { font-size: 0.9rem; line-height: 1.3; }
.st-key-caution_row { row-gap: 0; }
.st-key-caution_row button { min-height: 1.3rem; padding: 0; position: relative; z-index: 1; }
.st-key-caution_row button p { color: #0072B2; text-decoration: underline; font-size: 0.9rem; }
.st-key-first_row button kbd { display: none; }
@media (min-width: 1200px) {
:root:fullscreen:has(.st-key-beside_strip) :is([data-testid="stSidebar"], [data-testid="stHeader"]) { display: none; }
:root:fullscreen .st-key-beside_strip { position: fixed; right: 1rem; top: 8rem; width: 18rem; max-height: 75vh;
  overflow: auto; }
:root:fullscreen:has(.st-key-beside_strip) [data-testid="stMainBlockContainer"] { padding-right: 20rem; } }
.st-key-first_row h1 { font-size: 1.5rem !important; padding: 0 !important; }
[data-testid="stMainBlockContainer"] { padding-top: 0.6rem; padding-bottom: 3rem;
  padding-left: 2rem; padding-right: 2rem; max-width: 1560px; }
[data-testid="stMetricValue"] { font-size: 1.7rem; } [data-testid="stMetricLabel"] p { white-space: normal; }
[data-testid="stMetricValue"] * { white-space: normal !important; overflow: visible !important; }
[data-testid="stMain"] :is([data-testid="stPageLink-NavLink"], [data-testid="stBaseButton-tertiary"]) p {
  color: #0072B2; text-decoration: underline; }
[data-testid="stDownloadButton"] button p { color: #0072B2; text-decoration: underline; font-size: 0.9rem; }
a:focus-visible, summary:focus-visible { outline: 2px solid #0072B2 !important; outline-offset: -2px; }
@media (max-width: 768px) { [data-testid="stMainBlockContainer"] { padding-top: 3.6rem; padding-left: 0.8rem;
  padding-right: 0.8rem; } .st-key-first_row { padding-right: 0; }
.st-key-first_row [data-testid="stColumn"]:nth-child(-n+2) { min-width: 30% !important; flex: 1 1 30% !important; }
.st-key-first_row [data-testid="stColumn"] [data-testid="stHorizontalBlock"] { flex-wrap: nowrap; }
.st-key-first_row [data-testid="stColumn"] [data-testid="stColumn"] { min-width: 0 !important;
  flex: 1 1 0 !important; } }
[data-testid="stCaptionContainer"], [data-testid="stCaptionContainer"] * { color: #5A6370; opacity: 1; }
@media (prefers-reduced-motion: reduce) { *, *::before, *::after { animation-duration: 0.01ms !important;
  animation-iteration-count: 1 !important; transition-duration: 0.01ms !important; scroll-behavior: auto !important; } }
h1 { font-size: 1.9rem !important; padding-bottom: 0.2rem !important; }
h2 { font-size: 1.2rem !important; padding: 0.5rem 0 0.6rem !important; } h3 { font-size: 1.05rem !important; }
</style>
"""


def apply() -> None:
    """Put the rules on the page."""
    st.html(_RULES)

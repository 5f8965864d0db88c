"""Parts of the page on reader agreement."""

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from audit import words as words_
from audit.agreement.scales import ITEMS, NUMBER_UNITS
from audit.charts import agreement as charts
from audit.charts import disagreement as disagreement_charts
from audit.people.permissions import READER, Deed
from audit.questions import counted, disagreement
from audit.questions.agreement import Question, first_pairs, pairs_apart
from audit.tables import agreement as tables
from audit.tables.case import from_to
from dashboards import addressed, bedside_data, cases_behind, data, layout, register, session
from dashboards.keys import ReviewKey
from dashboards.month import this_month_parts
from dashboards.reading import windows_behind
from dashboards.reading.windows_behind import Figure

_MONTHS = "agreement_month"


def choose() -> Question:
    """Month, standard and item; stops with a sentence when nothing was read."""
    if not data.standards(None):
        st.info("Nobody has read a strip yet. Make a batch on the page Read strips, or import a file of reads.")
        st.stop()
    left, middle, right = st.columns(3)
    with left:
        period = layout.choose_month()
    used = data.standards(period)
    if not used:
        st.info(f"Nobody has read a strip of {layout.month_words(period)}. There are reads of these months:")
        with st.container(horizontal=True):
            for other in (*data.periods(), data.ALL_MONTHS):
                st.page_link(
                    register.READER_AGREEMENT.file, label=layout.month_words(other), query_params={"period": other}
                )
        st.stop()
    with middle:
        standard = st.selectbox(
            "Standard the readers applied",
            used,
            format_func=layout.own(words_.standard_name),
            **addressed.led_by_address(ReviewKey.AGREEMENT_STANDARD, used, used[0]),
        )
    with right:
        item = st.selectbox(
            "Item",
            ITEMS,
            format_func=layout.own(words_.words),
            **addressed.led_by_address(ReviewKey.AGREEMENT_ITEM, ITEMS, ITEMS[0]),
        )
    return Question(standard, item, None if period == data.ALL_MONTHS else period)


def pooled(asked: Question) -> bool:
    """The agreement over all units with what summaries told; whether there is any."""
    found = bedside_data.pooled_agreement(asked)
    if found is None:
        return False
    st.header("All units together", anchor=False)
    st.caption(
        f"{found['windows']} windows: the reads that are here, and counts of {found['merged_pairs']} pairs of reads"
        " from merged summaries. Counts of pairs know no cases, so there are no intervals, and no single reader."
    )
    layout.table(tables.MEASURES.filled(found["measures"]))
    if found["computed"]["windows"]:
        layout.table(tables.COMPUTED.filled([{"reader": "computed / consensus", **found["computed"]}]))
    return True


def picture(asked: Question) -> None:
    """Where readers differ, before any table: answer beside answer, then window by window for who may see reads."""
    apart = data.apart(asked)
    if asked.item in NUMBER_UNITS or not apart:
        return
    order = disagreement.order_of(apart, asked.standard)
    st.header("Which answers are mistaken for which", anchor=False)
    rows = data.frame(disagreement.beside(apart, order))
    layout.drawn(disagreement_charts.beside, rows, order, alt_text="Which answer another reader gave, for each answer")
    st.caption(
        "Every two readers of a window, counted both ways: of the reads beside one that said what stands left, the"
        " share that said the one on top (number of pairs). On the diagonal they agree."
    )
    if not session.may(Deed.SEE_EVERY_READ):
        return
    rows = data.frame(disagreement.window_by_window(apart))
    if len(rows):
        text = "The windows that readers differ on most, with each reader's answer"
        layout.drawn(disagreement_charts.window_by_window, rows, order, alt_text=text)
        st.caption(f"At most {disagreement.MOST_WINDOWS} windows; each is named below, with every read.")


def measures(found: dict[str, Any], asked: Question) -> None:
    """Figures over all readers, with what they rest on."""
    st.write(
        f"**{found['windows']}** windows of **{found['cases']}** labours, **{found['readers']}** readers,"
        f" {found['reads']} reads; {found['windows_read_by_two']} windows were read by two or more."
    )
    if session.may(Deed.SEE_EVERY_READ):
        to = cases_behind.address(asked.period or data.ALL_MONTHS, asked.standard, counted=counted.READ)
        cases_behind.links([("labours that were read", to)])
    if found["few_windows"]:
        st.warning(layout.plain(found["few_windows"]))
    if found["outcome_said"]:
        st.caption(layout.plain(found["outcome_said"]))
    if found["item"] not in NUMBER_UNITS and not charts.forest_rows(found["measures"]).empty:
        text = "Each figure of agreement with its 95 % interval; the table below has the same"
        layout.drawn(charts.forest, found["measures"], alt_text=text)


def figures(found: dict[str, Any]) -> None:
    """The same figures as a table, with how they were worked out."""
    layout.table(tables.MEASURES.filled(found["measures"]))
    method = found["method"]
    st.caption(f"{method['interval']}, {method['draws']} draws; consensus: {method['consensus']}.")
    st.caption(f"Words after {method['bands_source']}: {method['bands_caution']}")


def pairs(found: dict[str, Any], asked: Question) -> None:
    """The matrix and its table; prevalence and bias stand beside kappa."""
    st.header("Pair by pair", anchor=False)
    if not found["pairs"]:
        st.info("No two readers have read the same window of this item, so there is no pair.")
        return
    is_number = found["item"] in NUMBER_UNITS
    rows, more = first_pairs(found["limits_of_agreement" if is_number else "pairs"])
    for sentence in (more, pairs_apart(found)):
        if sentence:
            st.caption(layout.plain(sentence))
    if is_number:
        st.caption("Limits of agreement (Bland and Altman 1986) between readers, first reader less second.")
        windows_behind.table(tables.LIMITS.filled(rows), _of_pairs(rows), asked)
        return
    measure = st.segmented_control(
        "Shown in the matrix",
        list(charts.PAIR_MEASURES),
        required=True,
        format_func=layout.own(charts.PAIR_MEASURES.__getitem__),
        **addressed.led_by_address(
            ReviewKey.AGREEMENT_PAIRS, list(charts.PAIR_MEASURES), next(iter(charts.PAIR_MEASURES))
        ),
    )
    text = "Agreement of each pair of readers; the table below has the same"
    layout.drawn(charts.pair_matrix, rows, str(measure), alt_text=text)
    windows_behind.table(tables.PAIRS.filled(rows), _of_pairs(rows), asked)
    st.caption(
        "A prevalence index far from 0 means one category rules: kappa is then low although readers mostly agree. A"
        " bias index far from 0 means one reader chooses a category more often than the other."
    )


def _of_pairs(rows: Sequence[Mapping[str, Any]]) -> list[Figure]:
    names = [(row["reader_a"], row["reader_b"]) for row in rows]
    return [Figure("pair", (a, b), a, b) for a, b in names]


def repeats(found: dict[str, Any], asked: Question) -> None:
    """The same reader twice."""
    st.header("The same reader, the same strip, twice", anchor=False)
    rows = [row for row in found["repeat_reads"] if session.may(Deed.SEE_EVERY_READ) or _is_own(row["reader"])]
    behind = [Figure("repeats", (row["reader"],), f"{row['reader']} first", "Again") for row in rows]
    windows_behind.table(tables.REPEATS.filled(rows), behind, asked)


def computed(found: dict[str, Any], asked: Question) -> None:
    """The computed reading apart from the people."""
    st.header("The computed reading, apart", anchor=False)
    row = found["computed"]
    if row.get("agreement") is None:
        st.info(layout.plain(row.get("note") or "The computed reading cannot be compared here."))
        return
    kappa = row.get("weighted_kappa_linear")
    low, high = row.get("weighted_kappa_linear_low"), row.get("weighted_kappa_linear_high")
    interval = "" if low is None or high is None else f" ({low:.2f} to {high:.2f})"
    words = "not estimable" if kappa is None else f"{kappa:.2f}{interval}"
    st.write(
        f"Against the readers' consensus on {row['windows']} windows: same answer **{row['agreement']:.2f}**, linear"
        f" weighted kappa **{words}**. It is one more reader, counted in no figure above."
    )
    confusion = row.get("confusion")
    if confusion:
        behind = [Figure("computed", first="Consensus", second="Computed", of=name) for name in confusion["categories"]]
        windows_behind.table(tables.confusion_table(confusion), behind, asked)


def windows(asked: Question) -> None:
    """Windows by disagreement; one choice shows every read side by side."""
    st.header("Where readers differ most", anchor=False)
    apart = data.apart(asked)
    if not apart:
        st.info("No window was read by two readers.")
        return
    rows = [
        {
            "case_id": found.window[0],
            "fetus": found.window[1],
            "start_s": found.window[2],
            "end_s": found.window[3],
            "reads": found.reads,
            "score": found.score,
            "answers": ", ".join(f"{reader}: {answer}" for reader, answer in found.answers.items()),
        }
        for found in apart
    ]
    windows_behind.strips(tables.APART.filled(rows), rows)
    st.caption(
        "Choose a row to open the strip. Apart: 0 all alike, 1 as far as answers allow; of numbers the mean difference."
    )
    places = {".".join(map(str, found.window)): k for k, found in enumerate(apart)}
    chosen = st.selectbox(
        "Reads side by side",
        list(places),
        format_func=layout.own(lambda name: f"{rows[places[name]]['case_id']}, {from_to(rows[places[name]])}"),
        **addressed.led_by_address(ReviewKey.AGREEMENT_WINDOW, list(places), next(iter(places))),
    )
    window = apart[places[chosen]].window
    this_month_parts.case_link(window[0], "Open the strip of")
    layout.table(tables.READS_OF_WINDOW.filled(data.reads_of_window(asked, window)))


def leaning(asked: Question) -> None:
    """How a reader leans, for that reader and the lead alone."""
    st.header("How a reader leans", anchor=False)
    every = session.may(Deed.SEE_LEANINGS)
    rows = [row for row in data.leanings(asked) if every or _is_own(row.reader)]
    if not rows and not every:
        st.info("A reader sees their own leaning, the lead sees all.")
        return
    if not rows:
        st.info("There is no leaning to show for this item: it needs reads of windows that others have read too.")
        return
    names = [row.reader for row in rows]
    chosen = st.selectbox("Reader", names, **addressed.led_by_address(ReviewKey.AGREEMENT_READER, names, names[0]))
    row = rows[names.index(chosen)]
    if not row.windows:
        st.info("This reader has read no window that has a consensus of the others.")
        return
    st.write(
        f"On {row.windows} windows with a consensus of the others: more severe on **{row.more_severe}**, less severe on"
        f" **{row.less_severe}**."
    )
    shares = [
        {"who": who, "category": category, "share": share}
        for who, found in (("this reader", row.shares), ("the others", row.consensus_shares))
        for category, share in found.items()
    ]
    frame = data.frame(shares)
    text = "Share of each category, this reader and the others"
    layout.drawn(charts.leaning, frame, list(row.shares), alt_text=text)
    behind = Figure("reader", (row.reader,), row.reader, "Consensus of the others")
    windows_behind.table(tables.LEANING.filled(shares), [behind] * len(shares), asked)


def _is_own(reader: str) -> bool:
    return session.who(Deed.SEE_AGREEMENT) == f"{READER}:{reader}"


def months(asked: Question) -> None:
    """Agreement over months, with intervals."""
    st.header("Over the months", anchor=False)
    st.caption("Every month that was read, whichever is chosen above.")
    name = "krippendorff_alpha_interval" if asked.item in NUMBER_UNITS else "krippendorff_alpha_ordinal"
    found = [row for row in data.by_month(asked) if row.name == name]
    if not any(row.estimate.value is not None for row in found):
        name = "krippendorff_alpha_nominal"
        found = [row for row in data.by_month(asked) if row.name == name]
    rows = [
        {
            "period": row.period,
            "estimate": row.estimate.value,
            "low": row.estimate.low,
            "high": row.estimate.high,
            "windows": row.windows,
            "readers": row.readers,
            "note": row.estimate.note,
        }
        for row in found
    ]
    if not any(row["estimate"] is not None for row in rows):
        st.info("No month has enough reads for this figure.")
        return
    frame = data.frame(rows)
    title = words_.words(name)
    layout.drawn(charts.months, frame, title, alt_text=f"{title} month by month with 95 % intervals")
    st.caption("Choose a row to open that month.")
    table = tables.months_definition(title).filled(rows)
    layout.table(table, on_select=lambda: _open_month(rows), selection_mode="single-row", key=_MONTHS)


def _open_month(rows: list[dict[str, Any]]) -> None:
    for k in st.session_state[_MONTHS].selection.rows:
        st.query_params["period"] = rows[k]["period"]


def hindsight(asked: Question) -> None:
    """The same strips before and after the outcome was known."""
    st.header("Before and after the outcome was known", anchor=False)
    st.caption("Of reads made in this program, which knows when an outcome was opened.")
    found = data.hindsight(asked)
    if not found.pairs:
        st.info(layout.plain(found.note or "No read was made both without and with the outcome."))
        return
    p = "" if found.p_two_sided is None else f" (sign test, p = {found.p_two_sided:.3f})"
    st.write(
        f"{found.pairs} reads of {found.windows} windows were made both ways: the same on **{found.same}**, more severe"
        f" with the outcome known on **{found.more_severe}**, less severe on **{found.less_severe}**{p}."
    )
    if session.may(Deed.SEE_EVERY_READ):
        rows = data.windows_behind(asked, "hindsight", ())
        windows_behind.strips(
            tables.two_answers("Outcome hidden", "Outcome known").filled(rows, name="hindsight"), rows
        )
        st.caption("A row is one read made both ways; choose it to open the strip.")


def published(found: dict[str, Any]) -> None:
    """What others found."""
    st.header("Published figures", anchor=False)
    layout.table(tables.PUBLISHED.filled(found["published"]))
    st.caption("Context, not targets: PA is the proportion of agreement as each paper defines it.")

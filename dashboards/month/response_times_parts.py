"""Parts of the Response times page: filters, figures, the list of episodes."""

from typing import Any

import streamlit as st

from audit import words
from audit.charts import waits as charts
from audit.questions import chance, month, month_list, waits
from audit.questions.waits import WaitGroup
from audit.response.chance import Chance
from audit.tables import episodes as wait_tables
from dashboards import addressed, cases_behind, data, layout
from dashboards.keys import Key

AS_IT_WAS, GONE_ON = "As it was", "Had the concern gone on"
HOW_TO_READ = {
    AS_IT_WAS: "Answers compete with birth and with the pattern's own end (Aalen-Johansen estimate).",
    GONE_ON: "What share would be answered by each minute had the concern gone on: birth, the pattern's own end and the"
    " end of the tracing censor the wait (Kaplan-Meier estimate). A curve stops where nobody is followed any longer.",
}
OF_EVERY_CURVE = (
    " Light band: 95 % interval. Dashed vertical lines: targets in force. Waits are never averaged: some"
    " were cut short."
)
SHARE_TITLES = {AS_IT_WAS: "share answered", GONE_ON: "share that would be answered"}
EVERY = "*"
GROUP_BY = {EVERY: "no groups", "period": "month", "shift": "shift", "trigger": "trigger", "stage": "stage of labour"}


def filters(columns: Any, rows: list[dict[str, Any]]) -> tuple[str | None, ...]:
    """Trigger, shift and grouping."""
    triggers = [EVERY, *month.values_of(rows, "trigger")]
    shifts = [EVERY, *month.values_of(rows, "shift")]
    trigger = columns[0].selectbox(
        "Trigger",
        triggers,
        format_func=layout.own(_words),
        **addressed.led_by_address(Key.RESPONSE_TRIGGER, triggers, EVERY),
    )
    shift = columns[1].selectbox(
        "Shift", shifts, format_func=layout.own(_words), **addressed.led_by_address(Key.RESPONSE_SHIFT, shifts, EVERY)
    )
    groups = list(GROUP_BY)
    group = columns[2].selectbox(
        "Compare by", groups, format_func=layout.own(GROUP_BY.__getitem__),
        **addressed.led_by_address(Key.RESPONSE_GROUP, groups, EVERY),
    )  # fmt: skip
    # a choice box takes None for nothing chosen, so "all" has a sign of its own
    return tuple(None if chosen == EVERY else str(chosen) for chosen in (trigger, shift, group))


def _words(name: str) -> str:
    return "all" if name == EVERY else words.words(name)


def figures(every: WaitGroup, by_chance: Chance | None) -> None:
    """All episodes of the choice in four figures, the share beside that of chance."""
    boxes = st.columns(4)
    boxes[0].metric("Concern episodes", every.episodes, help=f"{every.not_assessable} of them cannot be assessed")
    boxes[1].metric(
        "Answered within target",
        f"{every.within} of {every.assessed}",
        help=f"Of all that can be assessed; birth or the pattern's own end came first for {every.other_end} of them",
    )
    for box, label, (figure, interval), text in (
        (
            boxes[2],
            "Share within target",
            wait_tables.share_words(every),
            "Out of all, with birth and resolution competing (cumulative incidence at the target)",
        ),
        (
            boxes[3],
            "Half answered by",
            wait_tables.half_words(every),
            "Out of all, with birth and resolution competing",
        ),
    ):
        box.metric(label, figure, help=text)
        box.caption(interval)
    boxes[2].caption(f"By chance, %: {chance.words(by_chance)}")


def by_chance(rows: list[dict[str, Any]], merged: list[dict[str, Any]], chosen: dict[str, str | None]) -> None:
    """Shares in time by the deciding clock, each beside the share that chance gives; with what summaries told."""
    st.header("In time, and by chance", anchor=False)
    found = chance.document(rows, merged)["triggers"]
    st.write(f"By the deciding clock: **{chance.sentence(chance.of(rows, merged))}**. Choose a row to see its cases.")
    to = [cases_behind.address(**(chosen | {"trigger": words.words(row["trigger"])})) for row in found]
    cases_behind.table(wait_tables.CHANCE.filled(found), to)
    at_start = sum(row["at_start"] for row in rows)
    st.caption(
        "By chance: the same clock with each labour's acts moved in time inside the labour, 95 % of the shifts beside"
        " it. A share no better than that says nothing of how fast concerns are answered. Concerns already there when"
        f" the recording began are judged apart and are not counted here: {at_start}."
    )
    if at_start:
        cases_behind.links([(month_list.AT_START, cases_behind.address(**chosen, answer=month_list.AT_START))])


def chosen_in_words(period: str, standard: str, trigger: str | None, shift: str | None) -> dict[str, str | None]:
    """What the page has chosen, as the list of cases is narrowed."""
    narrowed = {"trigger": trigger or month_list.ANY, "shift": shift}
    in_words = {name: value and words.words(value) for name, value in narrowed.items()}
    return {"period": period, "standard": standard, **in_words}


def _behind(ended: list[dict[str, Any]], chosen: dict[str, str | None]) -> list[tuple[str, dict[str, str]]]:
    """The lists of cases behind the bars, for what the page has chosen."""
    return [
        (
            f"{row['episodes']:.0f} {words.status_words(row['status'])}",
            cases_behind.address(**chosen, answer=words.status_words(row["status"])),
        )
        for row in ended
    ]


def waits_of(
    rows: list[dict[str, Any]],
    episodes: list[dict[str, Any]],
    merged: list[dict[str, Any]],
    group: str | None,
    chosen: dict[str, str | None],
) -> None:
    """Figures, curves, how the waits ended, share within target: of the episodes of the choice, by group."""
    groups = waits.wait_groups(rows, group)
    figures(waits.wait_groups(rows, None)[0], chance.of(episodes, merged))
    left, right = st.columns([3, 2])
    with left:
        _curves(rows, group, [one.name for one in groups])
    with right:
        st.header("How the waits ended", anchor=False)
        ended = data.frame(waits.status_counts(rows))
        layout.drawn(charts.how_they_ended, ended, width_px=190, alt_text="Concern episodes by how they ended")
        cases_behind.links(_behind(ended.to_dict("records"), chosen))
    if group is not None:
        st.caption(waits.difference(rows, group))
    st.header("Share answered within target", anchor=False)
    table = wait_tables.WAITS.filled(wait_tables.wait_rows(groups, chance.of_groups(episodes, group, merged)))
    to = [{} if group is None else {group: words.words(one.name)} for one in groups]
    cases_behind.table(table, [cases_behind.address(**(chosen | narrowed)) for narrowed in to])


def _curves(rows: list[dict[str, Any]], group: str | None, names: list[str]) -> None:
    st.header("Answered by each minute", anchor=False)
    curves = list(HOW_TO_READ)
    curve = str(
        st.segmented_control(
            "Curve", curves, required=True, format_func=layout.own(str),
            **addressed.led_by_address(Key.RESPONSE_CURVE, curves, AS_IT_WAS),
        )
    )  # fmt: skip
    horizon_min = waits.horizon_min(rows)
    if curve == GONE_ON:
        found = waits.uninterrupted_rows(rows, group, longest_min=horizon_min)
    else:
        found = waits.answers(waits.curve_rows(waits.wait_groups(rows, group), longest_min=horizon_min))
    points = data.frame([point for point in found if point["group"] in names[-charts.MOST_GROUPS :]])
    if not any(row["ended_by"] == "response" for row in rows):
        st.info("No answer was recorded for any of these episodes, so there is no curve.")
    else:
        layout.drawn(
            charts.answer_curves,
            points,
            targets_min=month.values_of(rows, "target_minutes"),
            longest_min=horizon_min,
            share_title=SHARE_TITLES[curve],
            alt_text=f"{SHARE_TITLES[curve].capitalize()} by each minute since concerns were recognisable",
        )
    if len(names) > charts.MOST_GROUPS:
        st.caption(f"The last {charts.MOST_GROUPS} of {len(names)} groups are drawn; the table has them all.")
    st.caption(HOW_TO_READ[curve] + OF_EVERY_CURVE)


def episodes(rows: list[dict[str, Any]]) -> None:
    """The list of episodes; choosing a row opens the case."""
    st.header("Episodes, late ones first", anchor=False)
    st.caption("Choose a row to open the case.")
    cases_behind.cases(wait_tables.EPISODES_ON_PAGE.filled(rows), rows)

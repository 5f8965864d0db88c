"""The parts beside the cases: cover, counts, last month's actions, response times, agreement."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from operator import itemgetter
from typing import Any

from audit import months, vocabulary
from audit import words as words_
from audit.charts.printed import share_in_time
from audit.figures import shown
from audit.measures.proportions import LEVEL, wilson_interval
from audit.measures.suppression import is_small
from audit.pack import drawing
from audit.pack.agenda import AgendaCase
from audit.pack.model import Picture, Section
from audit.pack.options import PackOptions
from audit.pack.outside import EPISODES, HIDDEN, NOTHING, TOTAL, Untold
from audit.pack.reach import OVERLAPS
from audit.questions import chance, coverage
from audit.tables import agreement as agreement_tables
from audit.tables import meeting
from audit.tables.agreed import AGREED_ON_TERMINAL
from audit.tables.bedside import COVERAGE
from audit.tables.definition import Column, Table, TableDefinition, numbers, shares
from audit.tables.episodes import RESPONSES, STATUSES

COUNTS = (
    ("with_tracing", "with a tracing"),
    ("analysed", "with a tracing that was read"),
    ("failed", "with a tracing that could not be read"),
    ("with_events", "with timed care events"),
    ("with_birth_time", "with a time of birth"),
    ("with_cord_artery_ph", "with a cord artery pH"),
    ("with_reads", "read by at least one reader"),
    ("with_concern", "with a concern episode under {standard}"),
)
_PUBLISHED_NOTE = "From the papers' abstracts; PA: proportion of agreement as each paper defines it. No target."
_COVER = TableDefinition(
    "cover",
    (Column("what", "Labours"), *numbers(labours="Number"), *shares(share="Of them, %")),
    title="What this review rests on",
)
# out of these is the share in time: all that can be assessed, births and resolutions competing
_ASSESSED = ("in_time", "late", "none_recorded", "resolved", "born_first")


def cover(
    of: str,
    options: PackOptions,
    agenda: Sequence[AgendaCase],
    *,
    on_agenda: int,
    drawn: Collection[str],
    summary: Table | None = None,
    out_of_date: str | None = None,
    held: str = "",
    annual: bool = False,
) -> Section:
    """The meeting in one page.

    `of` says which months, and of which unit where it is one of several; `annual`: of a year. `on_agenda` counts
    the agenda's cases, also those beyond what one pack holds; `drawn` are the cases with pages; `summary` is
    the agenda with what was decided; `out_of_date` says how far the figures are not what an analysis would find now;
    `held` when the meeting was and who was there.
    """
    return Section(
        title=f"{'Annual report on' if annual else 'Review of'} {of}",
        paragraphs=(
            *([f"Out of date: {out_of_date}"] if out_of_date else []),
            *([held] if held else []),
            *_agenda_words(agenda, options, on_agenda),
            *_without_pages(agenda, drawn),
        ),
        tables=(summary,) if agenda and summary is not None else (),
    )


def rests_on(
    counts: Mapping[str, Any],
    options: PackOptions,
    *,
    hidden_words: str,
    counted: Mapping[str, Any],
    untold: Untold,
) -> Section:
    """What the month's review rests on.

    `hidden_words` say how much of the tracings nothing can be said of; `counted` is what the unit counted itself;
    `untold` is what is hidden outside the unit.
    """
    total = int(counts["cases"])
    standard = words_.standard_name(options.standard)
    of = "months" if months.is_span(counts.get("period")) else "month"
    rows: list[dict[str, Any]] = [
        {"what": f"labours of the {of}", "labours": HIDDEN if TOTAL in untold.labours else total}
    ]
    for name, words in COUNTS:
        found = int(counts[name])
        gone = name in untold.labours
        share = None if gone or not total else found / total
        rows.append({"what": words.format(standard=standard), "labours": HIDDEN if gone else found, "share": share})
    hours, seen = counts["tracing_hours"], counts["seen_fraction"]
    signal = "No tracing of this month has been read."
    if TOTAL in untold.labours:
        signal, hidden_words = "Too few labours to say how much was seen of them.", ""
    elif hours:
        signal = f"{hours:.0f} hours of tracing were read; {100 * seen:.0f} % of them were seen (accepted signal)."
    note = _hidden_note(options) if options.for_outside else ""
    return Section(
        title="What this review rests on",
        paragraphs=(
            f"{signal} {hidden_words}".rstrip(),
            *([f"Of the unit's counts: {counted['sentence']}"] if counted["sentence"] is not None else []),
            *([] if (why := coverage.switched_words(counted)) is None else [why]),
        ),
        tables=(
            _COVER.filled(rows, title="Labours", note=note),
            *([COVERAGE.filled(counted["shares"])] if counted["shares"] else []),
        ),
    )


def _agenda_words(agenda: Sequence[AgendaCase], options: PackOptions, on_agenda: int) -> list[str]:
    if options.for_outside:
        made = "Made for outside the unit: without case pages, actions and findings; small counts are hidden."
        return [made, *([OVERLAPS] if options.overlapping else [])]
    if not agenda:
        return ["No case is on the agenda, and none was found that asks for discussion."]
    if not agenda[0].from_agenda:
        return [f"Nobody has set an agenda: these are the first {len(agenda)} cases of 'Cases to discuss'."]
    if on_agenda > len(agenda):
        return [f"The first {len(agenda)} of the {on_agenda} cases on the agenda; a pack holds no more."]
    return [f"Cases on the agenda: {len(agenda)}."]


def _without_pages(agenda: Sequence[AgendaCase], drawn: Collection[str]) -> list[str]:
    missing = [item.case_id for item in agenda if item.case_id not in drawn]
    return [f"Without pages, because no tracing is stored: {', '.join(missing)}."] if missing else []


def agenda_table(agenda: Sequence[AgendaCase]) -> Table:
    return meeting.AGENDA.filled(
        {"position": place, "case_id": item.case_id, "question": item.question, "reasons": "; ".join(item.reasons)}
        for place, item in enumerate(agenda, 1)
    )


def actions_section(
    earlier: Sequence[Mapping[str, Any]],
    agreed: Sequence[Mapping[str, Any]],
    effects: Sequence[Mapping[str, Any]] = (),
) -> Section:
    """What earlier meetings agreed and how it stands; what this one agreed; what became of what they should move."""
    tables = [meeting.ACTIONS_BEFORE.filled(earlier)]
    if agreed:
        tables.append(meeting.ACTIONS_AGREED.filled(agreed))
    if effects:
        tables.append(replace(meeting.EFFECTS_ON_PAPER.filled(effects, note=meeting.EFFECT_CAUTION), is_part=True))
    return Section(title="Actions", tables=tuple(tables))


def response_section(document: Mapping[str, Any], options: PackOptions, untold: Untold = NOTHING) -> Section:
    """How concern episodes ended under each standard, with the share answered within target; `untold` is hidden."""
    episodes = document["episodes"]
    standards = [name for name in vocabulary.STANDARDS if any(row["standard"] == name for row in episodes)]
    if not standards:
        return Section(title="Response times", paragraphs=(document.get("note") or "No concern episode.",))
    rows: list[dict[str, Any]] = []
    for standard in standards:
        own = [row for row in episodes if row["standard"] == standard]
        counts = {EPISODES: len(own)} | {status: sum(row["status"] == status for row in own) for status in STATUSES}
        gone = untold.episodes.get(standard, frozenset())
        told = {name: HIDDEN if name in gone else count for name, count in counts.items()}
        share = {"share": None} if "in_time" in gone else _share_in_time(counts)
        rows.append({"standard": standard, **told, **share})
        # the share that chance gives, where that of the unit may be said
        rows[-1]["chance"] = chance.words(None if rows[-1]["share"] is None else chance.of(own))
    note = (
        "In time, %: answered within the target, of all episodes that can be assessed (cumulative incidence at the"
        " target): those that resolved or were born first are among them, neither in time nor late. Episodes are"
        " counted; those of one labour are not independent, so the true intervals are wider. By chance, %: the same"
        " share with each labour's acts moved in time inside the labour, with 95 % of the shifts; a share no better"
        " than that says nothing of how fast concerns are answered."
    )
    pictures: tuple[Picture, ...] = ()
    known = [row for row in rows if row["share"] is not None]
    if known:
        chart = share_in_time(known)
        pictures = (drawing.picture(chart, name="in-time", alt_text="Share answered in time, by standard"),)
    return Section(
        title="Response times",
        paragraphs=("The clock starts when the pattern could be recognised from what had been seen by then.",),
        pictures=pictures,
        tables=(RESPONSES.filled(rows, note=note + _outside(options)),),
    )


def chain_section(rows: Sequence[Mapping[str, Any]], options: PackOptions) -> Section:
    """What meetings found, what followed from it and what its measures did, in counts."""
    shown = [{name: HIDDEN if value is None else value for name, value in row.items()} for row in rows]
    return Section(
        title="From issues to effects",
        paragraphs=(
            "Issues of the year's meetings in the words of the unit's settings, the actions that follow from them, and"
            f" how many of these named a measure of Trends and saw it move as meant. {meeting.EFFECT_CAUTION}",
        ),
        tables=(meeting.ISSUE_CHAIN.filled(shown, note=_outside(options).strip()),),
    )


def family_section(asked: Sequence[Mapping[str, Any]]) -> Section:
    """What families asked the meeting, and what it answered."""
    open_ones = sum(row["answer"] is None for row in asked)
    words = "All are answered." if not open_ones else f"Not yet answered: {open_ones} of {len(asked)}."
    return Section(title="Questions of families", paragraphs=(words,), tables=(meeting.FAMILY_QUESTIONS.filled(asked),))


def agreed_section(found: Mapping[str, Any]) -> Section:
    """The clocks that the meeting agreed on, and how often it changed the computed verdict."""
    figure = found["figure"]
    words = "The meeting left its clocks open." if figure is None else figure["sentence"]
    weighted = found["weighted"]  # told only where cases were drawn at random
    return Section(
        title="The meeting's own clock",
        paragraphs=(words, *([weighted["sentence"]] if weighted else [])),
        tables=(AGREED_ON_TERMINAL.filled(found["clocks"]),),
    )


def agreement_section(document: Mapping[str, Any] | None, options: PackOptions, untold: Untold = NOTHING) -> Section:
    """How far readers agreed, with intervals, the computed reading apart; `published_lines` stand with the methods."""
    title = "Reader agreement"
    if document is None or not document["windows"]:
        return Section(title=title, paragraphs=("No reads of this month's windows.",))
    if options.for_outside and is_small(document["cases"], options.min_cell):
        return Section(title=title, paragraphs=("Too few cases were read to say anything outside the unit.",))
    keep = ("proportion_of_agreement", "specific_agreement", "fleiss_kappa", "krippendorff_alpha_ordinal", "gwet_ac1")
    rows = [row for row in document["measures"] if row["name"] in keep]
    computed = document["computed"]
    # windows too would tell how many labours were read
    counted = "with_reads" not in untold.labours
    many = f"{document['windows']} windows of {document['cases']} labours" if counted else "Windows"
    words = (
        f"{many} were read by {document['readers']} readers"
        f" under {words_.standard_name(document['standard'])}; the item is the {words_.words(document['item'])}."
    )
    return Section(
        title=title,
        paragraphs=(
            words,
            *([document["few_windows"]] if document["few_windows"] and counted else []),
            *([document["outcome_said"]] if document["outcome_said"] and not options.for_outside else []),
            f"{_computed_words(computed, counted=counted)} Published figures stand at the end, among the sources.",
        ),
        tables=(
            agreement_tables.MEASURES_ON_PAPER.filled(
                rows if counted else [{**row, "n": None} for row in rows], note=_method_words(document)
            ),
        ),
    )


def published_lines(document: Mapping[str, Any] | None) -> list[str]:
    """What others measured of readers, a sentence a study; none where no reads of ours stand beside it."""
    if document is None or not document["published"]:
        return []
    return [
        f"Published figures of the {words_.words(document['item'])}. {_PUBLISHED_NOTE}",
        *(
            f"{study} ({setting}): {'; '.join(_found_words(figures))}."
            for (study, setting), figures in groupby(document["published"], itemgetter("study", "setting"))
        ),
    ]


def _found_words(figures: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """Figures of one statistic after each other, as 'PA overall 0.48 (0.47 to 0.50), normal ...'."""
    for statistic, found in groupby(figures, itemgetter("statistic")):
        yield f"{statistic} " + ", ".join(
            f"{row['part']} {row['value']:.2f}"
            + ("" if row["low"] is None else f" ({row['low']:.2f} to {row['high']:.2f})")
            for row in found
        )


def _computed_words(computed: Mapping[str, Any], *, counted: bool) -> str:
    kappa = computed.get("weighted_kappa_linear")
    if kappa is None:
        return f"Computed reading against the readers' consensus: not estimable. {computed.get('note') or ''}".strip()
    low, high = computed.get("weighted_kappa_linear_low"), computed.get("weighted_kappa_linear_high")
    interval = "" if low is None else f" ({low:.2f} to {high:.2f})"
    of = f", {computed['windows']} windows" if counted else ""
    return (
        f"Computed reading against the readers' consensus{of}: proportion of agreement"
        f" {computed['agreement']:.2f}, linear weighted kappa {kappa:.2f}{interval}. It is no reader and is counted in"
        " no other figure."
    )


def _method_words(document: Mapping[str, Any]) -> str:
    method = document["method"]
    return (
        f"Intervals: {method['interval']}, {method['draws']} draws. A kappa is low when one category rules, see shares."
    )


def _share_in_time(counts: Mapping[str, int]) -> dict[str, Any]:
    total = sum(counts[status] for status in _ASSESSED)
    if not total:
        return {"share": None}
    low, high = wilson_interval(counts["in_time"], total, LEVEL)
    interval = f"{shown(low, 0, scale=100)} to {shown(high, 0, scale=100)}"
    label = f"{counts['in_time']} of {total}"
    return {"share": counts["in_time"] / total, "low": low, "high": high, "interval": interval, "label": label}


def _hidden_note(options: PackOptions) -> str:
    return (
        f"Made for outside the unit: counts from 1 to {options.min_cell - 1} are hidden, and those that would give them"
        " away. Do not lay two such packs beside each other that share months: their difference tells small counts."
    )


def _outside(options: PackOptions) -> str:
    return f" {_hidden_note(options)}" if options.for_outside else ""

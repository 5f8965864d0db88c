"""Answers about what staff recorded, oxytocin and the unit's own counts; see `dashboards/data.py`."""

from dataclasses import replace

from audit.people.permissions import Deed
from audit.questions import act_effect as effect_of_acts
from audit.questions import agreed, cases_to_discuss, chance, coverage, learning
from audit.questions import bedside as recorded_at_the_time
from audit.questions import equity as by_band
from audit.questions import oxytocin as oxytocin_use
from audit.questions import pooled_agreement as pooled
from audit.questions import possible as possible_concerns
from audit.questions.agreement import Question
from audit.questions.delays import untold_words
from audit.questions.presets import side_by_side
from audit.questions.reason_types import Rules
from audit.questions.wait_parts import waits_in_parts
from audit.settings import Settings
from audit.store import database, published
from audit.store.database import Record, records
from audit.store.published import Source
from dashboards import answers, data, session, signed_in
from dashboards.data import asked_of


def wait_parts(period: str, standard: str | None) -> list[Record]:
    """Every concern's wait of a month with its steps and the parts between them."""
    response = data.settings().response
    return data.answer(waits_in_parts, response, period=asked_of(period), standard=standard)


def wait_parts_of(case_id: str) -> list[Record]:
    """The same of one case, under every standard."""
    return data.answer(waits_in_parts, data.settings().response, case_id=case_id)


def untold_waits(period: str, standard: str) -> str:
    """What merged summaries do not tell of waits, in words; "" where nothing is untold."""
    return data.answer(untold_words, asked_of(period), standard)


def possible(period: str, standard: str) -> str:
    """Concerns of a month that falls at a limit alone could make, in words; "" where there is none."""
    asked = {"period": asked_of(period), "standard": standard, "case_id": None}
    return possible_concerns.sentence(data.answer(records, "response/possible", asked), with_case=True)


def bedside(period: str) -> Record:
    """What staff recorded at the time: the hourly audit, and their categories beside others'."""
    found, least = data.there(), data.settings().pack.min_cell
    every = replace(found, unit=None)
    return answers.of(every, recorded_at_the_time.document, period=asked_of(period), least=least, unit=found.unit)


def oxytocin(period: str, standard: str) -> list[Record]:
    """How oxytocin was used, all labours of the choice and by month."""
    return data.answer(_oxytocin, data.there(), data.settings(), asked_of(period), standard)


def _oxytocin(
    con: database.Connection, found: Source, settings: Settings, period: str | None, standard: str
) -> list[Record]:
    used = answers.of(found, oxytocin_use.labours, settings, period=period, standard=standard)
    return oxytocin_use.by_month(used, oxytocin_use.told(con, period=period, standard=standard))


def oxytocin_of(case_id: str, period: str | None, standard: str) -> Record | None:
    """How oxytocin was used in one labour of a month; None where none is recorded."""
    month = period or data.NO_MONTH
    used = data.answer(oxytocin_use.labours, data.settings(), period=month, standard=standard)
    return next((row for row in used if row["case_id"] == case_id), None)


def chance_told(period: str, standard: str) -> list[Record]:
    """What merged summaries count of answers in time, as recorded and under the shifts of the acts."""
    return data.answer(chance.told, asked_of(period), standard)


def pooled_agreement(asked: Question) -> Record | None:
    """The agreement of all units with what merged summaries told; None where none did."""
    return data.answer(pooled.document, asked, data.settings().agreement)


def unit_counts(period: str) -> Record:
    """What the unit counted in a month beside what was imported; nothing that tells of outcomes."""
    return data.answer(coverage.document, asked_of(period), with_outcome=False)


def act_effect(period: str, standard: str) -> list[Record]:
    """The half hour after each kind of act against that before, beside random moments."""
    settings = data.settings()
    return answers.compared(data.there(), effect_of_acts.by_act, settings, period=asked_of(period), standard=standard)


def also_to_learn_from(period: str, *, with_outcome: bool) -> Record:
    """Good care by rule; near misses too where outcomes are asked for."""
    if with_outcome:
        session.who(Deed.SEE_OUTCOMES)
    return data.answer(learning.document, data.settings(), period=asked_of(period), with_outcome=with_outcome)


def to_draw_from(period: str) -> list[str]:
    """Cases of the month that a random sample is drawn from."""
    return data.answer(learning.to_draw_from, data.settings(), asked_of(period))


def weighted_back(period: str) -> str | None:
    """What the month's meeting decided on a random sample, weighted back; None before it decided."""
    with published.open_for_question(data.there()) as con:
        found = agreed.document(con, signed_in.database(), data.settings(), period=asked_of(period))["weighted"]
    return None if found is None else str(found["sentence"])


def presets(period: str, *, with_outcome: bool) -> Record:
    """Which cases each weighting would list."""
    if with_outcome:
        session.who(Deed.SEE_OUTCOMES)
    return data.answer(_presets, data.settings(), asked_of(period), with_outcome)


def _presets(con: database.Connection, settings: Settings, period: str | None, with_outcome: bool) -> Record:
    rows = cases_to_discuss.rows_of(con, settings, period)
    return side_by_side(*rows, Rules(settings.find, settings.cord_gas), with_outcome=with_outcome)


def equity(standard: str, year: str | None, *, with_outcome: bool) -> Record | None:
    """Waits and outcomes by band of a reporting year, as its report has them, or of all months; None where it is not
    switched on."""
    settings = data.settings()
    if not settings.equity.compare:
        return None
    if with_outcome:
        session.who(Deed.SEE_OUTCOMES)
    least = settings.pack.min_cell
    return data.answer(
        by_band.document, settings, standard=standard, period=year, with_outcome=with_outcome, least=least
    )

"""Cached answers about what staff recorded, oxytocin and the unit's own counts; see `dashboards/data.py`."""

from dataclasses import replace

import streamlit as st

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
from audit.store import published
from audit.store.database import Record, records
from audit.store.published import Source
from dashboards import data, session, signed_in


def _there() -> Source:
    found = data.answering()
    assert found is not None
    return found


def _asked(period: str) -> str | None:
    return None if period == data.ALL_MONTHS else period


def wait_parts(period: str, standard: str | None) -> list[Record]:
    """Every concern's wait of a month with its steps and the parts between them."""
    return _wait_parts(_there(), _asked(period), standard, None, data.settings().sha256)


def wait_parts_of(case_id: str) -> list[Record]:
    """The same of one case, under every standard."""
    return _wait_parts(_there(), None, None, case_id, data.settings().sha256)


@st.cache_data(max_entries=48, show_spinner=False)
def _wait_parts(
    found: Source, period: str | None, standard: str | None, case_id: str | None, settings_sha256: str
) -> list[Record]:
    with published.open_for_question(found) as con:
        return waits_in_parts(con, data.settings().response, period=period, standard=standard, case_id=case_id)


def untold_waits(period: str, standard: str) -> str:
    """What merged summaries do not tell of waits, in words; "" where nothing is untold."""
    return _untold_waits(_there(), _asked(period), standard)


@st.cache_data(max_entries=24, show_spinner=False)
def _untold_waits(found: Source, period: str | None, standard: str) -> str:
    with published.open_for_question(found) as con:
        return untold_words(con, period, standard)


def possible(period: str, standard: str) -> str:
    """Concerns of a month that falls at a limit alone could make, in words; "" where there is none."""
    return _possible(_there(), _asked(period), standard)


@st.cache_data(max_entries=24, show_spinner=False)
def _possible(found: Source, period: str | None, standard: str) -> str:
    with published.open_for_question(found) as con:
        asked = {"period": period, "standard": standard, "case_id": None}
        return possible_concerns.sentence(records(con, "response/possible", asked), with_case=True)


def bedside(period: str) -> Record:
    """What staff recorded at the time: the hourly audit, and their categories beside others'."""
    return _bedside(_there(), _asked(period), data.settings().sha256)


@st.cache_data(max_entries=24, show_spinner=False)
def _bedside(found: Source, period: str | None, settings_sha256: str) -> Record:
    with published.open_for_question(replace(found, unit=None)) as con:
        least = data.settings().pack.min_cell
        return recorded_at_the_time.document(con, period=period, least=least, unit=found.unit)


def oxytocin(period: str, standard: str) -> list[Record]:
    """How oxytocin was used, all labours of the choice and by month."""
    return _oxytocin(_there(), _asked(period), standard, data.settings().sha256)


@st.cache_data(max_entries=24, show_spinner=False)
def _oxytocin(found: Source, period: str | None, standard: str, settings_sha256: str) -> list[Record]:
    used = _on_oxytocin(found, period, standard, settings_sha256)
    with published.open_for_question(found) as con:
        return oxytocin_use.by_month(used, oxytocin_use.told(con, period=period, standard=standard))


def oxytocin_of(case_id: str, period: str | None, standard: str) -> Record | None:
    """How oxytocin was used in one labour of a month; None where none is recorded."""
    used = _on_oxytocin(_there(), period or data.NO_MONTH, standard, data.settings().sha256)
    return next((row for row in used if row["case_id"] == case_id), None)


@st.cache_data(max_entries=24, show_spinner=False)
def _on_oxytocin(found: Source, period: str | None, standard: str, settings_sha256: str) -> list[Record]:
    with published.open_for_question(found) as con:
        return oxytocin_use.labours(con, data.settings(), period=period, standard=standard)


def chance_told(period: str, standard: str) -> list[Record]:
    """What merged summaries count of answers in time, as recorded and under the shifts of the acts."""
    return _chance_told(_there(), _asked(period), standard)


@st.cache_data(max_entries=24, show_spinner=False)
def _chance_told(found: Source, period: str | None, standard: str) -> list[Record]:
    with published.open_for_question(found) as con:
        return chance.told(con, period, standard)


def pooled_agreement(asked: Question) -> Record | None:
    """The agreement of all units with what merged summaries told; None where none did."""
    return _pooled_agreement(_there(), asked.standard, asked.item, asked.period, data.settings().sha256)


@st.cache_data(max_entries=24, show_spinner=False)
def _pooled_agreement(
    found: Source, standard: str, item: str, period: str | None, settings_sha256: str
) -> Record | None:
    with published.open_for_question(found) as con:
        return pooled.document(con, Question(standard, item, period), data.settings().agreement)


def unit_counts(period: str) -> Record:
    """What the unit counted in a month beside what was imported; nothing that tells of outcomes."""
    return _unit_counts(_there(), _asked(period))


@st.cache_data(max_entries=24, show_spinner=False)
def _unit_counts(found: Source, period: str | None) -> Record:
    with published.open_for_question(found) as con:
        return coverage.document(con, period, with_outcome=False)


def act_effect(period: str, standard: str) -> list[Record]:
    """The half hour after each kind of act against that before, beside random moments."""
    return _act_effect(_there(), _asked(period), standard, data.settings().sha256)


@st.cache_data(max_entries=12, show_spinner="Comparing half hours …")
def _act_effect(found: Source, period: str | None, standard: str, settings_sha256: str) -> list[Record]:
    with published.open_for_reading(found) as con:
        return effect_of_acts.by_act(con, data.settings(), period=period, standard=standard)


def also_to_learn_from(period: str, *, with_outcome: bool) -> Record:
    """Good care by rule; near misses too where outcomes are asked for."""
    if with_outcome:
        session.who(Deed.SEE_OUTCOMES)
    return _also(_there(), _asked(period), data.settings().sha256, with_outcome)


@st.cache_data(max_entries=24, show_spinner=False)
def _also(found: Source, period: str | None, settings_sha256: str, with_outcome: bool) -> Record:
    with published.open_for_reading(found) as con:
        waits = waits_in_parts(con, data.settings().response, period=period)
        return learning.document(con, data.settings(), waits, period=period, with_outcome=with_outcome)


def to_draw_from(period: str) -> list[str]:
    """Cases of the month that a random sample is drawn from."""
    return _to_draw_from(_there(), _asked(period), data.settings().sha256)


@st.cache_data(max_entries=24, show_spinner=False)
def _to_draw_from(found: Source, period: str | None, settings_sha256: str) -> list[str]:
    with published.open_for_question(found) as con:
        return learning.to_draw_from(con, data.settings(), period)


def weighted_back(period: str) -> str | None:
    """What the month's meeting decided on a random sample, weighted back; None before it decided."""
    with published.open_for_question(_there()) as con:
        found = agreed.document(con, signed_in.database(), data.settings(), period=_asked(period))["weighted"]
    return None if found is None else str(found["sentence"])


def presets(period: str, *, with_outcome: bool) -> Record:
    """Which cases each weighting would list."""
    if with_outcome:
        session.who(Deed.SEE_OUTCOMES)
    return _presets(_there(), _asked(period), data.settings().sha256, with_outcome)


@st.cache_data(max_entries=24, show_spinner=False)
def _presets(found: Source, period: str | None, settings_sha256: str, with_outcome: bool) -> Record:
    rules = Rules(data.settings().find, data.settings().cord_gas)
    with published.open_for_question(found) as con:
        rows = cases_to_discuss.rows_of(con, data.settings(), period)
    return side_by_side(*rows, rules, with_outcome=with_outcome)


def equity(standard: str, year: str | None, *, with_outcome: bool) -> Record | None:
    """Waits and outcomes by band of a reporting year, as its report has them, or of all months; None where it is not
    switched on."""
    if not data.settings().equity.compare:
        return None
    if with_outcome:
        session.who(Deed.SEE_OUTCOMES)
    return _equity(_there(), standard, year, data.settings().sha256, with_outcome)


@st.cache_data(max_entries=8, show_spinner=False)
def _equity(found: Source, standard: str, year: str | None, settings_sha256: str, with_outcome: bool) -> Record | None:
    settings = data.settings()
    with published.open_for_question(found) as con:
        return by_band.document(
            con, settings, standard=standard, period=year, with_outcome=with_outcome, least=settings.pack.min_cell
        )

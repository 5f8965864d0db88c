"""From a case of the story to samples, events, outcome and truth."""

from dataclasses import dataclass

import numpy as np

from synthetic_cases.archetypes import ARCHETYPES, absent_variability_late, recurrent_late
from synthetic_cases.care import (
    Birth,
    CareEvent,
    PlantedResponse,
    before_birth,
    birth,
    oxytocin_was_lowered,
    oxytocin_went_on,
    respond,
    routine,
)
from synthetic_cases.labours import HOUR, MINUTE, Draft, background, finish, ordinary_rate
from synthetic_cases.outcomes import Outcome, acidosis_though_well, after_birth, outcome
from synthetic_cases.plan import CasePlan
from synthetic_cases.scenario import OXYTOCIN_MONTH, CaseSpec
from synthetic_cases.truth import Truth
from synthetic_cases.waveform import Recording, draw

Rng = np.random.Generator


@dataclass(frozen=True)
class DrawnCase:
    """Everything of one case; twins have two fetuses."""

    spec: CaseSpec
    recordings: dict[str, Recording]  # by fetus
    truths: dict[str, Truth]
    events: list[CareEvent]
    responses: list[PlantedResponse]
    outcomes: dict[str, Outcome]
    facts: dict[str, object]  # the columns of the cases file


def build(spec: CaseSpec, seed: int) -> DrawnCase:
    """Draw one case; its chance depends on the seed and its own index alone."""
    rng = np.random.default_rng([seed, 2, spec.index])
    draft = _draft(spec, rng)
    if "long_delay" in spec.specials:
        late = absent_variability_late if spec.archetype == "absent_variability_recurrent_late" else recurrent_late
        late(draft, (138, 150))
    else:
        ARCHETYPES[spec.archetype](draft)
    background(draft)
    events, responses = _care(draft, spec, rng)
    ending = _birth(draft, spec, rng)
    events = [e for e in events + ending.events if e.at_s <= ending.birth_s]
    responses = [before_birth(planted, ending.birth_s) for planted in responses]
    if "twins" in spec.specials:
        events.append(CareEvent(ending.birth_s + float(rng.uniform(6, 15)) * MINUTE, "birth"))
    events.sort(key=lambda e: e.at_s)
    if "no_events" in spec.specials:
        events = []
    plans = {"A": finish(draft)}
    if "twins" in spec.specials:
        plans["B"] = _second_twin(plans["A"], draft, rng)
    drawn = {fetus: draw(plan, rng) for fetus, plan in plans.items()}
    if "B" in drawn:
        # One belt, one womb: both twins are recorded with the same toco.
        first, second = drawn["A"][0], drawn["B"][0]
        drawn["B"] = (Recording(second.fhr_bpm, first.toco, second.mhr_bpm), drawn["B"][1])
    return DrawnCase(
        spec=spec,
        recordings={fetus: recording for fetus, (recording, _) in drawn.items()},
        truths={fetus: truth for fetus, (_, truth) in drawn.items()},
        events=events,
        responses=responses,
        outcomes={fetus: _outcome(spec, rng) for fetus in plans},
        facts=_facts(spec, draft, ending, rng),
    )


def _draft(spec: CaseSpec, rng: Rng) -> Draft:
    duration = spec.hours * HOUR
    second = None
    if spec.mode != "caesarean":
        second = duration - float(np.clip(rng.lognormal(np.log(34), 0.55), 10, 100)) * MINUTE
        second = max(second, 0.55 * duration)
    preterm = spec.gestation_weeks < 32
    draft = Draft(
        rng=rng,
        duration_s=duration,
        second_stage_s=None if second is None else float(round(second)),
        baseline_bpm=float(np.clip(rng.normal(146 if preterm else 135, 6.5), 120, 152)),
        variability_bpm=float(rng.uniform(9.5, 11.0) if preterm else rng.uniform(10.5, 14.5)),
        gestation_weeks=spec.gestation_weeks,
        rate_per_10_min=ordinary_rate(rng, duration),
        fhr_sensor=spec.fhr_sensor,
        toco_sensor="intrauterine" if rng.random() < 0.08 and "poor_toco" not in spec.specials else "external",
        with_mhr="maternal_channel" in spec.specials,
    )
    scalp = spec.fhr_sensor == "scalp_electrode"
    draft.loss = (
        float(rng.uniform(0.01, 0.04) if scalp else rng.uniform(0.02, 0.10)),
        float(rng.uniform(0.02, 0.08) if scalp else rng.uniform(0.08, 0.28)),
    )
    _spoil(draft, spec, rng)
    return draft


def _spoil(draft: Draft, spec: CaseSpec, rng: Rng) -> None:
    """Sensor faults that belong to the story."""
    if "poor_toco" in spec.specials:
        draft.toco_gain = 0.06
        start = float(rng.uniform(0.2, 0.5)) * draft.duration_s
        draft.toco_absent_s.append((start, start + 40 * MINUTE))
    elif rng.random() < 0.12:
        start = float(rng.uniform(0.05, 0.8)) * draft.duration_s
        draft.toco_absent_s.append((start, start + float(rng.uniform(4, 14)) * MINUTE))
    if "maternal_rate" in spec.specials and draft.second_stage_s is not None:
        at = draft.second_stage_s + 120.0
        while at < draft.duration_s - 200:
            length = float(rng.uniform(40, 150))
            draft.maternal_s.append((at, at + length))
            at += length + float(rng.uniform(150, 400))


def _care(draft: Draft, spec: CaseSpec, rng: Rng) -> tuple[list[CareEvent], list[PlantedResponse]]:
    events = routine(draft, rng)
    responses = []
    for concern in draft.concerns:
        found, planted = respond(draft, concern, spec.pace, rng)
        events += found
        responses.append(planted)
        if spec.pace == "long_delay":
            events += oxytocin_went_on(draft, planted, events)
        if spec.month + 1 >= OXYTOCIN_MONTH:
            events += oxytocin_was_lowered(draft, planted, events)
    if not draft.concerns and rng.random() < 0.5:
        at = float(rng.uniform(0.1, 0.9)) * draft.duration_s
        events.append(CareEvent(at, "position_change"))
    return events, responses


def _birth(draft: Draft, spec: CaseSpec, rng: Rng) -> Birth:
    if spec.archetype == "terminal_bradycardia" or "category_1" in spec.specials:
        return birth(draft, spec.mode, "immediate", rng)
    strong_to_the_end = any(c.strong and c.end_s > draft.duration_s - 10 * MINUTE for c in draft.concerns)
    return birth(draft, spec.mode, "soon" if strong_to_the_end else "none", rng)


def _second_twin(first: CasePlan, draft: Draft, rng: Rng) -> CasePlan:
    """The other fetus: same labour and toco, its own rate."""
    twin = Draft(
        rng=rng,
        duration_s=first.duration_s,
        second_stage_s=first.second_stage_s,
        baseline_bpm=draft.baseline_bpm + float(rng.choice([-11.0, 11.0])),
        variability_bpm=float(rng.uniform(10.5, 14.0)),
        gestation_weeks=draft.gestation_weeks,
        loss=draft.loss,
    )
    twin.contractions = list(first.contractions)
    background(twin)
    return finish(twin)


def _outcome(spec: CaseSpec, rng: Rng) -> Outcome:
    if "no_outcome" in spec.specials:
        return Outcome()
    pair = "plausible"
    if "near_identical_gases" in spec.specials:
        pair = "near_identical"
    if "swapped_gases" in spec.specials:
        pair = "swapped"
    wanted = spec.severity >= 2 or pair != "plausible" or "good_outcome_pathological" in spec.specials
    found = outcome(rng, spec.severity, spec.gestation_weeks, gases=wanted or bool(rng.random() < 0.86), pair=pair)
    if "acidosis_though_well" in spec.specials:
        found = acidosis_though_well(found)
    return after_birth(
        found, died="died" in spec.specials, seizures="seizures" in spec.specials,
        transferred="transferred" in spec.specials,
    )  # fmt: skip


def _facts(spec: CaseSpec, draft: Draft, ending: Birth, rng: Rng) -> dict[str, object]:
    induced = draft.oxytocin and rng.random() < 0.6
    return {
        "case_id": spec.case_id,
        "period": spec.period,
        "gestation_weeks": spec.gestation_weeks,
        "parity": int(rng.choice([0, 0, 1, 1, 2, 3])),
        "plurality": 2 if "twins" in spec.specials else 1,
        "onset_of_labour": "induced" if induced else "spontaneous",
        "second_stage_s": draft.second_stage_s,
        "birth_s": round(ending.birth_s),
        "mode_of_birth": ending.mode,
        "shift": spec.shift,
        "fhr_sensor": draft.fhr_sensor,
        "toco_sensor": draft.toco_sensor,
    }

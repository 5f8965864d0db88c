"""The coded words that may be stored or chosen: categories are those of the standards, kinds those of NICHD 2008.

The schema accepts the same words (a test holds the two together): a new one is a schema step too.
"""

STANDARDS = ("nichd-2008", "figo-2015", "nice-ng229")
NOT_ASSESSABLE = "not assessable"
NICHD_TIERS = ("I", "II", "III")  # mildest first, as all tiers
THREE_TIERS = ("normal", "suspicious", "pathological")
CATEGORIES = {
    "nichd-2008": (*NICHD_TIERS, NOT_ASSESSABLE),
    "figo-2015": (*THREE_TIERS, NOT_ASSESSABLE),
    "nice-ng229": (*THREE_TIERS, NOT_ASSESSABLE),
}
# read with once; nobody chooses it in this program, files may bring reads under it
READ_CATEGORIES = {**CATEGORIES, "figo-1986": (*THREE_TIERS, NOT_ASSESSABLE)}
FHR_SENSORS = ("ultrasound", "scalp_electrode", "both")
TOCO_SENSORS = ("external", "intrauterine")
STATUSES = ("in_time", "late", "none_recorded", "under_way", "resolved", "born_first", "not_assessable")
# which of an episode's two clocks gives its status
CLOCKS = ("first_act", "escalation")
# urgency of a decision for birth: 1 immediate threat to life, 2 compromise, 3 early birth needed, 4 elective; RCOG
URGENCIES = (1, 2, 3, 4)
# when a fetus or newborn died; days 0 to 6 are early, 7 to 27 late: WHO
DIED = ("antepartum", "intrapartum", "neonatal_early", "neonatal_late")
DECELERATION_KINDS = ("early", "late", "variable", "prolonged", "unclassified")
VARIABILITY = ("absent", "minimal", "moderate", "marked")
ACCELERATIONS = ("present", "absent")
# from the lightest to the weightiest; a read that names several is compared by its weightiest. Our choice.
DECELERATIONS = ("none", "early", "variable", "late", "prolonged")
# bpm and per 10 minutes, of a read, typed or imported: outside these a number is a slip. Our choice.
BASELINE_RANGE_BPM = (30.0, 250.0)
CONTRACTIONS_RANGE = (0.0, 20.0)

# who wrote an assessment down: roles, never persons; a unit may add roles of its own in its settings
ASSESSORS = ("midwife", "second_person", "obstetrician", "anaesthetist")
# what every standard asks to be weighed beside the tracing (NICE NG229 1.2, FIGO 2015; the list is the of the
# unit, no single source): shown beside each category, never weighed by the program
RISK_FACTORS = (
    "meconium",
    "fever_or_sepsis",
    "slow_progress",
    "bleeding",
    "growth_restriction",
    "previous_caesarean",
    "hypertension",
    "diabetes",
    "reduced_movements",
    "multiple_pregnancy",
    "epidural",
    "induction",
)
# why auscultation gave way to continuous monitoring: NICE NG229, from memory
SWITCH_REASONS = (
    "abnormal_rate_or_decelerations",
    "meconium",
    "fever_or_sepsis",
    "bleeding",
    "slow_progress",
    "oxytocin",
    "epidural",
    "hypertension",
    "request",
    "other",
)

# how those who gave birth may be told apart in bands, each a list of words in the settings (`[equity.bands]`)
EQUITY_FIELDS = ("language_need", "ethnicity_group", "deprivation_fifth", "age_band", "body_mass_band")

# what a meeting does with a computed event, with which kind, and why
MARK_DEEDS = ("struck_out", "added")
MARK_KINDS = ("deceleration", "contraction", "maternal_rate")
AGREED_REASONS = (
    "artefact",
    "mother_s_rate",
    "loss_of_signal",
    "baseline_drawn_otherwise",
    "toco_not_usable",
    "event_not_found",
    "kind_of_event",
    "clinical_context",
    "act_not_in_the_record",
    "other",
)

# who may sign in, the one that may most first
ROLES = ("lead", "chair", "reader", "viewer")
# what may be recorded as care, under these names
CARE_EVENTS = (
    "position_change",
    "iv_fluid_bolus",
    "oxytocin_started",
    "oxytocin_increased",
    "oxytocin_reduced",
    "oxytocin_stopped",
    "tocolytic_given",
    "amnioinfusion",
    "oxygen_given",
    "hypotension_treated",
    "scalp_stimulation",
    "fetal_blood_sample",
    "senior_called",
    "senior_at_bedside",
    "decision_for_birth",
    "theatre_arrival",
    "incision",
    "instrument_applied",
    "birth",
    "epidural",
    "membranes_ruptured",
    "pushing_started",
)


def weightiest(kinds: tuple[str, ...]) -> str | None:
    """The weightiest of several kinds; None when nothing was stated."""
    return max(kinds, key=DECELERATIONS.index) if kinds else None


# what a code of the unit's own may stand for, beside a care event: channels of a tracing, and outcomes
CODED = (
    "fhr_bpm", "toco", "mhr_bpm", "cord_artery_ph", "cord_artery_base_deficit_mmol_l", "cord_artery_base_excess_mmol_l",
    "cord_artery_pco2_kpa", "cord_vein_ph", "cord_vein_pco2_kpa", "cord_lactate_mmol_l", "apgar_1", "apgar_5",
    "apgar_10", "birth_weight_g", "neonatal_unit_admission", "encephalopathy_grade", "died", "cooled", "seizures",
    "transferred",
)  # fmt: skip
